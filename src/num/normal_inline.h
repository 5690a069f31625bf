/* num/normal_inline.h: the normal distribution and its inverse in branch-free form, for loops over lanes.
 *
 * Same map as num/normal.c with a shorter polynomial: P(Z > x) = e^(-x^2/2) M(x), x >= 0, where
 * (x + a) M(x) is smooth in t = (x - a)/(x + a). Relative error below 1e-10 in both tails for
 * |x| <= 10 (below 1e-12 + 1e-16 x^2 more beyond), absolute error below 4e-11. Vectorises as
 * num/elementary_inline.h does. Not bit-equal to tw_normal_cdf, but the same bits everywhere. */
#ifndef TW_NUM_NORMAL_INLINE_H
#define TW_NUM_NORMAL_INLINE_H

#include <math.h>

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

/* Wichura, M. J. (1988), "Algorithm AS 241: the percentage points of the normal distribution",
 * Applied Statistics 37, 477-484, PPND16: three ratios of polynomials of degree 7. */
#define TW_AS241_SPLIT 0.425 /* of |p - 1/2|: the first ratio up to here */
#define TW_AS241_FAR 5.0     /* of sqrt(-ln p): the third from here on   */
static const double TW_AS241_A[8] = {3.3871328727963666080e0, 1.3314166789178437745e+2,
                                     1.9715909503065514427e+3, 1.3731693765509461125e+4,
                                     4.5921953931549871457e+4, 6.7265770927008700853e+4,
                                     3.3430575583588128105e+4, 2.5090809287301226727e+3};
static const double TW_AS241_B[8] = {1.0, 4.2313330701600911252e+1,
                                     6.8718700749205790830e+2, 5.3941960214247511077e+3,
                                     2.1213794301586595867e+4, 3.9307895800092710610e+4,
                                     2.8729085735721942674e+4, 5.2264952788528545610e+3};
static const double TW_AS241_C[8] = {1.42343711074968357734e0, 4.63033784615654529590e0,
                                     5.76949722146069140550e0, 3.64784832476320460504e0,
                                     1.27045825245236838258e0, 2.41780725177450611770e-1,
                                     2.27238449892691845833e-2, 7.74545014278341407640e-4};
static const double TW_AS241_D[8] = {1.0, 2.05319162663775882187e0,
                                     1.67638483018380384940e0, 6.89767334985100004550e-1,
                                     1.48103976427480074590e-1, 1.51986665636164571966e-2,
                                     5.47593808499534494600e-4, 1.05075007164441684324e-9};

/* One of them at r. */
static inline double tw_as241_ratio(const double over[8], const double under[8], double r)
{
    const double a = ((((((over[7] * r + over[6]) * r + over[5]) * r + over[4]) * r + over[3]) * r + over[2]) * r + over[1]) * r + over[0];
    const double b = ((((((under[7] * r + under[6]) * r + under[5]) * r + under[4]) * r + under[3]) * r + under[2]) * r + under[1]) * r + under[0];
    return a / b;
}

#define TW_QUANTILE_LANE_LEAST 2e-11 /* below it, and as near to 1, the third ratio counts */

/* tw_normal_quantile(p), to the bit, for TW_QUANTILE_LANE_LEAST <= p <= 1 - TW_QUANTILE_LANE_LEAST. */
static inline double tw_normal_quantile_lane(double p)
{
    const double q = p - 0.5;
    const double middle = q * tw_as241_ratio(TW_AS241_A, TW_AS241_B, 0.180625 - q * q);
    const double tail = tw_if_negative(q, p, 1.0 - p);
    const double size = tw_as241_ratio(TW_AS241_C, TW_AS241_D, sqrt(-tw_log_lane(tail)) - 1.6);
    return tw_if_negative(TW_AS241_SPLIT - tw_size_of(q), tw_if_negative(q, -size, size), middle);
}

#endif
