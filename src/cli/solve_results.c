/* cli/solve_results.c: see solve_results.h. */
#include "cli/solve_results.h"

#include <math.h>
#include <string.h>

#include "cli/csv.h"

#define NONE (double)NAN /* nothing stands for it */

const tw_solve_quantity tw_cli_solve_quantities[TW_CLI_SOLVE_QUANTITIES] = {
    {TW_OPTION_PH, "ph", "pH", "", 2, 12, NONE},
    {TW_OPTION_TA, "ta", "total alkalinity", "mg/L as CaCO3", 0, 5000, NONE},
    {TW_OPTION_CH, "ch", "calcium hardness", "mg/L as CaCO3", 0, 5000, NONE},
    {TW_OPTION_MH, "mh", "magnesium hardness", "mg/L as CaCO3", 0, 5000, 0},
    {TW_OPTION_SALT, "salt", "sodium chloride", "mg/L", 0, 20000, 0},
    {TW_OPTION_SO4, "so4", "sulfate", "mg/L", 0, 5000, 0},
    {TW_OPTION_POTASSIUM, "potassium", "potassium", "mg/L", 0, 2000, 0},
    {TW_OPTION_BORON, "boron", "boron", "mg/L", 0, 500, 0},
    {TW_OPTION_CYA, "cya", "cyanuric acid", "mg/L", 0, 1000, 0},
    {TW_OPTION_FC, "fc", "free chlorine by test", "mg/L as Cl2", 0, 1000, 0},
    {TW_OPTION_PO4, "po4", "phosphate", "mg/L", 0, 1000, 0},
    {TW_OPTION_TEMP, "temp", "temperature", "C", 0, 45, NONE},
    {TW_OPTION_SKIN, "skin", "heater skin", "C", 0, 45, 0},
    {TW_OPTION_PCO2, "pco2", "CO2 of the air, log10", "atm", -6, 0, -3.38},
    {TW_OPTION_EC, "ec", "conductivity at 25 C", "uS/cm", 0, 40000, NONE},
    {TW_OPTION_PPM, "ppm", "shown by a meter", "ppm", 0, 30000, NONE},
    {TW_OPTION_LOSS, "loss", "loss of chlorine", "% an hour", 0, 1000, NONE},
    {TW_OPTION_HOURS, "hours", "time", "h", 0, 1000, NONE}};

/* ----------------------------------------------------------------------------------------- options */

static int bad_value(tw_cli *cli, const tw_solve_quantity *q)
{
    char detail[200];
    (void)snprintf(detail, sizeof detail, "--%s %.40s: %s is a number from %g to %g%s%s", q->name, cli->option[q->option],
                   q->label, q->low, q->high, q->unit[0] ? " " : "", q->unit);
    return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "value", "a value is not as it must be", detail);
}

static int read_number(const char *typed, const tw_solve_quantity *q, double *out)
{
    char text[64];
    (void)snprintf(text, sizeof text, "%s", typed);
    char *comma = strchr(text, ',');
    if (comma && !strchr(text, '.') && comma == strrchr(text, ','))
        *comma = '.';
    return tw_cli_csv_number(text, out) && *out >= q->low && *out <= q->high;
}

int tw_cli_results_read(tw_cli *cli, const int *must, int n, double in[TW_CLI_SOLVE_QUANTITIES])
{
    char detail[200];
    for (int i = 0; i < n; i++) {
        const tw_solve_quantity *q = &tw_cli_solve_quantities[must[i]];
        if (cli->option[q->option])
            continue;
        (void)snprintf(detail, sizeof detail, "give --%s, %s%s%s", q->name, q->label, q->unit[0] ? " in " : "", q->unit);
        return tw_cli_problem(cli, TW_EXIT_USAGE, "missing", "a number is missing", detail);
    }
    for (int i = 0; i < TW_CLI_SOLVE_QUANTITIES; i++) {
        const tw_solve_quantity *q = &tw_cli_solve_quantities[i];
        in[i] = q->otherwise;
        if (cli->option[q->option] && !read_number(cli->option[q->option], q, &in[i]))
            return bad_value(cli, q);
    }
    if (!cli->option[TW_OPTION_SKIN])
        in[TW_SOLVE_SKIN] = in[TW_SOLVE_TEMP] < 30.0 ? in[TW_SOLVE_TEMP] + 15.0 : 45.0;
    return TW_EXIT_OK;
}

/* ----------------------------------------------------------------------------------------- printing */

/* Label, number and unit; decimals -1: as many as the number has. */
static void line(FILE *out, const char *label, double x, int decimals, const char *unit)
{
    char number[40];
    if (isinf(x))
        (void)snprintf(number, sizeof number, "never");
    else if (decimals < 0)
        (void)snprintf(number, sizeof number, "%g", x);
    else
        (void)snprintf(number, sizeof number, "%.*f", decimals, x);
    (void)fprintf(out, "%-31s %11s%s%s\n", label, number, unit[0] ? " " : "", unit);
}

void tw_cli_results_begin(tw_cli_results *s, const char *what, const double in[TW_CLI_SOLVE_QUANTITIES])
{
    FILE *out = s->cli->out;
    s->any = 0;
    if (s->cli->json) {
        (void)fprintf(out, "{\"solve\": \"%s\", \"given\": {", what);
        for (int i = 0, n = 0; i < TW_CLI_SOLVE_QUANTITIES; i++)
            if (!isnan(in[i]))
                (void)fprintf(out, "%s\"%s\": %.12g", n++ ? ", " : "", tw_cli_solve_quantities[i].name, in[i]);
        if (s->cli->option[TW_OPTION_SCALE])
            (void)fprintf(out, ", \"scale\": \"%s\"", s->cli->option[TW_OPTION_SCALE]);
        (void)fputs("}, \"results\": {", out);
        return;
    }
    for (int i = 0; i < TW_CLI_SOLVE_QUANTITIES; i++)
        if (!isnan(in[i]) && s->cli->option[tw_cli_solve_quantities[i].option])
            line(out, tw_cli_solve_quantities[i].label, in[i], -1, tw_cli_solve_quantities[i].unit);
}

void tw_cli_results_put_or_never(tw_cli_results *s, const char *key, const char *label, double x, int decimals, const char *unit)
{
    if (!s->cli->json)
        line(s->cli->out, label, x, decimals, unit);
    else if (isinf(x))
        (void)fprintf(s->cli->out, "%s\"%s\": {\"value\": null, \"unit\": \"%s\"}", s->any ? ", " : "", key, unit);
    else
        (void)fprintf(s->cli->out, "%s\"%s\": {\"value\": %.12g, \"unit\": \"%s\"}", s->any ? ", " : "", key, x, unit);
    s->any = 1;
}

void tw_cli_results_put(tw_cli_results *s, const char *key, const char *label, double x, int decimals, const char *unit)
{
    if (isfinite(x))
        tw_cli_results_put_or_never(s, key, label, x, decimals, unit);
}

void tw_cli_results_heading(const tw_cli_results *s, const char *text)
{
    if (!s->cli->json)
        (void)fprintf(s->cli->out, "\n%s\n", text);
}

void tw_cli_results_finish(const tw_cli_results *s)
{
    if (s->cli->json)
        (void)fputs("}}\n", s->cli->out);
}
