/* tests/estimate/test_calibration.c: simulation-based calibration, small and fixed; at length:
 * tests/calibrate/. Coverage alone passes an estimator that ignores the data, so two mutants, the
 * prior returned and the data counted twice, must fail here. */
#include "support/check.h"

#include "calibration.h"

/* Sanitizers walk every path with a few tubs; how many are covered is counted by the plain run, whose bits are the same. */
#ifdef __SANITIZE_ADDRESS__
enum { COUNTS = 0, TUBS = 8, SECOND_TUBS = 6, MUTANT_TUBS = 4 };
#else
enum { COUNTS = 1, TUBS = 60, SECOND_TUBS = 60, MUTANT_TUBS = 30 };
#endif
#define assert_counted(what) assert_true(!COUNTS || (what))

static cal_work *work_of(void)
{
    cal_work *w = cal_work_new();
    assert_non_null(w);
    w->options = tw_estimate_options_quick();
    w->mem_bytes = tw_estimate_sample_bytes(&w->options);
    w->forecast_bytes = tw_estimate_forecast_bytes((size_t)w->options.chains * w->options.keep, 72);
    w->mem = malloc(w->mem_bytes);
    w->forecast = malloc(w->forecast_bytes);
    w->timeline = malloc(tw_estimate_timeline_bytes());
    assert_true(w->mem && w->forecast && w->timeline);
    return w;
}

static void drop(cal_work *w, cal_result *r)
{
    free(w->timeline);
    free(w->forecast);
    free(w->mem);
    free(w);
    free(r);
}

static cal_result *run(cal_work *w, size_t n, cal_mutant *mutate)
{
    cal_result *r = calloc(1, sizeof *r);
    assert_non_null(r);
    for (size_t i = 0; i < n; i++)
        assert_true(cal_one(w, r, 1000 + i, mutate));
    return r;
}

/* Mean coverage over the quantities; mean 90 % width of the volume. */
static double mean_coverage(const cal_result *r, double level)
{
    double sum = 0.0;
    for (int q = 0; q < CAL_QUANTITIES; q++)
        sum += cal_coverage(r, q, level);
    return sum / CAL_QUANTITIES;
}

static double volume_width;

static void intervals_cover_what_they_say(void **state)
{
    (void)state;
    cal_work *w = work_of();
    cal_result *r = run(w, TUBS, NULL);
    /* 60 tubs: one quantity's coverage has a standard error of 4 points; three of them are allowed. */
    for (int q = 0; q < CAL_QUANTITIES; q++) {
        const double c90 = cal_coverage(r, q, 0.9), c50 = cal_coverage(r, q, 0.5), far = cal_distance(r, q);
        print_message("# %-18s 50 %%: %.2f  90 %%: %.2f  ranks off %.2f  width %.4g\n", CAL_NAME[q], c50, c90, far,
                      r->width90[q] / (double)r->n);
        assert_counted(c90 > 0.78);
        assert_counted(c50 > 0.31 && c50 < 0.69);
        assert_counted(far < 0.21); /* Kolmogorov, 1 % at 60 */
    }
    assert_counted(mean_coverage(r, 0.9) > 0.85 && mean_coverage(r, 0.9) < 0.96);
    assert_counted(mean_coverage(r, 0.5) > 0.42 && mean_coverage(r, 0.5) < 0.58);
    assert_counted(r->prior_frame == 0);
    assert_counted(r->still_bad <= TUBS / 10);
    volume_width = r->width90[CAL_VOLUME] / (double)r->n;
    drop(w, r);
}

/* The same over a boundary: two waters in one log, the second has what the first taught as its prior. */
static void intervals_of_a_second_water_cover_what_they_say(void **state)
{
    (void)state;
    cal_work *w = work_of();
    cal_result *r = calloc(1, sizeof *r);
    assert_non_null(r);
    for (size_t i = 0; i < SECOND_TUBS; i++)
        assert_true(cal_boundary(w, r, 5000 + 3 * i, NULL));
    for (int q = 0; q < CAL_QUANTITIES; q++) {
        const double c90 = cal_coverage(r, q, 0.9);
        print_message("# second water, %-18s 50 %%: %.2f  90 %%: %.2f  width %.4g\n", CAL_NAME[q], cal_coverage(r, q, 0.5), c90,
                      r->width90[q] / (double)r->n);
        assert_counted(c90 > 0.77); /* three standard errors of 60 */
    }
    assert_counted(mean_coverage(r, 0.9) > 0.84 && mean_coverage(r, 0.9) < 0.96);
    assert_counted(mean_coverage(r, 0.5) > 0.41 && mean_coverage(r, 0.5) < 0.59);
    assert_counted(r->width90[CAL_VOLUME] / (double)r->n < 0.9 * volume_width); /* and it is sharper */
    drop(w, r);
}

static void forget_everything(cal_work *w, tw_problem *p)
{
    (void)w;
    p->readings = 0;
}

/* The prior, returned: it covers, but it is not sharp. */
static void the_prior_returned_is_not_sharp(void **state)
{
    (void)state;
    cal_work *w = work_of();
    cal_result *r = run(w, MUTANT_TUBS, forget_everything);
    assert_counted(r->width90[CAL_VOLUME] / (double)r->n > 3.0 * volume_width);
    drop(w, r);
}

static void count_twice(cal_work *w, tw_problem *p)
{
    (void)w;
    const size_t n = p->readings;
    for (int copy = 0; copy < 2; copy++)
        for (size_t i = 0; i < n && p->readings < TW_MAX_READINGS; i++)
            p->reading[p->readings++] = p->reading[i];
}

/* Readings counted three times: intervals too narrow by 1.7 fail the mean coverage. */
static void counting_readings_again_is_overconfident(void **state)
{
    (void)state;
    cal_work *w = work_of();
    cal_result *r = run(w, MUTANT_TUBS, count_twice);
    print_message("# mean coverage of the mutant: %.2f\n", mean_coverage(r, 0.9));
    assert_counted(mean_coverage(r, 0.9) < 0.82);
    drop(w, r);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(intervals_cover_what_they_say),
        cmocka_unit_test(intervals_of_a_second_water_cover_what_they_say),
        cmocka_unit_test(the_prior_returned_is_not_sharp),
        cmocka_unit_test(counting_readings_again_is_overconfident),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
