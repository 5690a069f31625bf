/* Constants against published values. USGS PHREEQC phreeqc.dat, 14 temperatures 5 to 45 C (published; tolerance 2e-5
 * in log10 K, carried by tests/vectors/water/constants.csv); Kell 1975 density; derived pK from the same rows. */
#include <math.h>

#include "cli/csv.h"
#include "num/status.h"
#include "support/check.h"
#include "water/constants.h"
#include "water/density.h"

#define LN10 2.302585092994046

/* Each column and the constants whose sum it is (a CaHSO4+ column is Ca + HSO4-, NaHCO3 is Na + HCO3-). */
static const struct {
    const char *column;
    tw_reaction reaction;
} COLUMNS[] = {{"log10_K_formation_OH-", TW_REACTION_WATER},
               {"log10_K_formation_HCO3-", TW_REACTION_HCO3},
               {"log10_K_formation_CO2", TW_REACTION_CO2},
               {"log10_K_formation_CaCO3", TW_REACTION_CACO3},
               {"log10_K_formation_CaHCO3+", TW_REACTION_CAHCO3},
               {"log10_K_formation_CaOH+", TW_REACTION_CAOH},
               {"log10_K_formation_CaSO4", TW_REACTION_CASO4},
               {"log10_K_formation_MgCO3", TW_REACTION_MGCO3},
               {"log10_K_formation_MgHCO3+", TW_REACTION_MGHCO3},
               {"log10_K_formation_MgSO4", TW_REACTION_MGSO4},
               {"log10_K_formation_Mg(SO4)2-2", TW_REACTION_MGSO4_2},
               {"log10_K_formation_MgOH+", TW_REACTION_MGOH},
               {"log10_K_formation_NaHCO3", TW_REACTION_NAHCO3},
               {"log10_K_formation_NaSO4-", TW_REACTION_NASO4},
               {"log10_K_formation_Na2SO4", TW_REACTION_NA2SO4},
               {"log10_K_formation_KHCO3", TW_REACTION_KHCO3},
               {"log10_K_formation_KSO4-", TW_REACTION_KSO4},
               {"log10_K_formation_HSO4-", TW_REACTION_HSO4},
               {"log10_K_formation_CaHSO4+", TW_REACTION_CAHSO4},
               {"log10_K_formation_H2BO3-", TW_REACTION_BORIC},
               {"log10_Ksp_calcite", TW_REACTION_CALCITE},
               {"log10_Ksp_aragonite", TW_REACTION_ARAGONITE},
               {"log10_KH_CO2g_to_CO2aq_mol_per_kgw_atm", TW_REACTION_CO2_GAS}};
#define COLUMN_COUNT (sizeof COLUMNS / sizeof *COLUMNS)

static void every_log_k_of_the_table_is_met(void **unused)
{
    (void)unused;
    tw_cli_csv csv;
    FILE *file = check_open("tests/vectors/water/constants.csv");
    assert_true(tw_cli_csv_open(&csv, file));
    fclose(file);
    assert_int_equal(tw_cli_csv_next(&csv), 1);
    size_t at[COLUMN_COUNT], found = 0, a_column = 0, b_column = 0;
    for (size_t c = 0; c < csv.cells; c++) {
        for (size_t i = 0; i < COLUMN_COUNT; i++)
            if (strcmp(csv.cell[c], COLUMNS[i].column) == 0) {
                at[i] = c;
                found++;
            }
        a_column = strcmp(csv.cell[c], "debye_huckel_A_log10") == 0 ? c : a_column;
        b_column = strcmp(csv.cell[c], "debye_huckel_B_per_angstrom") == 0 ? c : b_column;
    }
    assert_int_equal(found, COLUMN_COUNT);
    assert_int_equal(found + 3, csv.cells); /* temperature, A and B are the rest */
    double worst = 0.0;
    int rows = 0;
    while (tw_cli_csv_next(&csv) > 0) {
        double temp_c = 0.0, want = 0.0;
        tw_constants k;
        assert_true(tw_cli_csv_number(csv.cell[0], &temp_c));
        assert_ok(tw_water_constants_at(temp_c + 273.15, &k));
        for (size_t i = 0; i < COLUMN_COUNT; i++) {
            assert_true(tw_cli_csv_number(csv.cell[at[i]], &want));
            assert_near(tw_water_log10_k(&k, COLUMNS[i].reaction), want, 2e-5);
            worst = fmax(worst, fabs(tw_water_log10_k(&k, COLUMNS[i].reaction) - want));
        }
        assert_true(tw_cli_csv_number(csv.cell[a_column], &want));
        assert_near(k.debye_a_log10, want, 2e-5);
        assert_true(tw_cli_csv_number(csv.cell[b_column], &want));
        assert_near(k.debye_b_per_angstrom, want, 2e-5);
        rows++;
    }
    assert_int_equal(rows, 14);
    print_message("# worst log10 K %.2g\n", worst);
    tw_cli_csv_close(&csv);
}

/* phreeqc.dat rows, derived: pK1, pK2, pKw, boric, calcite. */
static void derived_pk_are_met(void **unused)
{
    (void)unused;
    static const double want[4][6] = {{10, 6.4633, 10.4879, 14.5314, 9.3652, 8.4032},
                                      {25, 6.3519, 10.3289, 13.9948, 9.2400, 8.4800},
                                      {38, 6.3019, 10.2333, 13.5910, 9.1413, 8.5949},
                                      {40, 6.2974, 10.2217, 13.5334, 9.1268, 8.6162}};
    for (int i = 0; i < 4; i++) {
        tw_constants k;
        assert_ok(tw_water_constants_at(want[i][0] + 273.15, &k));
        assert_near(tw_water_log10_k(&k, TW_REACTION_CO2) - tw_water_log10_k(&k, TW_REACTION_HCO3), want[i][1], 6e-5);
        assert_near(tw_water_log10_k(&k, TW_REACTION_HCO3), want[i][2], 6e-5);
        assert_near(-tw_water_log10_k(&k, TW_REACTION_WATER), want[i][3], 6e-5);
        assert_near(-tw_water_log10_k(&k, TW_REACTION_BORIC), want[i][4], 6e-5);
        assert_near(-tw_water_log10_k(&k, TW_REACTION_CALCITE), want[i][5], 6e-5);
    }
}

/* phreeqc.dat: phosphate pK1, pK2, pK3 2.168, 7.207, 12.346 at 25 C; 7.177 and 12.238 at 38 C. */
static void phosphate_pk_are_met(void **unused)
{
    (void)unused;
    tw_constants cold, warm;
    assert_ok(tw_water_constants_at(298.15, &cold));
    assert_ok(tw_water_constants_at(311.15, &warm));
    assert_near(tw_water_log10_k(&cold, TW_REACTION_H3PO4) - tw_water_log10_k(&cold, TW_REACTION_H2PO4), 2.168, 1e-9);
    assert_near(tw_water_log10_k(&cold, TW_REACTION_H2PO4) - tw_water_log10_k(&cold, TW_REACTION_HPO4), 7.207, 1e-9);
    assert_near(tw_water_log10_k(&cold, TW_REACTION_HPO4), 12.346, 1e-9);
    assert_near(tw_water_log10_k(&warm, TW_REACTION_H2PO4) - tw_water_log10_k(&warm, TW_REACTION_HPO4), 7.177, 1e-3);
    assert_near(tw_water_log10_k(&warm, TW_REACTION_HPO4), 12.238, 1e-3);
}

/* Morris 1966 (from memory): pKa of HOCl; Wahman 2018 (published): pK6 of cyanuric acid. */
static void chlorine_pk_are_met(void **unused)
{
    (void)unused;
    static const double want[5][3] = {{0, 7.825, 7.5012}, {10, 7.690, 7.2757}, {25, 7.537, 6.966}, {38, 7.445, 6.722}, {40, 7.434, 6.6860}};
    for (int i = 0; i < 5; i++) {
        tw_constants k;
        assert_ok(tw_water_constants_at(want[i][0] + 273.15, &k));
        assert_near(-tw_water_log10_k(&k, TW_REACTION_HOCL), want[i][1], 1e-3);
        assert_near(-tw_water_log10_k(&k, TW_REACTION_H3CY), want[i][2], 1e-3);
    }
}

/* Kell 1975 (published): 997.045 at 25 C, 992.965 at 38 C; the often misprinted constant gives 996.73. */
static void density_is_that_of_kell(void **unused)
{
    (void)unused;
    static const double want[5][2] = {{0.01, 999.84}, {10, 999.70}, {25, 997.045}, {38, 992.965}, {40, 992.216}};
    for (int i = 0; i < 5; i++)
        assert_near(1e3 * tw_water_pure_density_kg_per_l(want[i][0]), want[i][1], 0.01);
    const double swelling = tw_water_pure_density_kg_per_l(10) / tw_water_pure_density_kg_per_l(38) - 1.0;
    assert_near(100.0 * swelling, 0.678, 0.005);
}

/* Kestin, Sokolov and Wakeham 1978 (from memory): 0.8901 mPa s at 25 C, 0.6782 at 38 C. */
static void viscosity_is_that_of_kestin(void **unused)
{
    (void)unused;
    tw_constants k;
    assert_ok(tw_water_constants_at(298.15, &k));
    assert_near(k.viscosity_mpa_s, 0.8901, 5e-4);
    assert_ok(tw_water_constants_at(311.15, &k));
    assert_near(k.viscosity_mpa_s, 0.6782, 5e-4);
}

/* The 1974 set has its own three constants and shares the rest. */
static void the_1974_set_stands_beside(void **unused)
{
    (void)unused;
    tw_constants k;
    assert_ok(tw_water_constants_with(311.15, TW_CYANURATE_1974, &k));
    assert_near(-k.ln_beta[TW_SPECIES_H2CY] / LN10, 6.88, 1e-12);
    assert_near((k.ln_beta[TW_SPECIES_HCLCY] - k.ln_beta[TW_SPECIES_H2CY]) / LN10, 5.62, 1e-12);
    assert_near((k.ln_beta[TW_SPECIES_CL2CY] - k.ln_beta[TW_SPECIES_HCLCY]) / LN10, 4.51, 1e-12);
    assert_near((k.ln_beta[TW_SPECIES_CL3CY] - k.ln_beta[TW_SPECIES_HCL2CY]) / LN10, 1.80, 1e-12);
    /* ClCy-2 + H2O = HCy-2 + HOCl, printed as 6.90, closes the cycle. */
    assert_near((k.ln_beta[TW_SPECIES_CLCY] - k.ln_beta[TW_SPECIES_HCY]) / LN10, 6.90, 1e-12);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_log_k_of_the_table_is_met), cmocka_unit_test(derived_pk_are_met),
        cmocka_unit_test(phosphate_pk_are_met),            cmocka_unit_test(chlorine_pk_are_met),
        cmocka_unit_test(density_is_that_of_kell),         cmocka_unit_test(viscosity_is_that_of_kestin),
        cmocka_unit_test(the_1974_set_stands_beside),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
