/* logbook/shelf.h: how a book keeps its lines; for the files of this room only.
 *
 * Lines lie in the order of arrival and never move; four lists of their numbers are kept sorted by
 * insertion, which costs nothing when lines arrive in order and little when they do not:
 *   by_time   (measured-at, id, bytes)   the order of the fold
 *   by_id     (id, bytes)                of lines with one id the first is the one that is used
 *   by_chain  (writer, number, bytes)
 *   by_named  (named id, measured-at, id, bytes): voids by target, responses and additions by
 *             intent, replies by what they are about */
#ifndef TW_LOGBOOK_SHELF_H
#define TW_LOGBOOK_SHELF_H

#include "logbook/book.h"

typedef struct {
    tw_entry entry;
    tw_text named;  /* the other entry that it names; empty when none       */
    uint32_t n;     /* number in the writer's chain                         */
    int beaten;     /* 1: another line with this id is the one that is used */
    int aimed_at;   /* 1: some void names it; without one nothing need be looked for */
    uint8_t hash[TW_SHA256_BYTES];
} tw_shelf_line;

/* A book: its lines, kept sorted in four orders, and the text that they point into. */
struct tw_book {
    size_t max_entries, max_text, max_pairs;
    size_t count, text_used, pairs_used, named_count;
    tw_shelf_line *line;
    uint32_t *by_time, *by_id, *by_chain, *by_named;
    tw_pair *pair;
    char *text;
};

/* The first place in by_named whose line names this id; the group ends where the id changes. */
size_t tw_logbook_shelf_named(const tw_book *book, tw_text id);

/* The line that place `at` of by_named stands for, when it still names id; NULL: the group ended. */
const tw_shelf_line *tw_logbook_shelf_naming(const tw_book *book, size_t at, tw_text id);

/* The used line with this id; NULL: none. */
const tw_shelf_line *tw_logbook_shelf_find(const tw_book *book, tw_text id);

/* Place of a line in by_time. */
size_t tw_logbook_shelf_place(const tw_book *book, const tw_shelf_line *line);

/* The void that takes a line back by `now`; NULL: none. */
const tw_shelf_line *tw_logbook_shelf_void_of(const tw_book *book, const tw_shelf_line *line, tw_time now);

/* As tw_logbook_book_used. */
int tw_logbook_shelf_used(const tw_book *book, const tw_shelf_line *line, tw_time now);

#endif
