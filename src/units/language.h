/* units/language.h: another language than English, from the bytes of a pack.
 *
 * English is compiled in. A pack is made of data/text/<room>.<language>.csv by tools/gen/languages.py: texts, each ended by
 * a zero. First "tubwright language 1" and the language's tag, then pairs of a name and its text in the order of their names:
 *   wait-mixing   a sentence by its id, with the arguments of the English one in any order
 *   =soda ash     a term: what English tables call something, and what it is called here
 *   /log-all      a sentence of the page alone, passed over
 * Numbers, ids and commands are the same in every language. Pure: nothing is copied, the bytes must stay where they are. */
#ifndef TW_UNITS_LANGUAGE_H
#define TW_UNITS_LANGUAGE_H

#include <stddef.h>

#include "num/status.h"
#include "units/said.h"
#include "units/text.h"

#define TW_LANGUAGE_TERMS 1024 /* most terms of a pack                           */
#define TW_LANGUAGE_FAULT 160  /* bytes for what is wrong with one, with its zero */

/* A language that was read. Everything points into the pack. */
typedef struct {
    const char *tag;                      /* "de"                                */
    const char *message[TW_MESSAGES];     /* each zero-ended                     */
    const char *term[TW_LANGUAGE_TERMS];  /* "=soda ash", its text behind its zero */
    size_t terms;
} tw_language;

/* Read a pack of n bytes.
 *   TW_OK            *out is filled
 *   TW_ERR_FORMAT    it is no pack, or its names are not in order
 *   TW_ERR_NEWER     of another version of the form
 *   TW_ERR_UNKNOWN   a sentence that this program does not have
 *   TW_ERR_CONFLICT  a sentence whose arguments are not those of the English one
 *   TW_ERR_MISSING   a sentence is not there
 *   TW_ERR_CAPACITY  more than TW_LANGUAGE_TERMS terms
 * On an error fault gets what is wrong and with which name, zero-ended, and *out must not be used. */
tw_status tw_units_language_read(const char *bytes, size_t n, tw_language *out, char fault[TW_LANGUAGE_FAULT]);

/* The sentence of a message with its arguments in braces; NULL is English. Never NULL. */
const char *tw_units_language_message(const tw_language *language, tw_message message);

/* What a name of an English table is called; the name itself in English, or when no table has it. */
tw_text tw_units_language_term(const tw_language *language, tw_text english);

#endif
