/* estimate/members.h: kept states to members. Internal. */
#ifndef TW_ESTIMATE_MEMBERS_H
#define TW_ESTIMATE_MEMBERS_H

#include "estimate/sampler.h"

/* Fill the columns, totals, learned shares and contradictions of a belief whose arrays are laid out
 * for chains*keep members. */
void tw_estimate_members(tw_sampler *sampler, tw_belief *belief);

#endif
