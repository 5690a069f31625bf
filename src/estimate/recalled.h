/* estimate/recalled.h: a reading whose hour is not sure, as looks at the water at several hours. Internal to this room.
 *
 * Water left alone moves little in an hour, so an hour's error matters where something was done nearby: a reading that
 * was taken before the chlorine and is written as of after it says that there is little chlorine, much demand, a large
 * tub. Acts cut time into pieces. The reading is of its own piece, at three hours in it, or of another one, at the mean
 * hour there, with the probability of each under a normal around the hour that was written. */
#ifndef TW_ESTIMATE_RECALLED_H
#define TW_ESTIMATE_RECALLED_H

#include "estimate/events.h"

/* Add the looks of a reading of the tub, which must be the last one so far that has any, and set its own_share.
 *   sd_h            of the hour, above 0
 *   cut_h, cuts     hours of acts, rising, between from_h and until_h
 *   from_h, until_h it was surely read between these, at_h too
 * Nothing is added where no act may have been on the other side, or where there is no room. */
void tw_estimate_recalled(tw_problem *problem, size_t reading, double sd_h, const double *cut_h, size_t cuts, double from_h, double until_h);

#endif
