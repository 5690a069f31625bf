/* What instruments see: a sample at its own temperature, a heater's skin, ppm scales, both cyanurate sets. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/ccpp.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/edge.h"
#include "water/index.h"
#include "water/inverse.h"
#include "water/sample.h"

static tw_constants warm, cool, skin;

static int constants(void **unused)
{
    (void)unused;
    return tw_water_constants_at(311.15, &warm) == TW_OK && tw_water_constants_at(298.15, &cool) == TW_OK &&
                   tw_water_constants_at(318.15, &skin) == TW_OK ? 0 : 1;
}

static tw_water tub(double ph, double hardness)
{
    const tw_tests tests = {.temp_k = 311.15, .ph = ph, .alk_mol_per_kg = 1.6e-3, .calcium_mol_per_kg = hardness,
                            .salt_mol_per_kg = 0.034};
    tw_water w;
    assert_ok(tw_water_from_tests(&warm, &tests, &w, NULL));
    return w;
}

/* The same closed water reads 7.50 at 38 C and about 7.56 at 25 C (computed). */
static void a_sample_that_cools_reads_higher(void **unused)
{
    (void)unused;
    const tw_water w = tub(7.5, 1e-3);
    tw_water there, back;
    tw_speciation sp;
    assert_ok(tw_water_sample_at(&cool, &w, &there, &sp));
    assert_near(sp.ph, 7.565, 0.01);
    assert_near(there.temp_k, 298.15, 0.0);
    assert_near(sp.dic_mol_per_kg, w.total_mol_per_kg[TW_TOTAL_DIC], 1e-13);
    assert_ok(tw_water_sample_at(&warm, &there, &back, &sp));
    assert_near(sp.ph, 7.5, 1e-10);
    assert_memory_equal(back.total_mol_per_kg, w.total_mol_per_kg, sizeof w.total_mol_per_kg);
}

/* Nernst: 59.16 mV at 25, 61.74 at 38 C; uncompensated 7.50 at 38 C reads 7.522 (physics). */
static void an_electrode_has_the_slope_of_nernst(void **unused)
{
    (void)unused;
    assert_near(tw_water_electrode_mv_per_ph(298.15), 59.16, 0.005);
    assert_near(tw_water_electrode_mv_per_ph(311.15), 61.74, 0.005);
    assert_near(tw_water_electrode_reads(7.5, 311.15, 298.15), 7.522, 0.0005);
    assert_near(tw_water_electrode_reads(7.5, 311.15, 311.15), 7.5, 1e-15);
    assert_nan(tw_water_electrode_mv_per_ph(0.0));
    assert_nan(tw_water_electrode_reads(7.5, 311.15, 0.0));
}

/* Calcite dissolves less when hot, so the skin of a heater asks for more of it to fall out. */
static void a_heaters_skin_scales_first(void **unused)
{
    (void)unused;
    const tw_water w = tub(7.8, 3e-3);
    tw_ccpp bulk, hot, cold;
    assert_ok(tw_water_ccpp(&warm, &w, &bulk));
    assert_ok(tw_water_ccpp(&skin, &w, &hot));
    assert_ok(tw_water_ccpp(&cool, &w, &cold));
    assert_true(hot.ccpp_mol_per_kg > bulk.ccpp_mol_per_kg);
    assert_true(bulk.ccpp_mol_per_kg > cold.ccpp_mol_per_kg);
    tw_water there;
    tw_speciation sp;
    tw_ccpp same; /* the potential at the skin is that of the same closed water heated to it */
    assert_ok(tw_water_sample_at(&skin, &w, &there, &sp));
    assert_ok(tw_water_ccpp(&skin, &there, &same));
    assert_near(same.ccpp_mol_per_kg, hot.ccpp_mol_per_kg, 1e-15);
    assert_true((sp.si_calcite > 0.0) == (hot.ccpp_mol_per_kg > 0.0));
}

/* CRC molar conductivities, NaCl 1,000 and 2,000 mg/L: 1992 and 3874 uS/cm (from memory). */
static void a_ppm_has_its_scale(void **unused)
{
    (void)unused;
    assert_near_rel(tw_water_ec25_from_ppm(&cool, TW_PPM_NACL, 1000.0), 1992.0, 0.005);
    assert_near_rel(tw_water_ec25_from_ppm(&cool, TW_PPM_NACL, 2000.0), 3874.0, 0.005);
    assert_near(tw_water_ec25_from_ppm(&cool, TW_PPM_HALF, 1000.0), 2000.0, 1e-9);
    assert_near(tw_water_ec25_from_ppm(&cool, TW_PPM_0_64, 640.0), 1000.0, 1e-9);
    assert_near(tw_water_ec25_from_ppm(&cool, TW_PPM_0_7, 700.0), 1000.0, 1e-9);
    for (int s = 0; s < TW_PPM_SCALES; s++) {
        for (double ppm = 50.0; ppm < 6000.0; ppm *= 1.7)
            assert_near_rel(tw_water_ppm_from_ec25(&cool, (tw_ppm_scale)s, tw_water_ec25_from_ppm(&cool, (tw_ppm_scale)s, ppm)),
                            ppm, 1e-8);
        assert_nan(tw_water_ec25_from_ppm(&cool, (tw_ppm_scale)s, -1.0));
        assert_nan(tw_water_ppm_from_ec25(&cool, (tw_ppm_scale)s, NAN));
        assert_true(strlen(tw_water_ppm_scale_name((tw_ppm_scale)s)) > 2);
    }
    assert_nan(tw_water_ec25_from_ppm(&cool, TW_PPM_SCALES, 100.0));
    assert_nan(tw_water_ppm_from_ec25(&cool, TW_PPM_SCALES, 100.0));
    assert_string_equal(tw_water_ppm_scale_name(TW_PPM_NACL), "NaCl");
    assert_string_equal(tw_water_ppm_scale_name(TW_PPM_SCALES), "unknown scale");
}

/* Without calcium, alkalinity or solids there is no index; a number just above nothing has one. */
static void the_trades_index_needs_all_its_numbers(void **unused)
{
    (void)unused;
    assert_nan(tw_water_langelier(7.5, 25.0, 0.0, 100.0, 1000.0));
    assert_nan(tw_water_langelier(7.5, 25.0, 250.0, 0.0, 1000.0));
    assert_nan(tw_water_langelier(7.5, 25.0, 250.0, 100.0, 0.0));
    assert_nan(tw_water_langelier(7.5, -273.0, 250.0, 100.0, 1000.0));
    assert_near(tw_water_langelier(7.5, 25.0, 250.0, 100.0, 1000.0), -0.090, 0.005);
    assert_true(tw_water_langelier(7.5, 25.0, 1e-3, 1e-3, 1e-3) < -9.0);
}

/* pH 7.5, 3 mg/L chlorine, 30 mg/L cyanuric acid, 25 C: 0.0286 by the set of 2018/19, 0.0431 by that of 1974 (ideal,
 * published); with activities both are a little higher, and the gap stays by half. */
static void the_gap_between_the_sets_is_given(void **unused)
{
    (void)unused;
    const double chlorine = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CL2, 3.0, 1.0),
                 ring = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CYA, 30.0, 1.0);
    double low = 0.0, high = 0.0;
    assert_ok(tw_water_chlorine_spread(298.15, 7.5, chlorine, ring, 1e-6, &low, &high));
    assert_near_rel(tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, low, 1.0), 0.0286, 0.03);
    assert_near_rel(tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, high, 1.0), 0.0431, 0.03);
    tw_chlorine old, now;
    assert_ok(tw_water_chlorine_activity(TW_CHLORINE_1974, 311.15, 7.2, chlorine, ring, 0.03, &old));
    assert_ok(tw_water_chlorine_activity(TW_CHLORINE_2019_SIMPLE, 311.15, 7.2, chlorine, ring, 0.03, &now));
    assert_ok(tw_water_chlorine_spread(311.15, 7.2, chlorine, ring, 0.03, &low, &high));
    assert_same_bits(low, fmin(old.hocl, now.hocl));
    assert_same_bits(high, fmax(old.hocl, now.hocl));
    assert_status(tw_water_chlorine_spread(311.15, 1.0, chlorine, ring, 0.03, &low, &high), TW_ERR_RANGE);
    assert_nan(low);
    assert_nan(high);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(a_sample_that_cools_reads_higher, constants),
        cmocka_unit_test(an_electrode_has_the_slope_of_nernst),
        cmocka_unit_test(a_heaters_skin_scales_first),
        cmocka_unit_test(a_ppm_has_its_scale),
        cmocka_unit_test(the_trades_index_needs_all_its_numbers),
        cmocka_unit_test(the_gap_between_the_sets_is_given),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
