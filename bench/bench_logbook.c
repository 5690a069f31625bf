/* A logbook of ten thousand entries: read into a book, in order and backwards; walked; digested. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench.h"

#include "logbook/book.h"
#include "logbook/compose.h"
#include "logbook/line.h"

#define ENTRIES 10000
#define ENTRY_BYTES 512

typedef struct {
    char (*line)[ENTRY_BYTES];
    size_t n[ENTRIES];
    void *mem;
    size_t bytes;
    tw_book *book;
    int backwards;
} logbook;

static tw_text line_of(const logbook *l, size_t i)
{
    const tw_text out = {l->line[i], l->n[i]};
    return out;
}

static void make_line(logbook *l, size_t i)
{
    char id[40], at[40], value[16];
    const tw_time when = {INT64_C(1774342800) + (int64_t)i * 600, 60};
    snprintf(id, sizeof id, "01890000-0000-7000-8000-%012x", (unsigned)i);
    snprintf(value, sizeof value, "7.%u", (unsigned)(i % 10));
    if (tw_units_time_write(when, at, sizeof at) != TW_OK)
        abort();
    const char *const pair[][2] = {
        {"id", id}, {"tub", "01890000-0000-7000-8000-00000000000a"}, {"at", at}, {"entered", at},
        {"writer", "5a000000-0000-4000-8000-00000000000a"}, {"n", "1"}, {"kind", i == 0 ? "tub" : "reading"},
        {"name", "Barn"}, {"analyte", "ph"}, {"form", "value"}, {"value", value}, {"instrument", "meter"},
        {"point", "elbow-deep"}};
    tw_typed typed[13];
    size_t n = 0;
    for (size_t k = 0; k < 13; k++)
        if (i == 0 ? k < 8 : k != 7) {
            typed[n].field = tw_units_text(pair[k][0]);
            typed[n++].value = tw_units_text(pair[k][1]);
        }
    if (tw_logbook_compose(typed, n, TW_CHECK_TYPED, l->line[i], ENTRY_BYTES, &l->n[i], NULL) != TW_OK)
        abort();
}

/* One round reads and checks a line. */
static double reads(void *data, uint64_t rounds)
{
    static tw_entry_room room;
    const logbook *l = data;
    tw_entry entry;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        if (tw_logbook_line_read(line_of(l, i % ENTRIES), TW_CHECK_IMPORTED, &room, &entry, NULL) != TW_OK)
            abort();
        sum += entry.pairs;
    }
    return sum;
}

/* One round fills a book. */
static double fills(void *data, uint64_t rounds)
{
    logbook *l = data;
    for (uint64_t r = 0; r < rounds; r++) {
        if (tw_logbook_book_init(l->mem, l->bytes, ENTRIES, ENTRIES * (size_t)ENTRY_BYTES, &l->book) != TW_OK)
            abort();
        for (size_t i = 0; i < ENTRIES; i++)
            if (tw_logbook_book_add_line(l->book, line_of(l, l->backwards ? ENTRIES - 1 - i : i), NULL, NULL) != TW_OK)
                abort();
    }
    return (double)tw_logbook_book_count(l->book);
}

/* One round walks through all entries of a tub and looks at their values. */
static double walks(void *data, uint64_t rounds)
{
    const logbook *l = data;
    const tw_time now = {INT64_C(1974342800), 60};
    const tw_text tub = TW_TEXT("01890000-0000-7000-8000-00000000000a");
    double sum = 0.0, value;
    for (uint64_t r = 0; r < rounds; r++) {
        size_t cursor = 0;
        const tw_entry *entry;
        while ((entry = tw_logbook_book_next(l->book, tub, now, &cursor)) != NULL)
            if (tw_logbook_si(entry, TW_FIELD_VALUE, &value) == TW_OK)
                sum += value;
    }
    return sum;
}

/* One round digests the lines of the tub. */
static double digests(void *data, uint64_t rounds)
{
    const logbook *l = data;
    uint8_t out[TW_SHA256_BYTES];
    double sum = 0.0;
    for (uint64_t r = 0; r < rounds; r++) {
        tw_logbook_book_digest(l->book, out);
        sum += out[0];
    }
    return sum;
}

int main(void)
{
    static logbook l;
    l.line = malloc(sizeof *l.line * ENTRIES);
    l.bytes = tw_logbook_book_bytes(ENTRIES, ENTRIES * (size_t)ENTRY_BYTES);
    l.mem = malloc(l.bytes);
    if (!l.line || !l.mem)
        return 1;
    for (size_t i = 0; i < ENTRIES; i++)
        make_line(&l, i);
    bench_ns("logbook_read_line", reads, &l);
    l.backwards = 1;
    bench_ms("logbook_fill_10k_backwards", fills, &l);
    l.backwards = 0;
    bench_ms("logbook_fill_10k", fills, &l);
    bench_ms("logbook_walk_10k", walks, &l);
    bench_ms("logbook_digest_10k", digests, &l);
    free(l.mem);
    free(l.line);
    return 0;
}
