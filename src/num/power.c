/* num/power.c: logarithms in two parts, and what needs them: log10, 10^x and x^y.
 *
 * An error e in y log(x) is a relative error e in x^y, and y log(x) goes up to 709, so the
 * logarithm is carried as high + low with about 64 good bits. Exact products without fused
 * multiply-add: Dekker 1971, "A floating-point technique for extending the available precision". */
#include <stdint.h>

#include "num/elementary.h"
#include "num/elementary_inline.h"

typedef struct {
    double high, low;
} two;

static two exact_sum(double a, double b)
{
    const double sum = a + b;
    const double back = sum - a;
    const two out = {sum, (a - (sum - back)) + (b - back)};
    return out;
}

/* |a| >= |b| */
static two ordered_sum(double a, double b)
{
    const double sum = a + b;
    const two out = {sum, b - (sum - a)};
    return out;
}

/* a b exactly, for |a|, |b| < 2^990 and a product that is far from subnormal. */
static two exact_product(double a, double b)
{
    const double splitter = 134217729.0; /* 2^27 + 1 */
    const double a_wide = a * splitter;
    const double a_high = a_wide - (a_wide - a);
    const double a_low = a - a_high;
    const double b_wide = b * splitter;
    const double b_high = b_wide - (b_wide - b);
    const double b_low = b - b_high;
    const double product = a * b;
    const two out = {product,
                     ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low};
    return out;
}

static two product(two a, two b)
{
    const two high = exact_product(a.high, b.high);
    return ordered_sum(high.high, high.low + (a.high * b.low + a.low * b.high));
}

/* log(x) for positive finite x, relative error below 2^-62.
 * log(1+f) = 2 s (1 + z (1/3 + z T(z))), z = s^2; s and the part up to 1/3 in two parts. */
static two log_two(double x)
{
    double k, scaled = 0.0;
    if (x < 0x1p-1022) {
        x *= 0x1p54;
        scaled = 54.0;
    }
    const double f = tw_log_split(x, &k) - 1.0;
    k -= scaled;

    const two d = ordered_sum(2.0, f);
    const double s_high = f / d.high;
    const two back = exact_product(s_high, d.high);
    const double s_low = (((f - back.high) - back.low) - s_high * d.low) / d.high;
    const two s = ordered_sum(s_high, s_low);
    const two z = product(s, s);

    const double zh = z.high;
    const double t = TW_LOGL_0 + zh * (TW_LOGL_1 + zh * (TW_LOGL_2 + zh * (TW_LOGL_3 + zh * (TW_LOGL_4
                   + zh * (TW_LOGL_5 + zh * (TW_LOGL_6 + zh * TW_LOGL_7))))));
    two w = ordered_sum(1.0 / 3.0, zh * t);
    w.low += TW_THIRD_LOW;
    const two sw = product(s, product(z, w));
    const two half = ordered_sum(s.high, sw.high);
    const two m = ordered_sum(2.0 * half.high, 2.0 * (half.low + (s.low + sw.low)));

    const two sum = exact_sum(k * TW_LN2_HIGH, m.high);
    return ordered_sum(sum.high, sum.low + (m.low + k * TW_LN2_LOW));
}

double tw_log10(double x)
{
    if (!(x > 0.0) || !tw_is_finite(x))
        return tw_log(x); /* the limits are those of log */
    const two inverse = {TW_INV_LN10_HIGH, TW_INV_LN10_LOW};
    const two out = product(log_two(x), inverse);
    return out.high + out.low;
}

double tw_pow10(double x)
{
    if (x != x || x > 309.0 || x < -324.0)
        return tw_exp(x * TW_LN10_HIGH);
    if (x < 0x1p-60 && x > -0x1p-60)
        return 1.0; /* and no products of subnormals below */
    const two at = exact_product(x, TW_LN10_HIGH);
    const double low = at.low + x * TW_LN10_LOW;
    return tw_exp_sum(at.high, low);
}

double tw_pow(double x, double y)
{
    if (y == 0.0 || x == 1.0)
        return 1.0;
    if (x != x || y != y || x < 0.0)
        return tw_log(-1.0);
    if (x == 0.0)
        return y > 0.0 ? 0.0 : tw_exp(1000.0);
    if (!tw_is_finite(x))
        return y > 0.0 ? x : 0.0;
    const two at = log_two(x);
    const double size = at.high * y; /* the sign and, beyond the range, the answer */
    if (size > 710.0 || size < -746.0)
        return tw_exp(size);
    if (size < 0x1p-60 && size > -0x1p-60)
        return 1.0 + size;
    const two exponent = exact_product(at.high, y);
    return tw_exp_sum(exponent.high, exponent.low + at.low * y);
}
