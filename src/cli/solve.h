/* cli/solve.h: the calculator of a chemist, on tables and on single waters.
 *
 * Tables count mg per kg of water; no density is applied. Input columns by name in any order, other
 * columns are passed over, so a table that holds results can be given as it is. */
#ifndef TW_CLI_SOLVE_H
#define TW_CLI_SOLVE_H

#include <stdio.h>

#include "cli/cli.h"

/* Solve every row of a table.
 *   which  "equilibrium", "dosing", "chlorine" or "chain"
 *   in     CSV; out: CSV with case_id and all results in a fixed order; err: what went wrong, a line each
 * Returns 0 when every row was solved, 1 when some row had no solution (its case_id stands with empty results), 3
 * when the table could not be used or some row held a missing or garbled value, 2 for an unknown `which`. */
int tw_cli_solve_table(const char *which, FILE *in, FILE *out, FILE *err);

/* A number that describes a single water, by option. */
typedef struct {
    tw_option option;
    const char *name;      /* as the option is called        */
    const char *label;     /* as it is printed               */
    const char *unit;
    double low, high;      /* what is taken                  */
    double otherwise;      /* when it is not given; NaN: nothing stands for it */
} tw_solve_quantity;

enum {
    TW_SOLVE_PH, TW_SOLVE_TA, TW_SOLVE_CH, TW_SOLVE_MH, TW_SOLVE_SALT, TW_SOLVE_SO4, TW_SOLVE_POTASSIUM,
    TW_SOLVE_BORON, TW_SOLVE_CYA, TW_SOLVE_FC, TW_SOLVE_PO4, TW_SOLVE_TEMP, TW_SOLVE_SKIN, TW_SOLVE_PCO2,
    TW_SOLVE_EC, TW_SOLVE_PPM, TW_SOLVE_LOSS, TW_SOLVE_HOURS,
    TW_CLI_SOLVE_QUANTITIES
};
/* The quantities, in the order of the enum. */
extern const tw_solve_quantity tw_cli_solve_quantities[TW_CLI_SOLVE_QUANTITIES];

/* Single waters from cli->option: a list of results with units, or JSON. Return the exit code. */
int tw_cli_solve_one_water(tw_cli *cli);
int tw_cli_solve_one_chlorine(tw_cli *cli);

/* The same for a conductivity meter's reading on every scale, and for concentration times time. */
int tw_cli_solve_one_meter(tw_cli *cli);
int tw_cli_solve_one_ct(tw_cli *cli);

/* One table: what it needs and gives. Used inside cli/solve*.c. */
#define TW_SOLVE_INPUTS 32
#define TW_SOLVE_OUTPUTS 48

/* What a column of a table holds. */
typedef enum { TW_SOLVE_NUMBER, TW_SOLVE_NUMBER_OR_EMPTY, TW_SOLVE_WORD, TW_SOLVE_WORD_OR_EMPTY } tw_solve_kind;

/* A column by its name. */
typedef struct {
    const char *name;
    tw_solve_kind kind;
} tw_solve_column;

typedef struct {
    const char *id;                       /* case_id                                    */
    unsigned long line;
    const char *word[TW_SOLVE_INPUTS];    /* text of each input                         */
    double in[TW_SOLVE_INPUTS];           /* number of each input, NaN where empty      */
    double out[TW_SOLVE_OUTPUTS];         /* result, NaN: left empty                    */
    int shape;                            /* which outputs the row has (solve chlorine) */
    int bad;                              /* 1: a value is missing or garbled           */
    char why[256];                        /* reason of a row without (full) solution    */
} tw_solve_row;

/* One water of a table: columns in the order of TW_SOLVE_WATER. */
#define TW_SOLVE_WATER(prefix)                                             \
    {prefix "temperature_C", TW_SOLVE_NUMBER},                             \
    {prefix "pH", TW_SOLVE_NUMBER},                                        \
    {prefix "total_alkalinity_mg_per_kgw_as_CaCO3", TW_SOLVE_NUMBER},      \
    {"calcium_hardness_mg_per_kgw_as_CaCO3", TW_SOLVE_NUMBER},             \
    {"magnesium_hardness_mg_per_kgw_as_CaCO3", TW_SOLVE_NUMBER},           \
    {"NaCl_added_mg_per_kgw", TW_SOLVE_NUMBER},                            \
    {"sulfate_mg_per_kgw_as_SO4", TW_SOLVE_NUMBER},                        \
    {"potassium_mg_per_kgw", TW_SOLVE_NUMBER},                             \
    {"boron_mg_per_kgw_as_B", TW_SOLVE_NUMBER}
#define TW_SOLVE_WATER_COLUMNS 9

/* Row solvers: fill row->out, or row->why. */
void tw_cli_solve_equilibrium_row(tw_solve_row *row);
void tw_cli_solve_dosing_row(tw_solve_row *row);
void tw_cli_solve_chlorine_row(tw_solve_row *row);

/* The rows of one chain in order of step; a row after one without solution has none either. */
void tw_cli_solve_chain(tw_solve_row **rows, size_t n);

/* Columns, in the order of the row solvers. Ends with a NULL name. */
extern const tw_solve_column tw_cli_solve_equilibrium_in[], tw_cli_solve_dosing_in[], tw_cli_solve_chlorine_in[],
    tw_cli_solve_chain_in[];
extern const char *const tw_cli_solve_equilibrium_out[], *const tw_cli_solve_dosing_out[],
    *const tw_cli_solve_chlorine_out[], *const tw_cli_solve_chain_out[];

/* Solve chlorine: its results are those of one shape followed by those of the other. */
#define TW_SOLVE_CHLORINE_FIRST 21
#define TW_SOLVE_CHLORINE_SECOND 13

#endif
