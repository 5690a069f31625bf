/* tests/estimate/test_worth.c: what a test is worth and whether it decides: Gaussian closed forms, and which test is first. */
#include "support/check.h"

#include "estimate/walk.h"
#include "estimate/worth.h"
#include "trial_sim.h"

#define N 1024

static unsigned char work[1 << 21];
static double block[(TW_COLUMNS + TW_TOTALS + 2) * N];

/* A belief of N members like plain_belief's. */
static tw_belief crowd(double litres, double chlorine, double loss, double output)
{
    tw_belief b = plain_belief(litres, chlorine, chlorine, loss, output);
    for (int c = 0; c < TW_COLUMNS + TW_TOTALS; c++)
        for (size_t i = 0; i < N; i++)
            block[(size_t)c * N + i] = plain_block[(size_t)c * 64 + i % 64];
    for (int c = 0; c < TW_COLUMNS; c++)
        b.column[c] = block + (size_t)c * N;
    for (int t = 0; t < TW_TOTALS; t++)
        b.total[t] = block + (size_t)(TW_COLUMNS + t) * N;
    b.block = block;
    b.scratch = block + (size_t)(TW_COLUMNS + TW_TOTALS) * N;
    b.n = N;
    return b;
}

/* Normal quantiles in a mixed order: what two columns of members would be, apart. */
static double even(size_t i, size_t stride)
{
    const double u = ((double)((i * stride) % N) + 0.5) / (double)N;
    double low = -6.0, high = 6.0; /* by halving: no code of the program */
    for (int k = 0; k < 60; k++) {
        const double mid = 0.5 * (low + high);
        if (trial_cdf(mid) < u)
            low = mid;
        else
            high = mid;
    }
    return 0.5 * (low + high);
}

static tw_worth ask(const tw_belief *b, const tw_worth_decision *d, const tw_worth_test *t, size_t outcomes)
{
    tw_worth w;
    assert_int_equal(tw_estimate_worth(b, d, t, outcomes, work, sizeof work, &w), TW_OK);
    return w;
}

/* x ~ N(7.4, 0.2^2), event x > 7.4. A pH meter of 0.03 and 0.04 shared, digits of 0.01: sd s = 0.0501. A posteriori
 * N(m, v), v = 1/(25 + 1/s^2): sure with 0.95 when |m - 7.4| > 1.645 sqrt(v); m has the variance 0.04 - v. */
static void the_chance_of_deciding_is_the_gaussian_one(void **state)
{
    (void)state;
    tw_belief b = crowd(1000.0, 4.0, 0.015, 0.15);
    static double x[N], above[N];
    for (size_t i = 0; i < N; i++) {
        x[i] = 7.4 + 0.2 * even(i, 1);
        above[i] = x[i] > 7.4 ? 1.0 : 0.0;
    }
    const tw_worth_decision d = {TW_WORTH_WHICH, above, NULL, NULL, NULL, 72.0, 0.0};
    const tw_worth_test t = {TW_TOOL_METER, TW_OBSERVED_PH, 0.0, 1, {x, NULL, NULL, NULL}};
    const tw_worth w = ask(&b, &d, &t, 512);
    const double s2 = 0.03 * 0.03 + 0.04 * 0.04 + 0.01 * 0.01 / 12.0, v = 1.0 / (25.0 + 1.0 / s2);
    const double decides = 2.0 * trial_cdf(-1.645 * sqrt(v) / sqrt(0.04 - v));
    print_message("# decides %.3f, Gaussian %.3f; wrong %.3f\n", w.p_decides, decides, w.p_wrong);
    assert_near(w.p_decides, decides, 0.04);
    assert_true(w.p_wrong < 0.03);
    assert_near(w.loss_h, 72.0 * 0.95, 1e-9);
    assert_true(w.gain_h > 30.0 && w.gain_h < 72.0);
    /* Asked twice, the same bits. */
    const tw_worth again = ask(&b, &d, &t, 512);
    assert_memory_equal(&w, &again, sizeof w);
    /* Three members in four already 0.95 sure: little is left to gain; a reading of something else has no worth. */
    static double other[N];
    for (size_t i = 0; i < N; i++)
        other[i] = 7.4 + 0.2 * even(i, 389);
    const tw_worth_test blind = {TW_TOOL_METER, TW_OBSERVED_PH, 0.0, 1, {other, NULL, NULL, NULL}};
    const tw_worth none = ask(&b, &d, &blind, 64);
    assert_true(none.gain_h < 1.0);
    assert_near(none.p_decides, 0.0, 0.0);
}

/* How much salt: volume and present salt decide. With sd 12 % of the volume a salt meter, after salt went in, tells both
 * (first); with 2 % and a cell that may be weak, the test with the generator off and on is. */
static void which_test_is_first(void **state)
{
    (void)state;
    static double least[N], target[N], most[N], weak[N], salt[N], ph[N], start[N], off[N], on[N];
    for (int sure_volume = 0; sure_volume < 2; sure_volume++) {
        tw_belief b = crowd(1200.0, 4.0, 0.014, 0.15);
        const double sd = sure_volume ? 0.02 : 0.12;
        for (size_t i = 0; i < N; i++) {
            const double litres = 1200.0 * exp(sd * even(i, 1));
            const double cell = even(i, 389) < 0.0 ? 0.3 : 1.0;
            b.column[TW_COLUMN_WATER_KG][i] = litres;
            b.column[TW_COLUMN_CELL_FACTOR][i] = cell;
            b.column[TW_COLUMN_OUTPUT_G_PER_H][i] = 0.15 * cell;
            b.column[TW_COLUMN_LOSS_38_PER_H][i] = b.column[TW_COLUMN_LOSS_NOW_PER_H][i] = 0.014 * exp(0.3 * even(i, 211));
            const double now = 1800.0 * 1200.0 / litres; /* 2.16 kg went in */
            salt[i] = now / 58.443;
            least[i] = (1900.0 - now) * litres * 1e-3;
            target[i] = (2000.0 - now) * litres * 1e-3;
            most[i] = (2200.0 - now) * litres * 1e-3;
            weak[i] = cell < 0.5 ? 1.0 : 0.0;
            ph[i] = 7.4 + 0.1 * even(i, 577);
        }
        tw_arena arena = {work + sizeof work / 2, sizeof work / 2};
        tw_walk w;
        assert_true(tw_estimate_walk_start(&w, &b, &arena));
        memcpy(start, w.chlorine, sizeof start);
        tw_estimate_walk_on(&w, 12.0, 0.0, 38.0);
        memcpy(off, w.chlorine, sizeof off);
        tw_estimate_walk_on(&w, 12.0, 1.0, 38.0);
        memcpy(on, w.chlorine, sizeof on);
        const tw_worth_decision dose = {TW_WORTH_DOSE, NULL, least, target, most, 2.0, 24.0};
        const tw_worth_decision cause = {TW_WORTH_WHICH, weak, NULL, NULL, NULL, 72.0, 0.0};
        const tw_worth_test meter = {TW_TOOL_METER, TW_OBSERVED_CHLORIDE, 0.0, 1, {salt, NULL, NULL, NULL}};
        const tw_worth_test strip = {TW_TOOL_STRIP, TW_OBSERVED_PH, 0.0, 1, {ph, NULL, NULL, NULL}};
        const tw_worth_test drops = {TW_TOOL_DROPS, TW_OBSERVED_FREE_CHLORINE, 0.2, 3, {start, off, on, NULL}};
        const tw_worth salt_worth = ask(&b, &dose, &meter, 64), ph_worth = ask(&b, &dose, &strip, 64);
        const tw_worth off_worth = ask(&b, &cause, &drops, 64), salt_for_cell = ask(&b, &cause, &meter, 64);
        print_message("# sd of ln volume %.2f: salt meter %.2f h of %.2f, pH strip %.2f h; off and on %.1f h of %.1f, salt meter %.1f h\n", sd,
                      salt_worth.gain_h, salt_worth.loss_h, ph_worth.gain_h, off_worth.gain_h, off_worth.loss_h, salt_for_cell.gain_h);
        assert_true(off_worth.gain_h > 24.0 && off_worth.p_changes > 0.5);
        assert_true(salt_for_cell.gain_h < 0.1 * off_worth.gain_h);
        assert_true(ph_worth.gain_h < 0.2);
        if (!sure_volume)
            assert_true(salt_worth.gain_h > 0.5 && salt_worth.gain_h > 3.0 * ph_worth.gain_h && salt_worth.p_changes > 0.5);
        else
            assert_true(salt_worth.gain_h < 0.5);
    }
}

static void what_cannot_be_asked_is_refused(void **state)
{
    (void)state;
    tw_belief b = crowd(1000.0, 4.0, 0.015, 0.15);
    tw_worth w;
    static double x[N], event[N];
    const tw_worth_decision d = {TW_WORTH_YES, event, NULL, NULL, NULL, 24.0, 0.0};
    tw_worth_test t = {TW_TOOL_THERMOMETER, TW_OBSERVED_PH, 0.0, 1, {x, NULL, NULL, NULL}};
    assert_int_equal(tw_estimate_worth(&b, &d, &t, 64, work, sizeof work, &w), TW_ERR_UNKNOWN);
    t.instrument = TW_TOOL_METER;
    assert_int_equal(tw_estimate_worth(&b, &d, &t, 64, work, 100, &w), TW_ERR_CAPACITY);
    assert_int_equal(tw_estimate_worth(&b, &d, &t, 0, work, sizeof work, &w), TW_ERR_RANGE);
    t.readings = 5;
    assert_int_equal(tw_estimate_worth(&b, &d, &t, 64, work, sizeof work, &w), TW_ERR_RANGE);
}

/* The winter cabin: 1,020 L, cell at 0.02 of 0.16 g/h: by drops of 0.1 twelve hours off and on leave 2.5 mg/L at 2.16 and
 * 2.0; from 4 mg/L half a day decides, by blocks it does not. */
static void drops_decide_where_blocks_do_not(void **state)
{
    (void)state;
    tw_belief b = crowd(1020.0, 5.0, 0.0122, 0.16);
    for (size_t i = 0; i < N; i++) {
        const double cell = even(i, 389) < 0.0 ? 0.2 : 0.95;
        b.column[TW_COLUMN_CELL_FACTOR][i] = cell;
        b.column[TW_COLUMN_LOSS_38_PER_H][i] = b.column[TW_COLUMN_LOSS_NOW_PER_H][i] = 0.012 * exp(0.4 * even(i, 211));
    }
    tw_trial drops, strip, low;
    assert_int_equal(tw_estimate_trial(&b, TW_TOOL_DROPS, 0.2, work, sizeof work, &drops), TW_OK);
    assert_int_equal(tw_estimate_trial(&b, TW_TOOL_STRIP, 0.0, work, sizeof work, &strip), TW_OK);
    print_message("# drops: %g h, decides %.2f; strip: state %d, %g h, decides %.2f\n", drops.hours, drops.p_decides, strip.state,
                  strip.hours, strip.p_decides);
    assert_int_equal(drops.state, TW_TRIAL_PROPOSED);
    assert_true(drops.p_decides >= 0.8 && drops.hours <= 24.0 && drops.p_below < 0.05);
    assert_true(strip.state == TW_TRIAL_CANNOT || strip.hours > drops.hours);
    for (size_t i = 0; i < N; i++)
        b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] = 2.05;
    assert_int_equal(tw_estimate_trial(&b, TW_TOOL_DROPS, 0.2, work, sizeof work, &low), TW_OK);
    assert_int_equal(low.state, TW_TRIAL_TOO_LOW);
    for (size_t i = 0; i < N; i++)
        b.column[TW_COLUMN_CELL_FACTOR][i] = 0.2;
    assert_int_equal(tw_estimate_trial(&b, TW_TOOL_DROPS, 0.2, work, sizeof work, &low), TW_OK);
    assert_int_equal(low.state, TW_TRIAL_DECIDED);
    assert_int_equal(tw_estimate_trial(&b, TW_TOOL_EYE, 0.0, work, sizeof work, &low), TW_ERR_UNKNOWN);
}

/* The long form is tests/calibrate/validate.py. */
static void the_proposed_test_decides_as_a_perfect_judge(void **state)
{
    (void)state;
    trial_tally t;
    memset(&t, 0, sizeof t);
    for (uint64_t seed = 1; seed <= 24; seed++)
        assert_true(trial_play(seed, work, sizeof work, &t) >= 0);
    print_message("# 24 tubs: %d proposed (promised %.1f), right %d, wrong %d; perfect judge %d, %d\n", t.proposed, t.promised, t.right,
                  t.wrong, t.judge_right, t.judge_wrong);
    assert_true(t.proposed >= 6);
    assert_int_equal(t.wrong, 0);
    assert_true(t.right >= t.judge_right - 1);
    assert_true(fabs(t.promised - (double)(t.right + t.wrong)) < 2.6);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_chance_of_deciding_is_the_gaussian_one),
        cmocka_unit_test(which_test_is_first),
        cmocka_unit_test(what_cannot_be_asked_is_refused),
        cmocka_unit_test(drops_decide_where_blocks_do_not),
        cmocka_unit_test(the_proposed_test_decides_as_a_perfect_judge),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
