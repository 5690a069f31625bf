/* tests/logbook/lines.h: lines for the tests of the logbook, composed from "field=value" texts. */
#ifndef TW_TESTS_LOGBOOK_LINES_H
#define TW_TESTS_LOGBOOK_LINES_H

#include "support/check.h"

#include "logbook/compose.h"
#include "logbook/line.h"
#include "num/sha256.h"

#define TUB_A "01890000-0000-7000-8000-00000000000a"
#define TUB_B "01890000-0000-7000-8000-00000000000b"
#define WRITER_A "5a000000-0000-4000-8000-00000000000a"
#define WRITER_B "5b000000-0000-4000-8000-00000000000b"

typedef struct {
    char bytes[TW_LINE_BYTES];
    size_t n;
} test_line;

/* Split "field=value" at the first '='. */
static inline tw_typed test_pair(const char *text)
{
    const char *equals = strchr(text, '=');
    assert_non_null(equals);
    const tw_typed pair = {{text, (size_t)(equals - text)}, {equals + 1, strlen(equals + 1)}};
    return pair;
}

/* Compose texts up to the NULL; ids and times that are not given get plain defaults. */
static inline tw_status test_compose(test_line *out, tw_fault *fault, tw_check_mode mode, const char *const *text)
{
    static const char *const DEFAULTS[] = {"id=01890000-0000-7000-8000-000000000001", "tub=" TUB_A,
                                           "at=2026-03-24T10:40:00+01:00", "entered=2026-03-24T10:40:00+01:00",
                                           "writer=" WRITER_A, "n=1"};
    tw_typed typed[TW_ENTRY_FIELDS + 8];
    size_t n = 0;
    for (; text[n]; n++)
        typed[n] = test_pair(text[n]);
    const size_t given = n;
    for (size_t d = 0; d < sizeof DEFAULTS / sizeof *DEFAULTS; d++) {
        const tw_typed pair = test_pair(DEFAULTS[d]);
        int there = 0;
        for (size_t i = 0; i < given; i++)
            there |= tw_units_text_equal(typed[i].field, pair.field);
        if (!there)
            typed[n++] = pair;
    }
    return tw_logbook_compose(typed, n, mode, out->bytes, sizeof out->bytes, &out->n, fault);
}

#define COMPOSE(out, fault, ...) \
    test_compose((out), (fault), TW_CHECK_TYPED, (const char *const[]){__VA_ARGS__, NULL})

/* A line that must be right. */
#define LINE(out, ...)                                                          \
    do {                                                                        \
        tw_fault line_fault;                                                    \
        char line_text[TW_FAULT_TEXT_BYTES];                                    \
        if (COMPOSE((out), &line_fault, __VA_ARGS__) != TW_OK) {                \
            tw_logbook_fault_text(&line_fault, NULL, line_text, sizeof line_text);    \
            print_error("# %s\n", line_text);                                   \
            fail();                                                             \
        }                                                                       \
    } while (0)

static inline tw_text test_text(const test_line *line)
{
    const tw_text out = {line->bytes, line->n};
    return out;
}

static inline tw_time test_time(const char *text)
{
    tw_time out;
    assert_ok(tw_units_time_read(tw_units_text(text), &out));
    return out;
}

/* The sentence of a fault. */
static inline const char *test_sentence(const tw_fault *fault)
{
    static char text[TW_FAULT_TEXT_BYTES];
    tw_logbook_fault_text(fault, NULL, text, sizeof text);
    return text;
}

#endif
