/* num/normal.c: the normal distribution, its tails and its inverse.
 *
 * The upper tail is P(Z > x) = e^(-x^2/2) M(x), x >= 0. M falls like 1/x, and (x + a) M(x) is
 * smooth in t = (x - a)/(x + a) over the whole half line (the map of Shepherd and Laframboise
 * 1981 for erfc), so one polynomial serves everywhere; its coefficients are our own. */
#include "num/normal.h"

#include <math.h>

#include "num/elementary.h"
#include "num/normal_inline.h"

/* e^(-x^2/2). x^2/2 reaches 722, where half an ulp is 6e-14: the square is split in two parts. */
static double bell(double x)
{
    if (x > 40.0 || x < -40.0)
        return 0.0;
    const double wide = (x + 0x1.8p32) - 0x1.8p32; /* to a multiple of 2^-20, so its square is exact */
    const double rest = (x - wide) * (x + wide);
    return tw_exp_sum(-0.5 * wide * wide, -0.5 * rest);
}

/* M(x), x >= 0 finite. */
static double mills(double x)
{
    static const double C[TW_MILLS_TERMS] = {
        TW_MILLS_0,  TW_MILLS_1,  TW_MILLS_2,  TW_MILLS_3,  TW_MILLS_4,  TW_MILLS_5,
        TW_MILLS_6,  TW_MILLS_7,  TW_MILLS_8,  TW_MILLS_9,  TW_MILLS_10, TW_MILLS_11,
        TW_MILLS_12, TW_MILLS_13, TW_MILLS_14, TW_MILLS_15, TW_MILLS_16, TW_MILLS_17,
        TW_MILLS_18, TW_MILLS_19, TW_MILLS_20, TW_MILLS_21, TW_MILLS_22, TW_MILLS_23};
    const double sum = x + TW_MILLS_A;
    const double t = (x - TW_MILLS_A) / sum;
    double value = C[TW_MILLS_TERMS - 1];
    for (int i = TW_MILLS_TERMS - 2; i >= 0; i--)
        value = value * t + C[i];
    return value / sum;
}

/* P(Z > x), x >= 0 */
static double tail(double x)
{
    return x > 40.0 ? 0.0 : bell(x) * mills(x);
}

double tw_normal_pdf(double x)
{
    return x != x ? x : bell(x) * TW_INV_SQRT_2PI;
}

double tw_normal_cdf(double x)
{
    if (x != x)
        return x;
    return x <= 0.0 ? tail(-x) : 1.0 - tail(x);
}

double tw_normal_log_cdf(double x)
{
    if (x != x || x < -0x1.fffffffffffffp1023)
        return x; /* NaN and -infinity */
    if (x > 0.0)
        return tw_log1p(-tail(x));
    if (x < -1e100)
        return -0.5 * x * x; /* M no longer counts; may overflow to -infinity, as it should */
    return tw_log(mills(-x)) - 0.5 * x * x;
}

/* P(low < Z <= high) of a narrow interval: density at low times Gauss's six-point mean of
 * e^(-(low t + t^2/2)), t from low. Differences of the tails would cancel here, and the middle of
 * the interval, rounded, would already be 1e-14 off in the tails. */
static double narrow(double low, double high)
{
    static const double NODE[3] = {TW_GAUSS_NODE_0, TW_GAUSS_NODE_1, TW_GAUSS_NODE_2};
    static const double WEIGHT[3] = {TW_GAUSS_WEIGHT_0, TW_GAUSS_WEIGHT_1, TW_GAUSS_WEIGHT_2};
    const double half = 0.5 * (high - low);
    double sum = 0.0;
    for (int i = 0; i < 3; i++) {
        const double near_low = half * (1.0 - NODE[i]);
        const double near_high = half * (1.0 + NODE[i]);
        const double first = tw_exp(-near_low * (low + 0.5 * near_low));
        const double second = tw_exp(-near_high * (low + 0.5 * near_high));
        sum += WEIGHT[i] * (first + second);
    }
    return tw_normal_pdf(low) * half * sum;
}

double tw_normal_interval(double low, double high)
{
    if (low != low || high != high)
        return low != low ? low : high; /* not their sum: which NaN that gives is a processor's choice */
    if (low >= high)
        return 0.0;
    /* Up to these widths Gauss's rule errs by less than 1e-16; beyond them the ends differ by half
     * of the larger tail or more. */
    if (high - low < 0.36 && (high - low) * (fabs(low) + fabs(high)) < 1.5)
        return narrow(low, high);
    if (low >= 0.0)
        return tail(low) - tail(high);
    if (high <= 0.0)
        return tail(-high) - tail(-low);
    return 1.0 - (tail(-low) + tail(high));
}

/* The third ratio of AS 241 (num/normal_inline.h), which one draw in 10^10 needs. */
static double as241(double p)
{
    static const double E[8] = {6.65790464350110377720e0, 5.46378491116411436990e0,
                                1.78482653991729133580e0, 2.96560571828504891230e-1,
                                2.65321895265761230930e-2, 1.24266094738807843860e-3,
                                2.71155556874348757815e-5, 2.01033439929228813265e-7};
    static const double F[8] = {1.0, 5.99832206555887937690e-1,
                                1.36929880922735805310e-1, 1.48753612908506148525e-2,
                                7.86869131145613259100e-4, 1.84631831751005468180e-5,
                                1.42151175831644588870e-7, 2.04426310338993978564e-15};
    const double q = p - 0.5;
    if (fabs(q) <= TW_AS241_SPLIT)
        return q * tw_as241_ratio(TW_AS241_A, TW_AS241_B, 0.180625 - q * q);
    const double r = sqrt(-tw_log(q < 0.0 ? p : 1.0 - p));
    const double size = r <= TW_AS241_FAR ? tw_as241_ratio(TW_AS241_C, TW_AS241_D, r - 1.6) : tw_as241_ratio(E, F, r - TW_AS241_FAR);
    return q < 0.0 ? -size : size;
}

double tw_normal_quantile(double p)
{
    if (!(p >= 0.0 && p <= 1.0))
        return tw_log(-1.0); /* NaN */
    if (p == 0.0)
        return tw_log(0.0);
    if (p == 1.0)
        return -tw_log(0.0);
    return as241(p);
}
