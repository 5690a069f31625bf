/* cli/words_reader.h: what the readers of the words of `log` share: where they are, and how a draft grows.
 * Internal to cli/words*.c. Readers return 0, or 1 with what is wrong in out->problem. */
#ifndef TW_CLI_WORDS_READER_H
#define TW_CLI_WORDS_READER_H

#include "cli/words.h"
#include "gen/cli_words.h"
#include "logbook/entry.h"

typedef struct {
    size_t n, i;             /* words, and the next one                       */
    const char *const *word;
    tw_time now;
    tw_words *out;
    tw_draft *cur;           /* what name=value adds to; NULL: nothing begun  */
} tw_reader;

/* Say what is not understood, at which word, and what to write instead. Always 1. */
int tw_cli_reader_fail(tw_reader *r, const char *what, const char *word, const char *instead);

/* Keep bytes in the room of the words. */
tw_text tw_cli_reader_keep(tw_reader *r, const char *bytes, size_t n);

/* The row of a word of data/log_words.csv; NULL when it is none. */
const tw_log_word *tw_cli_reader_log_word(const char *typed);

/* The kind of this name; TW_KINDS when there is none. */
tw_kind tw_cli_reader_kind_named(const char *typed);

/* 1 when this word begins something of its own, so that a phrase ends before it. */
int tw_cli_reader_begins(const char *typed);

/* What a short form of a set of words means (data/log_aliases.csv); the text itself when it is none. */
tw_text tw_cli_reader_alias(const char *set, tw_text typed);

/* Begin a draft; NULL when there are too many. */
tw_draft *tw_cli_reader_begin(tw_reader *r, tw_kind kind);

/* Add a field to a draft; is one there? */
int tw_cli_reader_add(tw_reader *r, tw_draft *draft, tw_text field, tw_text value);
int tw_cli_reader_add_named(tw_reader *r, tw_draft *draft, const char *field, tw_text value);
int tw_cli_reader_has(const tw_draft *draft, tw_text field);

/* Bytes of the number at the start of a text; digits; the rest of a text; a text without blanks at its ends. */
size_t tw_cli_reader_number_length(tw_text text);
int tw_cli_reader_is_digit(char c);
tw_text tw_cli_reader_part_from(tw_text text, size_t from);
tw_text tw_cli_reader_unblank(tw_text text);

/* The next word, NULL at the end; the words up to the next that begins something; "97 g" or "97g" (0: none). */
const char *tw_cli_reader_next(tw_reader *r);
tw_text tw_cli_reader_phrase(tw_reader *r);
int tw_cli_reader_amount(tw_reader *r, tw_text *number, tw_text *unit);

/* The row of a field that is the kind's own (not one of all entries); NULL when it is none. */
const tw_field_row *tw_cli_reader_own_row(tw_kind kind, tw_field field);

/* Set a field of an entry: a decimal brings its unit along, a percent sign or a time is put in form. */
int tw_cli_reader_set(tw_reader *r, tw_draft *draft, const tw_field_row *row, tw_text value);

/* One name=value; one word of the table; the name of a kind. */
int tw_cli_read_pair(tw_reader *r, const char *typed);
int tw_cli_read_word(tw_reader *r, const tw_log_word *row);
int tw_cli_read_kind(tw_reader *r, tw_kind kind);

#endif
