/* The normal distribution against erfcl of the C library's long double, and against laws. */
#include <math.h>

#include "num/normal.h"
#include "num/normal_inline.h"
#include "support/check.h"

#define CASES 100000
#define ROOT_HALF 0.70710678118654752440084436210485L

static long double cdf_l(long double x)
{
    return 0.5L * erfcl(-x * ROOT_HALF);
}

static long double pdf_l(long double x)
{
    return expl(-0.5L * x * x) * 0.39894228040143267793994605993438L;
}

static void cdf_has_1e14_in_both_tails(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double x = check_uniform(&random, -37.5, 9.0);
        assert_near_rel(tw_normal_cdf(x), (double)cdf_l(x), 2e-15);
        const double y = check_uniform(&random, -2.0, 2.0);
        assert_near_rel(tw_normal_cdf(y), (double)cdf_l(y), 1e-15);
    }
}

static void pdf_has_1e14(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double x = check_uniform(&random, -37.5, 37.5);
        assert_near_rel(tw_normal_pdf(x), (double)pdf_l(x), 1e-15);
    }
}

static void published_values(void **state)
{
    (void)state;
    /* Abramowitz and Stegun, table 26.1 and 26.2; Wichura 1988 for the quantile. */
    assert_near(tw_normal_cdf(1.0), 0.841344746068542949, 1e-16);
    assert_near(tw_normal_cdf(1.96), 0.975002104851779, 1e-15);
    assert_near_rel(tw_normal_cdf(-5.0), 2.866515718791939e-7, 1e-15);
    assert_near_rel(tw_normal_cdf(-10.0), 7.619853024160527e-24, 1e-15);
    assert_near(tw_normal_quantile(0.975), 1.959963984540054, 1e-15);
    assert_near(tw_normal_quantile(0.25), -0.6744897501960817, 2e-16);
    assert_near(tw_normal_quantile(0.001), -3.090232306167814, 1e-15);
    assert_near(tw_normal_quantile(1e-20), -9.262340089798408, 1e-14);
}

static void edges(void **state)
{
    (void)state;
    assert_same_bits(tw_normal_cdf(0.0), 0.5);
    assert_same_bits(tw_normal_cdf(-0.0), 0.5);
    assert_same_bits(tw_normal_cdf(INFINITY), 1.0);
    assert_same_bits(tw_normal_cdf(-INFINITY), 0.0);
    assert_same_bits(tw_normal_cdf(-1e300), 0.0);
    assert_same_bits(tw_normal_cdf(1e300), 1.0);
    assert_nan(tw_normal_cdf(NAN));
    assert_same_bits(tw_normal_pdf(INFINITY), 0.0);
    assert_same_bits(tw_normal_pdf(-INFINITY), 0.0);
    assert_nan(tw_normal_pdf(NAN));
    assert_true(tw_normal_cdf(-38.0) > 0.0); /* subnormal */
    assert_same_bits(tw_normal_quantile(0.0), -INFINITY);
    assert_same_bits(tw_normal_quantile(1.0), INFINITY);
    assert_same_bits(tw_normal_quantile(0.5), 0.0);
    assert_nan(tw_normal_quantile(-0x1p-1074));
    assert_nan(tw_normal_quantile(1.0 + 0x1p-52));
    assert_nan(tw_normal_quantile(NAN));
    assert_true(tw_normal_quantile(0x1p-1074) < -38.0);
    assert_same_bits(tw_normal_log_cdf(-INFINITY), -INFINITY);
    assert_same_bits(tw_normal_log_cdf(INFINITY), -0.0);
    assert_nan(tw_normal_log_cdf(NAN));
    assert_true(isfinite(tw_normal_log_cdf(-1e150)));
}

static void quantile_is_the_inverse(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double e = check_uniform(&random, -300.0, -0.01);
        const double p = pow(10.0, e);
        const double x = tw_normal_quantile(p);
        /* One Newton step in long double says how far x is from the true quantile. */
        const long double step = (cdf_l(x) - (long double)p) / pdf_l(x);
        const double off = (double)fabsl(step);
        assert_near(off, 0.0, 1.2e-15 * (fabs(x) > 1.0 ? fabs(x) : 1.0));
    }
    for (int i = 0; i < CASES; i++) {
        const double p = check_uniform(&random, 1e-6, 1.0 - 1e-6);
        assert_near(tw_normal_cdf(tw_normal_quantile(p)), p, 5e-16);
    }
}

static void quantile_is_odd_and_rises(void **state)
{
    (void)state;
    double before = -INFINITY;
    for (int i = 1; i < 4096; i++) {
        const double p = i / 4096.0; /* exact, so 1 - p is too */
        const double x = tw_normal_quantile(p);
        assert_true(x > before);
        assert_same_bits(x + 0.0, -tw_normal_quantile(1.0 - p) + 0.0);
        before = x;
    }
}

static void quantile_in_lanes_has_the_same_bits(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double e = check_uniform(&random, log10(TW_QUANTILE_LANE_LEAST), -0.3), p = pow(10.0, e);
        assert_same_bits(tw_normal_quantile_lane(p), tw_normal_quantile(p));
        assert_same_bits(tw_normal_quantile_lane(1.0 - p), tw_normal_quantile(1.0 - p));
    }
    const double edge[] = {0.5, 0.5 - 0.425, 0.5 + 0.425, nextafter(0.075, 0.0), nextafter(0.925, 1.0), TW_QUANTILE_LANE_LEAST};
    for (size_t i = 0; i < sizeof edge / sizeof *edge; i++)
        assert_same_bits(tw_normal_quantile_lane(edge[i]), tw_normal_quantile(edge[i]));
}

static void log_cdf_meets_the_asymptotic_series(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double x = check_uniform(&random, -37.0, 8.0);
        const long double want = x > 0 ? log1pl(-cdf_l(-(long double)x)) : logl(cdf_l(x));
        assert_near_rel(tw_normal_log_cdf(x), (double)want, 4e-15);
    }
    for (double x = 40.0; x < 1e8; x *= 1.7) { /* Mills: ln Q = -x^2/2 - ln(x sqrt(2 pi)) + ln(1 - 1/x^2 + 3/x^4 ...) */
        const long double y = 1.0L / ((long double)x * x);
        const long double series = log1pl(y * (-1.0L + y * (3.0L - y * (15.0L - y * 105.0L))));
        const long double want = -0.5L * x * x - logl(x * 2.5066282746310005024L) + series;
        assert_near_rel(tw_normal_log_cdf(-x), (double)want, 1e-15);
    }
}

/* P(low < Z <= high) in long double, from the tail in which both lie. */
static long double interval_l(long double low, long double high)
{
    return low > 0 ? cdf_l(-low) - cdf_l(-high) : cdf_l(high) - cdf_l(low);
}

static void intervals_do_not_cancel(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double low = check_uniform(&random, -12.0, 12.0);
        const double width = pow(10.0, check_uniform(&random, -3.0, 0.8));
        const double high = low + width;
        /* The long double difference itself loses what is left of its 64 bits after cancelling. */
        const double share = (double)(interval_l(low, high) / cdf_l(low > 0 ? -low : high));
        assert_near_rel(tw_normal_interval(low, high), (double)interval_l(low, high), 1e-14 + 2e-19 / share);
    }
    for (double x = -8.0; x < 8.0; x += 0.37) { /* narrow: density times width */
        const double width = 0x1p-30;
        assert_near_rel(tw_normal_interval(x, x + width), tw_normal_pdf(x + 0.5 * width) * width, 1e-14);
    }
    assert_same_bits(tw_normal_interval(1.0, 1.0), 0.0);
    assert_same_bits(tw_normal_interval(2.0, 1.0), 0.0);
    assert_same_bits(tw_normal_interval(-INFINITY, INFINITY), 1.0);
    assert_same_bits(tw_normal_interval(-INFINITY, 1.5), tw_normal_cdf(1.5));
    assert_same_bits(tw_normal_interval(1.5, INFINITY), tw_normal_cdf(-1.5));
    assert_nan(tw_normal_interval(NAN, 1.0));
    assert_nan(tw_normal_interval(1.0, NAN));
}

static void lane_form_keeps_1e10_relative(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double x = check_uniform(&random, -36.0, 36.0);
        const tw_normal_point at = tw_normal_lane(x);
        assert_near_rel(at.cdf, (double)cdf_l(x), 1e-10);
        assert_near_rel(at.upper, (double)cdf_l(-(long double)x), 1e-10);
        assert_near_rel(at.pdf, (double)pdf_l(x), 1e-12);
        assert_near(at.cdf, tw_normal_cdf(x), 4e-11);
        assert_same_bits(tw_normal_cdf_lane(x), at.cdf);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cdf_has_1e14_in_both_tails),
        cmocka_unit_test(pdf_has_1e14),
        cmocka_unit_test(published_values),
        cmocka_unit_test(edges),
        cmocka_unit_test(quantile_is_the_inverse),
        cmocka_unit_test(quantile_is_odd_and_rises),
        cmocka_unit_test(quantile_in_lanes_has_the_same_bits),
        cmocka_unit_test(log_cdf_meets_the_asymptotic_series),
        cmocka_unit_test(intervals_do_not_cancel),
        cmocka_unit_test(lane_form_keeps_1e10_relative),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
