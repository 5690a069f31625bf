/* logbook/book.h: the entries of one logbook in memory, in the order of the fold.
 *
 * A book is a set of lines: the order of arrival never shows. Adding a line again changes nothing.
 * Order is (measured-at, id). A void takes an earlier entry back, wherever it stands; a void cannot
 * be voided. What is odd is kept and listed as a doubt, never refused. Nothing is ever removed.
 *
 * `now` limits what is used: entries measured after it are kept, counted and in the digest of the
 * whole book, but no question about `now` sees them, nor voids made after it.
 *
 * Memory comes from the caller; lines are copied into it. Not for use by two threads at once while
 * one of them adds. */
#ifndef TW_LOGBOOK_BOOK_H
#define TW_LOGBOOK_BOOK_H

#include <stddef.h>
#include <stdint.h>

#include "logbook/entry.h"
#include "logbook/fault.h"
#include "num/sha256.h"

typedef struct tw_book tw_book;

/* Bytes for so many entries with so many bytes of lines altogether. Generous: fields are counted
 * with the lines (a line of n bytes has at most n/8 fields). */
size_t tw_logbook_book_bytes(size_t max_entries, size_t max_text);

/* An empty book in mem (aligned for double). The book is mem; there is nothing to close.
 * TW_ERR_CAPACITY when bytes are fewer than tw_logbook_book_bytes says. */
tw_status tw_logbook_book_init(void *mem, size_t bytes, size_t max_entries, size_t max_text, tw_book **out);

typedef enum tw_added {
    TW_ADDED_NEW,     /* a line that was not there                                     */
    TW_ADDED_SAME,    /* the same bytes were there: nothing changed                    */
    TW_ADDED_CONFLICT /* another line with this id was there: both are kept, one used  */
} tw_added;

/* Add a line (without its line end), checked as imported.
 *   added  may be NULL; fault may be NULL
 *   TW_ERR_CAPACITY  the book is full: entries or text; nothing changed
 *   else             the line is no entry; *fault says why; nothing changed */
tw_status tw_logbook_book_add_line(tw_book *book, tw_text line, tw_added *added, tw_fault *fault);

/* All lines, in the order of the fold, also voided, future and conflicting ones. */
size_t tw_logbook_book_count(const tw_book *book);
const tw_entry *tw_logbook_book_at(const tw_book *book, size_t index); /* TW_REQUIRE(index < count) */

/* SHA-256 of the line at index. */
const uint8_t *tw_logbook_book_hash(const tw_book *book, size_t index);

/* Index of the entry with this id (of conflicting lines the one that is used); SIZE_MAX: none. */
size_t tw_logbook_book_find(const tw_book *book, tw_text id);

/* 1 when the entry at index is used at `now`: not later, not voided by then, no void itself, not
 * the losing one of two lines with one id. */
int tw_logbook_book_used(const tw_book *book, size_t index, tw_time now);

/* Index of the void that takes the entry at index back by `now`, SIZE_MAX: none. */
size_t tw_logbook_book_voided_by(const tw_book *book, size_t index, tw_time now);

/* The next used entry of a tub (an empty tub means every tub). Start with *cursor = 0:
 *   while ((e = tw_logbook_book_next(book, tub, now, &cursor)) != NULL) ...
 * *cursor - 1 is the index of the entry that was returned. NULL at the end. */
const tw_entry *tw_logbook_book_next(const tw_book *book, tw_text tub, tw_time now, size_t *cursor);

/* The latest used entry of a kind; NULL when there is none. */
const tw_entry *tw_logbook_book_latest(const tw_book *book, tw_text tub, tw_time now, tw_kind kind);

/* The latest used setting of a thing (TW_SETTING_DUTY, ...) at `now`; NULL when there is none. */
const tw_entry *tw_logbook_book_setting(const tw_book *book, tw_text tub, tw_time now, int what);

/* The amount of an addition, in g when *quantity is TW_QUANTITY_MASS, in L when TW_QUANTITY_VOLUME. What
 * was given in scoops is that many times the full scoop of the definition that it names.
 *   TW_ERR_MISSING  no amount
 *   TW_ERR_UNKNOWN  a unit that is not known, or a scoop whose definition is not here, was taken back
 *                   or is of another sort: the dose is real, its size is not known */
tw_status tw_logbook_book_amount(const tw_book *book, const tw_entry *addition, tw_time now, double *amount,
                                 tw_quantity *quantity);

/* A tub as its used entries leave it at `now`; a later tub entry overrides the fields it names. */
typedef struct {
    tw_text id;
    tw_text name;
    tw_text place;
    tw_text profile;     /* id of the guidance profile, empty: none chosen */
    int use;             /* TW_USE_..., -1 not said                        */
    int start;           /* TW_START_..., -1 not said                      */
    int has_volume;      /* the rough volume of the tub entry              */
    double volume_l;
    const tw_entry *volume_entry; /* where it was said                     */
    const tw_entry *first;        /* the entry that made the tub           */
    int newer;           /* 1: an entry of the tub is from a newer version: advise no addition */
    size_t entries;      /* used entries of the tub                        */
} tw_tub;

/* Tubs in the order of their first entry. *count is the number that there are, also when cap is
 * smaller (TW_ERR_CAPACITY: the first cap are filled). */
tw_status tw_logbook_book_tubs(const tw_book *book, tw_time now, tw_tub *out, size_t cap, size_t *count);

/* One tub by id. TW_ERR_UNKNOWN when there is none. */
tw_status tw_logbook_book_tub(const tw_book *book, tw_text id, tw_time now, tw_tub *out);

/* Intents that nothing answers by `now`, as entries in order: no response naming them but "will",
 * and no addition naming them. *count and cap as above. */
tw_status tw_logbook_book_open_intents(const tw_book *book, tw_text tub, tw_time now, const tw_entry **out,
                                       size_t cap, size_t *count);

/* 1 when this intent is open at `now`. */
int tw_logbook_book_intent_open(const tw_book *book, const tw_entry *intent, tw_time now);

/* What is odd, to be asked about. */
typedef enum tw_doubt_kind {
    TW_DOUBT_UNKNOWN_TUB,    /* entry: no tub entry has its tub's id                               */
    TW_DOUBT_AHEAD_OF_NOW,   /* entry: measured after `now`                                        */
    TW_DOUBT_AHEAD_OF_ENTRY, /* entry: measured more than 2 minutes after it was written down      */
    TW_DOUBT_VOID_MISSING,   /* entry: a void whose target is not here                             */
    TW_DOUBT_VOID_OF_VOID,   /* entry: a void of a void (other); it has no effect                  */
    TW_DOUBT_VOID_ELSEWHERE, /* entry: a void of an entry (other) of another tub; it has no effect */
    TW_DOUBT_SAME_ID,        /* entry and other: two lines with one id; entry is used              */
    TW_DOUBT_SAME_DOSE,      /* entry and other (earlier): the same dose by two writers within 15 min */
    TW_DOUBT_NEWER,          /* entry: from a newer version                                        */
    TW_DOUBTS
} tw_doubt_kind;

typedef struct {
    tw_doubt_kind kind;
    const tw_entry *entry;
    const tw_entry *other; /* NULL when there is none */
} tw_doubt;

/* Doubts about a tub (empty: about every tub) at `now`, in the order of the fold. A doubt about the same
 * dose ends when one of the two is voided, or when a reply with question "same-dose" about either
 * says "no" (they were two doses). *count and cap as above. */
tw_status tw_logbook_book_doubts(const tw_book *book, tw_text tub, tw_time now, tw_doubt *out, size_t cap,
                                 size_t *count);

/* Name of a kind of doubt ("same-dose"). Never NULL. */
const char *tw_logbook_doubt_name(tw_doubt_kind kind);

/* SHA-256 over the SHA-256 of lines in the order of the fold: of all lines; of the first n lines; of the lines of a tub
 * measured up to `now` (what a fold of it sees). */
void tw_logbook_book_digest(const tw_book *book, uint8_t out[TW_SHA256_BYTES]);
void tw_logbook_book_digest_prefix(const tw_book *book, size_t n, uint8_t out[TW_SHA256_BYTES]);
void tw_logbook_book_digest_tub(const tw_book *book, tw_text tub, tw_time now, uint8_t out[TW_SHA256_BYTES]);

#endif
