/* Ends of ranges and what stands just beyond; names and tables at their ends. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/ccpp.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/inactivation.h"
#include "water/index.h"
#include "water/inverse.h"
#include "water/sample.h"

static tw_tests plain(double ph)
{
    const tw_tests t = {.temp_k = 298.15, .ph = ph, .alk_mol_per_kg = 2e-3, .calcium_mol_per_kg = 1e-3, .salt_mol_per_kg = 0.02};
    return t;
}

/* The pH that is given may be 2 and may be 12: what is wrong there, if anything, is not the pH. */
static void ph_may_be_at_the_ends_of_its_range(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_water w, tub;
    tw_speciation sp;
    const tw_tests t = plain(7.5);
    assert_ok(tw_water_constants_at(298.15, &at));
    assert_ok(tw_water_from_tests(&at, &t, &tub, &sp));
    const double ends[] = {TW_WATER_PH_MIN, TW_WATER_PH_MAX}, beyond[] = {TW_WATER_PH_MIN - 1e-9, TW_WATER_PH_MAX + 1e-9};
    for (int i = 0; i < 2; i++) {
        const tw_tests there = plain(ends[i]), out = plain(beyond[i]);
        (void)tw_water_from_tests(&at, &there, &w, &sp);
        assert_int_not_equal(sp.fault, TW_WATER_FAULT_PH);
        assert_status(tw_water_from_tests(&at, &out, &w, &sp), TW_ERR_RANGE);
        assert_int_equal(sp.fault, TW_WATER_FAULT_PH);
        w = tub;
        (void)tw_water_dic_for_ph(&at, &w, ends[i], &sp);
        assert_int_not_equal(sp.fault, TW_WATER_FAULT_PH);
        assert_status(tw_water_dic_for_ph(&at, &w, beyond[i], &sp), TW_ERR_RANGE);
        assert_int_equal(sp.fault, TW_WATER_FAULT_PH);
        assert_status(tw_water_at_ph(&at, &tub, beyond[i], &sp), TW_ERR_RANGE);
        assert_int_equal(sp.fault, TW_WATER_FAULT_PH);
    }
    assert_ok(tw_water_at_ph(&at, &tub, TW_WATER_PH_MIN, &sp));
    assert_near(sp.ph, TW_WATER_PH_MIN, 1e-15);
}

static void a_co2_pressure_may_be_at_the_ends_of_its_range(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_water w, tub;
    tw_speciation sp;
    const tw_tests t = plain(7.5);
    assert_ok(tw_water_constants_at(298.15, &at));
    assert_ok(tw_water_from_tests(&at, &t, &tub, &sp));
    w = tub;
    assert_ok(tw_water_equilibrate_co2(&at, &w, 1.0, &sp));
    assert_near(sp.log10_pco2_atm, 1.0, 1e-10);
    w = tub;
    (void)tw_water_equilibrate_co2(&at, &w, -20.0, &sp); /* too alkaline without carbonate, but asked in range */
    assert_int_not_equal(sp.fault, TW_WATER_FAULT_CO2_PRESSURE);
    const double beyond[] = {1.005, -20.001, (double)NAN};
    for (int i = 0; i < 3; i++) {
        w = tub;
        assert_status(tw_water_equilibrate_co2(&at, &w, beyond[i], &sp), TW_ERR_RANGE);
        assert_int_equal(sp.fault, TW_WATER_FAULT_CO2_PRESSURE);
    }
    w.total_mol_per_kg[TW_TOTAL_MG] = -1.0; /* the first thing that is wrong is named, also beside a wrong pressure */
    assert_status(tw_water_equilibrate_co2(&at, &w, 7.0, &sp), TW_ERR_RANGE);
    assert_int_equal(sp.fault, TW_WATER_FAULT_TOTAL);
    assert_int_equal(sp.fault_total, TW_TOTAL_MG);
}

static void each_bad_test_is_named(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_water w;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(298.15, &at));
    tw_tests t = plain(7.5);
    struct {
        double *amount;
        tw_total total;
    } all[] = {{&t.salt_mol_per_kg, TW_TOTAL_NA},      {&t.potassium_mol_per_kg, TW_TOTAL_K},
               {&t.calcium_mol_per_kg, TW_TOTAL_CA},   {&t.magnesium_mol_per_kg, TW_TOTAL_MG},
               {&t.sulfate_mol_per_kg, TW_TOTAL_SO4},  {&t.other_mol_per_kg, TW_TOTAL_OTHER},
               {&t.boron_mol_per_kg, TW_TOTAL_BORATE}, {&t.cyanurate_mol_per_kg, TW_TOTAL_CYANURATE},
               {&t.phosphate_mol_per_kg, TW_TOTAL_PHOSPHATE},
               {&t.active_chlorine_mol_per_kg, TW_TOTAL_ACTIVE_CHLORINE}};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        const double bad[] = {-1e-9, (double)NAN, (double)INFINITY};
        for (int k = 0; k < 3; k++) {
            t = plain(7.5);
            *all[i].amount = bad[k];
            assert_status(tw_water_from_tests(&at, &t, &w, &sp), TW_ERR_RANGE);
            assert_int_equal(sp.fault, TW_WATER_FAULT_TOTAL);
            assert_int_equal(sp.fault_total, all[i].total);
        }
    }
    t = plain(7.5);
    t.alk_mol_per_kg = (double)NAN;
    assert_status(tw_water_from_tests(&at, &t, &w, &sp), TW_ERR_RANGE);
    assert_int_equal(sp.fault, TW_WATER_FAULT_ALKALINITY);
    tw_water dosed = {.temp_k = 298.15, .total_mol_per_kg = {[TW_TOTAL_NA] = -1e-9}};
    assert_status(tw_water_dic_for_ph(&at, &dosed, 7.5, &sp), TW_ERR_RANGE);
    assert_int_equal(sp.fault, TW_WATER_FAULT_TOTAL);
    assert_int_equal(sp.fault_total, TW_TOTAL_NA);
}

/* A carbonated water of pH 2.1 would hold moles of CO2: that is refused as out of the law's range, not as a puzzle. */
static void more_carbon_than_the_law_holds_is_refused(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_water w;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(298.15, &at));
    const tw_tests t = plain(2.1);
    assert_status(tw_water_from_tests(&at, &t, &w, &sp), TW_ERR_RANGE);
    assert_int_equal(sp.fault, TW_WATER_FAULT_IONIC_STRENGTH);
    assert_nan(sp.ph);
}

/* A titrated alkalinity goes out as it came in, with so much doubly chlorinated cyanurate as no tub has. */
static void titrated_alkalinity_returns_with_much_chlorinated_cyanurate(void **unused)
{
    (void)unused;
    tw_constants at;
    for (double c = 1.0; c <= 45.0; c += 11.0) {
        assert_ok(tw_water_constants_at(273.15 + c, &at));
        for (double ph = 4.5; ph <= 9.0; ph += 0.75)
            for (double ring = 0.0; ring < 4e-3; ring = 3.0 * ring + 1e-4)
                for (double chlorine = 0.0; chlorine < 3e-3; chlorine = 3.0 * chlorine + 1e-5) {
                    tw_tests t = plain(ph);
                    tw_water w;
                    tw_speciation sp, back;
                    t.temp_k = 273.15 + c;
                    t.alk_kind = TW_ALK_TITRATED;
                    t.alk_mol_per_kg = 6e-3;
                    t.phosphate_mol_per_kg = 1e-5;
                    t.cyanurate_mol_per_kg = ring;
                    t.active_chlorine_mol_per_kg = chlorine;
                    assert_ok(tw_water_from_tests(&at, &t, &w, &sp));
                    assert_near(sp.titrated_alk_mol_per_kg, 6e-3, 1e-14);
                    assert_ok(tw_water_speciate(&at, &w, &back));
                    assert_near(back.ph, ph, 1e-10);
                    assert_near(back.titrated_alk_mol_per_kg, 6e-3, 1e-12);
                }
    }
}

/* However absurd: refused as too salty, not as a puzzle that did not settle. */
static void absurd_totals_are_too_much_salt(void **unused)
{
    (void)unused;
    tw_constants at;
    assert_ok(tw_water_constants_at(298.15, &at));
    const double absurd[] = {2.0, 11.0, 1e3, 1e30, 1e300};
    for (size_t i = 0; i < sizeof absurd / sizeof *absurd; i++)
        for (int k = 0; k < TW_TOTALS; k++) {
            tw_water w = {.temp_k = 298.15};
            tw_speciation sp;
            w.total_mol_per_kg[TW_TOTAL_NA] = w.total_mol_per_kg[TW_TOTAL_CL] = absurd[i];
            w.total_mol_per_kg[k] = absurd[i];
            const tw_status status = tw_water_speciate(&at, &w, &sp);
            assert_true(status == TW_ERR_RANGE || (absurd[i] < 10.0 && status == TW_ERR_NO_ROOT));
            if (absurd[i] > 10.0)
                assert_int_equal(sp.fault, TW_WATER_FAULT_IONIC_STRENGTH);
            assert_nan(sp.ph);
        }
}

/* A conductivity that no salt can make: what is no conductivity at all, and what hardness alone exceeds. */
static void a_conductivity_that_cannot_be_is_told_apart(void **unused)
{
    (void)unused;
    tw_constants at, at25;
    tw_water w;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(311.15, &at));
    assert_ok(tw_water_constants_at(298.15, &at25));
    const struct {
        double ec25;
        tw_status status;
    } all[] = {{-1.0, TW_ERR_RANGE}, {1e6, TW_ERR_RANGE}, {(double)NAN, TW_ERR_RANGE}, {20.0, TW_ERR_NO_ROOT}, {2000.0, TW_OK}};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        tw_tests t = plain(7.5);
        t.temp_k = 311.15;
        t.alk_mol_per_kg = 2e-3;
        t.calcium_mol_per_kg = 2e-3;
        assert_status(tw_water_from_tests_with_ec25(&at, &at25, &t, all[i].ec25, &w, &sp), all[i].status);
        if (all[i].status != TW_OK) {
            assert_int_equal(sp.fault, TW_WATER_FAULT_SALT);
            assert_nan(sp.ph);
        }
    }
}

static void totals_may_stand_apart(void **unused)
{
    (void)unused;
    double spread[3 * TW_TOTALS];
    tw_water w = {.temp_k = 298.15};
    for (int i = 0; i < 3 * TW_TOTALS; i++)
        spread[i] = 1000.0 + i;
    for (int i = 0; i < TW_TOTALS; i++)
        w.total_mol_per_kg[i] = spread[3 * i] = 1.0 + 0.125 * i * i;
    const double alk = tw_water_strong_ion_alk_mol_per_kg(&w);
    assert_same_bits(tw_water_strong_ion_alk_of(spread, 3), alk);
    assert_same_bits(alk, 1.0 + 1.125 + 2.0 * (1.5 + 2.125) - (3.0 + 2.0 * 4.125 + 5.5));
}

static void names_end_where_the_lists_end(void **unused)
{
    (void)unused;
    assert_string_equal(tw_water_total_name(TW_TOTAL_NA), "sodium");
    assert_string_equal(tw_water_total_name(TW_TOTAL_PHOSPHATE), "phosphate");
    assert_string_equal(tw_water_total_name(TW_TOTALS), "unknown total");
    assert_string_equal(tw_water_total_name((tw_total)-1), "unknown total");
    assert_string_equal(tw_water_fault_text(TW_WATER_FAULT_NONE), "nothing is wrong");
    assert_string_equal(tw_water_fault_text(TW_WATER_FAULT_NOT_SETTLED), "the calculation did not settle");
    assert_string_equal(tw_water_fault_text(TW_WATER_FAULTS), "unknown fault");
    assert_string_equal(tw_water_fault_text((tw_water_fault)-1), "unknown fault");
    assert_string_equal(tw_water_ppm_scale_name(TW_PPM_NACL), "NaCl");
    assert_string_equal(tw_water_ppm_scale_name(TW_PPM_SCALES), "unknown scale");
    assert_string_equal(tw_water_ppm_scale_name((tw_ppm_scale)-1), "unknown scale");
}

/* Halfway between two rows counts the one before; 1,000 mg/L belongs to the upper constant. */
static void the_printed_index_at_the_edges_of_its_rows(void **unused)
{
    (void)unused;
    assert_near(tw_water_table_index(7.5, 128.0, 800.0, 800.0, 1000.0), 7.5 + 1.0 + 2.5 + 2.9 - 12.2, 1e-12);
    assert_near(tw_water_table_index(7.5, 32.0, 5.0, 5.0, 999.0), 7.5 + 0.0 + 0.3 + 0.7 - 12.1, 1e-12);
    assert_near(tw_water_table_index(7.5, 34.5, 15.0, 15.0, 999.0), 7.5 + 0.0 + 0.3 + 0.7 - 12.1, 1e-12);
    assert_near(tw_water_table_index(7.5, 34.6, 15.1, 15.1, 999.0), 7.5 + 0.1 + 1.0 + 1.4 - 12.1, 1e-12);
    for (int k = 0; k < 5; k++)
        for (int i = 0; i < 2; i++) {
            double x[] = {7.5, 100.0, 200.0, 100.0, 500.0};
            x[k] = i ? (double)INFINITY : (double)NAN;
            assert_nan(tw_water_table_index(x[0], x[1], x[2], x[3], x[4]));
        }
}

static void ct_of_readings_wants_a_good_first_one(void **unused)
{
    (void)unused;
    const double hours[] = {1.0, 3.0}, mg[] = {2.0, 4.0}, late[] = {(double)NAN, 3.0}, none[] = {-2.0, 4.0};
    assert_near(tw_water_ct_of_readings(hours, mg, 2), 60.0 * 2.0 * 3.0, 1e-9);
    assert_near(tw_water_ct_of_readings(hours, mg, 1), 0.0, 0.0);
    assert_nan(tw_water_ct_of_readings(late, mg, 1));
    assert_nan(tw_water_ct_of_readings(hours, none, 1));
    assert_nan(tw_water_ct_of_readings(hours, none, 2));
    assert_nan(tw_water_ct_of_readings(hours, mg, 0));
    assert_nan(tw_water_ct_as_hocl_mg_min_per_l(TW_GERMS));
    assert_nan(tw_water_ct_as_hocl_mg_min_per_l((tw_germ)-1));
}

static void meters_at_the_ends_of_their_ranges(void **unused)
{
    (void)unused;
    tw_constants at25;
    double salt = 0.0;
    const tw_water pure = {.temp_k = 298.15};
    assert_ok(tw_water_constants_at(298.15, &at25));
    assert_status(tw_water_salt_from_ec25(&at25, &pure, 0.0, &salt), TW_ERR_NO_ROOT); /* water itself conducts 0.055 */
    assert_status(tw_water_salt_from_ec25(&at25, &pure, -1e-9, &salt), TW_ERR_RANGE);
    assert_status(tw_water_salt_from_ec25(&at25, &pure, 1e5, &salt), TW_ERR_RANGE);
    assert_near(tw_water_ec25_from_ppm(&at25, TW_PPM_HALF, 0.0), 0.0, 0.0);
    assert_near(tw_water_ppm_from_ec25(&at25, TW_PPM_HALF, 0.0), 0.0, 0.0);
    assert_near(tw_water_electrode_reads(7.5, 311.15, 298.15), 7.0 + 0.5 * 311.15 / 298.15, 1e-15);
    assert_nan(tw_water_electrode_reads(7.5, 0.0, 298.15));
    assert_nan(tw_water_electrode_reads(7.5, 311.15, 0.0));
    tw_chlorine c;
    assert_status(tw_water_chlorine_activity(TW_CHLORINE_MORRIS, 298.15, 7.5, 4.0, 4.0, 2.0, &c), TW_ERR_RANGE);
    assert_ok(tw_water_chlorine_ideal(TW_CHLORINE_1974, 298.15, 2.0, 1e-4, 1e-4, &c));
    assert_ok(tw_water_chlorine_ideal(TW_CHLORINE_1974, 298.15, 12.0, 1e-4, 1e-4, &c));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ph_may_be_at_the_ends_of_its_range),
        cmocka_unit_test(a_co2_pressure_may_be_at_the_ends_of_its_range),
        cmocka_unit_test(each_bad_test_is_named),
        cmocka_unit_test(more_carbon_than_the_law_holds_is_refused),
        cmocka_unit_test(titrated_alkalinity_returns_with_much_chlorinated_cyanurate),
        cmocka_unit_test(absurd_totals_are_too_much_salt),
        cmocka_unit_test(a_conductivity_that_cannot_be_is_told_apart),
        cmocka_unit_test(totals_may_stand_apart),
        cmocka_unit_test(names_end_where_the_lists_end),
        cmocka_unit_test(the_printed_index_at_the_edges_of_its_rows),
        cmocka_unit_test(ct_of_readings_wants_a_good_first_one),
        cmocka_unit_test(meters_at_the_ends_of_their_ranges),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
