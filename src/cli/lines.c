/* cli/lines.c: lines of JSON in memory. */
#include "cli/lines.h"

#include <stdlib.h>
#include <string.h>

#include "logbook/chain.h"
#include "logbook/line.h"
#include "store/grow.h"

void tw_cli_lines_free(tw_cli_lines *lines)
{
    free(lines->bytes);
    free(lines->line);
    free(lines->number);
    memset(lines, 0, sizeof *lines);
}

int tw_cli_lines_add(tw_cli_lines *lines, const char *bytes, size_t n)
{
    if (!tw_store_grow(&lines->bytes, &lines->room, lines->used + n, 1))
        return 0;
    if (n > 0)
        memcpy(lines->bytes + lines->used, bytes, n);
    lines->used += n;
    return 1;
}

tw_status tw_cli_lines_visit(void *lines, tw_text line)
{
    return tw_cli_lines_add(lines, line.at, line.n) && tw_cli_lines_add(lines, "\n", 1) ? TW_OK : TW_ERR_CAPACITY;
}

int tw_cli_lines_read(tw_cli_lines *lines, FILE *file)
{
    char buf[65536];
    size_t n = 0;
    while ((n = fread(buf, 1, sizeof buf, file)) > 0)
        if (!tw_cli_lines_add(lines, buf, n))
            return 0;
    return !ferror(file);
}

int tw_cli_lines_split(tw_cli_lines *lines)
{
    size_t most = 1;
    size_t number = 0;
    for (size_t i = 0; i < lines->used; i++)
        most += lines->bytes[i] == '\n';
    free(lines->line);
    free(lines->number);
    lines->line = calloc(most, sizeof *lines->line);
    lines->number = calloc(most, sizeof *lines->number);
    lines->lines = 0;
    if (lines->line == NULL || lines->number == NULL)
        return 0;
    for (size_t at = 0; at < lines->used;) {
        const char *end = memchr(lines->bytes + at, '\n', lines->used - at);
        const size_t next = end != NULL ? (size_t)(end - lines->bytes) + 1 : lines->used;
        size_t n = (end != NULL ? next - 1 : next) - at;
        number++;
        if (n > 0 && lines->bytes[at + n - 1] == '\r')
            n--;
        if (n > 0) {
            lines->line[lines->lines] = (tw_text){lines->bytes + at, n};
            lines->number[lines->lines++] = number;
        }
        at = next;
    }
    return 1;
}

int tw_cli_lines_bad(tw_cli *cli, const char *what, size_t number, const tw_fault *fault, const char *more)
{
    char sentence[TW_FAULT_TEXT_BYTES];
    char line[32];
    const char *members[][2] = {{"file", what},           {"line", line},         {"fault", tw_logbook_fault_name(fault->id)},
                                {"field", fault->field},  {"value", fault->value}, {"allowed", fault->allowed}};
    const size_t cap = strlen(what) + sizeof sentence + strlen(more) + 64;
    char *detail = malloc(cap);
    if (detail == NULL)
        return tw_cli_no_memory(cli);
    (void)tw_logbook_fault_text(fault, NULL, sentence, sizeof sentence);
    (void)snprintf(line, sizeof line, "%zu", number);
    (void)snprintf(detail, cap, "%s, line %zu: %s\n%s", what, number, sentence, more);
    const int code = tw_cli_problem_with(cli, TW_EXIT_BAD_INPUT, "line", "a line is not as it must be", detail,
                                         sizeof members / sizeof *members, (const char *const (*)[2])members);
    free(detail);
    return code;
}

int tw_cli_lines_check(tw_cli *cli, const tw_cli_lines *lines, const char *what)
{
    static tw_entry_room room; /* large */
    tw_entry entry;
    tw_fault fault;
    for (size_t i = 0; i < lines->lines; i++) {
        memset(&fault, 0, sizeof fault);
        if (tw_logbook_line_read(lines->line[i], TW_CHECK_IMPORTED, &room, &entry, &fault) != TW_OK)
            return tw_cli_lines_bad(cli, what, lines->number[i], &fault, "Nothing was looked at.");
    }
    return 0;
}

tw_book *tw_cli_lines_book(const tw_cli_lines *lines, size_t *left)
{
    tw_book *book = NULL;
    const size_t entries = lines->lines + 1;
    const size_t text = lines->used + 1;
    const size_t bytes = tw_logbook_book_bytes(entries, text);
    void *mem = malloc(bytes);
    *left = 0;
    if (mem == NULL)
        return NULL;
    if (tw_logbook_book_init(mem, bytes, entries, text, &book) != TW_OK) {
        free(mem);
        return NULL;
    }
    for (size_t i = 0; i < lines->lines; i++)
        *left += tw_logbook_book_add_line(book, lines->line[i], NULL, NULL) != TW_OK;
    return book; /* the book is its memory */
}

void tw_cli_seal(const tw_book *book, char out[TW_SHA256_HEX])
{
    uint8_t seal[TW_SHA256_BYTES];
    tw_logbook_chain_seal(book, seal);
    tw_sha256_hex(seal, out);
}

int tw_cli_no_memory(tw_cli *cli)
{
    return tw_cli_problem(cli, TW_EXIT_LOGBOOK, "memory", "there is not enough memory", "Nothing was written.");
}

int tw_cli_lines_export(tw_cli *cli, tw_store *store, tw_text tub, tw_cli_lines *out)
{
    tw_store_fault fault;
    const tw_status status = tw_store_export(store, tub, tw_cli_lines_visit, out, &fault);
    if (status != TW_OK)
        return fault.id != TW_STORE_FINE ? tw_cli_store_problem(cli, &fault, cli->logbook) : tw_cli_no_memory(cli);
    return tw_cli_lines_split(out) ? 0 : tw_cli_no_memory(cli);
}
