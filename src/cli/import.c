/* cli/import.c: lines of JSON are taken in: all of a file or none, each once however often it comes. */
#define _POSIX_C_SOURCE 200809L

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/lines.h"

static int read_lines(tw_cli *cli, const char *path, tw_cli_lines *lines)
{
    char detail[5000];
    FILE *file = path != NULL ? fopen(path, "rb") : cli->in;
    const int read = file != NULL && tw_cli_lines_read(lines, file);
    const int error = errno;
    if (file != NULL && path != NULL)
        (void)fclose(file);
    if (read)
        return tw_cli_lines_split(lines) ? 0 : tw_cli_no_memory(cli);
    (void)snprintf(detail, sizeof detail, "%s: %s\nNothing was taken in.", path != NULL ? path : "standard input", strerror(error));
    return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "input", "the file cannot be read", detail);
}

/* The seal of the whole logbook as it is now. */
static int seal_now(tw_cli *cli, tw_store *store, char seal[TW_SHA256_HEX])
{
    tw_cli_lines lines = {0};
    size_t left = 0;
    int code = tw_cli_lines_export(cli, store, tw_units_text(""), &lines);
    tw_book *book = code == 0 ? tw_cli_lines_book(&lines, &left) : NULL;
    if (code == 0 && book == NULL)
        code = tw_cli_no_memory(cli);
    if (code == 0)
        tw_cli_seal(book, seal);
    free(book);
    tw_cli_lines_free(&lines);
    return code;
}

static void tell(tw_cli *cli, size_t lines, size_t added, size_t newer, size_t ahead, const char *seal)
{
    if (cli->json) {
        (void)fprintf(cli->out, "{\"lines\": %zu, \"added\": %zu, \"newer\": %zu, \"ahead\": %zu, \"seal\": \"%s\"}\n", lines,
                      added, newer, ahead, seal);
        return;
    }
    (void)fprintf(cli->out, "%zu lines, %zu of them new\n", lines, added);
    if (newer > 0)
        (void)fprintf(cli->out, "%zu kept that a newer version wrote: update to use them\n", newer);
    if (ahead > 0)
        (void)fprintf(cli->out, "%zu dated ahead of the clock: kept, not used before their time\n", ahead);
    (void)fprintf(cli->out, "seal %s\n", seal);
}

int tw_cli_import(tw_cli *cli, int argc, char **argv)
{
    tw_cli_lines lines = {0};
    tw_store *store = NULL;
    tw_store_fault fault;
    char seal[TW_SHA256_HEX] = "";
    size_t newer = 0;
    size_t ahead = 0;
    size_t added = 0;
    const char *path = argc > 1 && strcmp(argv[1], "-") != 0 ? argv[1] : NULL;
    if (argc > 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "one file at a time", "See tubwright import --help");
    if (argc < 2 && isatty(fileno(cli->in)))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "which file?", "tubwright import FILE, or - for standard input");
    int code = read_lines(cli, path, &lines);
    if (code == 0)
        code = tw_cli_lines_check(cli, &lines, path != NULL ? path : "standard input", &newer, &ahead);
    if (code == 0)
        code = tw_cli_store_open(cli, TW_CLI_BOOK_WRITE, &store);
    if (code == 0 && tw_store_append(store, lines.line, lines.lines, &added, &fault) != TW_OK)
        code = tw_cli_store_problem(cli, &fault, cli->logbook);
    if (code == 0)
        code = seal_now(cli, store, seal);
    tw_store_close(store);
    if (code == 0)
        tell(cli, lines.lines, added, newer, ahead, seal);
    tw_cli_lines_free(&lines);
    return code;
}
