/* tests/store/logbooks.h: scratch folders and lines for the tests of the store. */
#ifndef TW_TESTS_STORE_LOGBOOKS_H
#define TW_TESTS_STORE_LOGBOOKS_H

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "logbook/lines.h"

#include "store/internal.h"

/* A scratch folder, gone at the end of the test. */
typedef struct {
    char folder[256], logbook[300], state[300];
} test_place;

static inline void place_make(test_place *place)
{
    const char *base = getenv("TMPDIR");
    (void)snprintf(place->folder, sizeof place->folder, "%s/tubwright-store-XXXXXX", base != NULL ? base : "/tmp");
    assert_non_null(mkdtemp(place->folder));
    (void)snprintf(place->logbook, sizeof place->logbook, "%s/logbook.db", place->folder);
    (void)snprintf(place->state, sizeof place->state, "%s/state", place->folder);
}

static inline void place_remove(const test_place *place)
{
    char command[400];
    (void)snprintf(command, sizeof command, "rm -rf '%s'", place->folder);
    assert_int_equal(system(command), 0);
}

static inline void shell(const char *format, const char *a, const char *b)
{
    char command[1200];
    const char *at = format;
    size_t used = 0;
    int which = 0;
    for (; *at != '\0'; at++) {
        const char *put = *at == '@' ? (which++ == 0 ? a : b) : NULL;
        used += (size_t)snprintf(command + used, sizeof command - used, put != NULL ? "%s" : "%.1s", put != NULL ? put : at);
    }
    assert_int_equal(system(command), 0);
}

static inline tw_store *opened(const test_place *place, unsigned flags)
{
    tw_store *store = NULL;
    tw_store_fault fault;
    if (tw_store_open(place->logbook, flags, place->state, &store, &fault) != TW_OK) {
        print_error("# %s: %s\n", tw_store_trouble_text(fault.id), fault.detail);
        fail();
    }
    return store;
}

#define WRITE_AND_MAKE (TW_STORE_WRITE | TW_STORE_MAKE)

/* A draft of a reading, told apart by its number. */
static inline void draft_of(test_line *out, unsigned number)
{
    char id[64];
    char value[32];
    (void)snprintf(id, sizeof id, "01890000-0000-7000-8000-%012u", number);
    (void)snprintf(value, sizeof value, "7.%u", number % 10);
    const tw_typed typed[] = {
        {TW_TEXT("id"), tw_units_text(id)},
        {TW_TEXT("kind"), TW_TEXT("reading")},
        {TW_TEXT("tub"), TW_TEXT(TUB_A)},
        {TW_TEXT("at"), TW_TEXT("2026-03-24T10:40:00+01:00")},
        {TW_TEXT("entered"), TW_TEXT("2026-03-24T10:40:00+01:00")},
        {TW_TEXT("analyte"), TW_TEXT("ph")},
        {TW_TEXT("form"), TW_TEXT("value")},
        {TW_TEXT("value"), tw_units_text(value)},
    };
    tw_fault fault;
    assert_ok(tw_logbook_compose(typed, sizeof typed / sizeof *typed, TW_CHECK_DRAFT, out->bytes, sizeof out->bytes,
                                 &out->n, &fault));
}

/* Lines collected by a visit. */
typedef struct {
    size_t count, used, end[512];
    char bytes[200000];
} test_lines;

static inline tw_status collect(void *to, tw_text line)
{
    test_lines *lines = to;
    assert_true(lines->count < 512 && lines->used + line.n < sizeof lines->bytes);
    memcpy(lines->bytes + lines->used, line.at, line.n);
    lines->used += line.n;
    lines->end[lines->count++] = lines->used;
    return TW_OK;
}

static inline tw_text collected(const test_lines *lines, size_t index)
{
    const size_t start = index > 0 ? lines->end[index - 1] : 0;
    const tw_text text = {lines->bytes + start, lines->end[index] - start};
    return text;
}

/* Append one draft as this installation's own. */
static inline void append_one(tw_store *store, unsigned number, test_lines *lines)
{
    test_line draft;
    tw_store_fault fault;
    draft_of(&draft, number);
    const tw_text text = test_text(&draft);
    const tw_status status = tw_store_append_own(store, &text, 1, lines != NULL ? collect : NULL, lines, &fault);
    if (status != TW_OK) {
        print_error("# %s: %s\n", tw_store_trouble_text(fault.id), fault.detail);
        fail();
    }
}

#endif
