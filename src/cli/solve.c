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

int tw_cli_solve(tw_cli *cli, int argc, char **argv)
{
    static const char *const tables[] = {"equilibrium", "dosing", "chlorine", "chain"};
    int known = 0;
    for (int i = 0; i < 4 && argc > 1; i++)
        known |= strcmp(argv[1], tables[i]) == 0;
    if (!known || argc > 3)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "say what to solve: equilibrium, dosing, chlorine or chain",
                              "tubwright solve equilibrium cases.csv\n"
                              "tubwright solve equilibrium --ph 7.5 --ta 80 --ch 100 --temp 38");
    if (!asks_one_water(cli))
        return from_table(cli, argv[1], argc == 3 ? argv[2] : NULL);
    if (argc == 3)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "give either a table or the numbers of one water", argv[2]);
    if (strcmp(argv[1], "equilibrium") == 0)
        return tw_cli_solve_one_water(cli);
    if (strcmp(argv[1], "chlorine") == 0)
        return tw_cli_solve_one_chlorine(cli);
    return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "single waters are solved by equilibrium and chlorine",
                          "dosing and chain read tables");
}
