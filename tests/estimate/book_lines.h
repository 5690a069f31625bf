/* tests/estimate/book_lines.h: lines of a logbook for tests, composed by the logbook room itself. */
#ifndef TW_TESTS_BOOK_LINES_H
#define TW_TESTS_BOOK_LINES_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "estimate/fold.h"

#define LINES_TUB "0195c000-0000-7000-8000-000000000001"
#define LINES_MAX 1300

static char lines_text[LINES_MAX][1024];
static size_t lines_count;

/* Hours after 2026-03-23 08:00 as canonical time. */
static inline const char *lines_time(double hours)
{
    static char buffer[TW_TIME_BYTES];
    const tw_time t = {INT64_C(1774249200) + (int64_t)(hours * 3600.0 + 0.5), 60};
    (void)tw_units_time_write(t, buffer, sizeof buffer);
    return buffer;
}

static inline tw_time lines_now(double hours)
{
    const tw_time t = {INT64_C(1774249200) + (int64_t)(hours * 3600.0 + 0.5), 60};
    return t;
}

/* One entry: kind, hour, hour at which it was written down, and further fields as JSON members in any order
 * ("\"a\":\"b\",..."). The members are put in canonical (sorted) order here. Returns the id. */
static inline const char *lines_add_later(const char *kind, double hours, double entered, const char *members)
{
    static char id[40];
    static char part[40][1024];
    char all[1024];
    size_t n = 0;
    const unsigned long number = (unsigned long)lines_count + 1;
    (void)snprintf(id, sizeof id, "0195c000-0000-7000-8000-%012lx", 0x1000 + number);
    (void)snprintf(all, sizeof all, "%s%s", members, members[0] ? "," : "");
    for (char *at = all; *at;) { /* cut at "," between members: values here hold no comma */
        char *end = strchr(at, ',');
        *end = 0;
        (void)snprintf(part[n++], sizeof part[0], "%s", at);
        at = end + 1;
    }
    (void)snprintf(part[n++], sizeof part[0], "\"at\":\"%s\"", lines_time(hours));
    (void)snprintf(part[n++], sizeof part[0], "\"entered\":\"%s\"", lines_time(entered));
    (void)snprintf(part[n++], sizeof part[0], "\"id\":\"%s\"", id);
    (void)snprintf(part[n++], sizeof part[0], "\"kind\":\"%s\"", kind);
    (void)snprintf(part[n++], sizeof part[0], "\"n\":\"%lu\"", number);
    if (number > 1)
        (void)snprintf(part[n++], sizeof part[0], "\"prev\":\"%064lx\"", number);
    (void)snprintf(part[n++], sizeof part[0], "\"tub\":\"" LINES_TUB "\"");
    (void)snprintf(part[n++], sizeof part[0], "\"writer\":\"0195c000-0000-7000-8000-0000000000ff\"");
    for (size_t i = 1; i < n; i++) /* by name: the quote that ends it sorts before any letter */
        for (size_t k = i; k > 0 && strcmp(part[k - 1], part[k]) > 0; k--) {
            char other[1024];
            memcpy(other, part[k], sizeof other);
            memcpy(part[k], part[k - 1], sizeof other);
            memcpy(part[k - 1], other, sizeof other);
        }
    char *line = lines_text[lines_count++];
    size_t at = 0;
    line[at++] = '{';
    for (size_t i = 0; i < n; i++)
        at += (size_t)snprintf(line + at, 1024 - at, "%s%s", i ? "," : "", part[i]);
    (void)snprintf(line + at, 1024 - at, "}");
    return id;
}

/* The same, written down at once. */
static inline const char *lines_add(const char *kind, double hours, const char *members)
{
    return lines_add_later(kind, hours, hours, members);
}

static inline const char *lines_reading(double hours, const char *analyte, const char *value, const char *unit,
                                        const char *instrument, const char *more)
{
    char members[512];
    (void)snprintf(members, sizeof members,
                   "\"analyte\":\"%s\",\"form\":\"value\",\"value\":\"%s\",\"unit\":\"%s\",\"instrument\":\"%s\"%s%s",
                   analyte, value, unit, instrument, more[0] ? "," : "", more);
    return lines_add("reading", hours, members);
}

static void *lines_book_memory, *lines_fold_memory;

/* A book of all lines, added in the order of `order` (NULL: as made). */
static inline tw_book *lines_book(const size_t *order)
{
    tw_book *book = NULL;
    const size_t bytes = tw_logbook_book_bytes(LINES_MAX, sizeof lines_text);
    free(lines_book_memory);
    lines_book_memory = malloc(bytes);
    assert_int_equal(tw_logbook_book_init(lines_book_memory, bytes, LINES_MAX, sizeof lines_text, &book), TW_OK);
    for (size_t i = 0; i < lines_count; i++) {
        const char *line = lines_text[order ? order[i] : i];
        tw_fault fault;
        const tw_status status = tw_logbook_book_add_line(book, tw_units_text(line), NULL, &fault);
        if (status != TW_OK)
            print_error("# refused: %s\n", line);
        assert_int_equal(status, TW_OK);
    }
    return book;
}

static inline tw_belief lines_fold(const tw_book *book, double hours, const tw_estimate_options *options)
{
    tw_belief b;
    const size_t bytes = tw_estimate_bytes(options);
    free(lines_fold_memory);
    lines_fold_memory = malloc(bytes);
    assert_int_equal(tw_estimate_fold_with(book, tw_units_text(LINES_TUB), lines_now(hours), options,
                                           lines_fold_memory, bytes, &b),
                     TW_OK);
    return b;
}

#endif
