/* cli/book.h: the logbook of this run: its store and a core filled with its lines. */
#ifndef TW_CLI_BOOK_H
#define TW_CLI_BOOK_H

#include "answer/core.h"
#include "cli/cli.h"
#include "logbook/compose.h"
#include "logbook/identity.h"

#define TW_CLI_ANSWER_BYTES (8u << 20) /* longest answer */

typedef struct tw_cli_book tw_cli_book;

/* Open the logbook and read its lines. With `write`, a logbook that is not there is made; without, a
 * missing one reads as empty. Returns 0, or an exit code (the problem is said). */
int tw_cli_book_open(tw_cli *cli, int write, tw_cli_book **out);

/* Close it and free everything. NULL is allowed. */
void tw_cli_book_close(tw_cli_book *book);

/* The core with all lines. */
tw_core *tw_cli_book_core(tw_cli_book *book);

/* Append drafts (canonical lines without writer, n and prev), all or none. They are on the disk and in
 * the core when this returns 0; line[i] then says the whole line (it lives as long as the book). */
int tw_cli_book_append(tw_cli *cli, tw_cli_book *book, const tw_text *draft, size_t n, tw_text *line);

/* A new id: UUID version 7 of the clock and random bytes; with TUBWRIGHT_RANDOM set, of that word, the
 * clock and a counter, so that tests and demos repeat. */
void tw_cli_new_id(tw_cli *cli, char out[TW_ID_BYTES]);

/* Ask the core and print the answer. word: "now", ...; options: more of the question, or NULL;
 * payload: lines behind it, or NULL. Returns the exit code of the answer. */
int tw_cli_book_ask(tw_cli *cli, tw_cli_book *book, const char *word, const char *options, const char *payload);

/* The tub that --tub means. Returns 0, or an exit code: none yet, not known, or more than one (the
 * problem names them). */
int tw_cli_book_tub(tw_cli *cli, tw_cli_book *book, tw_tub *out);

/* Take words as log does: read, check, ask back, write, answer. Used by log, tub, prompt and demo. */
int tw_cli_take_words(tw_cli *cli, tw_cli_book *book, size_t n, const char *const *word);

#endif
