/* tests/estimate/test_instrument.c: what a written reading says, by the table of instruments. */
#include "support/check.h"

#include <math.h>
#include <string.h>

#include "estimate/instrument.h"

static tw_written_reading written(int tool, int observed, double value)
{
    tw_written_reading w;
    memset(&w, 0, sizeof w);
    w.instrument = tool;
    w.observed = observed;
    w.written = TW_WRITTEN_VALUE;
    w.value = value;
    w.dilution = 1.0;
    w.density_kg_per_l = 1.0;
    return w;
}

static tw_reading must_read(const tw_written_reading *w, double *bias_sd)
{
    tw_reading r;
    assert_int_equal(tw_estimate_reading(w, &r, bias_sd), TW_OK);
    return r;
}

static void a_block_reaches_to_the_middle_of_its_neighbours_on_the_log_scale(void **state)
{
    (void)state;
    const double own[5] = {1, 2, 4, 8, 16};
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE, 4.0);
    w.block = own;
    w.blocks = 5;
    const tw_reading r = must_read(&w, &bias);
    assert_int_equal(r.form, TW_FORM_INTERVAL);
    assert_near(exp(r.low), sqrt(2.25 * 4.25), 1e-12); /* ln(C + 0.25) */
    assert_near(exp(r.high), sqrt(4.25 * 8.25), 1e-12);
    assert_near(r.sd, 0.25, 1e-12);
    assert_near(bias, 0.15, 1e-12);
    w.value = 16.0;
    assert_true(must_read(&w, &bias).high > 1e300);
    w.value = 5.0; /* no block of this scale: seen between 4 and 8 */
    const tw_reading between = must_read(&w, &bias);
    assert_near(exp(between.low), 4.25, 1e-12);
    assert_near(exp(between.high), 8.25, 1e-12);
}

static void an_empty_pad_may_be_bleached_but_not_when_the_sample_was_thinned(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE, 0.0);
    const tw_reading r = must_read(&w, &bias);
    assert_true(r.low < -1e300);
    assert_near(exp(r.bleach_low) - r.offset, 14.0, 1e-9);
    w.dilution = 5.0;
    assert_true(must_read(&w, &bias).bleach_low > 1e300);
    w.dilution = 1.0;
    w.value = 3.0;
    assert_true(must_read(&w, &bias).bleach_low > 1e300);
    tw_written_reading photometer = written(TW_TOOL_PHOTOMETER, TW_OBSERVED_FREE_CHLORINE, 0.0);
    photometer.decimals = 2;
    assert_true(must_read(&photometer, &bias).bleach_low < 1e300);
}

/* Counted drops: n = ceil(C/step + e): the truth lies below what was counted. */
static void drops_count_up_to_the_one_that_turned(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_DROPS, TW_OBSERVED_FREE_CHLORINE, 4.4);
    w.step = 0.2;
    tw_reading r = must_read(&w, &bias);
    assert_near(r.low, 4.2, 1e-12);
    assert_near(r.high, 4.4, 1e-12);
    assert_near(r.sd, 0.1, 1e-12);
    assert_near(bias, 0.0, 0.0);
    w.step = 0.0; /* not said: 0.2 is the coarsest step that makes 4.4 */
    r = must_read(&w, &bias);
    assert_near(r.high - r.low, 0.2, 1e-9);
    w.value = 4.5;
    r = must_read(&w, &bias);
    assert_near(r.high - r.low, 0.5, 1e-9);
    w.value = 0.0;
    r = must_read(&w, &bias);
    assert_true(r.low < -1e300);
    assert_near(r.high, 0.0, 0.0);
    /* Thinned five times: a drop stands for five times as much. */
    w.value = 2.5;
    w.step = 0.5;
    w.dilution = 5.0;
    r = must_read(&w, &bias);
    assert_near(r.high, 12.5, 1e-12);
    assert_near(r.low, 10.0, 1e-12);
}

static void alkalinity_is_turned_into_moles_of_charge(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_DROPS, TW_OBSERVED_ALKALINITY, 80.0);
    const tw_reading r = must_read(&w, &bias);
    assert_near(r.high, 80.0 / 50.0435, 1e-9);
    assert_near(r.low, 70.0 / 50.0435, 1e-9);
    assert_near(r.sd, sqrt(36.0 + 5.76) / 50.0435, 1e-9); /* 0.6 drop and 3 % */
}

static void a_meter_errs_in_percent_and_shares_its_calibration(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_METER, TW_OBSERVED_CONDUCTIVITY, 3000.0);
    const tw_reading r = must_read(&w, &bias);
    assert_int_equal(r.form, TW_FORM_VALUE);
    assert_int_equal(r.link, TW_LINK_LN);
    assert_near(r.sd, 0.01, 1e-4);
    assert_near(bias, 0.012, 1e-12);
}

static void bounded_readings_are_open_at_one_end(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_PHOTOMETER, TW_OBSERVED_FREE_CHLORINE, 8.0);
    w.written = TW_WRITTEN_ABOVE;
    tw_reading r = must_read(&w, &bias);
    assert_true(r.low > -1e300 && r.high > 1e300);
    w.written = TW_WRITTEN_BELOW;
    w.value = 0.1;
    r = must_read(&w, &bias);
    assert_true(r.low < -1e300 && r.high < 1e300);
    w.written = TW_WRITTEN_BETWEEN;
    w.value = 3.0;
    w.high = 5.0;
    r = must_read(&w, &bias);
    assert_true(r.low < r.high && r.high < 1e300);
    w.high = 3.0;
    tw_reading none;
    assert_int_equal(tw_estimate_reading(&w, &none, &bias), TW_ERR_RANGE);
}

static void what_an_instrument_cannot_measure_is_unknown(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_reading none;
    const tw_written_reading w = written(TW_TOOL_THERMOMETER, TW_OBSERVED_PH, 7.4);
    assert_int_equal(tw_estimate_reading(&w, &none, &bias), TW_ERR_UNKNOWN);
    assert_null(tw_estimate_instrument(TW_TOOL_STRIP, TW_OBSERVED_CONDUCTIVITY));
}

static void doubt_raises_the_chance_of_rubbish(void **state)
{
    (void)state;
    double bias = 0.0;
    tw_written_reading w = written(TW_TOOL_DROPS, TW_OBSERVED_FREE_CHLORINE, 4.0);
    const double sure = must_read(&w, &bias).rubbish;
    w.doubtful = 1;
    assert_true(must_read(&w, &bias).rubbish > 5.0 * sure);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_block_reaches_to_the_middle_of_its_neighbours_on_the_log_scale),
        cmocka_unit_test(an_empty_pad_may_be_bleached_but_not_when_the_sample_was_thinned),
        cmocka_unit_test(drops_count_up_to_the_one_that_turned),
        cmocka_unit_test(alkalinity_is_turned_into_moles_of_charge),
        cmocka_unit_test(a_meter_errs_in_percent_and_shares_its_calibration),
        cmocka_unit_test(bounded_readings_are_open_at_one_end),
        cmocka_unit_test(what_an_instrument_cannot_measure_is_unknown),
        cmocka_unit_test(doubt_raises_the_chance_of_rubbish),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
