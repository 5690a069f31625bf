/* cli/import.c: lines of JSON are taken in, each for itself and once however often it comes: a line that is not as it must be is
 * refused by number, and blocks no other. */
#define _POSIX_C_SOURCE 200809L

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/lines.h"
#include "logbook/line.h"
#include "sync/sync.h"

#define MOST_TOLD 20      /* lines that are refused; more of them are counted */
#define OTHERS_BYTES ((size_t)MOST_TOLD * (TW_FAULT_TEXT_BYTES + 32) + 256)
#define CLOCK_MS 120000   /* a clock that is ahead by less is not worth a word */

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

/* What became of the lines. */
typedef struct {
    const char *what; /* the file's name */
    size_t added, refused, newer, ahead, forks, good;
    int64_t clock_ms; /* the latest of those written down later than now, and by whom */
    char clock_of[TW_ID_BYTES];
    size_t first;     /* index of the first that was refused */
    char *others;     /* sentences of the next ones          */
    size_t others_used;
    char seal[TW_SHA256_HEX];
} taken;

/* Look at the lines alone, before any logbook is opened: is there anything to take in? */
static void look(tw_cli *cli, const tw_cli_lines *lines, taken *sum)
{
    static tw_entry_room room; /* large */
    tw_entry entry;
    for (size_t i = 0; i < lines->lines; i++) {
        if (tw_logbook_line_read(lines->line[i], TW_CHECK_IMPORTED, &room, &entry, NULL) != TW_OK)
            continue;
        sum->good++;
        sum->newer += entry.newer != 0;
        sum->ahead += tw_units_time_compare(entry.at, cli->now) > 0;
    }
}

static void count(const tw_cli_lines *lines, size_t index, const tw_sync_result *said, taken *sum)
{
    sum->added += said->taken == TW_SYNC_STORED;
    sum->forks += said->taken != TW_SYNC_REFUSED && said->forks;
    if (said->taken != TW_SYNC_REFUSED && said->ahead_ms > sum->clock_ms) {
        sum->clock_ms = said->ahead_ms;
        memcpy(sum->clock_of, said->writer, TW_ID_BYTES);
    }
    if (said->taken != TW_SYNC_REFUSED)
        return;
    if (sum->refused++ == 0)
        sum->first = index;
    else if (sum->refused <= MOST_TOLD)
        sum->others_used += (size_t)snprintf(sum->others + sum->others_used, OTHERS_BYTES - sum->others_used, "line %zu: %s\n",
                                             lines->number[index], said->sentence);
}

/* By the same way as lines that come from another device: each for itself. */
static int take(tw_cli *cli, tw_store *store, const tw_cli_lines *lines, taken *sum)
{
    tw_store_fault fault;
    tw_sync_batch batch = {0};
    tw_sync_way way;
    tw_sync_result *said = calloc(TW_SYNC_LINES, sizeof *said);
    tw_status status = said != NULL ? TW_OK : tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
    memset(&way, 0, sizeof way);
    way.now_ms = cli->now.utc_s * 1000;
    way.via = "file";
    for (size_t at = 0; status == TW_OK && at < lines->lines;) {
        const size_t from = at;
        tw_sync_batch_clear(&batch);
        for (; status == TW_OK && at < lines->lines && batch.count < TW_SYNC_LINES && batch.used < TW_SYNC_LINE_BYTES; at++)
            if (tw_sync_batch_add(&batch, lines->line[at], NULL) != TW_OK)
                status = tw_store_fault_set(&fault, TW_STORE_NO_MEMORY, NULL);
        if (status == TW_OK)
            status = tw_sync_take(store, &batch, &way, said, &fault);
        for (size_t i = 0; status == TW_OK && i < batch.count; i++)
            count(lines, from + i, &said[i], sum);
    }
    tw_sync_batch_free(&batch);
    free(said);
    return status == TW_OK ? 0 : tw_cli_store_problem(cli, &fault, cli->logbook);
}

static void tell(tw_cli *cli, size_t lines, const taken *sum)
{
    if (cli->json) {
        (void)fprintf(cli->out, "{\"lines\": %zu, \"added\": %zu, \"refused\": %zu, \"newer\": %zu, \"ahead\": %zu, \"forks\": %zu, \"seal\": \"%s\"}\n",
                      lines, sum->added, sum->refused, sum->newer, sum->ahead, sum->forks, sum->seal);
        return;
    }
    (void)fprintf(cli->out, "%zu lines, %zu of them new\n", lines, sum->added);
    if (sum->refused > 0)
        (void)fprintf(cli->out, "%zu refused\n", sum->refused);
    if (sum->newer > 0)
        (void)fprintf(cli->out, "%zu kept that a newer version wrote: update to use them\n", sum->newer);
    if (sum->ahead > 0)
        (void)fprintf(cli->out, "%zu dated ahead of the clock: kept, not used before their time\n", sum->ahead);
    if (sum->clock_ms >= CLOCK_MS)
        (void)fprintf(cli->out, "the clock of writer %s is ahead of this one by %lld min or more, or this one is behind\n", sum->clock_of,
                      (long long)(sum->clock_ms / 60000));
    if (sum->forks > 0)
        (void)fprintf(cli->out, "%zu share their number with another entry: tubwright verify names both\n", sum->forks);
    (void)fprintf(cli->out, "seal %s\n", sum->seal);
}

/* The first line that was refused, as a problem; the others in words. */
static int tell_refused(tw_cli *cli, const tw_cli_lines *lines, taken *sum)
{
    static tw_entry_room room; /* large */
    tw_entry entry;
    tw_fault fault;
    char *more = sum->others;
    memset(&fault, 0, sizeof fault);
    (void)tw_logbook_line_read(lines->line[sum->first], TW_CHECK_IMPORTED, &room, &entry, &fault);
    if (sum->refused > MOST_TOLD)
        sum->others_used += (size_t)snprintf(more + sum->others_used, OTHERS_BYTES - sum->others_used, "and %zu more\n", sum->refused - MOST_TOLD);
    (void)snprintf(more + sum->others_used, OTHERS_BYTES - sum->others_used, "%s",
                   sum->good > 0 ? "Every other line was taken in." : "Nothing was taken in.");
    return tw_cli_lines_bad(cli, sum->what, lines->number[sum->first], &fault, more);
}

/* When no line is as it must be no logbook is opened, or made. */
static void refuse_all(const tw_cli_lines *lines, taken *sum)
{
    static tw_entry_room room; /* large */
    for (size_t i = 0; i < lines->lines; i++) {
        tw_sync_result said;
        tw_entry entry;
        tw_fault fault;
        memset(&said, 0, sizeof said);
        memset(&fault, 0, sizeof fault);
        said.taken = TW_SYNC_REFUSED;
        (void)tw_logbook_line_read(lines->line[i], TW_CHECK_IMPORTED, &room, &entry, &fault);
        (void)tw_logbook_fault_text(&fault, NULL, said.sentence, sizeof said.sentence);
        count(lines, i, &said, sum);
    }
}

static int import_lines(tw_cli *cli, const tw_cli_lines *lines, taken *sum)
{
    tw_store *store = NULL;
    int code = 0;
    look(cli, lines, sum);
    if (sum->good == 0 && lines->lines > 0) {
        refuse_all(lines, sum);
        return tell_refused(cli, lines, sum);
    }
    code = tw_cli_store_open(cli, TW_CLI_BOOK_WRITE, &store);
    if (code == 0)
        code = take(cli, store, lines, sum);
    if (code == 0)
        code = seal_now(cli, store, sum->seal);
    tw_store_close(store);
    if (code == 0)
        tell(cli, lines->lines, sum);
    return code == 0 && sum->refused > 0 ? tell_refused(cli, lines, sum) : code;
}

int tw_cli_import(tw_cli *cli, int argc, char **argv)
{
    tw_cli_lines lines = {0};
    taken sum;
    const char *path = argc > 1 && strcmp(argv[1], "-") != 0 ? argv[1] : NULL;
    memset(&sum, 0, sizeof sum);
    if (argc > 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "one file at a time", "See tubwright import --help");
    if (argc < 2 && isatty(fileno(cli->in)))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "which file?", "tubwright import FILE, or - for standard input");
    sum.what = path != NULL ? path : "standard input";
    sum.others = calloc(1, OTHERS_BYTES);
    int code = sum.others != NULL ? read_lines(cli, path, &lines) : tw_cli_no_memory(cli);
    if (code == 0)
        code = import_lines(cli, &lines, &sum);
    tw_cli_lines_free(&lines);
    free(sum.others);
    return code;
}
