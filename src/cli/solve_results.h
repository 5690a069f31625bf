/* cli/solve_results.h: the numbers of a single question from the options of solve, and the list of results. Used inside
 * cli/solve_*.c. */
#ifndef TW_CLI_SOLVE_RESULTS_H
#define TW_CLI_SOLVE_RESULTS_H

#include "cli/solve.h"
#include "water/constants.h"

/* Results that are being written: lines of text, or one JSON object. */
typedef struct {
    tw_cli *cli;
    int any; /* a result was written before */
} tw_cli_results;

/* Read all quantities from cli->option: in[] takes what was given, else what stands for it, else NaN. Those in must[]
 * (n of them) have to be given. Returns TW_EXIT_OK, or says what is wrong and returns the exit code. */
int tw_cli_results_read(tw_cli *cli, const int *must, int n, double in[TW_CLI_SOLVE_QUANTITIES]);

/* Start with what was given, of the question `what`. */
void tw_cli_results_begin(tw_cli_results *s, const char *what, const double in[TW_CLI_SOLVE_QUANTITIES]);

/* A result with its unit; what has no value (no calcium, no carbonate) is left out. */
void tw_cli_results_put(tw_cli_results *s, const char *key, const char *label, double x, int decimals, const char *unit);

/* A result that may never come: infinity is "never", in JSON null. */
void tw_cli_results_put_or_never(tw_cli_results *s, const char *key, const char *label, double x, int decimals, const char *unit);

/* A heading over the results that follow; text alone. */
void tw_cli_results_heading(const tw_cli_results *s, const char *text);

/* Conductivity at 25 C by --ec, or by --ppm and --scale; NaN when neither was given. Returns TW_EXIT_OK, or says what is
 * wrong and returns the exit code. */
int tw_cli_results_ec25(tw_cli *cli, const tw_constants *at25, const double in[TW_CLI_SOLVE_QUANTITIES], double *ec25);

/* What meters of each scale show of a conductivity. */
void tw_cli_results_put_scales(tw_cli_results *s, const tw_constants *at25, double ec25);

/* The end. */
void tw_cli_results_finish(const tw_cli_results *s);

#endif
