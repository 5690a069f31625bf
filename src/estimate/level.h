/* estimate/level.h: the water that evaporates, and how far its level is below the line. Internal to this room.
 *
 * The state of the sampler is of the tub filled to its line: kg of water at the line, and totals over that. Evaporation
 * takes water and leaves all that is dissolved, so nothing of it changes but the level: `low`, the share of the water
 * that is missing. What is read is more concentrated by 1/(1 - low). People fill up without writing it, the likelier the
 * lower the level stands:
 *
 *     d low/dt = f*e*(1 - low/most),        source water that comes in unseen: f*e*low/most of the tub's water
 *
 * with e the share that evaporates in an hour by the formula (level.c) and f the factor of this tub (TW_X_EVAPORATION:
 * its surface, its air, its cover), both exactly over any stretch. */
#ifndef TW_ESTIMATE_LEVEL_H
#define TW_ESTIMATE_LEVEL_H

#include <math.h>

#include "estimate/events.h"
#include "estimate/lanes.h"
#include "gen/evaporation_tables.h"

/* Share of the tub's water that would evaporate in an hour from open water by the formula, at 0..45 C. Source:
 * data/evaporation.csv; vapour pressure by Magnus' formula (Sonntag 1990). Never negative. */
double tw_estimate_open_evaporation_per_h(double temp_c);

/* 1: what is read of it is concentrated as the level falls. Chlorine and pH are left as they are: chlorine is used up
 * much faster than water evaporates, and alkalinity and carbon rising together hardly move the pH. */
static inline int tw_estimate_level_shows(int observed)
{
    return observed == TW_OBSERVED_ALKALINITY || (observed >= TW_OBSERVED_CALCIUM && observed <= TW_OBSERVED_BORATE);
}

/* Over an exposure (share of the water, by the formula): the new level; *refill: share that came in unseen. kept: for the
 * way back. */
TW_INLINE void tw_estimate_level_dry(double exposure, const tw_lanes *factor, tw_lanes *low, tw_lanes *refill, tw_lanes kept[2])
{
    const double most = TW_EVAPORATION_UNWRITTEN;
    TW_EACH_LANE(l) kept[0].v[l] = -factor->v[l] * exposure * (1.0 / most);
    kept[0] = tw_lanes_exp(kept[0]);
    TW_EACH_LANE(l)
    {
        const double room = most - low->v[l], now = most - room * kept[0].v[l];
        kept[1].v[l] = room;
        refill->v[l] = factor->v[l] * exposure - (now - low->v[l]);
        low->v[l] = now;
    }
}

/* Backwards: by_low is the derivative by the new level and becomes that by the old one. */
TW_INLINE void tw_estimate_level_back(double exposure, const tw_lanes kept[2], const tw_lanes *by_refill, tw_lanes *by_low, tw_lanes *by_factor)
{
    TW_EACH_LANE(l)
    {
        const double e = kept[0].v[l], by_now = by_low->v[l] - by_refill->v[l];
        by_factor->v[l] += exposure * (by_refill->v[l] + by_now * kept[1].v[l] * e * (1.0 / TW_EVAPORATION_UNWRITTEN));
        by_low->v[l] = by_now * e + by_refill->v[l];
    }
}

/* A top-up of which nobody knows why: the share of it that had evaporated, as far as the level says so (a rounded
 * minimum of 1 and low*water/in), and its slope by that ratio. */
TW_INLINE tw_lanes tw_estimate_level_share(const tw_lanes *low, const tw_lanes *water, double in_kg, tw_lanes *slope)
{
    tw_lanes share;
    TW_EACH_LANE(l)
    {
        const double r = low->v[l] * water->v[l] / in_kg, r2 = r * r, whole = 1.0 + r2 * r2, root = sqrt(sqrt(whole));
        share.v[l] = r / root;
        slope->v[l] = 1.0 / (root * whole);
    }
    return share;
}

#endif
