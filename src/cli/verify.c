/* cli/verify.c: is the logbook whole? The file, the hash of every line, every writer's chain, what this
 * machine remembers of its own writing, and a seal that was kept elsewhere. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "cli/lines.h"
#include "logbook/chain.h"
#include "logbook/line.h"
#include "store/grow.h"

#define MOST_TOLD 200 /* troubles; more of them are counted */
#define CLOCK_MS 30000 /* a clock that is off by less is not worth a word */

/* An entry of this logbook that another side would not take. */
typedef struct {
    char peer[64], writer[TW_ID_BYTES], id[TW_ID_BYTES], reason[48];
    uint32_t n;
    char sentence[TW_FAULT_TEXT_BYTES];
} refusal;

/* What was looked at and found. */
typedef struct {
    tw_chain_trouble trouble[MOST_TOLD];
    size_t troubles, left;
    size_t entries, writers;
    int damaged, lost;
    tw_store_fault damage;
    tw_store_loss loss;
    char seal[TW_SHA256_HEX];
    int compared, same;
    refusal *refused;
    size_t refusals, room;
    tw_store_clock clock[MOST_TOLD];
    size_t clocks;
} findings;

static size_t count_writers(const tw_book *book)
{
    size_t heads = 0;
    size_t writers = 0;
    (void)tw_logbook_chain_heads(book, NULL, 0, &heads);
    tw_chain_head *head = calloc(heads + 1, sizeof *head);
    if (head == NULL)
        return 0;
    (void)tw_logbook_chain_heads(book, head, heads, &heads);
    for (size_t i = 0; i < heads; i++)
        writers += i == 0 || !tw_units_text_equal(head[i].writer, head[i - 1].writer);
    free(head);
    return writers;
}

/* Both hashes of a trouble: the entry's, and the one that the next one follows. */
static void tell_hashes(FILE *out, const tw_chain_trouble *trouble)
{
    char hash[TW_SHA256_HEX];
    if (trouble->hash != NULL) {
        tw_sha256_hex(trouble->hash, hash);
        (void)fprintf(out, "  hash  %s\n", hash);
    }
    if (trouble->named.n > 0)
        (void)fprintf(out, "  named %.*s\n", (int)trouble->named.n, trouble->named.at);
}

static void tell_trouble(FILE *out, const tw_chain_trouble *trouble)
{
    const int writer_n = (int)trouble->writer.n;
    const char *writer = trouble->writer.at;
    switch (trouble->kind) {
    case TW_CHAIN_MISSING:
        if (trouble->n == trouble->last)
            (void)fprintf(out, "missing: entry %lu of writer %.*s\n", (unsigned long)trouble->n, writer_n, writer);
        else
            (void)fprintf(out, "missing: entries %lu to %lu of writer %.*s\n", (unsigned long)trouble->n,
                          (unsigned long)trouble->last, writer_n, writer);
        break;
    case TW_CHAIN_ALTERED:
        (void)fprintf(out, "altered: entry %lu of writer %.*s is not the one that entry %lu follows\n"
                      "  entry %.*s\n", (unsigned long)trouble->n, writer_n, writer, (unsigned long)trouble->n + 1,
                      (int)trouble->entry->id.n, trouble->entry->id.at);
        break;
    case TW_CHAIN_FORKED:
        (void)fprintf(out, "forked: one of several with number %lu of writer %.*s\n  entry %.*s\n",
                      (unsigned long)trouble->n, writer_n, writer, (int)trouble->entry->id.n, trouble->entry->id.at);
        break;
    case TW_CHAIN_FAULTS:
    default:
        break;
    }
    tell_hashes(out, trouble);
}

/* What stands beside the entries: it says nothing against them. */
static void tell_beside(FILE *out, const findings *found)
{
    for (size_t i = 0; i < found->refusals; i++)
        (void)fprintf(out, "refused by %s: entry %lu of writer %s: %s\n  entry %s\n", found->refused[i].peer, (unsigned long)found->refused[i].n,
                      found->refused[i].writer, found->refused[i].sentence, found->refused[i].id);
    for (size_t i = 0; i < found->clocks && i < MOST_TOLD; i++) {
        const tw_store_clock *clock = &found->clock[i];
        const long long off = (long long)(clock->ahead_ms < 0 ? -clock->ahead_ms : clock->ahead_ms);
        if (off < CLOCK_MS)
            continue;
        (void)fprintf(out, "clock: writer %s was %lld min %lld s %s this machine", clock->writer, off / 60000, off / 1000 % 60,
                      clock->ahead_ms > 0 ? "ahead of" : "behind");
        if (clock->doubt_ms >= 0)
            (void)fprintf(out, ", give or take %lld s", (long long)(clock->doubt_ms + 999) / 1000);
        (void)fprintf(out, "\n");
    }
}

static int whole(const findings *found)
{
    return found->troubles == 0 && found->left == 0 && !found->damaged && !found->lost
        && (!found->compared || found->same);
}

static void tell_text(tw_cli *cli, const findings *found)
{
    FILE *out = cli->out;
    (void)fprintf(out, "%zu entries by %zu writers\n", found->entries, found->writers);
    if (found->damaged)
        (void)fprintf(out, "damaged: %s: %s\n", tw_store_trouble_text(found->damage.id), found->damage.detail);
    for (size_t i = 0; i < found->troubles && i < MOST_TOLD; i++)
        tell_trouble(out, &found->trouble[i]);
    if (found->troubles > MOST_TOLD)
        (void)fprintf(out, "and %zu more\n", found->troubles - MOST_TOLD);
    if (found->left > 0)
        (void)fprintf(out, "altered: %zu lines are no entries any more\n", found->left);
    if (found->lost)
        (void)fprintf(out, "cut off: this machine wrote up to entry %lu of writer %s, here it ends with %lu\n",
                      (unsigned long)found->loss.had_n, found->loss.writer, (unsigned long)found->loss.has_n);
    if (found->compared)
        (void)fprintf(out, "%s\n", found->same ? "the seal is the one given" : "another seal: entries differ from those that were sealed");
    tell_beside(out, found);
    if (whole(found))
        (void)fprintf(out, "whole: each entry follows the one before it\n");
    (void)fprintf(out, "seal %s\n", found->seal);
}

static void json_text(FILE *out, const char *name, tw_text text)
{
    (void)fprintf(out, ", \"%s\": ", name);
    tw_cli_json_string(out, text.at, text.n);
}

static void tell_json(tw_cli *cli, const findings *found)
{
    FILE *out = cli->out;
    (void)fprintf(out, "{\"whole\": %s, \"entries\": %zu, \"writers\": %zu, \"seal\": \"%s\"", whole(found) ? "true" : "false",
                  found->entries, found->writers, found->seal);
    if (found->compared)
        (void)fprintf(out, ", \"seal_given\": %s", found->same ? "true" : "false");
    if (found->damaged) {
        json_text(out, "damage", tw_units_text(tw_store_trouble_name(found->damage.id)));
        json_text(out, "damage_detail", tw_units_text(found->damage.detail));
    }
    if (found->lost)
        (void)fprintf(out, ", \"cut_off\": {\"writer\": \"%s\", \"had_n\": %lu, \"has_n\": %lu}", found->loss.writer,
                      (unsigned long)found->loss.had_n, (unsigned long)found->loss.has_n);
    (void)fprintf(out, ", \"no_entries\": %zu, \"troubles\": %zu, \"trouble\": [", found->left, found->troubles);
    for (size_t i = 0; i < found->troubles && i < MOST_TOLD; i++) {
        const tw_chain_trouble *trouble = &found->trouble[i];
        (void)fprintf(out, "%s{\"kind\": \"%s\"", i > 0 ? ", " : "", tw_logbook_chain_fault_name(trouble->kind));
        json_text(out, "writer", trouble->writer);
        (void)fprintf(out, ", \"n\": %lu, \"last\": %lu", (unsigned long)trouble->n, (unsigned long)trouble->last);
        if (trouble->entry != NULL)
            json_text(out, "entry", trouble->entry->id);
        if (trouble->after != NULL)
            json_text(out, "after", trouble->after->id);
        if (trouble->hash != NULL) {
            char hash[TW_SHA256_HEX];
            tw_sha256_hex(trouble->hash, hash);
            json_text(out, "hash", tw_units_text(hash));
        }
        if (trouble->named.n > 0)
            json_text(out, "named", trouble->named);
        (void)fprintf(out, "}");
    }
    (void)fprintf(out, "], \"refused\": [");
    for (size_t i = 0; i < found->refusals; i++) {
        const refusal *said = &found->refused[i];
        (void)fprintf(out, "%s{\"n\": %lu", i > 0 ? ", " : "", (unsigned long)said->n);
        json_text(out, "writer", tw_units_text(said->writer));
        json_text(out, "entry", tw_units_text(said->id));
        json_text(out, "by", tw_units_text(said->peer));
        json_text(out, "reason", tw_units_text(said->reason));
        json_text(out, "sentence", tw_units_text(said->sentence));
        (void)fprintf(out, "}");
    }
    (void)fprintf(out, "], \"clocks\": [");
    for (size_t i = 0; i < found->clocks && i < MOST_TOLD; i++)
        (void)fprintf(out, "%s{\"writer\": \"%s\", \"ahead_ms\": %lld, \"doubt_ms\": %lld, \"at_ms\": %lld}", i > 0 ? ", " : "",
                      found->clock[i].writer, (long long)found->clock[i].ahead_ms, (long long)found->clock[i].doubt_ms,
                      (long long)found->clock[i].at_ms);
    (void)fprintf(out, "]}\n");
}

/* 64 hexadecimal digits in any case, in groups or not. */
static int read_seal(const char *typed, char out[TW_SHA256_HEX])
{
    size_t n = 0;
    for (; *typed != '\0'; typed++) {
        const char c = *typed >= 'A' && *typed <= 'F' ? (char)(*typed - 'A' + 'a') : *typed;
        if (c == ' ' || c == '-' || c == ':')
            continue;
        if (n == TW_SHA256_HEX - 1 || !((c >= '0' && c <= '9') || (c >= 'a' && c <= 'f')))
            return 0;
        out[n++] = c;
    }
    out[n] = '\0';
    return n == TW_SHA256_HEX - 1;
}

static tw_status note_refusal(void *to, const char *peer, const char *reason, const char *sentence, tw_text line)
{
    findings *found = to;
    static tw_entry_room room; /* large */
    tw_entry entry;
    double n = 0;
    if (!tw_store_grow(&found->refused, &found->room, found->refusals + 1, sizeof *found->refused))
        return TW_ERR_CAPACITY;
    if (tw_logbook_line_read(line, TW_CHECK_IMPORTED, &room, &entry, NULL) != TW_OK)
        return TW_OK;
    refusal *said = &found->refused[found->refusals++];
    (void)snprintf(said->peer, sizeof said->peer, "%s", peer);
    (void)snprintf(said->reason, sizeof said->reason, "%s", reason);
    (void)snprintf(said->sentence, sizeof said->sentence, "%s", sentence);
    (void)snprintf(said->writer, sizeof said->writer, "%.*s", (int)entry.writer.n, entry.writer.at);
    (void)snprintf(said->id, sizeof said->id, "%.*s", (int)entry.id.n, entry.id.at);
    said->n = tw_logbook_number(&entry, TW_FIELD_N, &n) == TW_OK ? (uint32_t)n : 0;
    return TW_OK;
}

/* The lines of the logbook, and what is wrong with its file. */
static int look_at_store(tw_cli *cli, tw_cli_lines *lines, findings *found)
{
    tw_store *store = NULL;
    int code = tw_cli_store_open(cli, TW_CLI_BOOK_READ, &store);
    if (code != 0 || store == NULL)
        return code;
    found->damaged = tw_store_check(store, &found->damage) != TW_OK;
    found->lost = tw_store_lost(store, &found->loss);
    (void)tw_store_refused(store, note_refusal, found, NULL);
    (void)tw_store_clocks(store, found->clock, MOST_TOLD, &found->clocks, NULL);
    code = tw_cli_lines_export(cli, store, tw_units_text(""), lines);
    tw_store_close(store);
    return code;
}

/* The lines of an export. */
static int look_at_file(tw_cli *cli, const char *path, tw_cli_lines *lines)
{
    char detail[5000];
    FILE *file = strcmp(path, "-") == 0 ? cli->in : fopen(path, "rb");
    const int read = file != NULL && tw_cli_lines_read(lines, file);
    (void)snprintf(detail, sizeof detail, "%s: %s", path, strerror(errno));
    if (file != NULL && file != cli->in)
        (void)fclose(file);
    if (!read)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "input", "the file cannot be read", detail);
    return tw_cli_lines_split(lines) ? tw_cli_lines_check(cli, lines, path) : tw_cli_no_memory(cli);
}

static int look_at_chains(tw_cli *cli, const tw_cli_lines *lines, const char *seal, findings *found)
{
    tw_book *book = tw_cli_lines_book(lines, &found->left);
    if (book == NULL)
        return tw_cli_no_memory(cli);
    found->entries = lines->lines;
    found->writers = count_writers(book);
    (void)tw_logbook_chain_verify(book, found->trouble, MOST_TOLD, &found->troubles);
    tw_cli_seal(book, found->seal);
    found->compared = seal != NULL;
    found->same = seal != NULL && strcmp(seal, found->seal) == 0;
    if (cli->json)
        tell_json(cli, found);
    else
        tell_text(cli, found);
    free(book); /* the troubles point into it */
    return whole(found) ? TW_EXIT_OK : TW_EXIT_LOGBOOK;
}

int tw_cli_verify(tw_cli *cli, int argc, char **argv)
{
    static findings found; /* large */
    char seal[TW_SHA256_HEX];
    tw_cli_lines lines = {0};
    const char *typed = cli->option[TW_OPTION_SEAL];
    memset(&found, 0, sizeof found);
    if (argc > 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "usage", "one file at a time", "See tubwright verify --help");
    if (typed != NULL && !read_seal(typed, seal))
        return tw_cli_problem(cli, TW_EXIT_USAGE, "seal", "this is no seal", "A seal has 64 digits 0 to 9 and a to f.");
    int code = argc > 1 ? look_at_file(cli, argv[1], &lines) : look_at_store(cli, &lines, &found);
    if (code == 0)
        code = look_at_chains(cli, &lines, typed != NULL ? seal : NULL, &found);
    tw_cli_lines_free(&lines);
    free(found.refused);
    return code;
}
