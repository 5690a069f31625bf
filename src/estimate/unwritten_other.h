/* estimate/unwritten_other.h: acid, base, air, water and salt that nobody wrote down. Internal.
 *
 * Looked for only where a reading of pH, alkalinity, chloride or conductivity contradicts at the best point: something
 * may have been done in the gap before it, or, where what followed is believed instead, undone in the gap after it. */
#ifndef TW_ESTIMATE_UNWRITTEN_OTHER_H
#define TW_ESTIMATE_UNWRITTEN_OTHER_H

#include "estimate/unwritten.h"

/* The acts that would bring the doubted readings and the believed ones together, the latest readings first, at most
 * TW_MOST_OTHERS. After tw_estimate_map(). Returns how many. */
size_t tw_estimate_other_screen(const tw_sampler *sampler, tw_water_guess *out);

/* The water as written, with one such act in the middle of its gap. 0: it does not fit. */
int tw_estimate_other_write(const tw_problem *written, const tw_water_guess *guess, tw_problem *to);

#endif
