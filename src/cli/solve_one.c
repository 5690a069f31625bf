/* cli/solve_one.c: one water from the options of solve: what a chemist asks without a table.
 *
 * Amounts are mg/L; the density at the water's temperature turns them into mol per kg of water. */
#include <math.h>

#include "cli/solve_results.h"
#include "water/ccpp.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/edge.h"
#include "water/index.h"
#include "water/inverse.h"

/* ------------------------------------------------------------------------------------------- a water */

static tw_tests tests_of(const double in[TW_CLI_SOLVE_QUANTITIES], double solvent)
{
    const tw_tests t = {
        .temp_k = in[TW_SOLVE_TEMP] + TW_WATER_ZERO_C_K,
        .ph = in[TW_SOLVE_PH],
        .alk_mol_per_kg = tw_water_alk_mol_per_kg_from_mg_per_l_caco3(in[TW_SOLVE_TA], solvent),
        .alk_kind = TW_ALK_TITRATED,
        .calcium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, in[TW_SOLVE_CH], solvent),
        .magnesium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, in[TW_SOLVE_MH], solvent),
        .salt_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, in[TW_SOLVE_SALT], solvent),
        .sulfate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_SO4, in[TW_SOLVE_SO4], solvent),
        .potassium_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_K, in[TW_SOLVE_POTASSIUM], solvent),
        .boron_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_B, in[TW_SOLVE_BORON], solvent),
        .cyanurate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CYA, in[TW_SOLVE_CYA], solvent),
        .active_chlorine_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CL2, in[TW_SOLVE_FC], solvent),
        .phosphate_mol_per_kg = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_PO4, in[TW_SOLVE_PO4], solvent)};
    return t;
}

static void put_carbonate(tw_cli_results *s, const tw_speciation *sp, double solvent)
{
    const double *m = sp->mol_per_kg;
    tw_cli_results_heading(s, "Carbonate");
    tw_cli_results_put(s, "dic", "inorganic carbon", 1e3 * sp->dic_mol_per_kg, 4, "mmol/kg");
    tw_cli_results_put(s, "co2", "CO2", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CO2, m[TW_SPECIES_CO2], solvent), 2, "mg/L");
    tw_cli_results_put(s, "hco3", "bicarbonate, free", 1e3 * m[TW_SPECIES_HCO3], 4, "mmol/kg");
    tw_cli_results_put(s, "co3", "carbonate, free", 1e3 * m[TW_SPECIES_CO3], 5, "mmol/kg");
    tw_cli_results_put(s, "log10_pco2", "CO2 pressure, log10", sp->log10_pco2_atm, 3, "atm");
    tw_cli_results_put(s, "strong_ion_alkalinity", "alkalinity, strong ions",
        tw_water_alk_mg_per_l_caco3_from_mol_per_kg(sp->strong_ion_alk_mol_per_kg, solvent), 2, "mg/L as CaCO3");
}

static void put_calcite(tw_cli_results *s, const char *key, const char *label, const tw_constants *at, const tw_water *water,
                        double solvent)
{
    tw_speciation sp;
    tw_ccpp ccpp;
    tw_water here = *water;
    char name[64], text[64];
    here.temp_k = at->temp_k;
    if (tw_water_speciate(at, &here, &sp) != TW_OK || tw_water_ccpp(at, &here, &ccpp) != TW_OK)
        return;
    (void)snprintf(name, sizeof name, "si_calcite%s", key);
    (void)snprintf(text, sizeof text, "calcite saturation%s", label);
    tw_cli_results_put(s, name, text, sp.si_calcite, 3, "");
    (void)snprintf(name, sizeof name, "ccpp%s", key);
    (void)snprintf(text, sizeof text, "calcite to fall out%s", label);
    tw_cli_results_put(s, name, text, tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CACO3, ccpp.ccpp_mol_per_kg, solvent), 2, "mg/L");
}

static void put_saturation(tw_cli_results *s, const double in[TW_CLI_SOLVE_QUANTITIES], const tw_constants *at,
                           const tw_water *water, const tw_speciation *sp, double solvent)
{
    tw_constants skin;
    tw_cli_results_heading(s, "Saturation (negative: dissolves calcite)");
    put_calcite(s, "", "", at, water, solvent);
    if (tw_water_constants_at(in[TW_SOLVE_SKIN] + TW_WATER_ZERO_C_K, &skin) == TW_OK)
        put_calcite(s, "_at_heater_skin", ", skin", &skin, water, solvent);
    tw_cli_results_put(s, "langelier_simplified", "simplified Langelier index",
        tw_water_langelier(in[TW_SOLVE_PH], in[TW_SOLVE_TEMP], in[TW_SOLVE_CH], in[TW_SOLVE_TA],
                           tw_water_tds_mg_per_kg(sp) * solvent),
        2, "(as the trade has it)");
}

static void put_buffer(tw_cli_results *s, const tw_constants *at, const tw_water *water, double solvent)
{
    double buffer = 0.0;
    if (tw_water_buffer_intensity(at, water, &buffer) != TW_OK)
        return;
    tw_cli_results_heading(s, "Buffer");
    tw_cli_results_put(s, "buffer_intensity", "buffer intensity", 1e3 * buffer, 4, "mmol/kg per pH");
    tw_cli_results_put(s, "acid_for_0_1_ph", "acid or base for 0.1 pH",
        tw_water_alk_mg_per_l_caco3_from_mol_per_kg(0.1 * buffer, solvent), 2, "mg/L as CaCO3");
}

static void put_open(tw_cli_results *s, const double in[TW_CLI_SOLVE_QUANTITIES], const tw_constants *at, const tw_water *water)
{
    tw_water open = *water;
    tw_speciation sp;
    if (tw_water_equilibrate_co2(at, &open, in[TW_SOLVE_PCO2], &sp) != TW_OK)
        return;
    tw_cli_results_heading(s, "Open to the air for long");
    tw_cli_results_put(s, "open_ph", "pH", sp.ph, 3, "");
    tw_cli_results_put(s, "open_si_calcite", "calcite saturation", sp.si_calcite, 3, "");
}

static void put_salts(tw_cli_results *s, const tw_constants *at, const tw_water *water, const tw_speciation *sp, double salt,
                      double solvent)
{
    tw_constants at25;
    double ec25 = (double)NAN;
    (void)tw_water_constants_at(298.15, &at25);
    (void)tw_water_conductivity_25_us_per_cm(&at25, water, &ec25);
    tw_cli_results_heading(s, "Salts");
    tw_cli_results_put(s, "ionic_strength", "ionic strength", sp->ionic_strength_mol_per_kg, 5, "mol/kg");
    tw_cli_results_put(s, "conductivity", "conductivity", tw_water_conductivity_us_per_cm(at, sp), 0, "uS/cm");
    tw_cli_results_put(s, "conductivity_25", "conductivity at 25 C", ec25, 0, "uS/cm");
    tw_cli_results_put_scales(s, &at25, ec25);
    tw_cli_results_put(s, "salt", "sodium chloride", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, salt, solvent), 1, "mg/L");
    tw_cli_results_put(s, "tds", "dissolved solids", tw_water_tds_mg_per_kg(sp) * solvent, 0, "mg/L");
    tw_cli_results_put(s, "density", "density", tw_water_density_kg_per_l(at, sp), 4, "kg/L");
    tw_cli_results_put(s, "sodium", "sodium", 1e3 * water->total_mol_per_kg[TW_TOTAL_NA], 3, "mmol/kg");
    tw_cli_results_put(s, "chloride", "chloride", 1e3 * water->total_mol_per_kg[TW_TOTAL_CL], 3, "mmol/kg");
}

static void put_chlorine(tw_cli_results *s, const double in[TW_CLI_SOLVE_QUANTITIES], double solvent, double salt)
{
    if (!(in[TW_SOLVE_FC] > 0.0))
        return;
    const double temp_k = in[TW_SOLVE_TEMP] + TW_WATER_ZERO_C_K;
    const double chlorine = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CL2, in[TW_SOLVE_FC], solvent);
    const double ring = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CYA, in[TW_SOLVE_CYA], solvent);
    tw_chlorine now, old;
    const tw_chlorine_model model = ring > 0.0 ? TW_CHLORINE_2019_SIMPLE : TW_CHLORINE_MORRIS;
    if (tw_water_chlorine_activity(model, temp_k, in[TW_SOLVE_PH], chlorine, ring, salt, &now) != TW_OK ||
        tw_water_chlorine_activity(TW_CHLORINE_1974, temp_k, in[TW_SOLVE_PH], chlorine, ring, salt, &old) != TW_OK)
        return;
    tw_cli_results_heading(s, "Chlorine");
    tw_cli_results_put(s, "hocl", "HOCl really free", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, now.hocl, solvent), 4, "mg/L as Cl2");
    tw_cli_results_put(s, "ocl", "OCl-", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, now.ocl, solvent), 4, "mg/L as Cl2");
    tw_cli_results_put(s, "bound", "on cyanurate", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, now.bound, solvent), 4, "mg/L as Cl2");
    tw_cli_results_put(s, "hocl_percent", "HOCl of all", 100.0 * now.hocl / chlorine, 2, "%");
    if (ring > 0.0)
        tw_cli_results_put(s, "hocl_1974", "HOCl by the 1974 constants",
            tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, old.hocl, solvent), 4, "mg/L as Cl2");
}

/* Salt by the meter, in place of --salt: the water with that conductivity at 25 C. */
static int salt_by_meter(tw_cli *cli, const tw_constants *at, tw_tests *tests, double in[TW_CLI_SOLVE_QUANTITIES],
                         double *solvent)
{
    tw_constants at25;
    tw_water water;
    tw_speciation sp;
    double ec25 = 0.0;
    (void)tw_water_constants_at(298.15, &at25);
    const int code = tw_cli_results_ec25(cli, &at25, in, &ec25);
    if (code != TW_EXIT_OK || isnan(ec25))
        return code;
    if (cli->option[TW_OPTION_SALT])
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "give either --salt or a meter's reading", "the salt follows from it");
    for (int i = 0; i < 3; i++) { /* salt in a litre and the density of that litre: each shrinks the rest a hundredfold */
        *tests = tests_of(in, *solvent);
        if (tw_water_from_tests_with_ec25(at, &at25, tests, ec25, &water, &sp) != TW_OK)
            return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "no-solution", "there is no such water", tw_water_fault_text(sp.fault));
        in[TW_SOLVE_SALT] = tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, tests->salt_mol_per_kg, *solvent);
        *solvent = tw_water_solvent_kg_per_l_about(in[TW_SOLVE_TEMP], in[TW_SOLVE_SALT]);
    }
    return TW_EXIT_OK;
}

int tw_cli_solve_one_water(tw_cli *cli)
{
    static const int must[] = {TW_SOLVE_PH, TW_SOLVE_TA, TW_SOLVE_CH, TW_SOLVE_TEMP};
    double in[TW_CLI_SOLVE_QUANTITIES];
    tw_constants at;
    tw_water water;
    tw_speciation sp;
    tw_cli_results s = {cli, 0};
    int code = tw_cli_results_read(cli, must, 4, in);
    if (code != TW_EXIT_OK)
        return code;
    double solvent = tw_water_solvent_kg_per_l_about(in[TW_SOLVE_TEMP], in[TW_SOLVE_SALT]);
    tw_tests tests = tests_of(in, solvent);
    (void)tw_water_constants_at(tests.temp_k, &at);
    code = salt_by_meter(cli, &at, &tests, in, &solvent);
    if (code != TW_EXIT_OK)
        return code;
    if (tw_water_from_tests(&at, &tests, &water, &sp) != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "no-solution", "there is no such water", tw_water_fault_text(sp.fault));
    tw_cli_results_begin(&s, "equilibrium", in);
    put_saturation(&s, in, &at, &water, &sp, solvent);
    put_carbonate(&s, &sp, solvent);
    put_buffer(&s, &at, &water, solvent);
    put_open(&s, in, &at, &water);
    put_chlorine(&s, in, solvent, sp.ionic_strength_mol_per_kg);
    put_salts(&s, &at, &water, &sp, tests.salt_mol_per_kg, solvent);
    tw_cli_results_finish(&s);
    return TW_EXIT_OK;
}

int tw_cli_solve_one_chlorine(tw_cli *cli)
{
    static const int must[] = {TW_SOLVE_PH, TW_SOLVE_TEMP, TW_SOLVE_FC};
    double in[TW_CLI_SOLVE_QUANTITIES];
    tw_cli_results s = {cli, 0};
    const int code = tw_cli_results_read(cli, must, 3, in);
    if (code != TW_EXIT_OK)
        return code;
    if (in[TW_SOLVE_FC] == 0.0)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "a number is missing", "give --fc, free chlorine by test in mg/L");
    const double solvent = tw_water_solvent_kg_per_l_about(in[TW_SOLVE_TEMP], in[TW_SOLVE_SALT]);
    tw_cli_results_begin(&s, "chlorine", in);
    put_chlorine(&s, in, solvent, tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, in[TW_SOLVE_SALT], solvent));
    tw_cli_results_finish(&s);
    return TW_EXIT_OK;
}
