/* Conductivity, salt, density and the edge: what a meter reads and back. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/edge.h"
#include "water/inverse.h"

static tw_tests tub(double temp_k, double salt_mg_per_kg)
{
    const tw_tests t = {.temp_k = temp_k, .ph = 7.5, .alk_mol_per_kg = 1.6e-3, .calcium_mol_per_kg = 1e-3,
                        .magnesium_mol_per_kg = 0.1e-3, .salt_mol_per_kg = salt_mg_per_kg / 58442.8,
                        .sulfate_mol_per_kg = 0.3e-3, .cyanurate_mol_per_kg = 0.2e-3};
    return t;
}

static void salt_from_conductivity_is_the_inverse(void **unused)
{
    (void)unused;
    tw_constants at, at25;
    assert_ok(tw_water_constants_at(311.15, &at));
    assert_ok(tw_water_constants_at(298.15, &at25));
    for (double salt = 0.0; salt <= 6000.0; salt += 500.0) {
        tw_tests t = tub(311.15, salt), back = tub(311.15, 123.0);
        tw_water w, found;
        tw_speciation sp;
        double ec25 = 0.0, more = 0.0;
        assert_ok(tw_water_from_tests(&at, &t, &w, &sp));
        assert_ok(tw_water_conductivity_25_us_per_cm(&at25, &w, &ec25));
        assert_ok(tw_water_from_tests_with_ec25(&at, &at25, &back, ec25, &found, &sp));
        assert_near(back.salt_mol_per_kg, t.salt_mol_per_kg, 1e-10);
        assert_near(found.total_mol_per_kg[TW_TOTAL_CL], w.total_mol_per_kg[TW_TOTAL_CL], 1e-10);
        assert_ok(tw_water_salt_from_ec25(&at25, &w, ec25 + 100.0, &more));
        assert_true(more * 58442.8 > 48.0 && more * 58442.8 < 62.0); /* 2.05 uS/cm for a mg/L in fresh water, 1.65 in salty */
    }
}

static void a_conductivity_below_that_of_the_hardness_is_refused(void **unused)
{
    (void)unused;
    tw_constants at, at25;
    tw_tests t = tub(311.15, 0.0);
    tw_water w;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(311.15, &at));
    assert_ok(tw_water_constants_at(298.15, &at25));
    assert_status(tw_water_from_tests_with_ec25(&at, &at25, &t, 150.0, &w, &sp), TW_ERR_NO_ROOT);
    assert_int_equal(sp.fault, TW_WATER_FAULT_SALT);
}

/* Slope of conductivity in tub water, computed from tabulated molar conductivities: 1000 to 2000 mg/L 1.855; 1 %. */
static void slope_of_conductivity_in_tub_water(void **unused)
{
    (void)unused;
    tw_constants at25;
    double ec[2];
    assert_ok(tw_water_constants_at(298.15, &at25));
    for (int i = 0; i < 2; i++) {
        const tw_tests t = tub(298.15, 1000.0 * (i + 1));
        tw_water w;
        assert_ok(tw_water_from_tests(&at25, &t, &w, NULL));
        assert_ok(tw_water_conductivity_25_us_per_cm(&at25, &w, &ec[i]));
    }
    assert_near_rel((ec[1] - ec[0]) / 1000.0, 1.855, 0.01);
}

/* Tub water 25 to 38 C: +2.08 to 2.11 % a kelvin; computed. */
static void conductivity_rises_with_temperature(void **unused)
{
    (void)unused;
    tw_constants at, at25;
    const tw_tests t = tub(311.15, 2000.0);
    tw_water w;
    tw_speciation sp;
    double ec25 = 0.0;
    assert_ok(tw_water_constants_at(311.15, &at));
    assert_ok(tw_water_constants_at(298.15, &at25));
    assert_ok(tw_water_from_tests(&at, &t, &w, &sp));
    assert_ok(tw_water_conductivity_25_us_per_cm(&at25, &w, &ec25));
    const double a_kelvin = 100.0 * (tw_water_conductivity_us_per_cm(&at, &sp) / ec25 - 1.0) / 13.0;
    assert_near(a_kelvin, 2.1, 0.04);
}

static void litres_and_kilograms_meet(void **unused)
{
    (void)unused;
    tw_constants at;
    const tw_tests t = tub(311.15, 2000.0);
    tw_water w;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(311.15, &at));
    assert_ok(tw_water_from_tests(&at, &t, &w, &sp));
    const double density = tw_water_density_kg_per_l(&at, &sp), solvent = tw_water_solvent_kg_per_l(&at, &sp);
    assert_near(solvent * (1.0 + tw_water_tds_mg_per_kg(&sp) * 1e-6), density, 1e-12);
    assert_near(tw_water_solvent_kg_per_l_about(38.0, 2000.0), solvent, 0.0005);
    const double m = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, 2000.0, solvent);
    assert_near(tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, m, solvent), 2000.0, 1e-9);
    assert_near_rel(m, 2000.0 / 58442.8 / 0.992, 0.002);
    const double alk = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(80.0, solvent);
    assert_near(tw_water_alk_mg_per_l_caco3_from_mol_per_kg(alk, solvent), 80.0, 1e-9);
    assert_near(alk * solvent, 160.0 / 100086.9, 1e-12);
    assert_near(tw_water_g_per_mol(TW_MOLAR_CYA), 129.0742, 1e-12);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(salt_from_conductivity_is_the_inverse),
        cmocka_unit_test(a_conductivity_below_that_of_the_hardness_is_refused),
        cmocka_unit_test(slope_of_conductivity_in_tub_water),
        cmocka_unit_test(conductivity_rises_with_temperature),
        cmocka_unit_test(litres_and_kilograms_meet),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
