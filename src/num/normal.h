/* num/normal.h: the standard normal distribution. Pure; same bits everywhere.
 * Relative error at most 1e-14 over the whole range, in both tails (tested against erfcl and GSL). */
#ifndef TW_NUM_NORMAL_H
#define TW_NUM_NORMAL_H

/* Density exp(-x^2/2)/sqrt(2 pi). 0 for +-inf, NaN for NaN. */
double tw_normal_pdf(double x);

/* P(Z <= x). Keeps its relative accuracy in the lower tail: cdf(-37) is 5.7e-300, not 0.
 * For an upper tail call it with -x: 1 - cdf(x) would cancel. */
double tw_normal_cdf(double x);

/* ln P(Z <= x), finite for every finite x (cdf itself is 0 below -38.6). */
double tw_normal_log_cdf(double x);

/* P(low < Z <= high) without cancellation: computed in whichever tail both ends lie.
 * low >= high gives 0; -inf and +inf are allowed as open ends. */
double tw_normal_interval(double low, double high);

/* The x with P(Z <= x) = p (Wichura 1988, algorithm AS 241; 1e-15 relative).
 * p = 0 gives -inf, 1 gives +inf, outside 0..1 gives NaN. */
double tw_normal_quantile(double p);

#endif
