/* cli/solve.c: the command solve: tables from a file or standard input, and single waters from options. */
#include "cli/solve.h"

#include <string.h>

#include "cli/cli.h"
#include "cli/csv.h"

/* Whether any option of a single water was given. */
static int asks_one_water(const tw_cli *cli)
{
    for (int i = 0; i < TW_CLI_SOLVE_QUANTITIES; i++)
        if (cli->option[tw_cli_solve_quantities[i].option])
            return 1;
    return 0;
}

static int from_table(tw_cli *cli, const char *which, const char *path)
{
    FILE *in = cli->in;
    if (path && strcmp(path, "-") != 0) {
        in = fopen(path, "rb");
        if (!in)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "no-file", "the table cannot be opened", path);
    }
    const int code = tw_cli_solve_table(which, in, cli->out, cli->err);
    if (in != cli->in)
        (void)fclose(in);
    return code;
}

/* What can be solved: as a table, and (one is not NULL) as a single question from options. */
static const struct {
    const char *name;
    int (*one)(tw_cli *cli);
    int has_table;
} ASKED[] = {{"equilibrium", tw_cli_solve_one_water, 1}, {"dosing", NULL, 1},
             {"chlorine", tw_cli_solve_one_chlorine, 1}, {"chain", NULL, 1},
             {"meter", tw_cli_solve_one_meter, 0},       {"ct", tw_cli_solve_one_ct, 0}};
#define ASKED_COUNT (int)(sizeof ASKED / sizeof *ASKED)

int tw_cli_solve(tw_cli *cli, int argc, char **argv)
{
    int which = 0;
    while (which < ASKED_COUNT && !(argc > 1 && strcmp(argv[1], ASKED[which].name) == 0))
        which++;
    if (which == ASKED_COUNT || argc > 3)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "say what to solve: equilibrium, dosing, chlorine, chain, meter or ct",
                              "tubwright solve equilibrium cases.csv\n"
                              "tubwright solve equilibrium --ph 7.5 --ta 80 --ch 100 --temp 38");
    const int by_options = asks_one_water(cli) || !ASKED[which].has_table;
    if (!by_options)
        return from_table(cli, argv[1], argc == 3 ? argv[2] : NULL);
    if (argc == 3)
        return ASKED[which].has_table
                   ? tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "give either a table or the numbers of one water", argv[2])
                   : tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "meter and ct read numbers, not tables", argv[2]);
    if (ASKED[which].one)
        return ASKED[which].one(cli);
    return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "single waters are solved by equilibrium and chlorine",
                          "dosing and chain read tables");
}
