/* estimate/fold.h: from entries (or plain events) to a belief. Pure; memory from the caller; no
 * allocation while it runs. The same entries give the same bits whatever their order of arrival,
 * the lane width of the build or the compiler. */
#ifndef TW_ESTIMATE_FOLD_H
#define TW_ESTIMATE_FOLD_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/belief.h"
#include "estimate/sample.h"
#include "estimate/segment.h"
#include "num/sha256.h"
#include "logbook/book.h"
#include "num/status.h"
#include "units/text.h"
#include "units/time.h"

/* Bytes for a fold with these options (NULL: the default). The belief's arrays lie inside this
 * memory; it is free again when the belief is no longer needed. */
size_t tw_estimate_bytes(const tw_estimate_options *options);

/* What earlier waters taught, found again by the digest of all that it came from: a cache. An empty one (all
 * zeros) is good; it changes no answer, only how long one takes. */
#define TW_SHELF_SLOTS 5

/* Names of what each stretch but the last teaches, by the entries that they were worked out from: the book need not be
 * read for every stretch again while it is the same. */
typedef struct {
    uint8_t entries[TW_SHA256_BYTES];               /* SHA-256 of all that was seen    */
    uint32_t n;
    unsigned char teaches[TW_MOST_STRETCHES];
    uint8_t key[TW_MOST_STRETCHES][TW_SHA256_BYTES];
} tw_stretch_names;

typedef struct {
    uint32_t next;                                  /* slot that is overwritten next */
    uint32_t folded;                                /* stretches that had to be folded, ever: for tests */
    unsigned char used[TW_SHELF_SLOTS];
    uint8_t key[TW_SHELF_SLOTS][TW_SHA256_BYTES];
    tw_taught taught[TW_SHELF_SLOTS];
    tw_stretch_names names;
} tw_taught_shelf;

/* The present water as it stood at its last entry: what the sampler made of it. A cache as well: with an empty one (all
 * zeros) answers are the same. The belief's arrays lie in the memory of the fold, which must be the same the next time. */
typedef struct {
    int there;
    uint32_t folded;                                /* times that the sampler had to run, ever: for tests */
    uint8_t key[TW_SHA256_BYTES];                   /* of everything that it was made of                  */
    tw_belief belief;
} tw_settled;

/* Fold the entries of one tub that were measured up to `now` (later ones wait for their time).
 *   tub    id of the tub as in its entries
 *   mem    at least tw_estimate_bytes() bytes, aligned for double
 *   out    its arrays point into mem
 *   TW_ERR_UNKNOWN   the book has no entry of this tub
 *   TW_ERR_CAPACITY  mem is too small
 * A tub of which only a name is known gives TW_OK and the prior, with flags that say so. */
tw_status tw_estimate_fold(const tw_book *book, tw_text tub, tw_time now, void *mem, size_t bytes,
                           tw_belief *out);

/* The same with other options (NULL: the default). */
tw_status tw_estimate_fold_with(const tw_book *book, tw_text tub, tw_time now,
                                const tw_estimate_options *options, void *mem, size_t bytes,
                                tw_belief *out);

/* The same with a shelf (NULL: none) and what was settled before (NULL: nothing). Each stretch (from fill to fill, a long
 * water every three weeks) is folded with what the one before taught as its prior; folding begins after the last one that
 * stands on the shelf. The last stretch is sampled up to its last entry and its members walk from there to `now` (later.h):
 * another `now` is no other fold. */
tw_status tw_estimate_fold_kept(const tw_book *book, tw_text tub, tw_time now, const tw_estimate_options *options,
                                tw_taught_shelf *shelf, tw_settled *settled, void *mem, size_t bytes, tw_belief *out);

/* One stretch by itself, nothing handed on from the waters before: what its own readings say, to be set beside another
 * stretch. The water of the hour `end` (of a long one its latest 42 days up to it), by the entries as they stand at `now`.
 * Memory, options and statuses as tw_estimate_fold_with(); the belief is unsealed and for comparing only. */
tw_status tw_estimate_fold_alone(const tw_book *book, tw_text tub, tw_time now, tw_time end, const tw_estimate_options *options,
                                 void *mem, size_t bytes, tw_belief *out);

#endif
