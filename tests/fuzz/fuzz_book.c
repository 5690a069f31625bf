/* A book of any lines, forwards and backwards: the order of arrival never shows, resending changes
 * nothing, and every question is answered. Needs lines that pass, so its corpus is a logbook. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "logbook/book.h"
#include "logbook/chain.h"

#define MAX_LINES 40
#define MAX_TEXT 20000

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

static void ask(const tw_book *book, tw_sha256_state *state)
{
    const tw_text every = {"", 0};
    const tw_time now = {INT64_C(1774342800), 60};
    static tw_doubt doubt[4096];
    static tw_chain_trouble trouble[512];
    tw_tub tub[8];
    const tw_entry *open[8], *entry;
    uint8_t digest[TW_SHA256_BYTES];
    size_t count, cursor = 0;
    tw_logbook_book_digest(book, digest);
    tw_sha256_update(state, digest, sizeof digest);
    tw_logbook_chain_seal(book, digest);
    tw_sha256_update(state, digest, sizeof digest);
    while ((entry = tw_logbook_book_next(book, every, now, &cursor)) != NULL)
        tw_sha256_update(state, entry->line.at, entry->line.n);
    must(tw_logbook_book_doubts(book, every, now, doubt, 4096, &count) == TW_OK);
    for (size_t i = 0; i < count; i++) {
        tw_sha256_update(state, tw_logbook_doubt_name(doubt[i].kind), 4);
        tw_sha256_update(state, doubt[i].entry->line.at, doubt[i].entry->line.n);
    }
    must(tw_logbook_chain_verify(book, trouble, 512, &count) == TW_OK);
    for (size_t i = 0; i < count; i++)
        tw_sha256_update(state, &trouble[i].n, sizeof trouble[i].n);
    (void)tw_logbook_book_tubs(book, now, tub, 8, &count);
    tw_sha256_update(state, &count, sizeof count);
    (void)tw_logbook_book_open_intents(book, every, now, open, 8, &count);
    tw_sha256_update(state, &count, sizeof count);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static void *mem;
    tw_text line[MAX_LINES];
    size_t n = 0;
    const size_t bytes = tw_logbook_book_bytes(MAX_LINES, MAX_TEXT);
    uint8_t digest[2][TW_SHA256_BYTES];
    if (!mem)
        mem = malloc(bytes);
    if (!mem || size > MAX_TEXT)
        return 0;
    const tw_text text = {(const char *)data, size};
    for (size_t at = 0; at < size && n < MAX_LINES;) {
        size_t end = at;
        while (end < size && text.at[end] != '\n')
            end++;
        line[n++] = tw_units_text_part(text, at, end - at);
        at = end + 1;
    }
    for (int way = 0; way < 2; way++) {
        tw_book *book;
        tw_sha256_state state;
        must(tw_logbook_book_init(mem, bytes, MAX_LINES, MAX_TEXT, &book) == TW_OK);
        for (size_t i = 0; i < n; i++)
            must(tw_logbook_book_add_line(book, line[way ? n - 1 - i : i], NULL, NULL) != TW_ERR_CAPACITY);
        for (size_t i = 0; i < n && tw_logbook_book_count(book) < MAX_LINES; i++) {
            tw_added added = TW_ADDED_SAME;
            (void)tw_logbook_book_add_line(book, line[i], &added, NULL);
            must(added == TW_ADDED_SAME);
        }
        tw_sha256_init(&state);
        ask(book, &state);
        tw_sha256_final(&state, digest[way]);
    }
    must(memcmp(digest[0], digest[1], sizeof digest[0]) == 0);
    return 0;
}
