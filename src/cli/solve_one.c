/* cli/solve_one.c: one water from the options of solve: what a chemist asks without a table.
 *
 * Amounts are mg/L; the density at the water's temperature turns them into mol per kg of water. */
#include <math.h>
#include <string.h>

#include "cli/csv.h"
#include "cli/solve.h"
#include "num/elementary.h"
#include "water/ccpp.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/edge.h"
#include "water/index.h"
#include "water/inverse.h"

#define MUST (double)NAN

const tw_solve_quantity tw_cli_solve_quantities[TW_CLI_SOLVE_QUANTITIES] = {
    {TW_OPTION_PH, "ph", "pH", "", 2, 12, MUST},
    {TW_OPTION_TA, "ta", "total alkalinity", "mg/L as CaCO3", 0, 5000, MUST},
    {TW_OPTION_CH, "ch", "calcium hardness", "mg/L as CaCO3", 0, 5000, MUST},
    {TW_OPTION_MH, "mh", "magnesium hardness", "mg/L as CaCO3", 0, 5000, 0},
    {TW_OPTION_SALT, "salt", "sodium chloride", "mg/L", 0, 20000, 0},
    {TW_OPTION_SO4, "so4", "sulfate", "mg/L", 0, 5000, 0},
    {TW_OPTION_POTASSIUM, "potassium", "potassium", "mg/L", 0, 2000, 0},
    {TW_OPTION_BORON, "boron", "boron", "mg/L", 0, 500, 0},
    {TW_OPTION_CYA, "cya", "cyanuric acid", "mg/L", 0, 1000, 0},
    {TW_OPTION_FC, "fc", "free chlorine by test", "mg/L as Cl2", 0, 1000, 0},
    {TW_OPTION_PO4, "po4", "phosphate", "mg/L", 0, 1000, 0},
    {TW_OPTION_TEMP, "temp", "temperature", "C", 0, 45, MUST},
    {TW_OPTION_SKIN, "skin", "heater skin", "C", 0, 45, 0},
    {TW_OPTION_PCO2, "pco2", "CO2 of the air, log10", "atm", -6, 0, -3.38}};

typedef struct {
    tw_cli *cli;
    int any; /* a result was written before */
} sheet;

/* ----------------------------------------------------------------------------------------- options */

static int read_one(tw_cli *cli, int i, int needed, double *out)
{
    const tw_solve_quantity *q = &tw_cli_solve_quantities[i];
    const char *typed = cli->option[q->option];
    char detail[200];
    *out = q->otherwise;
    if (!typed) {
        if (!needed || !isnan(q->otherwise))
            return 1;
        (void)snprintf(detail, sizeof detail, "give --%s, %s%s%s", q->name, q->label, q->unit[0] ? " in " : "", q->unit);
        (void)tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "a number is missing", detail);
        return 0;
    }
    char text[64];
    (void)snprintf(text, sizeof text, "%s", typed);
    char *comma = strchr(text, ',');
    if (comma && !strchr(text, '.') && comma == strrchr(text, ','))
        *comma = '.';
    if (tw_cli_csv_number(text, out) && *out >= q->low && *out <= q->high)
        return 1;
    (void)snprintf(detail, sizeof detail, "--%s %.40s: %s is a number from %g to %g%s%s", q->name, typed, q->label, q->low,
                   q->high, q->unit[0] ? " " : "", q->unit);
    (void)tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "a value is not as it must be", detail);
    return 0;
}

static int read_options(tw_cli *cli, double in[TW_CLI_SOLVE_QUANTITIES], int whole_water)
{
    for (int i = 0; i < TW_CLI_SOLVE_QUANTITIES; i++) {
        const int needed = whole_water || i == TW_SOLVE_PH || i == TW_SOLVE_TEMP;
        if (!read_one(cli, i, needed, &in[i]))
            return 0;
    }
    if (!cli->option[TW_OPTION_SKIN])
        in[TW_SOLVE_SKIN] = in[TW_SOLVE_TEMP] < 30.0 ? in[TW_SOLVE_TEMP] + 15.0 : 45.0;
    return 1;
}

/* ----------------------------------------------------------------------------------------- printing */

/* Label, number and unit; decimals -1: as many as the number has. */
static void line(FILE *out, const char *label, double x, int decimals, const char *unit)
{
    char number[40];
    if (decimals < 0)
        (void)snprintf(number, sizeof number, "%g", x);
    else
        (void)snprintf(number, sizeof number, "%.*f", decimals, x);
    (void)fprintf(out, "%-31s %11s%s%s\n", label, number, unit[0] ? " " : "", unit);
}

static void begin(sheet *s, const char *what, const double in[TW_CLI_SOLVE_QUANTITIES])
{
    FILE *out = s->cli->out;
    s->any = 0;
    if (s->cli->json) {
        (void)fprintf(out, "{\"solve\": \"%s\", \"given\": {", what);
        for (int i = 0, n = 0; i < TW_CLI_SOLVE_QUANTITIES; i++)
            if (!isnan(in[i]))
                (void)fprintf(out, "%s\"%s\": %.12g", n++ ? ", " : "", tw_cli_solve_quantities[i].name, in[i]);
        (void)fputs("}, \"results\": {", out);
        return;
    }
    for (int i = 0; i < TW_CLI_SOLVE_QUANTITIES; i++)
        if (!isnan(in[i]) && s->cli->option[tw_cli_solve_quantities[i].option])
            line(out, tw_cli_solve_quantities[i].label, in[i], -1, tw_cli_solve_quantities[i].unit);
}

/* A result; what has no value (no calcium, no carbonate) is left out. */
static void put(sheet *s, const char *key, const char *label, double x, int decimals, const char *unit)
{
    if (!isfinite(x))
        return;
    if (s->cli->json)
        (void)fprintf(s->cli->out, "%s\"%s\": {\"value\": %.12g, \"unit\": \"%s\"}", s->any ? ", " : "", key, x, unit);
    else
        line(s->cli->out, label, x, decimals, unit);
    s->any = 1;
}

static void heading(const sheet *s, const char *text)
{
    if (!s->cli->json)
        (void)fprintf(s->cli->out, "\n%s\n", text);
}

static void finish(const sheet *s)
{
    if (s->cli->json)
        (void)fputs("}}\n", s->cli->out);
}

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

static void put_carbonate(sheet *s, const tw_speciation *sp, double solvent)
{
    const double *m = sp->mol_per_kg;
    heading(s, "Carbonate");
    put(s, "dic", "inorganic carbon", 1e3 * sp->dic_mol_per_kg, 4, "mmol/kg");
    put(s, "co2", "CO2", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CO2, m[TW_SPECIES_CO2], solvent), 2, "mg/L");
    put(s, "hco3", "bicarbonate, free", 1e3 * m[TW_SPECIES_HCO3], 4, "mmol/kg");
    put(s, "co3", "carbonate, free", 1e3 * m[TW_SPECIES_CO3], 5, "mmol/kg");
    put(s, "log10_pco2", "CO2 pressure, log10", sp->log10_pco2_atm, 3, "atm");
    put(s, "strong_ion_alkalinity", "alkalinity, strong ions",
        tw_water_alk_mg_per_l_caco3_from_mol_per_kg(sp->strong_ion_alk_mol_per_kg, solvent), 2, "mg/L as CaCO3");
}

static void put_calcite(sheet *s, const char *key, const char *label, const tw_constants *at, const tw_water *water,
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
    put(s, name, text, sp.si_calcite, 3, "");
    (void)snprintf(name, sizeof name, "ccpp%s", key);
    (void)snprintf(text, sizeof text, "calcite to fall out%s", label);
    put(s, name, text, tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CACO3, ccpp.ccpp_mol_per_kg, solvent), 2, "mg/L");
}

static void put_saturation(sheet *s, const double in[TW_CLI_SOLVE_QUANTITIES], const tw_constants *at,
                           const tw_water *water, const tw_speciation *sp, double solvent)
{
    tw_constants skin;
    heading(s, "Saturation (negative: dissolves calcite)");
    put_calcite(s, "", "", at, water, solvent);
    if (tw_water_constants_at(in[TW_SOLVE_SKIN] + TW_WATER_ZERO_C_K, &skin) == TW_OK)
        put_calcite(s, "_at_heater_skin", ", skin", &skin, water, solvent);
    put(s, "langelier_simplified", "simplified Langelier index",
        tw_water_langelier(in[TW_SOLVE_PH], in[TW_SOLVE_TEMP], in[TW_SOLVE_CH], in[TW_SOLVE_TA],
                           tw_water_tds_mg_per_kg(sp) * solvent),
        2, "(as the trade has it)");
}

static void put_buffer(sheet *s, const tw_constants *at, const tw_water *water, double solvent)
{
    double buffer = 0.0;
    if (tw_water_buffer_intensity(at, water, &buffer) != TW_OK)
        return;
    heading(s, "Buffer");
    put(s, "buffer_intensity", "buffer intensity", 1e3 * buffer, 4, "mmol/kg per pH");
    put(s, "acid_for_0_1_ph", "acid or base for 0.1 pH",
        tw_water_alk_mg_per_l_caco3_from_mol_per_kg(0.1 * buffer, solvent), 2, "mg/L as CaCO3");
}

static void put_open(sheet *s, const double in[TW_CLI_SOLVE_QUANTITIES], const tw_constants *at, const tw_water *water)
{
    tw_water open = *water;
    tw_speciation sp;
    if (tw_water_equilibrate_co2(at, &open, in[TW_SOLVE_PCO2], &sp) != TW_OK)
        return;
    heading(s, "Open to the air for long");
    put(s, "open_ph", "pH", sp.ph, 3, "");
    put(s, "open_si_calcite", "calcite saturation", sp.si_calcite, 3, "");
}

static void put_salts(sheet *s, const tw_constants *at, const tw_water *water, const tw_speciation *sp, double solvent)
{
    tw_constants at25;
    double ec25 = (double)NAN;
    if (tw_water_constants_at(298.15, &at25) == TW_OK)
        (void)tw_water_conductivity_25_us_per_cm(&at25, water, &ec25);
    heading(s, "Salts");
    put(s, "ionic_strength", "ionic strength", sp->ionic_strength_mol_per_kg, 5, "mol/kg");
    put(s, "conductivity", "conductivity", tw_water_conductivity_us_per_cm(at, sp), 0, "uS/cm");
    put(s, "conductivity_25", "conductivity at 25 C", ec25, 0, "uS/cm");
    put(s, "tds", "dissolved solids", tw_water_tds_mg_per_kg(sp) * solvent, 0, "mg/L");
    put(s, "density", "density", tw_water_density_kg_per_l(at, sp), 4, "kg/L");
    put(s, "sodium", "sodium", 1e3 * water->total_mol_per_kg[TW_TOTAL_NA], 3, "mmol/kg");
    put(s, "chloride", "chloride", 1e3 * water->total_mol_per_kg[TW_TOTAL_CL], 3, "mmol/kg");
}

static void put_chlorine(sheet *s, const double in[TW_CLI_SOLVE_QUANTITIES], double solvent, double salt)
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
    heading(s, "Chlorine");
    put(s, "hocl", "HOCl really free", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, now.hocl, solvent), 4, "mg/L as Cl2");
    put(s, "ocl", "OCl-", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, now.ocl, solvent), 4, "mg/L as Cl2");
    put(s, "bound", "on cyanurate", tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, now.bound, solvent), 4, "mg/L as Cl2");
    put(s, "hocl_percent", "HOCl of all", 100.0 * now.hocl / chlorine, 2, "%");
    if (ring > 0.0)
        put(s, "hocl_1974", "HOCl by the 1974 constants",
            tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, old.hocl, solvent), 4, "mg/L as Cl2");
}

int tw_cli_solve_one_water(tw_cli *cli)
{
    double in[TW_CLI_SOLVE_QUANTITIES];
    tw_constants at;
    tw_water water;
    tw_speciation sp;
    sheet s = {cli, 0};
    if (!read_options(cli, in, 1))
        return cli->option[TW_OPTION_PH] && cli->option[TW_OPTION_TA] && cli->option[TW_OPTION_CH] &&
                       cli->option[TW_OPTION_TEMP] ? TW_EXIT_BAD_INPUT : TW_EXIT_USAGE;
    const double solvent = tw_water_solvent_kg_per_l_about(in[TW_SOLVE_TEMP], in[TW_SOLVE_SALT]);
    const tw_tests tests = tests_of(in, solvent);
    (void)tw_water_constants_at(tests.temp_k, &at);
    if (tw_water_from_tests(&at, &tests, &water, &sp) != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "no-solution", "there is no such water", tw_water_fault_text(sp.fault));
    begin(&s, "equilibrium", in);
    put_saturation(&s, in, &at, &water, &sp, solvent);
    put_carbonate(&s, &sp, solvent);
    put_buffer(&s, &at, &water, solvent);
    put_open(&s, in, &at, &water);
    put_chlorine(&s, in, solvent, sp.ionic_strength_mol_per_kg);
    put_salts(&s, &at, &water, &sp, solvent);
    finish(&s);
    return TW_EXIT_OK;
}

int tw_cli_solve_one_chlorine(tw_cli *cli)
{
    double in[TW_CLI_SOLVE_QUANTITIES];
    sheet s = {cli, 0};
    if (!read_options(cli, in, 0))
        return cli->option[TW_OPTION_PH] && cli->option[TW_OPTION_TEMP] ? TW_EXIT_BAD_INPUT : TW_EXIT_USAGE;
    if (!(in[TW_SOLVE_FC] > 0.0))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "a number is missing", "give --fc, free chlorine by test in mg/L");
    const double solvent = tw_water_solvent_kg_per_l_about(in[TW_SOLVE_TEMP], in[TW_SOLVE_SALT]);
    begin(&s, "chlorine", in);
    put_chlorine(&s, in, solvent, tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, in[TW_SOLVE_SALT], solvent));
    finish(&s);
    return TW_EXIT_OK;
}
