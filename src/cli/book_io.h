/* cli/book_io.h: the logbook as commands use it: opened, all its lines in a core, lines written.
 *
 * Every function that returns an int returns 0, or the exit code after the problem has been told on
 * standard error. */
#ifndef TW_CLI_BOOK_IO_H
#define TW_CLI_BOOK_IO_H

#include <stddef.h>

#include "answer/core.h"
#include "cli/cli.h"
#include "logbook/identity.h"
#include "serve/book.h"
#include "store/store.h"

/* A logbook with all its lines in a core. */
typedef tw_serve_book tw_cli_book;

typedef enum tw_cli_book_use {
    TW_CLI_BOOK_READ, /* only read; where the default logbook is not there yet the core is empty; a
                         logbook that was named must be there                                       */
    TW_CLI_BOOK_WRITE /* read and written; it is made where there is none, with its folder when it is
                         the default one                                                            */
} tw_cli_book_use;

/* Open the logbook of cli->logbook and bring all its lines into a core. tw_cli_book_close also after
 * an error. */
int tw_cli_book_open(tw_cli *cli, tw_cli_book_use use, tw_cli_book *out);
void tw_cli_book_close(tw_cli_book *book);

/* Names the core in the keys of caches: made when it is built (tools/core_digest.py). */
extern const uint8_t tw_cli_core_digest[32];

/* Before and after a question about a tub: bring in what was worked out of it before, and keep what was worked
 * out now, where the logbook was opened for writing. A cache: what goes wrong here is nobody's trouble. */
void tw_cli_book_recall(tw_cli_book *book, tw_text tub);
void tw_cli_book_keep(tw_cli_book *book, tw_text tub);

/* Only the store, without reading its lines. */
int tw_cli_store_open(tw_cli *cli, tw_cli_book_use use, tw_store **out);

/* Write drafts (tw_logbook_compose with TW_CHECK_DRAFT) as this installation's own, all or none, and add the
 * lines that came of it to the core. When it returns 0 they are on the disk. Lines that other
 * processes wrote meanwhile are added as well. Texts and entries that were taken from the core before
 * are not to be used after it: a core that grows moves.
 *   visit  sees each line as written; may be NULL */
int tw_cli_book_write(tw_cli *cli, tw_cli_book *book, const tw_text *draft, size_t n, tw_store_visit *visit, void *to);

/* A new id (UUID version 7) by the machine's clock, also when --at is given: of two entries of one
 * second the one that was written first then comes first. Ids made by one process rise. */
void tw_cli_new_id(const tw_cli *cli, char out[TW_ID_BYTES]);

/* Role and initials to write: --role and --by, else what was set for this logbook ("" when nothing).
 * With remember, what the options say is kept for this logbook. */
int tw_cli_who(tw_cli *cli, tw_store *store, int remember, char role[17], char by[97]);

/* Tell a fault of the store as a problem; what is the path or name of the thing. Returns the exit code. */
int tw_cli_store_problem(tw_cli *cli, const tw_store_fault *fault, const char *what);

/* The folder on this machine where the store notes how far its writer came ($XDG_STATE_HOME/tubwright/writers);
 * "" when there is no place for it. */
void tw_cli_state_folder(char *buf, size_t cap);

#endif
