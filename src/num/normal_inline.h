/* num/normal_inline.h: the normal distribution in branch-free form, for likelihood loops.
 *
 * Same map as num/normal.c with a shorter polynomial: P(Z > x) = e^(-x^2/2) M(x), x >= 0, where
 * (x + a) M(x) is smooth in t = (x - a)/(x + a). Relative error below 1e-10 in both tails for
 * |x| <= 10 (below 1e-12 + 1e-16 x^2 more beyond), absolute error below 4e-11. Vectorises as
 * num/elementary_inline.h does. Not bit-equal to tw_normal_cdf, but the same bits everywhere. */
#ifndef TW_NUM_NORMAL_INLINE_H
#define TW_NUM_NORMAL_INLINE_H

#include "num/elementary_inline.h"

typedef struct {
    double cdf;   /* P(Z <= x)                        */
    double upper; /* P(Z > x), without cancellation   */
    double pdf;   /* density                          */
} tw_normal_point;

/* All three at a finite x. Beyond |x| = 37.6 the tail stays at its value there (about 1e-309). */
static inline tw_normal_point tw_normal_lane(double x)
{
    const double size = tw_size_of(x);
    const double sum = size + TW_MILLS_A;
    const double t = (size - TW_MILLS_A) / sum;
    const double t2 = t * t;
    const double t4 = t2 * t2;
    const double a = (TW_MILLS_LANE_0 + TW_MILLS_LANE_1 * t) + (TW_MILLS_LANE_2 + TW_MILLS_LANE_3 * t) * t2;
    const double b = (TW_MILLS_LANE_4 + TW_MILLS_LANE_5 * t) + (TW_MILLS_LANE_6 + TW_MILLS_LANE_7 * t) * t2;
    const double c = (TW_MILLS_LANE_8 + TW_MILLS_LANE_9 * t) + (TW_MILLS_LANE_10 + TW_MILLS_LANE_11 * t) * t2;
    const double d = (TW_MILLS_LANE_12 + TW_MILLS_LANE_13 * t) + TW_MILLS_LANE_14 * t2;
    const double mills = ((a + b * t4) + (c + d * t4) * (t4 * t4)) / sum;
    const double bell = tw_exp_lane(-0.5 * size * size);
    const double tail = bell * mills;
    const double rest = 1.0 - tail;
    tw_normal_point out;
    out.cdf = tw_if_negative(x, tail, rest);
    out.upper = tw_if_negative(x, rest, tail);
    out.pdf = bell * TW_INV_SQRT_2PI;
    return out;
}

/* P(Z <= x) alone. */
static inline double tw_normal_cdf_lane(double x)
{
    return tw_normal_lane(x).cdf;
}

#endif
