/* estimate/members.h: kept states to members. Internal. */
#ifndef TW_ESTIMATE_MEMBERS_H
#define TW_ESTIMATE_MEMBERS_H

#include "estimate/sampler.h"

/* Sums over members: waters with acts that nobody wrote have their coordinates elsewhere. */
typedef struct {
    double sum[TW_KNOWNS], square[TW_KNOWNS], ln_sum;
} tw_member_sums;

/* Fill the columns, totals, learned shares and contradictions of a belief whose arrays are laid out for
 * all_chains*keep members: begin, add the kept states of each water that is walked, end. */
void tw_estimate_members_begin(tw_sampler *sampler, tw_member_sums *sums);
void tw_estimate_members_add(tw_sampler *sampler, tw_belief *belief, tw_member_sums *sums);
void tw_estimate_members_end(tw_sampler *sampler, tw_belief *belief, const tw_member_sums *sums);

#endif
