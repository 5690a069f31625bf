/* estimate/tails.h: from a coordinate of N(0,1) to how far a bottle, an instrument or a product is off.
 *
 * A normal knows no spoilt bottle and no bleach of last summer: with it five sure readings against a bottle move
 * the bottle half of the way. The shapes and their sources stand in data/tails.csv. Inside alone: the sampler and
 * what draws like it. */
#ifndef TW_ESTIMATE_TAILS_H
#define TW_ESTIMATE_TAILS_H

#include "estimate/lanes.h"
#include "gen/tail_tables.h"

/* z*(STRAIGHT + TAIL*z^2): at z = 1.6449 as far as the normal. */
#define TW_BIAS_STRAIGHT (1.0 - 2.705543454 * TW_TAIL_BOTTLE_OFF)

/* In the bias's sd. */
static inline double tw_estimate_bias_in_sd(double z)
{
    return z * (TW_BIAS_STRAIGHT + TW_TAIL_BOTTLE_OFF * z * z);
}

/* Its slope by z. */
static inline double tw_estimate_bias_slope(double z)
{
    return TW_BIAS_STRAIGHT + 3.0 * TW_TAIL_BOTTLE_OFF * z * z;
}

/* sd of a typed volume that means what it says, in the sd that is said: with the misread ones (a tenth, three times as wide)
 * the 90 % interval is as wide as said: 0.9*P(|z| > 1.645/0.851) + 0.1*P(|z| > 1.645/(3*0.851)) = 0.1. */
#define TW_VOLUME_NARROW 0.851

/* Where products bend towards their weak side, how sharply, and ln(1 + exp(-SHARP*FROM)), which keeps the middle. */
#define TW_PRODUCT_FROM 0.5
#define TW_PRODUCT_SHARP 3.0
#define TW_PRODUCT_MIDDLE 0.20141327798275247

/* ln strength in the product's sd, and its slope. */
TW_INLINE void tw_estimate_strength_in_sd(const tw_lanes *z, tw_lanes *out, tw_lanes *slope)
{
    tw_lanes e, ln;
    TW_EACH_LANE(l)
    {
        const double u = -TW_PRODUCT_SHARP * (z->v[l] + TW_PRODUCT_FROM);
        e.v[l] = u > 60.0 ? 60.0 : (u < -60.0 ? -60.0 : u);
    }
    e = tw_lanes_exp(e);
    TW_EACH_LANE(l) ln.v[l] = 1.0 + e.v[l];
    ln = tw_lanes_log(ln);
    TW_EACH_LANE(l)
    {
        out->v[l] = z->v[l] - TW_TAIL_PRODUCT_WEAK * (ln.v[l] - TW_PRODUCT_MIDDLE);
        slope->v[l] = 1.0 + TW_TAIL_PRODUCT_WEAK * TW_PRODUCT_SHARP * e.v[l] / (1.0 + e.v[l]);
    }
}

#endif
