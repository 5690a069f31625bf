/* cli/answers.h: asking the core and printing what it says; taking words as log does. */
#ifndef TW_CLI_ANSWERS_H
#define TW_CLI_ANSWERS_H

#include "cli/book_io.h"

/* Ask the core and print the answer in the form that the person wants. word: "now", ...; options: more
 * of the question ("hours=48"), or NULL; payload: lines behind it, or NULL. Returns the exit code. */
int tw_cli_answer(tw_cli *cli, tw_cli_book *book, const char *word, const char *options, const char *payload);

/* The tub that --tub means. Returns 0, or an exit code: none yet, not known, or more than one (the
 * problem names them). */
int tw_cli_the_tub(tw_cli *cli, tw_cli_book *book, tw_tub *out);

/* Take words as log does: read, check, ask back, write, answer. Used by log, tub, prompt and demo. */
int tw_cli_take_words(tw_cli *cli, tw_cli_book *book, size_t n, const char *const *word);

#endif
