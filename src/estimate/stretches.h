/* estimate/stretches.h: where a tub's life is cut. Internal to this room.
 *
 * A fill begins a water. A water is cut at whole three weeks after its fill (after its first entry, where no fill is
 * written): at the first such hour after an entry, once another one follows. A late entry thus moves no other
 * cut, and weeks without entries are not cut into pieces that teach nothing. Crowded weeks are cut more often. A pure
 * function of the set of entries. */
#ifndef TW_ESTIMATE_STRETCHES_H
#define TW_ESTIMATE_STRETCHES_H

#include <stddef.h>
#include <stdint.h>

#include "estimate/segment.h"
#include "logbook/book.h"
#include "units/text.h"
#include "units/time.h"

/* Of the most that are followed back (TW_MOST_STRETCHES), by how many the first moves on at a time: so that what was
 * kept of them stays good for a while. */
#define TW_STRETCHES_AT_ONCE 12

typedef struct {
    tw_time from, end;   /* its first second and its last; `from` only where it begins with a cut */
    int cut;             /* 1: it begins with a cut                                               */
    int goes_on;         /* 1: and the stretch before is followed as well                         */
    int is_cut;          /* 1: it ends with a cut                                                 */
    uint32_t part;       /* how many cuts of this water came before                               */
} tw_stretch;

typedef struct {
    size_t n;            /* at least 1; the last one ends at the hour that was asked for          */
    tw_stretch list[TW_MOST_STRETCHES];
} tw_stretches;

/* The stretches of a tub's life up to `now`, the oldest first. */
void tw_estimate_stretches(const tw_book *book, tw_text tub, tw_time now, tw_stretches *out);

#endif
