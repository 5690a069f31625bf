/* num/elementary.h: exponential and logarithm with the same bits on every machine.
 *
 * libm's versions differ by processor and platform; these use only + - * / and moves of bits, so
 * gcc, clang and WebAssembly agree to the last bit (compile with -ffp-contract=off). Pure.
 * Every function is within 1 ulp of the true value over its whole range (tested against long
 * double); NaN gives NaN, and the limits of IEEE 754 hold (listed at each function).
 * Loops over arrays: num/elementary_inline.h has branch-free forms with the same bits. */
#ifndef TW_NUM_ELEMENTARY_H
#define TW_NUM_ELEMENTARY_H

#define TW_LN2 0.693147180559945309417232121458 /* natural logarithm of 2  */
#define TW_LN10 2.30258509299404568401799145468 /* natural logarithm of 10 */
#define TW_PI 3.14159265358979323846264338328

/* e^x. +inf above 709.78, subnormal below -708.39, 0 below -745.14; exp(+-0) = 1. */
double tw_exp(double x);

/* e^x - 1 without cancellation near 0. expm1(+-0) = +-0, -inf gives -1. */
double tw_expm1(double x);

/* Natural logarithm. log(+-0) = -inf, x < 0 gives NaN, log(1) = +0; subnormals are exact. */
double tw_log(double x);

/* log(1 + x) without cancellation near 0. log1p(+-0) = +-0, log1p(-1) = -inf, x < -1 gives NaN. */
double tw_log1p(double x);

/* Logarithm to base 10; exact at powers of ten. Limits as tw_log. */
double tw_log10(double x);

/* 10^x; exact at whole x in 0..22. x*ln 10 is carried in two parts, so nothing is lost at large x. */
double tw_pow10(double x);

/* x^y for x >= 0. pow(x, 0) = pow(1, y) = 1 (also beside NaN); pow(0, y) is 0 for y > 0 and +inf
 * for y < 0; pow(inf, y) the reverse; x < 0 (not -0) gives NaN: this program needs no negative bases. */
double tw_pow(double x, double y);

/* Advanced: e^(high + low), low a small part (|low| < 2^-20 |high| or so) that carries what rounding
 * cut off high. Limits as tw_exp. For exponents known to more than 53 bits. */
double tw_exp_sum(double high, double low);

/* True unless x is NaN or infinite. */
int tw_is_finite(double x);

#endif
