/* serve/book.h: a logbook with all its lines in a core, as server and commands use it. */
#ifndef TW_SERVE_BOOK_H
#define TW_SERVE_BOOK_H

#include <stddef.h>

#include "answer/core.h"
#include "store/store.h"

typedef struct {
    tw_store *store;        /* NULL: there is no logbook yet, and it was only to be read */
    tw_core *core;          /* holds every line of the logbook                           */
    void *mem;              /* of core                                                   */
    tw_store_cursor cursor; /* behind the lines that are in the core                     */
    int writes;             /* 1: opened for writing                                     */
    void *kept;             /* what was worked out of a tub before                       */
    tw_crew *crew;          /* for the core; NULL: it works in turn                      */
} tw_serve_book;

/* A new core with every line of book->store and room to spare. What was taken from the core before is not to be used
 * any more. TW_ERR_CAPACITY with fault->id TW_STORE_FINE: the lines do not fit. */
tw_status tw_serve_book_fill(tw_serve_book *book, tw_store_fault *fault);

/* Bring in the lines that arrived since; a core that grows moves. */
tw_status tw_serve_book_refresh(tw_serve_book *book, tw_store_fault *fault);

/* Before and after a question about a tub: bring in what was worked out of it before, and keep what was worked out now, where
 * the logbook was opened for writing. program: 32 bytes that name the core. A cache: what goes wrong here is nobody's trouble. */
void tw_serve_book_recall(tw_serve_book *book, const uint8_t *program, tw_text tub);
void tw_serve_book_keep(tw_serve_book *book, const uint8_t *program, tw_text tub);

/* Forget what was recalled, before a question about another tub. */
void tw_serve_book_forget(tw_serve_book *book);

/* Close the store and give the memory back. */
void tw_serve_book_close(tw_serve_book *book);

#endif
