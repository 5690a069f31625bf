/* estimate/hands.h: groups of lanes shared out among the hands of a crew. Internal. */
#ifndef TW_ESTIMATE_HANDS_H
#define TW_ESTIMATE_HANDS_H

#include "estimate/sampler.h"

/* What a hand has for itself. */
typedef struct tw_desk {
    tw_path *path;
    void *adjoint;
    tw_lanes *lanes;
} tw_desk;

/* One group of TW_ESTIMATE_LANES, the one that begins at `first`. The hand is a sampler with a path, an adjoint and lanes of its
 * own and everything else that of the sampler that shares out: what a job writes there must be its group's alone. */
typedef void tw_group_job(tw_sampler *hand, size_t first, void *how);

/* Lay out the hands of s->options.crew. 0: its memory is too small. */
int tw_estimate_hands_lay(tw_sampler *s);

/* The hand that does a part; part 0 is the sampler itself. */
tw_sampler *tw_estimate_hand(tw_sampler *s, size_t part);

/* Do the groups of 0 .. n - 1, each by the hand that is free: one that sleeps holds up a single group. Where there are no more
 * groups than hands, group k is the k'th hand's and its path keeps it. accepted and tried of all hands are added to the sampler's: whole numbers, the same sum in any
 * order. */
void tw_estimate_each_group(tw_sampler *s, size_t n, tw_group_job *job, void *how);

#endif
