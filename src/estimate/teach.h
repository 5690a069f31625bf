/* estimate/teach.h: from the members of a water to what it taught. Internal. */
#ifndef TW_ESTIMATE_TEACH_H
#define TW_ESTIMATE_TEACH_H

#include "estimate/model.h"
#include "estimate/segment.h"

/* Choose the coordinates: those of the tub itself on which a reading or an earlier water bears; with taught->goes_on
 * those of the water too. */
void tw_estimate_teach_begin(const tw_model *model, tw_taught *taught);

/* Add one member: its coordinates by role, its path up to now, what is left of its film and its pH. */
typedef struct {
    double film_per_h, ph;
} tw_left;
void tw_estimate_teach_add(const tw_model *model, const tw_lanes *x, const tw_path *path, int lane, const tw_left *left,
                           tw_taught *taught);

/* Hours since the last additions and bathers, and how many readings there were: of the whole water so far. */
void tw_estimate_since(const tw_problem *problem, tw_cut *out);

/* Sums to means and covariances. */
void tw_estimate_teach_end(size_t members, tw_taught *taught);

#endif
