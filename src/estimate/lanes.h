/* estimate/lanes.h: one member a lane. Plain arrays of TW_ESTIMATE_LANES doubles that the compiler turns
 * into vectors; no sum ever crosses lanes, so 2, 4 and 8 lanes give the same bits. Internal. */
#ifndef TW_ESTIMATE_LANES_H
#define TW_ESTIMATE_LANES_H

#include <math.h>

#include "num/elementary_inline.h"

#ifndef TW_ESTIMATE_LANES
#define TW_ESTIMATE_LANES 8
#endif

/* A function over lanes is made for three generations of processors, and the loader takes what is there.
 * The bits are the same: each lane does the same operations in the same order, never fused. Everything
 * that it calls for every lane is inlined, or is made three times as well. */
#if defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
/* A function made three times. */
#define TW_WIDE __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
/* What such a function calls for its lanes. */
#define TW_INLINE static inline __attribute__((always_inline))
#else
#define TW_WIDE                 /* made once: the compiler or the processor knows no other way */
#define TW_INLINE static inline /* the compiler's own choice                                   */
#endif

/* One number for each member of a lane group. Aligned to itself: a vector that lies over the border of two lines of the cache
 * costs two accesses. */
typedef struct {
    _Alignas(TW_ESTIMATE_LANES * sizeof(double)) double v[TW_ESTIMATE_LANES];
} tw_lanes;

/* A loop over the lanes. */
#define TW_EACH_LANE(l) for (int l = 0; l < TW_ESTIMATE_LANES; l++)

/* The same number in every lane. */
TW_INLINE tw_lanes tw_lanes_of(double x)
{
    tw_lanes r;
    TW_EACH_LANE(l) r.v[l] = x;
    return r;
}

/* e^x, lane by lane. */
TW_INLINE tw_lanes tw_lanes_exp(tw_lanes x)
{
    tw_lanes r;
    TW_EACH_LANE(l) r.v[l] = tw_exp_lane(x.v[l]);
    return r;
}

/* ln x, lane by lane. */
TW_INLINE tw_lanes tw_lanes_log(tw_lanes x)
{
    tw_lanes r;
    TW_EACH_LANE(l) r.v[l] = tw_log_lane(x.v[l]);
    return r;
}

/* e = exp(-z), f = (1 - exp(-z))/z, df = f'(z) = (e - f)/z. Under 0.3 the quotient f would lose digits: there its series is
 * that of the exponential, which has been added up anyway; df is for gradients, and loses them under 0.001 only. Written without
 * branches: a computed arm of a ?: would keep the loop from being a vector loop, so the choice is a factor 0 or 1 and both
 * ways are always computed from harmless arguments. */
TW_INLINE void tw_lanes_decay(tw_lanes z, tw_lanes *e, tw_lanes *f, tw_lanes *df)
{
    tw_lanes ev, fv, dv, near, tiny;
    TW_EACH_LANE(l) fv.v[l] = tw_exp_over_lane(-z.v[l], &ev.v[l]);
    TW_EACH_LANE(l) near.v[l] = fabs(z.v[l]) < 0.3 ? 1.0 : 0.0;
    TW_EACH_LANE(l) tiny.v[l] = fabs(z.v[l]) < 1e-3 ? 1.0 : 0.0;
    TW_EACH_LANE(l)
    {
        const double x = z.v[l], ex = ev.v[l], small = tiny.v[l], series = near.v[l], y = small * x;
        const double inv = 1.0 / (x + small);
        const double quotient = series * fv.v[l] + (1.0 - series) * ((1.0 - ex) * inv);
        fv.v[l] = quotient;
        dv.v[l] = small * (y * (1.0 / 3.0 - 0.125 * y) - 0.5) + (1.0 - small) * ((ex - quotient) * inv);
    }
    *e = ev;
    *f = fv;
    *df = dv;
}

/* Of what flows in evenly during a stretch in which a part x of it would be used up in that time: the share that goes in before
 * the using, so that as much is left at the end as there would be; the rest goes in after it. Exactly 1/(1 - e^-x) - 1/x; this
 * rational function lies within 0.009 of it for all x >= 0, and at 0 and far out it and its slope are the same. */
TW_INLINE double tw_share_before(double x)
{
    return (x * (x + 10.0 / 3.0) + 7.0) / (x * (x + 13.0 / 3.0) + 14.0);
}

/* Distribution of the standard normal, absolute error under 8e-8 (Abramowitz and Stegun 1964,
 * 26.2.17): the chance of rubbish floors every likelihood far above that. slope is the derivative of
 * this formula, not the exact density, so that gradients belong to the function that is used. */
TW_INLINE void tw_lanes_normal(tw_lanes x, tw_lanes *cdf, tw_lanes *slope)
{
    tw_lanes c, d;
    TW_EACH_LANE(l) d.v[l] = tw_exp_lane(-0.5 * x.v[l] * x.v[l]);
    TW_EACH_LANE(l)
    {
        const double a = fabs(x.v[l]);
        const double side = x.v[l] < 0.0 ? -1.0 : 1.0;
        const double t = 1.0 / (1.0 + 0.2316419 * a);
        const double p = 0.3989422804014327 * d.v[l];
        const double b1 = 0.319381530, b2 = -0.356563782, b3 = 1.781477937, b4 = -1.821255978,
                     b5 = 1.330274429;
        const double q = p * t * (b1 + t * (b2 + t * (b3 + t * (b4 + t * b5))));
        const double by_t = b1 + t * (2.0 * b2 + t * (3.0 * b3 + t * (4.0 * b4 + t * 5.0 * b5)));
        c.v[l] = 0.5 + side * (0.5 - q);
        d.v[l] = a * q + p * by_t * (0.2316419 * t * t);
    }
    *cdf = c;
    *slope = d;
}

#endif
