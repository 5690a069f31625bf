/* estimate/pivots.h: members for whom one reading on which much hangs is wrong. Internal.
 *
 * A reading that alone tells something (the hardness of the source, the first chlorine after the dose) pulls its
 * quantity to itself, so that nothing contradicts it. It may be wrong all the same: that is a mode of its own, of one or
 * two in a hundred, far from where the search ends, and no chain finds its way there. Without it the truth lay beyond
 * nearly all members in three tubs of a hundred more than it should. */
#ifndef TW_ESTIMATE_PIVOTS_H
#define TW_ESTIMATE_PIVOTS_H

#include "estimate/sampler.h"

/* At the best point, with its frame and its Jacobian: the readings on which much hangs, what each such mode weighs
 * against the whole, and the way there. */
void tw_estimate_pivots_find(tw_sampler *s);

/* After the chains are resampled, in the same frame: as many chains as those modes are worth begin in them. These are
 * `apart`: they do not shape the frame of the others, nor count for how well the chains move. */
void tw_estimate_pivots_start(tw_sampler *s);

#endif
