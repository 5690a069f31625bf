/* estimate/unwritten_off.h: the generator off for a time that nobody wrote down. Internal.
 *
 * It went off in one gap between readings of chlorine and on again in the same or a later one. Gaps between are
 * without it; of the gap where it went off, and of that where it came back, it ran for a share, a coordinate each
 * (none and all are likelier than any one share between). How likely it is before any reading: data/unlogged.csv,
 * a rate of beginnings and lengths even on ln. */
#ifndef TW_ESTIMATE_UNWRITTEN_OFF_H
#define TW_ESTIMATE_UNWRITTEN_OFF_H

#include "estimate/unwritten.h"

/* Every gap, or gaps one after the other, in which it may have been off: how much likelier the readings are by one step
 * of the search, and how likely it is before. The best, at most TW_MOST_OFFS, to out, falling; those that cannot come to a
 * share of the chains are left out (`doubted`: a reading contradicts). soft: as tw_estimate_soft_frame() left it.
 * Overwrites the sampler's kept states. Returns how many. */
size_t tw_estimate_off_screen(tw_sampler *sampler, const tw_frame *soft, int doubted, tw_off_gap *gaps, tw_water_guess *out);

/* The water as written, with the generator off as the guess says. 0: it does not fit. */
int tw_estimate_off_write(const tw_problem *written, const tw_water_guess *guess, tw_problem *to);

/* Let a setting begin at this hour: the one that is there, or the running one in two, its temperature on its way. Its
 * index; p->settings: none runs. */
size_t tw_estimate_split_setting(tw_problem *problem, double at_h);

/* Hours off in a member of such a water. */
double tw_estimate_off_hours(const tw_problem *problem, const tw_parameters *par, int lane);

#endif
