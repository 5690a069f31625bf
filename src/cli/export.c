/* cli/export.c: the logbook as lines of JSON.
 *
 * The order is writer, number, hash: it depends on the set of lines alone, so that two logbooks with the same
 * entries give the same bytes, whichever way they came by them. The seal goes to standard error. */
#define _XOPEN_SOURCE 700

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/answers.h"
#include "cli/lines.h"

static int cannot_write(tw_cli *cli, const char *path, int error)
{
    char detail[5000];
    (void)snprintf(detail, sizeof detail, "%s: %s\nWhat stood there before is unchanged.", path, strerror(error));
    return tw_cli_problem(cli, TW_EXIT_LOGBOOK, "output", "the file cannot be written", detail);
}

/* A file is there whole or not at all: written under another name, synced, and renamed. */
static int write_file(tw_cli *cli, const char *path, const tw_cli_lines *lines)
{
    char made[4352];
    struct stat file;
    struct stat logbook;
    if (stat(path, &file) == 0 && stat(cli->logbook, &logbook) == 0 && file.st_ino == logbook.st_ino
        && file.st_dev == logbook.st_dev)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "same-file", "this is the logbook itself", "Name another file.");
    if (stat(path, &file) == 0 && !S_ISREG(file.st_mode)) { /* a device or a pipe is written to as it is */
        FILE *out = fopen(path, "wb");
        if (out == NULL)
            return cannot_write(cli, path, errno);
        const int good = fwrite(lines->bytes, 1, lines->used, out) == lines->used;
        return fclose(out) == 0 && good ? 0 : cannot_write(cli, path, errno);
    }
    if (snprintf(made, sizeof made, "%s.%ld.new", path, (long)getpid()) >= (int)sizeof made)
        return cannot_write(cli, path, ENAMETOOLONG);
    FILE *out = fopen(made, "wbx");
    if (out == NULL)
        return cannot_write(cli, path, errno);
    int error = 0;
    if (fwrite(lines->bytes, 1, lines->used, out) != lines->used || fflush(out) != 0 || fsync(fileno(out)) != 0)
        error = errno;
    if (fclose(out) != 0 && error == 0)
        error = errno;
    if (error == 0 && rename(made, path) != 0)
        error = errno;
    if (error != 0) {
        (void)unlink(made);
        return cannot_write(cli, path, error);
    }
    return 0;
}

static int write_out(tw_cli *cli, const char *path, const tw_cli_lines *lines)
{
    if (path != NULL && strcmp(path, "-") != 0)
        return write_file(cli, path, lines);
    if (fwrite(lines->bytes, 1, lines->used, cli->out) != lines->used || fflush(cli->out) != 0)
        return cannot_write(cli, "standard output", errno);
    return 0;
}

/* How much and under what seal; the lines themselves are the data. */
static int tell(tw_cli *cli, const tw_cli_lines *lines)
{
    char seal[TW_SHA256_HEX];
    size_t left = 0;
    tw_book *book = tw_cli_lines_book(lines, &left);
    if (book == NULL)
        return tw_cli_no_memory(cli);
    tw_cli_seal(book, seal);
    free(book);
    if (cli->json)
        (void)fprintf(cli->err, "{\"lines\": %zu, \"seal\": \"%s\"}\n", lines->lines, seal);
    else
        (void)fprintf(cli->err, "%zu lines\nseal %s\n", lines->lines, seal);
    if (left == 0)
        return 0;
    return tw_cli_problem(cli, TW_EXIT_LOGBOOK, "damaged", "lines are not as they were written",
                          "They are exported as they stand. See: tubwright verify");
}

/* Id of the tub that is meant, empty: every tub. */
static int which_tub(tw_cli *cli, char id[TW_ID_BYTES])
{
    tw_cli_book book;
    tw_tub tub;
    id[0] = '\0';
    if (cli->tub == NULL || cli->option[TW_OPTION_ALL_TUBS] != NULL)
        return 0;
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_READ, &book);
    if (code == 0)
        code = tw_cli_the_tub(cli, &book, &tub);
    if (code == 0)
        (void)snprintf(id, TW_ID_BYTES, "%.*s", (int)tub.id.n, tub.id.at);
    tw_cli_book_close(&book);
    return code;
}

int tw_cli_export(tw_cli *cli, int argc, char **argv)
{
    tw_cli_lines lines = {0};
    tw_store *store = NULL;
    char tub[TW_ID_BYTES];
    if (argc > 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "one file is enough", "See tubwright export --help");
    int code = which_tub(cli, tub);
    if (code == 0)
        code = tw_cli_store_open(cli, TW_CLI_BOOK_READ, &store);
    if (code == 0 && store != NULL)
        code = tw_cli_lines_export(cli, store, tw_units_text(tub), &lines);
    tw_store_close(store);
    if (code == 0)
        code = write_out(cli, argc > 1 ? argv[1] : NULL, &lines);
    if (code == 0)
        code = tell(cli, &lines);
    tw_cli_lines_free(&lines);
    return code;
}
