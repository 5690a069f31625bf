/* estimate/burn.h: what the demand in a water leaves of chlorine that is poured into it. Pure. */
#ifndef TW_ESTIMATE_BURN_H
#define TW_ESTIMATE_BURN_H

#include "estimate/belief.h"

/* Free chlorine, mg/L, so many hours (over 0) after so much (0 or more, mg/L) went in: demand and loss of each member, no generator. */
tw_spread tw_estimate_left_after(const tw_belief *belief, double poured_mg_per_l, double hours);

/* Free chlorine right after the pour, mg/L, of which the middle member has `left_mg_per_l` after those hours; not more than `most`
 * (mg/L, over the chlorine there is). Within 0.01 mg/L. */
double tw_estimate_level_for(const tw_belief *belief, double left_mg_per_l, double hours, double most_mg_per_l);

#endif
