/* exp, log and their relatives: under 1 ulp (in fact under 0.8) against long double over the whole range, every edge
 * case, and the branch-free forms equal to the scalar ones to the bit. */
#include <math.h>

#include "num/elementary.h"
#include "num/elementary_inline.h"
#include "num/status.h"
#include "support/check.h"

#define CASES 200000

/* Distance in units of the last place of the true value; subnormals have the fixed place 2^-1074. */
static double ulps(double got, long double want)
{
    const double nearest = (double)want;
    if (isinf(nearest) || isinf(got))
        return got == nearest ? 0.0 : (double)INFINITY;
    int e;
    frexp(nearest, &e);
    e = e - 53 < -1074 ? -1074 : e - 53;
    return (double)(fabsl((long double)got - want) / ldexpl(1.0L, e));
}

typedef struct {
    double (*ours)(double);
    long double (*theirs)(long double);
    double low, high;
    double bound; /* ulp: promised is under 1, this is what the method gives and a little */
    int spread; /* 0: uniform in low..high; n: uniform in +-1 (or 0.5..1) times 2^-0..2^-n or 2^n */
} range;

static double draw(uint64_t *state, const range *at)
{
    const double u = check_uniform(state, at->low, at->high);
    if (at->spread == 0)
        return u;
    const int n = at->spread < 0 ? -at->spread : at->spread;
    const int e = (int)(random_bits(state) % (uint64_t)n);
    return ldexp(u, at->spread < 0 ? -e : e);
}

static void check_range(const range *at, const char *what)
{
    uint64_t state = check_seed;
    double worst = 0.0, where = 0.0;
    for (int i = 0; i < CASES; i++) {
        const double x = draw(&state, at);
        const double off = ulps(at->ours(x), at->theirs((long double)x));
        if (!(off <= worst)) {
            worst = off;
            where = x;
        }
    }
    print_message("# %s: worst %.3f ulp at %.17g\n", what, worst, where);
    assert_true(worst < at->bound);
}

static void exp_is_within_one_ulp(void **state)
{
    (void)state;
    check_range(&(range){tw_exp, expl, -1.0, 1.0, 0.69, 0}, "exp near 0");
    check_range(&(range){tw_exp, expl, -745.5, 709.9, 0.82, 0}, "exp, whole range");
    check_range(&(range){tw_exp, expl, -746.0, -707.0, 0.82, 0}, "exp, subnormal");
    check_range(&(range){tw_exp, expl, -1.0, 1.0, 0.69, -1070}, "exp of the tiny");
}

static void expm1_is_within_one_ulp(void **state)
{
    (void)state;
    check_range(&(range){tw_expm1, expm1l, -0.5, 0.5, 0.69, 0}, "expm1 near 0");
    check_range(&(range){tw_expm1, expm1l, -60.0, 60.0, 0.69, 0}, "expm1");
    check_range(&(range){tw_expm1, expm1l, -710.0, 709.9, 0.69, 0}, "expm1, whole range");
    check_range(&(range){tw_expm1, expm1l, -1.0, 1.0, 0.69, -1070}, "expm1 of the tiny");
}

static void log_is_within_one_ulp(void **state)
{
    (void)state;
    check_range(&(range){tw_log, logl, 0.5, 2.0, 0.76, 0}, "log near 1");
    check_range(&(range){tw_log, logl, 0.999, 1.001, 0.53, 0}, "log very near 1");
    check_range(&(range){tw_log, logl, 0.5, 1.0, 0.76, 1024}, "log of the large");
    check_range(&(range){tw_log, logl, 0.5, 1.0, 0.76, -1073}, "log of the tiny");
}

static void log1p_is_within_one_ulp(void **state)
{
    (void)state;
    check_range(&(range){tw_log1p, log1pl, -0.9, 1.5, 0.76, 0}, "log1p near 0");
    check_range(&(range){tw_log1p, log1pl, -1.0, 1.0, 0.69, -1070}, "log1p of the tiny");
    check_range(&(range){tw_log1p, log1pl, 0.5, 1.0, 0.69, 1024}, "log1p of the large");
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const int e = (int)(random_bits(&random) % 53);
        const double x = -1.0 + ldexp(check_uniform(&random, 0.5, 1.0), -e);
        assert_true(ulps(tw_log1p(x), log1pl((long double)x)) < 0.76);
    }
}

static long double pow10_l(long double x)
{
    return powl(10.0L, x);
}

static void log10_and_pow10_are_within_one_ulp(void **state)
{
    (void)state;
    check_range(&(range){tw_log10, log10l, 0.9, 1.1, 0.51, 0}, "log10 near 1");
    check_range(&(range){tw_log10, log10l, 0.5, 1.0, 0.51, 1024}, "log10 of the large");
    check_range(&(range){tw_log10, log10l, 0.5, 1.0, 0.51, -1073}, "log10 of the tiny");
    check_range(&(range){tw_pow10, pow10_l, -3.0, 3.0, 0.69, 0}, "pow10");
    check_range(&(range){tw_pow10, pow10_l, -324.5, 308.5, 0.82, 0}, "pow10, whole range");
}

static void powers_of_ten_are_exact(void **state)
{
    (void)state;
    for (int n = -307; n <= 308; n++) {
        char text[16];
        snprintf(text, sizeof text, "1e%d", n);
        const double power = strtod(text, NULL);
        assert_same_bits(tw_log10(power), n == 0 ? 0.0 : (double)n);
        if (n >= 0 && n <= 22)
            assert_same_bits(tw_pow10((double)n), power);
    }
}

static void pow_is_within_one_ulp(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    double worst = 0.0;
    for (int i = 0; i < CASES; i++) {
        const double x = check_uniform(&random, 1e-6, 100.0);
        const double y = check_uniform(&random, -20.0, 20.0);
        const double off = ulps(tw_pow(x, y), powl((long double)x, (long double)y));
        worst = off > worst ? off : worst;
    }
    for (int i = 0; i < CASES; i++) { /* exponents that carry the result over the whole range */
        const double m = check_uniform(&random, 0.5, 1.0);
        const int e = (int)(random_bits(&random) % 2090) - 1070;
        const double x = ldexp(m, e);
        const double y = check_uniform(&random, -744.0, 709.0) / log(x);
        if (!isfinite(y))
            continue;
        const double off = ulps(tw_pow(x, y), powl((long double)x, (long double)y));
        worst = off > worst ? off : worst;
    }
    print_message("# pow: worst %.3f ulp\n", worst);
    assert_true(worst < 0.82);
}

static void exp_sum_uses_the_low_part(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double high = check_uniform(&random, -700.0, 700.0);
        const double low = high * check_uniform(&random, -0x1p-53, 0x1p-53);
        assert_true(ulps(tw_exp_sum(high, low), expl((long double)high + (long double)low)) < 0.85);
    }
}

static void edges_of_exp(void **state)
{
    (void)state;
    assert_same_bits(tw_exp(0.0), 1.0);
    assert_same_bits(tw_exp(-0.0), 1.0);
    assert_same_bits(tw_exp(INFINITY), INFINITY);
    assert_same_bits(tw_exp(-INFINITY), 0.0);
    assert_nan(tw_exp(NAN));
    assert_same_bits(tw_exp(0x1.62e42fefa39efp+9), 0x1.fffffffffff2ap+1023); /* last finite result */
    assert_same_bits(tw_exp(0x1.62e42fefa39f0p+9), INFINITY);
    assert_same_bits(tw_exp(-0x1.74910d52d3051p+9), 0x1p-1074); /* last result above 0 */
    assert_same_bits(tw_exp(-0x1.74910d52d3052p+9), 0.0);
    assert_same_bits(tw_exp(1e308), INFINITY);
    assert_same_bits(tw_exp(-1e308), 0.0);
    assert_same_bits(tw_exp(0x1p-1074), 1.0);
    /* From normal to subnormal without a step back. */
    double before = tw_exp(-708.3);
    for (double x = -708.3; x > -708.5; x -= 0.001) {
        assert_true(tw_exp(x) <= before);
        before = tw_exp(x);
    }
}

static void edges_of_expm1(void **state)
{
    (void)state;
    assert_same_bits(tw_expm1(0.0), 0.0);
    assert_same_bits(tw_expm1(-0.0), -0.0);
    assert_same_bits(tw_expm1(0x1p-1074), 0x1p-1074);
    assert_same_bits(tw_expm1(-0x1p-1074), -0x1p-1074);
    assert_same_bits(tw_expm1(-0x1p-1030), -0x1p-1030);
    assert_same_bits(tw_expm1(INFINITY), INFINITY);
    assert_same_bits(tw_expm1(-INFINITY), -1.0);
    assert_same_bits(tw_expm1(-50.0), -1.0);
    assert_same_bits(tw_expm1(-1e308), -1.0);
    assert_same_bits(tw_expm1(710.0), INFINITY);
    assert_nan(tw_expm1(NAN));
}

static void edges_of_log(void **state)
{
    (void)state;
    assert_same_bits(tw_log(1.0), 0.0);
    assert_same_bits(tw_log(0.0), -INFINITY);
    assert_same_bits(tw_log(-0.0), -INFINITY);
    assert_same_bits(tw_log(INFINITY), INFINITY);
    assert_nan(tw_log(-1.0));
    assert_nan(tw_log(-0x1p-1074));
    assert_nan(tw_log(-INFINITY));
    assert_nan(tw_log(NAN));
    assert_near(tw_log(0x1p-1074), -744.44007192138122, 1.2e-13);
    assert_near(tw_log(0x1.fffffffffffffp1023), 709.78271289338397, 1.2e-13);
    assert_same_bits(tw_log(2.0), TW_LN2);
    assert_same_bits(tw_log(10.0), TW_LN10);
}

static void edges_of_log1p(void **state)
{
    (void)state;
    assert_same_bits(tw_log1p(0.0), 0.0);
    assert_same_bits(tw_log1p(-0.0), -0.0);
    assert_same_bits(tw_log1p(0x1p-1074), 0x1p-1074);
    assert_same_bits(tw_log1p(-0x1p-1050), -0x1p-1050);
    assert_same_bits(tw_log1p(-1.0), -INFINITY);
    assert_nan(tw_log1p(-1.5));
    assert_nan(tw_log1p(-INFINITY));
    assert_nan(tw_log1p(NAN));
    assert_same_bits(tw_log1p(INFINITY), INFINITY);
    assert_near(tw_log1p(0x1.fffffffffffffp1023), 709.78271289338397, 1.2e-13);
}

static void edges_of_log10_pow10_and_pow(void **state)
{
    (void)state;
    assert_same_bits(tw_log10(0.0), -INFINITY);
    assert_same_bits(tw_log10(INFINITY), INFINITY);
    assert_nan(tw_log10(-1.0));
    assert_nan(tw_log10(NAN));
    assert_same_bits(tw_pow10(0.0), 1.0);
    assert_same_bits(tw_pow10(-0.0), 1.0);
    assert_same_bits(tw_pow10(0x1p-1074), 1.0);
    assert_same_bits(tw_pow10(308.5), INFINITY);
    assert_same_bits(tw_pow10(400.0), INFINITY);
    assert_same_bits(tw_pow10(-400.0), 0.0);
    assert_same_bits(tw_pow10(INFINITY), INFINITY);
    assert_same_bits(tw_pow10(-INFINITY), 0.0);
    assert_nan(tw_pow10(NAN));

    assert_same_bits(tw_pow(5.0, 0.0), 1.0);
    assert_same_bits(tw_pow(NAN, 0.0), 1.0);
    assert_same_bits(tw_pow(1.0, NAN), 1.0);
    assert_nan(tw_pow(NAN, 1.0));
    assert_nan(tw_pow(2.0, NAN));
    assert_nan(tw_pow(-2.0, 2.0));
    assert_same_bits(tw_pow(0.0, 2.0), 0.0);
    assert_same_bits(tw_pow(-0.0, 2.0), 0.0);
    assert_same_bits(tw_pow(0.0, -2.0), INFINITY);
    assert_same_bits(tw_pow(INFINITY, 2.0), INFINITY);
    assert_same_bits(tw_pow(INFINITY, -2.0), 0.0);
    assert_same_bits(tw_pow(2.0, INFINITY), INFINITY);
    assert_same_bits(tw_pow(2.0, -INFINITY), 0.0);
    assert_same_bits(tw_pow(0.5, INFINITY), 0.0);
    assert_same_bits(tw_pow(2.0, 1e300), INFINITY);
    assert_same_bits(tw_pow(1.0 + 0x1p-52, 1e300), INFINITY);
    assert_same_bits(tw_pow(2.0, 0x1p-1074), 1.0);
    assert_same_bits(tw_pow(2.0, -1074.0), 0x1p-1074);
    assert_same_bits(tw_pow(0x1p-1074, 1.0), 0x1p-1074);
    assert_same_bits(tw_pow(3.0, 2.0), 9.0);
    assert_same_bits(tw_pow(2.25, 0.5), 1.5);
}

static void lanes_have_the_bits_of_the_scalars(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int i = 0; i < CASES; i++) {
        const double x = check_uniform(&random, TW_EXP_LANE_MIN, TW_EXP_LANE_MAX);
        const double near_0 = check_uniform(&random, -1.0, 1.0);
        const double m = check_uniform(&random, 0.5, 1.0);
        const int e = (int)(random_bits(&random) % 2000) - 1000;
        const double positive = ldexp(m, e);
        const double part = check_uniform(&random, -0.999999, 3.0);
        assert_same_bits(tw_exp_lane(x), tw_exp(x));
        assert_same_bits(tw_exp_lane(near_0), tw_exp(near_0));
        assert_same_bits(tw_log_lane(positive), tw_log(positive));
        assert_same_bits(tw_log1p_lane(part), tw_log1p(part));
        assert_same_bits(tw_log1p_lane(positive), tw_log1p(positive));
        assert_same_bits(tw_expm1_lane(near_0), tw_expm1(near_0));
        if (x > -708.0 && x < 708.0)
            assert_same_bits(tw_expm1_lane(x), tw_expm1(x));
    }
}

static void the_exponential_lane_stops_at_its_ends(void **state)
{
    (void)state;
    assert_same_bits(tw_exp_lane(-1e9), tw_exp(TW_EXP_LANE_MIN));
    assert_same_bits(tw_exp_lane(-INFINITY), tw_exp(TW_EXP_LANE_MIN));
    assert_same_bits(tw_exp_lane(1e9), tw_exp(TW_EXP_LANE_MAX));
    assert_true(tw_exp(TW_EXP_LANE_MIN) >= 0x1p-1022);
    assert_true(isfinite(tw_exp(TW_EXP_LANE_MAX)));
    assert_same_bits(tw_expm1_lane(-1e9), -1.0);
    assert_true(tw_expm1_lane(1e9) > 1e307);
}

static void finite_is_told_from_the_rest(void **state)
{
    (void)state;
    assert_true(tw_is_finite(0.0) && tw_is_finite(-0x1.fffffffffffffp1023) && tw_is_finite(0x1p-1074));
    assert_false(tw_is_finite(INFINITY) || tw_is_finite(-INFINITY) || tw_is_finite(NAN));
}

static void every_status_has_a_name_and_a_sentence(void **state)
{
    (void)state;
    for (int i = 0; i < TW_STATUSES; i++) {
        assert_true(strncmp(tw_status_name((tw_status)i), "TW_", 3) == 0);
        assert_true(strlen(tw_status_text((tw_status)i)) >= 2);
        for (int j = 0; j < i; j++)
            assert_string_not_equal(tw_status_text((tw_status)i), tw_status_text((tw_status)j));
    }
    assert_string_equal(tw_status_text(TW_OK), "ok");
    assert_string_equal(tw_status_text(TW_STATUSES), "unknown status");
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exp_is_within_one_ulp),
        cmocka_unit_test(expm1_is_within_one_ulp),
        cmocka_unit_test(log_is_within_one_ulp),
        cmocka_unit_test(log1p_is_within_one_ulp),
        cmocka_unit_test(log10_and_pow10_are_within_one_ulp),
        cmocka_unit_test(powers_of_ten_are_exact),
        cmocka_unit_test(pow_is_within_one_ulp),
        cmocka_unit_test(exp_sum_uses_the_low_part),
        cmocka_unit_test(edges_of_exp),
        cmocka_unit_test(edges_of_expm1),
        cmocka_unit_test(edges_of_log),
        cmocka_unit_test(edges_of_log1p),
        cmocka_unit_test(edges_of_log10_pow10_and_pow),
        cmocka_unit_test(lanes_have_the_bits_of_the_scalars),
        cmocka_unit_test(the_exponential_lane_stops_at_its_ends),
        cmocka_unit_test(finite_is_told_from_the_rest),
        cmocka_unit_test(every_status_has_a_name_and_a_sentence),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
