/* units/text.h: a piece of text that somebody else owns. Bytes are UTF-8 and need no final zero. */
#ifndef TW_UNITS_TEXT_H
#define TW_UNITS_TEXT_H

#include <stddef.h>

typedef struct {
    const char *at; /* may be NULL when n is 0 */
    size_t n;       /* bytes                   */
} tw_text;

/* The text of a string ended by a zero. */
tw_text tw_units_text(const char *zero_ended);

/* The text of a string literal, also in constant initialisers. */
#define TW_TEXT(literal) {"" literal, sizeof(literal) - 1}

/* Bytes from..from+n-1 of a text; cut to what is there. */
tw_text tw_units_text_part(tw_text text, size_t from, size_t n);

/* 1 when both have the same bytes. */
int tw_units_text_equal(tw_text a, tw_text b);

/* 1 when the text has the bytes of the zero-ended string. */
int tw_units_text_is(tw_text text, const char *zero_ended);

/* 1 when the text begins with the zero-ended string. */
int tw_units_text_starts(tw_text text, const char *zero_ended);

/* Bytes before the first `stop` of a zero-ended string, or all of them. */
size_t tw_units_text_until(const char *zero_ended, char stop);

/* Order of the bytes as unsigned numbers, a prefix first: negative, 0 or positive. */
int tw_units_text_compare(tw_text a, tw_text b);

#endif
