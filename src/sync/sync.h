/* sync/sync.h: two logbooks become one, by an exchange of messages, however these travel.
 *
 * A logbook is a set of writers' chains (docs/logbook-format.md) and two logbooks merge by union, so nothing has
 * to be decided: each side says what it has, gives what the other lacks, and takes what it is given, each
 * entry for itself. Every step may be lost, doubled, reordered or broken off and done again: what is there
 * already is left as it is. A server answers three questions (have, since, take); a client asks them
 * through a table of functions (tw_sync_peer), so that HTTP, a file and a test use the same code.
 *
 * How it goes, what is found out and what cannot be: docs/store.md, "Two logbooks, one truth". */
#ifndef TW_SYNC_SYNC_H
#define TW_SYNC_SYNC_H

#include <stddef.h>
#include <stdint.h>

#include "logbook/entry.h"
#include "logbook/fault.h"
#include "store/store.h"

/* Most of one message; more lines go into the next one. */
#define TW_SYNC_LINES 500
#define TW_SYNC_LINE_BYTES ((size_t)1 << 20)

/* Entries from..n of a writer, each linked to the one before it; the last has this hash. A whole chain is one run from
 * 1. A gap or a fork makes more of them. */
typedef struct {
    char writer[TW_ID_BYTES];
    uint32_t from, n;
    uint8_t hash[TW_SHA256_BYTES];
} tw_sync_run;

/* What one side has. Zero-filled it has nothing. */
typedef struct {
    char writer[TW_ID_BYTES];          /* under which this side writes, "" when it has not written yet  */
    int64_t now_ms;                    /* its clock: milliseconds since 1970; 0 when it does not say    */
    uint64_t lines;                    /* how many                                                      */
    uint8_t seal[TW_SHA256_BYTES];     /* of all of them (docs/logbook-format.md)                       */
    char cursor[TW_STORE_MARK_BYTES];  /* behind the last one that arrived                              */
    tw_sync_run *run;                  /* in order of writer, number, hash; given back by _free         */
    size_t runs, room;
} tw_sync_have;

/* Give the memory back; the struct is empty again. */
void tw_sync_have_free(tw_sync_have *have);

/* Add a run, as one is read from a message. TW_ERR_CAPACITY: no memory. */
tw_status tw_sync_have_add(tw_sync_have *have, const tw_sync_run *run);

/* Lines on their way, each with the hash that its sender says it has. Zero-filled it is empty. */
typedef struct {
    char *bytes;
    size_t used, room;
    struct tw_sync_item {
        size_t at, n;                  /* in bytes                                                      */
        int hashed;                    /* 1: the sender said what hash it has                           */
        uint8_t hash[TW_SHA256_BYTES];
    } *item;
    size_t count, items;
} tw_sync_batch;

/* Add a line (without its line end); hash NULL: its sender did not say. TW_ERR_CAPACITY: no memory. */
tw_status tw_sync_batch_add(tw_sync_batch *batch, tw_text line, const uint8_t *hash);

/* The line at an index, until something is added. */
tw_text tw_sync_batch_line(const tw_sync_batch *batch, size_t index);

/* Take all lines out, and keep the memory; give the memory back. */
void tw_sync_batch_clear(tw_sync_batch *batch);
void tw_sync_batch_free(tw_sync_batch *batch);

/* ---- What a server does: one call for each question, over a store opened for writing ---- */

/* What is here. TW_OK, or of the store. tw_sync_have_free also after an error. */
tw_status tw_sync_have_of(tw_store *store, int64_t now_ms, tw_sync_have *out, tw_store_fault *fault);

/* Lines that arrived since a cursor, each with its hash, in order of arrival, at most `most` (0: TW_SYNC_LINES) of them.
 *   cursor  "" from the beginning, else what an earlier answer gave
 *   tub     only of this tub; empty: of every one. The cursor moves over the others as well.
 *   next    cursor for the next question; the same as before when nothing came
 *   more    1: there are more of them
 * TW_ERR_FORMAT: this is no cursor. TW_ERR_UNKNOWN: a cursor, but not of this file as it is now (the file was
 * restored, or it is another one): begin from "" again, which doubles nothing. */
tw_status tw_sync_since(tw_store *store, tw_text cursor, tw_text tub, size_t most, tw_sync_batch *out,
                        char next[TW_STORE_MARK_BYTES], int *more, tw_store_fault *fault);

typedef enum tw_sync_taken {
    TW_SYNC_STORED,  /* was not here, is on the disk now               */
    TW_SYNC_HAD,     /* was here already, and is on the disk           */
    TW_SYNC_REFUSED  /* is not here: see reason                        */
} tw_sync_taken;

/* What became of one line. */
typedef struct {
    tw_sync_taken taken;
    uint8_t hash[TW_SHA256_BYTES];    /* SHA-256 of the line as it came                                    */
    char writer[TW_ID_BYTES];         /* of the entry, "" when it could not be read; and its number        */
    uint32_t n;
    int newer;                        /* 1: a newer version wrote it; kept, not used                       */
    int64_t ahead_ms;                 /* > 0: written down so much later than now by this side's clock     */
    int gap;                          /* 1: stored or had, and the entry before it is not here (yet)       */
    int forks;                        /* 1: stored or had, and another entry here has its number ...       */
    uint8_t other[TW_SHA256_BYTES];   /* ... with this hash (of several the first by hash)                 */
    char reason[48];                  /* REFUSED: a stable word ("wrong-unit", "altered", "not-yours")     */
    char sentence[TW_FAULT_TEXT_BYTES]; /* REFUSED: one sentence for people                                */
} tw_sync_result;

/* A server's own say about a well-formed entry: 1 to take it; 0 to refuse it, with reason and sentence filled. */
typedef int tw_sync_judge(void *to, const tw_entry *entry, tw_sync_result *result);

/* How lines came. */
typedef struct {
    int64_t now_ms;          /* this side's clock; noted as time of arrival, beside the entry           */
    const char *via;         /* who brought it: name of a peer, a session, a file; noted; never NULL    */
    tw_text from_writer;     /* the writer that the sender says it is; empty: it did not say            */
    int64_t from_now_ms;     /* its clock; 0: it did not say. The skew is noted when both are said      */
    tw_sync_judge *judge;    /* may be NULL                                                             */
    void *judge_to;
} tw_sync_way;

/* Take a batch: each line for itself, stored, had or refused; no line blocks another. What is STORED or HAD is on
 * the disk when this returns TW_OK. result has room for in->count.
 * On anything but TW_OK nothing was taken and nothing is said of any line. */
tw_status tw_sync_take(tw_store *store, const tw_sync_batch *in, const tw_sync_way *way, tw_sync_result *result,
                       tw_store_fault *fault);

/* Words for messages: "stored", "had", "refused". Never NULL. */
const char *tw_sync_taken_name(tw_sync_taken taken);

/* ---- What a client does ---- */

/* The other side, as a table of functions: HTTP, TLS, a test. Each returns TW_OK when an answer came; TW_ERR_IO when none came (then
 * what was asked may have been done or not); anything else as the server said. `out` parameters are
 * zero-filled by the caller and may be filled partly on an error. */
typedef struct tw_sync_peer {
    const char *name; /* under which this side remembers how far it has read there, and what was refused */
    void *to;
    tw_status (*have)(void *to, tw_sync_have *out);
    tw_status (*since)(void *to, const char *cursor, size_t most, tw_sync_batch *out, char next[TW_STORE_MARK_BYTES],
                       int *more);
    tw_status (*take)(void *to, const tw_sync_batch *in, tw_text writer, int64_t now_ms, tw_sync_result *result);
    const char *tub; /* the one tub that it shows and takes: nothing of another one is given, and seals are not compared; NULL or "": every one */
} tw_sync_peer;

/* Something that is not as it should be, with its place. */
typedef struct {
    enum tw_sync_odd_kind {
        TW_SYNC_ODD_REFUSED_HERE,   /* they gave it (hash: as they said; other: as it came), and this side
                                       could not take it                                                */
        TW_SYNC_ODD_REFUSED_THERE,  /* given, and they did not take it; it stays here                   */
        TW_SYNC_ODD_NOT_GIVEN,      /* they say they have it, and did not give it                       */
        TW_SYNC_ODD_NOT_KEPT,       /* given, said to be taken, and they do not have it                 */
        TW_SYNC_ODD_FORKED,         /* two entries with one number: hash and other                      */
        TW_SYNC_ODD_GAP,            /* entries n..last are not here; other: hash of the last one        */
        TW_SYNC_ODD_ALTERED         /* entry n is not the one (other) that the next one follows         */
    } kind;
    char writer[TW_ID_BYTES];
    uint32_t n, last;
    uint8_t hash[TW_SHA256_BYTES];
    uint8_t other[TW_SHA256_BYTES];
    int mended;      /* 1: found, asked or given again, and right in the end */
    char reason[48]; /* of what was refused */
    char sentence[TW_FAULT_TEXT_BYTES];
} tw_sync_odd;

/* What an exchange came to. Zero-filled it is empty. */
typedef struct {
    uint64_t got, given;           /* lines that were new to this side, to the other side        */
    uint64_t doubled;              /* lines that came or went although they were there           */
    int skew_known;                /* 1: the other side's clock was compared                     */
    int64_t skew_ms, skew_doubt_ms; /* theirs minus this one's, give or take                     */
    int began_again;               /* 1: their cursor was not known any more: read from the start */
    int same;                      /* 1: both sides hold one seal at the end                     */
    uint8_t seal[TW_SHA256_BYTES]; /* of this side at the end                                    */
    tw_sync_odd *odd;
    size_t odds, room;
} tw_sync_report;

/* Give the memory back; the struct is empty again. */
void tw_sync_report_free(tw_sync_report *report);

/* The word of a kind of oddness ("not-given"). Never NULL. */
const char *tw_sync_odd_name(enum tw_sync_odd_kind kind);

/* This side's clock, in milliseconds since 1970. */
typedef int64_t tw_sync_clock(void *to);

/* Exchange everything with a peer: ask what they have, take what arrived there since the last time, give what they
 * lack, and compare. Stopped at any point it can be done again.
 * TW_OK: both sides were reached; what is odd stands in the report. TW_ERR_IO and others: the peer or the store
 * (then fault says what) failed; what was exchanged until then stays. */
tw_status tw_sync_exchange(tw_store *store, const tw_sync_peer *peer, tw_sync_clock *clock, void *clock_to,
                           tw_sync_report *report, tw_store_fault *fault);

/* Hashes of entries. Zero-filled it is empty; free(hash) gives it back. */
typedef struct {
    uint8_t (*hash)[TW_SHA256_BYTES];
    size_t count, room;
} tw_sync_list;

/* Advanced: what is here and not in what they have, in order of writer, number, hash. Exact where this side holds the ends of
 * their runs; else it may name what they have already, but it never leaves out what they lack. */
tw_status tw_sync_lacking(tw_store *store, const tw_sync_have *theirs, tw_sync_list *out, tw_store_fault *fault);

/* Advanced: what they say they have and is not here: for each of their runs the highest entry of it that is missing. Added to the
 * report as TW_SYNC_ODD_NOT_GIVEN. */
tw_status tw_sync_not_given(tw_store *store, const tw_sync_have *theirs, tw_sync_report *out, tw_store_fault *fault);

/* Advanced: forks, gaps and broken links of the chains that are here, added to the report. */
tw_status tw_sync_chains(tw_store *store, tw_sync_report *out, tw_store_fault *fault);

#endif
