/* num/elementary_inline.h: branch-free forms of exp, log, expm1 and log1p for loops over arrays.
 *
 * Written so that a plain loop `for (i = 0; i < n; i++) y[i] = tw_exp_lane(x[i]);` becomes vector
 * code: gcc at -O3, or at -O2 when n is a constant multiple of the vector (blocks of TW_LANES) and
 * the arrays are restrict; clang at -O2. Only + - * / and moves of bits, no tables, no extensions. In its range each gives
 * the very bits of the scalar function in num/elementary.h, which is built on the same kernels.
 *
 * Method: exp by Cody and Waite's reduction x = k ln 2 + r and a polynomial; log by
 * x = 2^k (1+f), s = f/(2+f), log(1+f) = 2 atanh(s). Polynomials: num/coefficients.h.
 * Every rounding rests on round-to-nearest doubles without contraction (-ffp-contract=off). */
#ifndef TW_NUM_ELEMENTARY_INLINE_H
#define TW_NUM_ELEMENTARY_INLINE_H

#include <stdint.h>
#include <string.h>

#include "num/coefficients.h"

#define TW_LANES 8 /* block length for loops that should vectorise at gcc -O2 too */

/* Ends of the range in which e^x is a normal number. */
#define TW_EXP_LANE_MIN (-708.39641853226408)
#define TW_EXP_LANE_MAX 709.78271289338397

/* The bits of a double, and the double of bits. */
static inline uint64_t tw_bits_of(double x)
{
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* The double that has these bits. */
static inline double tw_of_bits(uint64_t bits)
{
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

/* then if the sign bit of test is set, else otherwise. A choice by masks: gcc makes no vector code
 * of a choice by comparison, since comparing a NaN could trap. */
static inline double tw_if_negative(double test, double then, double otherwise)
{
    const uint64_t mask = UINT64_C(0) - (tw_bits_of(test) >> 63);
    return tw_of_bits((tw_bits_of(then) & mask) | (tw_bits_of(otherwise) & ~mask));
}

/* |x|, by clearing the sign bit. */
static inline double tw_size_of(double x)
{
    return tw_of_bits(tw_bits_of(x) & UINT64_C(0x7FFFFFFFFFFFFFFF));
}

/* x + low = k ln 2 + r + c, c what rounding cut off r. k is k_from / ln 2 rounded (k_from is x, so
 * |r| <= ln 2 / 2, except in expm1): adding 1.5 * 2^52 rounds and leaves k in the low bits. */
typedef struct {
    double r, c, k;
    uint64_t k_bits;
} tw_exp_reduced;

static inline tw_exp_reduced tw_exp_reduce_by(double x, double low, double k_from)
{
    const double shift = 0x1.8p52;
    const double shifted = k_from * TW_INV_LN2 + shift;
    const double k = shifted - shift;
    const double high = x - k * TW_LN2_HIGH; /* exact: LN2_HIGH has 32 bits */
    const double tail = k * TW_LN2_LOW - low;
    const double r = high - tail;
    const double c = (high - r) - tail;
    const tw_exp_reduced out = {r, c, k, tw_bits_of(shifted)};
    return out;
}

/* The same where the number that is shifted is x itself. */
static inline tw_exp_reduced tw_exp_reduce(double x, double low)
{
    return tw_exp_reduce_by(x, low, x);
}

/* (e^r - 1 - r - r^2/2)/r^3, |r| <= 0.42, in Estrin's order; r2 is r^2. */
static inline double tw_exp_series(double r, double r2)
{
    const double r4 = r2 * r2;
    const double a = (TW_EXP_0 + TW_EXP_1 * r) + (TW_EXP_2 + TW_EXP_3 * r) * r2;
    const double b = (TW_EXP_4 + TW_EXP_5 * r) + (TW_EXP_6 + TW_EXP_7 * r) * r2;
    const double d = TW_EXP_8 + TW_EXP_9 * r;
    return a + (b + d * r4) * r4;
}

/* e^r - 1 - r - r^2/2 there. */
static inline double tw_exp_rest(double r, double r2)
{
    return (r * r2) * tw_exp_series(r, r2);
}

/* e^(r+c) in 0.7..1.42 from r^2 and tw_exp_rest(r): 1 + r is split into its rounded sum and what that lost, so that only the
 * last addition rounds at full size. */
static inline double tw_exp_mantissa_with(tw_exp_reduced at, double r2, double rest)
{
    const double sum = 1.0 + at.r;
    const double lost = at.r - (sum - 1.0);
    return sum + (lost + (at.c * sum + (0.5 * r2 + rest)));
}

/* e^(r+c) in 0.7..1.42. */
static inline double tw_exp_mantissa(tw_exp_reduced at)
{
    const double r2 = at.r * at.r;
    return tw_exp_mantissa_with(at, r2, tw_exp_rest(at.r, r2));
}

/* e^x where it is a normal number; the caller keeps x between the two ends. */
static inline double tw_exp_inside(double x)
{
    const tw_exp_reduced at = tw_exp_reduce(x, 0.0);
    return tw_of_bits(tw_bits_of(tw_exp_mantissa(at)) + (at.k_bits << 52));
}

/* x, and beyond the ends of the range the end. x not NaN. */
static inline double tw_exp_within(double x)
{
    const double above = tw_if_negative(x - TW_EXP_LANE_MIN, TW_EXP_LANE_MIN, x);
    return tw_if_negative(TW_EXP_LANE_MAX - above, TW_EXP_LANE_MAX, above);
}

/* e^x for TW_EXP_LANE_MIN <= x <= TW_EXP_LANE_MAX; beyond them the value at the end. x not NaN. */
static inline double tw_exp_lane(double x)
{
    return tw_exp_inside(tw_exp_within(x));
}

/* (e^x - 1)/x where |x| <= 0.34 (error under 2 ulp), elsewhere a number without meaning; *e becomes tw_exp_lane(x). */
static inline double tw_exp_over_lane(double x, double *e)
{
    const tw_exp_reduced at = tw_exp_reduce(tw_exp_within(x), 0.0);
    const double r2 = at.r * at.r, series = tw_exp_series(at.r, r2);
    const double mantissa = tw_exp_mantissa_with(at, r2, (at.r * r2) * series);
    *e = tw_of_bits(tw_bits_of(mantissa) + (at.k_bits << 52));
    return 1.0 + (0.5 * at.r + r2 * series);
}

/* e^x - 1 for |x| <= 708, beyond it the value at the end. x not NaN; -0 gives +0.
 * e^x - 1 = 2^k p + (2^k - 1) with p = e^r - 1 in two parts. k is 0 up to |x| = 0.41, where k = 1
 * would cancel half of the digits of p. */
static inline double tw_expm1_lane(double x)
{
    const double above = tw_if_negative(x + 708.0, -708.0, x);
    const double inside = tw_if_negative(708.0 - above, 708.0, above);
    const double k_from = tw_if_negative(tw_size_of(inside) - 0.41, 0.0, inside);
    const tw_exp_reduced at = tw_exp_reduce_by(inside, 0.0, k_from);
    /* r^2/2 = wide^2/2 exactly, wide being r to a multiple of 2^-26, plus a small part. */
    const double wide = (at.r + 0x1.8p26) - 0x1.8p26;
    const double half = 0.5 * wide * wide;
    const double small = 0.5 * (at.r - wide) * (at.r + wide) + tw_exp_rest(at.r, at.r * at.r);
    const double p = at.r + half;
    const double p_lost = (half - (p - at.r)) + (at.c * (1.0 + at.r) + small); /* |r| > half */
    const double scale = tw_of_bits(UINT64_C(0x3FF0000000000000) + (at.k_bits << 52));
    const double a = scale * p;
    const double b = scale - 1.0;
    const double b_lost = tw_if_negative(scale - 1.0, scale - (b + 1.0), (scale - b) - 1.0);
    const double sum = a + b; /* Knuth's exact sum: what it lost is found for any order of sizes */
    const double back = sum - a;
    const double sum_lost = (a - (sum - back)) + (b - back);
    return sum + (sum_lost + (b_lost + scale * p_lost));
}

/* x = 2^k m, m in sqrt(1/2)..sqrt(2), for positive normal x; k comes as a double. */
static inline double tw_log_split(double x, double *k)
{
    /* Moving the exponent so that sqrt(1/2) becomes the lower end; 2^52 + n is the double with
     * the bits 0x433... | n, which turns the whole number n into a double without a conversion. */
    const uint64_t low = UINT64_C(0x3FE6A09E667F3BCD);
    const uint64_t moved = tw_bits_of(x) + (UINT64_C(0x3FF0000000000000) - low);
    const uint64_t exponent = moved >> 52;
    *k = tw_of_bits(exponent | UINT64_C(0x4330000000000000)) - (0x1p52 + 1023.0);
    return tw_of_bits((moved & UINT64_C(0x000FFFFFFFFFFFFF)) + low);
}

/* k ln 2 + log(1+f) + c, f in sqrt(1/2)-1..sqrt(2)-1, c tiny. log(1+f) = f - h + s (h + R(s^2))
 * with h = f^2/2; f - h and the sum with k ln 2 are kept with what their rounding lost. */
static inline double tw_log_kernel(double f, double c, double k)
{
    const double s = f / (2.0 + f);
    const double z = s * s;
    const double z2 = z * z;
    const double a = (TW_LOG_0 + TW_LOG_1 * z) + (TW_LOG_2 + TW_LOG_3 * z) * z2;
    const double b = (TW_LOG_4 + TW_LOG_5 * z) + TW_LOG_6 * z2;
    const double rest = z * (a + b * (z2 * z2));
    const double h = 0.5 * f * f;
    const double m = f - h;
    const double m_lost = (f - m) - h; /* |f| > h */
    const double big = k * TW_LN2_HIGH;
    const double sum = big + m; /* |big| > |m| unless k = 0, and then nothing is lost */
    const double sum_lost = m - (sum - big);
    return sum + (sum_lost + (m_lost + (s * (h + rest) + (k * TW_LN2_LOW + c))));
}

/* log(x) for positive normal finite x. */
static inline double tw_log_lane(double x)
{
    double k;
    const double m = tw_log_split(x, &k);
    return tw_log_kernel(m - 1.0, 0.0, k);
}

/* log(1 + x) for -1 < x < 2^1000. -0 gives +0. 1 + x is rounded; what that lost goes in as c. */
static inline double tw_log1p_lane(double x)
{
    const double u = 1.0 + x;
    const double back = u - x;
    const double lost = (1.0 - back) + (x - (u - back));
    double k;
    const double m = tw_log_split(u, &k);
    const double zero_k = tw_size_of(k) - 0.5; /* negative when k = 0: x itself is f */
    const double f = tw_if_negative(zero_k, x, m - 1.0);
    const double c = tw_if_negative(zero_k, 0.0, lost / u);
    return tw_log_kernel(f, c, k);
}

#endif
