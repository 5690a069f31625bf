/* cli/solve_meter.c: a conductivity meter's scale, and concentration times time. */
#include <math.h>
#include <string.h>

#include "cli/solve_results.h"
#include "water/chlorine.h"
#include "water/conductivity.h"
#include "water/density.h"
#include "water/edge.h"
#include "water/inactivation.h"

/* Start with what was given alone: most of a water is not asked for here. */
static void begin(tw_cli_results *s, const char *what, const double in[TW_CLI_SOLVE_QUANTITIES])
{
    double given[TW_CLI_SOLVE_QUANTITIES];
    for (int i = 0; i < TW_CLI_SOLVE_QUANTITIES; i++)
        given[i] = s->cli->option[tw_cli_solve_quantities[i].option] ? in[i] : (double)NAN;
    tw_cli_results_begin(s, what, given);
}

/* ------------------------------------------------------------------------------------------- meters */

static const char *const SCALE_KEYS[TW_PPM_SCALES] = {"ppm_nacl", "ppm_0_5", "ppm_0_64", "ppm_0_7"};
static const char *const SCALE_LABELS[TW_PPM_SCALES] = {"a meter shows, NaCl scale", "a meter shows, 0.5 scale",
                                                        "a meter shows, 0.64 scale", "a meter shows, 0.7 scale"};

void tw_cli_results_put_scales(tw_cli_results *s, const tw_constants *at25, double ec25)
{
    for (int i = 0; i < TW_PPM_SCALES; i++)
        tw_cli_results_put(s, SCALE_KEYS[i], SCALE_LABELS[i], tw_water_ppm_from_ec25(at25, (tw_ppm_scale)i, ec25), 0, "ppm");
}

int tw_cli_results_ec25(tw_cli *cli, const tw_constants *at25, const double in[TW_CLI_SOLVE_QUANTITIES], double *ec25)
{
    const char *typed = cli->option[TW_OPTION_SCALE];
    *ec25 = in[TW_SOLVE_EC];
    if (isnan(in[TW_SOLVE_PPM]))
        return typed ? tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "a scale belongs to what a meter shows", "give --ppm too") : TW_EXIT_OK;
    if (!isnan(*ec25))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "give either --ec or --ppm", "one reading of one meter");
    if (!typed)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "ppm of which scale?",
                              "give --scale NaCl, 0.5, 0.64 or 0.7; the meter's manual has it, its face seldom");
    int scale = 0;
    while (scale < TW_PPM_SCALES && strcmp(typed, tw_water_ppm_scale_name((tw_ppm_scale)scale)) != 0)
        scale++;
    if (scale == TW_PPM_SCALES)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "there is no such scale", "scales are NaCl, 0.5, 0.64 and 0.7");
    *ec25 = tw_water_ec25_from_ppm(at25, (tw_ppm_scale)scale, in[TW_SOLVE_PPM]);
    return isnan(*ec25) ? tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "no water shows that", "the reading is outside the scale")
                        : TW_EXIT_OK;
}

int tw_cli_solve_one_meter(tw_cli *cli)
{
    double in[TW_CLI_SOLVE_QUANTITIES], ec25 = 0.0;
    tw_constants at25;
    tw_cli_results s = {cli, 0};
    int code = tw_cli_results_read(cli, NULL, 0, in);
    (void)tw_water_constants_at(298.15, &at25);
    if (code == TW_EXIT_OK)
        code = tw_cli_results_ec25(cli, &at25, in, &ec25);
    if (code != TW_EXIT_OK)
        return code;
    if (isnan(ec25))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "a number is missing",
                              "give --ppm with --scale, or --ec, conductivity at 25 C in uS/cm");
    begin(&s, "meter", in);
    tw_cli_results_heading(&s, "The same water on each scale");
    tw_cli_results_put(&s, "conductivity_25", "conductivity at 25 C", ec25, 1, "uS/cm");
    tw_cli_results_put_scales(&s, &at25, ec25);
    tw_cli_results_finish(&s);
    return TW_EXIT_OK;
}

/* ---------------------------------------------------------------------------- concentration times time */

/* Minutes until a CT, infinity when the residual is gone first. */
static double minutes_until(double start, double loss, double ct)
{
    double hours = 0.0;
    return tw_water_ct_hours(start, loss, ct, &hours) == TW_OK ? 60.0 * hours : (double)INFINITY;
}

static void put_germs(tw_cli_results *s, const char *kind, double start, double loss, int as_hocl)
{
    for (int g = 0; g < TW_GERMS; g++) {
        const tw_germ_row *row = &tw_water_germs[g];
        const double ct = as_hocl ? tw_water_ct_as_hocl_mg_min_per_l((tw_germ)g) : row->ct_mg_min_per_l;
        const double minutes = minutes_until(start, loss, ct);
        char key[80], unit[80];
        (void)snprintf(key, sizeof key, "%s_%s", kind, row->id);
        (void)snprintf(unit, sizeof unit, "%sfor CT %.4g mg min/L", isinf(minutes) ? "" : "min ", ct);
        if (ct >= 1e4)
            (void)snprintf(unit, sizeof unit, "%sfor CT %.0f mg min/L", isinf(minutes) ? "" : "min ", ct);
        tw_cli_results_put_or_never(s, key, row->name, minutes, 1, s->cli->json ? "min" : unit);
    }
}

/* mg/L of HOCl as Cl2 that the free chlorine by test holds; NaN without a pH or a temperature. */
static double really_free(const double in[TW_CLI_SOLVE_QUANTITIES])
{
    tw_chlorine c;
    const double solvent = tw_water_solvent_kg_per_l_about(in[TW_SOLVE_TEMP], in[TW_SOLVE_SALT]);
    const double ring = tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CYA, in[TW_SOLVE_CYA], solvent);
    if (tw_water_chlorine_activity(ring > 0.0 ? TW_CHLORINE_2019_SIMPLE : TW_CHLORINE_MORRIS, in[TW_SOLVE_TEMP] + TW_WATER_ZERO_C_K,
                                   in[TW_SOLVE_PH], tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CL2, in[TW_SOLVE_FC], solvent), ring,
                                   tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_NACL, in[TW_SOLVE_SALT], solvent), &c) != TW_OK)
        return (double)NAN;
    return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, c.hocl, solvent);
}

int tw_cli_solve_one_ct(tw_cli *cli)
{
    static const int must[] = {TW_SOLVE_FC};
    double in[TW_CLI_SOLVE_QUANTITIES];
    tw_cli_results s = {cli, 0};
    const int code = tw_cli_results_read(cli, must, 1, in);
    if (code != TW_EXIT_OK)
        return code;
    const int has_water = !isnan(in[TW_SOLVE_PH]) && !isnan(in[TW_SOLVE_TEMP]);
    if (!has_water && (!isnan(in[TW_SOLVE_PH]) || !isnan(in[TW_SOLVE_TEMP]) || in[TW_SOLVE_CYA] > 0.0))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "a number is missing",
                              "what HOCl is really free asks for --ph and --temp together");
    const double start = in[TW_SOLVE_FC], loss = isnan(in[TW_SOLVE_LOSS]) ? 0.0 : 0.01 * in[TW_SOLVE_LOSS];
    begin(&s, "ct", in);
    tw_cli_results_heading(&s, "In clear water. Slime outlives any CT: no verdict on a tub");
    if (!isnan(in[TW_SOLVE_HOURS]))
        tw_cli_results_put(&s, "ct", "CT in that time", tw_water_ct_mg_min_per_l(start, loss, in[TW_SOLVE_HOURS]), 1, "mg min/L");
    if (loss > 0.0)
        tw_cli_results_put(&s, "ct_at_most", "CT when all is gone", 60.0 * start / loss, 1, "mg min/L");
    tw_cli_results_heading(&s, "Until the published CT, free chlorine without cyanurate");
    put_germs(&s, "minutes", start, loss, 0);
    if (has_water) {
        const double hocl = really_free(in);
        tw_cli_results_heading(&s, "The same by the HOCl that is really free at this pH");
        tw_cli_results_put(&s, "hocl", "HOCl really free at the start", hocl, 4, "mg/L as Cl2");
        put_germs(&s, "minutes_by_hocl", hocl, loss, 1);
    }
    tw_cli_results_finish(&s);
    return TW_EXIT_OK;
}
