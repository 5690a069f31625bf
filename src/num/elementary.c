/* num/elementary.c: exp, log and their neighbours at 0, with every edge case. The kernels, shared
 * with the forms for loops, stand in num/elementary_inline.h. */
#include "num/elementary.h"

#include <float.h>
#include <stdint.h>

#include "num/elementary_inline.h"

/* What the promise of equal bits rests on. */
_Static_assert(FLT_EVAL_METHOD == 0, "doubles must be computed as doubles");
#ifdef __FAST_MATH__
#error "fast-math changes results; build without it"
#endif

static double infinity_of(int negative)
{
    return tw_of_bits(negative ? UINT64_C(0xFFF0000000000000) : UINT64_C(0x7FF0000000000000));
}

/* One quiet NaN for all, so that no sign or payload of a processor's own choice gets into a hash. */
static double not_a_number(void)
{
    return tw_of_bits(UINT64_C(0x7FF8000000000000));
}

int tw_is_finite(double x)
{
    return (tw_bits_of(x) & UINT64_C(0x7FF0000000000000)) != UINT64_C(0x7FF0000000000000);
}

double tw_exp_sum(double high, double low)
{
    if (high != high || low != low)
        return not_a_number();
    if (high > 709.79)
        return infinity_of(0);
    if (high < -745.2)
        return 0.0;
    const tw_exp_reduced at = tw_exp_reduce(high, low);
    const double m = tw_exp_mantissa(at);
    /* 2^k in two factors, so that each is a normal number and a subnormal result rounds once. */
    const int32_t k = (int32_t)at.k;
    const int32_t first = k / 2;
    const double a = tw_of_bits((uint64_t)(int64_t)(1023 + first) << 52);
    const double b = tw_of_bits((uint64_t)(int64_t)(1023 + k - first) << 52);
    return m * a * b;
}

double tw_exp(double x)
{
    if (x >= TW_EXP_LANE_MIN && x <= TW_EXP_LANE_MAX)
        return tw_exp_inside(x);
    return tw_exp_sum(x, 0.0);
}

double tw_expm1(double x)
{
    if (x != x)
        return not_a_number();
    if (x == 0.0)
        return x;
    if (x > 708.0)
        return tw_exp(x);
    return tw_expm1_lane(x);
}

double tw_log(double x)
{
    if (x >= 0x1p-1022 && x <= 0x1.fffffffffffffp1023)
        return tw_log_lane(x);
    if (x > 0x1p1000)
        return x; /* infinite */
    if (x == 0.0)
        return infinity_of(1);
    if (!(x > 0.0))
        return not_a_number();
    double k;
    const double m = tw_log_split(x * 0x1p54, &k); /* subnormal: exact scaling first */
    return tw_log_kernel(m - 1.0, 0.0, k - 54.0);
}

double tw_log1p(double x)
{
    if (x == 0.0)
        return x;
    if (x > -1.0 && x < 0x1p1000)
        return tw_log1p_lane(x);
    if (x == -1.0)
        return infinity_of(1);
    return tw_log(x); /* NaN, below -1, or so large that 1 is nothing */
}
