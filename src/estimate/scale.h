/* estimate/scale.h: calcium carbonate that falls out of water far over saturation. Internal to this room.
 *
 * Where the saturation index of calcite stands above TW_SCALE_INDEX, calcium and carbon go as one, alkalinity as two:
 *
 *     dP/dt = -rate * P                 P: what would fall out, mmol/kg, until the index is down to there
 *
 * exactly over any stretch; under it nothing happens, to the bit. The index is that of the water in the tub, of which the
 * trade's limit speaks and whose constants the pH has anyway. The skin of the heater, where most of it settles, stands 0.2
 * above it in every tub. Numbers and sources: data/scale.csv; the rate is a coordinate, one for each tub (data/priors.csv). */
#ifndef TW_ESTIMATE_SCALE_H
#define TW_ESTIMATE_SCALE_H

#include "estimate/carbonate.h"

/* Under so much of the product of the index, 0.1 below it, nothing is looked for before the next exchange with the air. */
#define TW_SCALE_NEAR 0.8

/* 1 in the lanes that are near the index, and over it, at this root. Returns whether some is over it. */
TW_INLINE int tw_estimate_scale_near(const tw_acid_constants *k, const tw_lanes *ca, const tw_lanes *h, const tw_lanes *co2,
                                     tw_lanes *near, tw_lanes *above)
{
    int some = 0;
    TW_EACH_LANE(l)
    {
        const double product = ca->v[l] * co2->v[l] * (k->k1 * k->k2), index = k->scale * (h->v[l] * h->v[l]);
        near->v[l] = product > TW_SCALE_NEAR * index ? 1.0 : 0.0;
        above->v[l] = product > index ? 1.0 : 0.0;
        some |= product > index;
    }
    return some;
}

/* What falls out in so many hours at this rate (1/h), mmol/kg, of water of these totals (mmol, meq/kg); h: an activity of H+ near theirs, where the
 * search begins; in lanes in which something falls out, that at the index when it returns. Zero with zero slopes where it does not
 * stand above, and where `where` is 0. slope may be NULL. */
void tw_estimate_scale(const tw_acid_constants *k, double hours, const tw_lanes *rate, const tw_lanes *ca, const tw_lanes *alk, const tw_lanes *dic,
                       const tw_acids *acid, const tw_lanes *where, tw_lanes *h, tw_lanes *amount, tw_scale_slope *slope);

#endif
