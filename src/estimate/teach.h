/* estimate/teach.h: from the members of a water to what it taught. Internal. */
#ifndef TW_ESTIMATE_TEACH_H
#define TW_ESTIMATE_TEACH_H

#include "estimate/model.h"
#include "estimate/segment.h"

/* Choose the coordinates: those of the tub itself on which a reading or an earlier water bears. */
void tw_estimate_teach_begin(const tw_model *model, tw_taught *taught);

/* Add one member: its coordinates by role, and what is left of its film, 1/h. */
void tw_estimate_teach_add(const tw_model *model, const tw_lanes *x, int lane, double film_per_h, tw_taught *taught);

/* Sums to means and covariances. */
void tw_estimate_teach_end(size_t members, tw_taught *taught);

#endif
