/* Conventions that a plausible program gets wrong: the tables tell each of them apart at 1e-4.
 *
 * Each test changes a copy of the constants to the wrong convention and shows that the reference rows (USGS PHREEQC,
 * phreeqc.dat; tests/vectors/water/equilibrium.csv) then disagree by more than 1e-4, while the right one agrees
 * within 2e-5: so an engine that slips into the wrong one fails here, whatever the change that led there. */
#include <math.h>

#include "cli/csv.h"
#include "num/status.h"
#include "support/check.h"
#include "water/edge.h"
#include "water/inverse.h"

#define MAX_ROWS 80

/* What the rows have and what they say. */
typedef struct {
    tw_tests tests;
    double dic, si, log_pco2, borate;
    int potassium;
} row;

static row rows[MAX_ROWS];
static int row_count;

static double cell(const tw_cli_csv *csv, size_t column)
{
    double x = 0.0;
    assert_true(column < csv->cells && tw_cli_csv_number(csv->cell[column], &x));
    return x;
}

static int load(void **unused)
{
    (void)unused;
    tw_cli_csv csv;
    FILE *file = check_open("tests/vectors/water/equilibrium.csv");
    if (!tw_cli_csv_open(&csv, file) || tw_cli_csv_next(&csv) != 1)
        return 1;
    fclose(file);
    while (tw_cli_csv_next(&csv) > 0 && row_count < MAX_ROWS) {
        row *r = &rows[row_count++];
        r->tests = (tw_tests){
            .temp_k = cell(&csv, 2) + 273.15,
            .ph = cell(&csv, 3),
            .alk_mol_per_kg = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(cell(&csv, 4), 1.0),
            .calcium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, cell(&csv, 5), 1.0),
            .magnesium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, cell(&csv, 6), 1.0),
            .salt_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, cell(&csv, 7), 1.0),
            .sulfate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_SO4, cell(&csv, 8), 1.0),
            .potassium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_K, cell(&csv, 9), 1.0),
            .boron_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_B, cell(&csv, 10), 1.0)};
        r->dic = cell(&csv, 13);
        r->log_pco2 = cell(&csv, 17);
        r->si = cell(&csv, 23);
        r->borate = cell(&csv, 34);
        r->potassium = cell(&csv, 9) > 0.0;
    }
    tw_cli_csv_close(&csv);
    return row_count == 60 ? 0 : 1;
}

/* A wrong convention, put into the constants of one water (the right solution is at hand). */
typedef void mistake(tw_constants *at, const tw_speciation *right);

static void none(tw_constants *at, const tw_speciation *right)
{
    (void)at;
    (void)right;
}

/* Water activity left out: Kw, CO2 and the metal hydroxides as if it were 1. */
static void without_water_activity(tw_constants *at, const tw_speciation *right)
{
    for (int i = 0; i < TW_SPECIES; i++)
        at->ln_beta[i] -= tw_water_species[i].water * log(right->water_activity);
}

/* H3BO3 as an ideal solute: its 0.1 I left out. */
static void without_boric_activity(tw_constants *at, const tw_speciation *right)
{
    (void)right;
    at->ln_gamma_per_i[TW_SPECIES_H3BO3] = 0.0;
}

/* NaHCO3 and KHCO3 as if their constants were for CO3-2 + H+ and not for HCO3-. */
static void pairs_from_carbonate(tw_constants *at, const tw_speciation *right)
{
    (void)right;
    at->ln_beta[TW_SPECIES_NAHCO3] -= at->ln_beta[TW_SPECIES_HCO3];
    at->ln_beta[TW_SPECIES_KHCO3] -= at->ln_beta[TW_SPECIES_HCO3];
}

/* Davies' law for bicarbonate in place of its own ion size. */
static void davies_for_bicarbonate(tw_constants *at, const tw_speciation *right)
{
    (void)right;
    at->ln_gamma_size[TW_SPECIES_HCO3] = at->ln_gamma_size[TW_SPECIES_H2BO3];
    at->ln_gamma_per_i[TW_SPECIES_HCO3] = at->ln_gamma_per_i[TW_SPECIES_H2BO3];
}

/* The largest difference over the rows: DIC and borate relative, SI and pCO2 in log10. */
typedef struct {
    double dic, si, log_pco2, borate;
} gaps;

static gaps compare(mistake *wrong)
{
    gaps g = {0.0, 0.0, 0.0, 0.0};
    for (int i = 0; i < row_count; i++) {
        const row *r = &rows[i];
        tw_constants at;
        tw_water w;
        tw_speciation sp;
        assert_ok(tw_water_constants_at(r->tests.temp_k, &at));
        assert_ok(tw_water_from_tests(&at, &r->tests, &w, &sp));
        wrong(&at, &sp);
        assert_ok(tw_water_from_tests(&at, &r->tests, &w, &sp));
        g.dic = fmax(g.dic, fabs(1e3 * sp.dic_mol_per_kg / r->dic - 1.0));
        g.si = fmax(g.si, fabs(sp.si_calcite - r->si));
        g.log_pco2 = fmax(g.log_pco2, fabs(sp.log10_pco2_atm - r->log_pco2));
        if (r->borate > 0.0)
            g.borate = fmax(g.borate, fabs(1e3 * sp.mol_per_kg[TW_SPECIES_H2BO3] / r->borate - 1.0));
    }
    print_message("# DIC %.1e, SI %.1e, pCO2 %.1e, borate %.1e\n", g.dic, g.si, g.log_pco2, g.borate);
    return g;
}

static void the_right_conventions_agree(void **unused)
{
    (void)unused;
    const gaps g = compare(none);
    assert_true(g.dic < 5e-5);
    assert_true(g.si < 2e-5);
    assert_true(g.log_pco2 < 2e-5);
    assert_true(g.borate < 2e-5);
}

static void leaving_out_water_activity_shows(void **unused)
{
    (void)unused;
    const gaps g = compare(without_water_activity);
    assert_true(g.log_pco2 > 1e-4);
}

static void leaving_out_the_activity_of_boric_acid_shows(void **unused)
{
    (void)unused;
    const gaps g = compare(without_boric_activity);
    assert_true(g.borate > 1e-4);
    assert_true(g.dic > 1e-4);
}

static void bicarbonate_pairs_from_carbonate_show(void **unused)
{
    (void)unused;
    const gaps g = compare(pairs_from_carbonate);
    assert_true(g.dic > 1e-4);
    assert_true(g.log_pco2 > 1e-4);
}

static void davies_for_bicarbonate_shows(void **unused)
{
    (void)unused;
    const gaps g = compare(davies_for_bicarbonate);
    assert_true(g.si > 1e-4);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(the_right_conventions_agree, load),
        cmocka_unit_test(leaving_out_water_activity_shows),
        cmocka_unit_test(leaving_out_the_activity_of_boric_acid_shows),
        cmocka_unit_test(bicarbonate_pairs_from_carbonate_show),
        cmocka_unit_test(davies_for_bicarbonate_shows),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
