/* store/store.h: one logbook on disk. All SQL of the program lives behind this header.
 *
 * A logbook is a set of canonical lines (src/logbook/line.h). The store only ever adds lines; it
 * never changes or removes one. What is acknowledged (TW_OK from an append) is on the disk: a power cut
 * after that cannot take it back. Beside the facts a logbook file holds what belongs to this
 * installation (its writer's id, who writes), work that is due, and caches, which may be deleted.
 *
 * The embedded store is SQLite. Several processes may have one logbook open at once; a handle is for
 * one thread at a time. How the file is made, and what it can and cannot promise: docs/store.md. */
#ifndef TW_STORE_STORE_H
#define TW_STORE_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "logbook/identity.h"
#include "num/sha256.h"
#include "num/status.h"
#include "store/fault.h"
#include "units/text.h"

#define TW_STORE_SCHEMA 2 /* the schema that this version writes; a higher one in a file is TW_ERR_NEWER */

typedef struct tw_store tw_store;

enum {
    TW_STORE_READ = 0,  /* the file must be there; nothing is written to it                     */
    TW_STORE_WRITE = 1, /* the file must be there                                               */
    TW_STORE_MAKE = 2   /* with WRITE: an empty logbook is made where there is none; its folder
                           must be there                                                        */
};

/* Open a logbook.
 *   path   of the file
 *   state  folder on this machine, not in backups of the logbook, where the store notes how far its
 *          writer came; made when it is not there. NULL: none (then a logbook that is restored in
 *          place cannot be told from one that went on)
 *   fault  may be NULL; says what is wrong as a name and a sentence
 * On an error *out is NULL. Statuses: those of the names in store/fault.h. */
tw_status tw_store_open(const char *path, unsigned flags, const char *state, tw_store **out, tw_store_fault *fault);

/* Close and give everything back. NULL is allowed. */
void tw_store_close(tw_store *store);

/* What a line is shown to. Bytes live until the call returns. Anything but TW_OK ends the reading
 * with that status. */
typedef tw_status tw_store_visit(void *to, tw_text line);

/* Append whole lines (with writer and number), as an import brings them: all of them or none, each
 * once however often it comes. Lines must be canonical: the caller has read them (TW_CHECK_IMPORTED).
 *   added  how many were not there before; may be NULL
 * TW_OK: they are on the disk. Two different lines with one id are both kept. */
tw_status tw_store_append(tw_store *store, const tw_text *line, size_t n, size_t *added, tw_store_fault *fault);

/* How lines came: noted beside them, never in them. */
typedef struct {
    int64_t at_ms;   /* when they arrived, milliseconds since 1970 by this machine's clock */
    const char *via; /* who or what brought them; never NULL                               */
} tw_store_arrival;

/* Where a line stands among those that are there. */
typedef struct {
    int added;                      /* 1: it was not there before                                 */
    int gap;                        /* 1: the entry that it names as the one before is not there  */
    int forks;                      /* 1: another entry there has its writer and number ...       */
    uint8_t other[TW_SHA256_BYTES]; /* ... and this hash, of several the first                    */
} tw_store_landing;

/* The same as tw_store_append, with how the lines came and where each stands once all are there.
 *   out  n of them */
tw_status tw_store_land(tw_store *store, const tw_text *line, size_t n, const tw_store_arrival *arrival, tw_store_landing *out,
                        tw_store_fault *fault);

/* Append drafts (lines without writer, n and prev) as this installation's own, in this order: all of
 * them or none. Numbers and chain are given inside the transaction, so two processes at once cannot
 * give one number twice. `visit` sees each line as it was written, after it is on the disk.
 * TW_ERR_FORMAT and others of the check: fault says why. */
tw_status tw_store_append_own(tw_store *store, const tw_text *draft, size_t n, tw_store_visit *visit, void *to,
                              tw_store_fault *fault);

/* How far one has read. Opaque; zero is the beginning. It holds for this file only. */
typedef struct {
    uint64_t opaque;
} tw_store_cursor;

/* Lines that arrived since the cursor, in order of arrival; moves the cursor behind what was shown. */
tw_status tw_store_since(tw_store *store, tw_store_cursor *cursor, tw_store_visit *visit, void *to,
                         tw_store_fault *fault);

/* The cursor behind everything that is there. */
tw_status tw_store_newest(tw_store *store, tw_store_cursor *out, tw_store_fault *fault);

/* A cursor as text that others may keep for later: the arrival it stands behind, and a digest of everything that had arrived
 * until then, so that a restored file, or another one, does not take it for its own. "" is the beginning. */
#define TW_STORE_MARK_BYTES 40

/* mark: the text of a cursor. read: TW_ERR_FORMAT when it is no mark, TW_ERR_UNKNOWN when it is none of this file as it is
 * now; fault->id is then TW_STORE_FINE. */
tw_status tw_store_mark(tw_store *store, tw_store_cursor cursor, char out[TW_STORE_MARK_BYTES], tw_store_fault *fault);
tw_status tw_store_mark_read(tw_store *store, tw_text mark, tw_store_cursor *out, tw_store_fault *fault);

/* Advanced: the form of a mark, without a look at any logbook: its arrival (1..2^60-1) and its TW_STORE_MARK_DIGITS digits. 0: it is none. */
#define TW_STORE_MARK_DIGITS 16 /* of the digest */
int tw_store_mark_split(tw_text mark, uint64_t *arrival, tw_text *digits);

/* The same as tw_store_since, of one tub (empty: of every one), at most `lines` lines; *more: 1 when there are more.
 * The cursor also moves over what was left out. A visit that answers TW_ERR_CAPACITY for any but the first line ends the page
 * before that line. */
tw_status tw_store_page(tw_store *store, tw_store_cursor *cursor, tw_text tub, size_t lines, tw_store_visit *visit, void *to,
                        int *more, tw_store_fault *fault);

/* Lines of a tub, in order of arrival. */
tw_status tw_store_of_tub(tw_store *store, tw_text tub, tw_store_visit *visit, void *to, tw_store_fault *fault);

/* Lines with an id: none, one, or several that were written apart. In order of arrival. */
tw_status tw_store_of_id(tw_store *store, tw_text id, tw_store_visit *visit, void *to, tw_store_fault *fault);

/* All lines (tub empty), or those of a tub, in the order of export: writer, number, hash. It depends on the set of lines
 * alone, not on how they arrived. */
tw_status tw_store_export(tw_store *store, tw_text tub, tw_store_visit *visit, void *to, tw_store_fault *fault);

/* How many lines there are, and their bytes without line ends. */
tw_status tw_store_size(tw_store *store, uint64_t *lines, uint64_t *bytes, tw_store_fault *fault);

/* An entry that no other of its writer names as the one before. */
typedef struct {
    char writer[TW_ID_BYTES];
    uint32_t n;
    uint8_t hash[TW_SHA256_BYTES];
} tw_store_head;

/* Heads in order of writer, number, hash: what the seal is made of (logbook/chain.h).
 * *count is the number that there are, also when cap is smaller (TW_ERR_CAPACITY). */
tw_status tw_store_heads(tw_store *store, tw_store_head *out, size_t cap, size_t *count, tw_store_fault *fault);

/* The place of an entry in its writer's chain. */
typedef struct {
    uint32_t n;
    int first;                     /* 1: it names no entry before it */
    uint8_t hash[TW_SHA256_BYTES];
    uint8_t prev[TW_SHA256_BYTES]; /* the hash that it names         */
} tw_store_link;

/* Shows each writer with its links in order of number, hash; writers in order. */
typedef tw_status tw_store_links_visit(void *to, const char writer[TW_ID_BYTES], const tw_store_link *link, size_t n);
tw_status tw_store_links(tw_store *store, tw_store_links_visit *visit, void *to, tw_store_fault *fault);

/* Lines by their hashes, in the order given; one that is not there is passed over. */
tw_status tw_store_lines(tw_store *store, const uint8_t (*hash)[TW_SHA256_BYTES], size_t n, tw_store_visit *visit, void *to,
                         tw_store_fault *fault);

/* Whether a line of this hash is there: *there is 1 or 0. */
tw_status tw_store_has(tw_store *store, const uint8_t hash[TW_SHA256_BYTES], int *there, tw_store_fault *fault);

/* When and how a line arrived. TW_ERR_MISSING when it is not there, or came before that was noted.
 *   via  zero-ended, cut to cap - 1 bytes */
tw_status tw_store_arrived(tw_store *store, const uint8_t hash[TW_SHA256_BYTES], int64_t *at_ms, char *via, size_t cap,
                           tw_store_fault *fault);

/* The id under which this installation writes into this logbook. Empty until it has written once, and
 * after a restore or a copy until it writes again, under a new one. */
tw_status tw_store_writer(tw_store *store, char out[TW_ID_BYTES], tw_store_fault *fault);

/* What this machine remembers of its writer against what the file holds: 1 when entries that were written
 * here are gone (an old copy was put back, or the end of the file was lost). */
typedef struct {
    char writer[TW_ID_BYTES];
    uint32_t had_n, has_n; /* its last number as remembered, and as found */
} tw_store_loss;

/* 1 and *out filled when entries are gone, else 0. */
int tw_store_lost(tw_store *store, tw_store_loss *out);

/* Look at the file itself: pages, indexes, the hash of every line. TW_ERR_DAMAGED with what and where.
 * The chains are looked at by logbook/chain.h. */
tw_status tw_store_check(tw_store *store, tw_store_fault *fault);

/* Settings of this installation, kept beside the facts and never exported: "role", "by".
 * get: *length 0 when it is not set; the value is zero-ended. put: an empty value takes it away. */
tw_status tw_store_setting_get(tw_store *store, const char *name, char *buf, size_t cap, size_t *length,
                               tw_store_fault *fault);
tw_status tw_store_setting_put(tw_store *store, const char *name, tw_text value, tw_store_fault *fault);

/* What another side said of an entry that was offered to it. */
typedef struct {
    uint8_t hash[TW_SHA256_BYTES];
    int refused;          /* 0: it has it; what was noted of an earlier refusal is then taken away */
    const char *reason;   /* refused: a word, and a sentence for people                          */
    const char *sentence;
} tw_store_said;

/* Note what a peer said, so that a refused entry stays visible here; and show what is refused at present, in order of peer,
 * writer, number. The line of the entry is shown with it. */
tw_status tw_store_said_note(tw_store *store, const char *peer, const tw_store_said *said, size_t n, int64_t at_ms,
                             tw_store_fault *fault);
typedef tw_status tw_store_refused_visit(void *to, const char *peer, const char *reason, const char *sentence, tw_text line);
tw_status tw_store_refused(tw_store *store, tw_store_refused_visit *visit, void *to, tw_store_fault *fault);

/* A writer's clock as it was last compared with this machine's. */
typedef struct {
    char writer[TW_ID_BYTES];
    int64_t ahead_ms; /* its clock less this one's                                        */
    int64_t doubt_ms; /* give or take; -1: the way was measured in one direction only    */
    int64_t at_ms;    /* when that was                                                   */
} tw_store_clock;

/* note: only written when it changed by more than a second and its doubt, or a day has passed. clocks: in order of writer;
 * *count is the number that there are, also when cap is smaller (TW_ERR_CAPACITY). */
tw_status tw_store_clock_note(tw_store *store, const tw_store_clock *clock, tw_store_fault *fault);
tw_status tw_store_clocks(tw_store *store, tw_store_clock *out, size_t cap, size_t *count, tw_store_fault *fault);

/* Caches: bytes under a key, which can be made again from the facts. A damaged one counts as not there.
 * get: TW_ERR_MISSING when it is not there; TW_ERR_CAPACITY with *length when cap is too small.
 * drop: every key that starts with the prefix ("" drops all). */
tw_status tw_store_cache_get(tw_store *store, tw_text key, void *buf, size_t cap, size_t *length, tw_store_fault *fault);
tw_status tw_store_cache_put(tw_store *store, tw_text key, const void *bytes, size_t n, tw_store_fault *fault);
tw_status tw_store_cache_drop(tw_store *store, tw_text prefix, tw_store_fault *fault);

/* Work that is due by tub, for several workers. due: do this tub at that time (seconds since 1970), the
 * earlier of two. claim: take up to cap tubs that are due and that nobody holds, for lease_s seconds; after
 * that somebody else may take them. done: TW_ERR_CONFLICT when the holder's lease went to another. */
typedef struct {
    char tub[TW_ID_BYTES];
    int64_t due_s;
} tw_store_work;

/* The three of them, as said above. */
tw_status tw_store_due(tw_store *store, tw_text tub, int64_t at_s, tw_store_fault *fault);
tw_status tw_store_claim(tw_store *store, tw_text holder, int64_t now_s, int64_t lease_s, tw_store_work *out, size_t cap,
                         size_t *count, tw_store_fault *fault);
tw_status tw_store_done(tw_store *store, tw_text holder, tw_text tub, tw_store_fault *fault);

#endif
