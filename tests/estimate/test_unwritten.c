/* tests/estimate/test_unwritten.c: what nobody wrote down enters the members, and only where readings ask for it. */
#include "support/check.h"

#include "calibration.h"
#include "estimate/explain.h"
#include "plain.h"

#define LOSS 0.02
#define LEVEL 4.0

/* A clean tub at 4 mg/L that loses 2 % an hour, read with drops every 12 h for `days`; what happens between is
 * given as mg/L more (or less) from an hour on, which then decays. */
static tw_problem *read_tub(double days, double more, double at_h)
{
    tw_problem *p = plain_start(24.0 * days);
    plain_clean(p);
    plain_ln(p, TW_X_LOSS, 0.025, 0.5);
    plain_ln(p, TW_X_CHLORINE0, 4.0, 0.5);
    plain_ln(p, TW_X_DEMAND_RATE, 0.3, 0.1);
    plain_ln(p, TW_X_WATER, 1200.0, 0.05);
    p->plate_output_g_per_h = 0.096; /* 4 mg/L at 2 % an hour in 1,200 kg */
    plain_setting(p, 0.0, 1.0);
    for (double t = 6.0; t < 24.0 * days; t += 12.0) {
        const double c = LEVEL + (t >= at_h ? more * exp(-LOSS * (t - at_h)) : 0.0);
        tw_reading *r = plain_value(p, t, TW_OBSERVED_FREE_CHLORINE, c, 0.15);
        r->rubbish = 0.02;
    }
    return p;
}

static double loss_middle(const tw_belief *b) { return tw_estimate_column(b, TW_COLUMN_LOSS_38_PER_H).q50; }

/* Readings that agree, or one that is off by itself and was followed by others, call nothing up. */
static void nothing_is_made_up_where_readings_agree(void **state)
{
    (void)state;
    tw_belief b;
    assert_int_equal(plain_sample(read_tub(5.0, 0.0, 1e9), 3, NULL, &b), TW_OK);
    assert_int_equal(b.unwrittens, 0);
    tw_problem *p = read_tub(5.0, 0.0, 1e9);
    p->reading[4].value = 13.0;
    assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
    assert_int_equal(b.unwrittens, 0);
    assert_int_equal(b.contradictions, 1);
}

/* 4 mg/L poured between the fifth reading and the sixth, and seen by all that follow. */
static void a_dose_that_nobody_wrote_is_believed_with_its_size_and_time(void **state)
{
    (void)state;
    tw_belief b, plain;
    assert_int_equal(plain_sample(read_tub(6.0, 0.0, 1e9), 5, NULL, &b), TW_OK);
    plain = b;
    const double was = loss_middle(&plain);
    tw_problem *p = read_tub(6.0, 4.0, 60.0);
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    assert_true(b.unwrittens >= 1);
    const tw_unwritten *u = &b.unwritten[0];
    assert_int_equal(u->act, TW_UNLOGGED_CHLORINE_POURED);
    assert_true(u->probability > 0.95);
    assert_near(p->now_h - u->from_h, 54.0, 1e-9);
    assert_near(p->now_h - u->until_h, 66.0, 1e-9);
    assert_int_equal(u->entry, p->reading[5].entry);
    assert_true(u->size.q05 < 4.0 && u->size.q95 > 4.0 && u->size.q95 - u->size.q05 < 1.5);
    assert_int_equal(b.contradictions, 0);
    assert_near(loss_middle(&b), was, 0.15 * was); /* the loss is not bent for it */
}

/* Bathers that nobody wrote took 3 mg/L. */
static void what_used_chlorine_up_is_believed_too(void **state)
{
    (void)state;
    tw_belief b;
    assert_int_equal(plain_sample(read_tub(6.0, -3.0, 60.0), 7, NULL, &b), TW_OK);
    assert_true(b.unwrittens >= 1);
    assert_int_equal(b.unwritten[0].act, TW_UNLOGGED_CHLORINE_USED);
    assert_true(b.unwritten[0].probability > 0.9);
    assert_true(b.unwritten[0].size.q05 < 3.3 && b.unwritten[0].size.q95 > 2.7);
}

/* 4 mg/L made as fast as it is lost; off from an hour to another and on again. */
static double with_a_pause(double t, double off_h, double on_h)
{
    const double until = t < on_h ? t : on_h;
    if (t <= off_h)
        return LEVEL;
    const double left = LEVEL * exp(-LOSS * (until - off_h));
    return LEVEL - (LEVEL - left) * exp(-LOSS * (t - until));
}

/* Off for a day between the fifth reading and the eighth: what falls and comes back without anybody is neither loss nor cell. */
static void a_generator_that_was_off_is_believed_with_its_hours(void **state)
{
    (void)state;
    tw_belief b;
    tw_problem *p = read_tub(8.0, 0.0, 1e9);
    for (size_t i = 0; i < p->readings; i++)
        p->reading[i].value = with_a_pause(p->reading[i].at_h, 62.0, 86.0);
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    assert_true(b.unwrittens >= 1);
    double off = 0.0;
    int told = -1;
    for (uint32_t i = 0; i < b.unwrittens; i++)
        if (b.unwritten[i].act == TW_UNLOGGED_GENERATOR_OFF) {
            off += b.unwritten[i].probability;
            told = told < 0 ? (int)i : told;
        }
    assert_true(off > 0.8);
    const tw_unwritten *u = &b.unwritten[told];
    assert_true(p->now_h - u->from_h <= 62.0 && p->now_h - u->until_h >= 86.0);
    assert_true(u->size.q05 < 24.0 && u->size.q95 > 24.0 && u->size.q95 - u->size.q05 < 16.0); /* an interval between readings at either end */
    assert_near(loss_middle(&b), LOSS, 0.25 * LOSS);
    assert_near(tw_estimate_column(&b, TW_COLUMN_OUTPUT_G_PER_H).q50, p->plate_output_g_per_h, 0.25 * p->plate_output_g_per_h);
    const tw_spread now = tw_estimate_column(&b, TW_COLUMN_CHLORINE_MG_PER_KG);
    const double c = with_a_pause(p->now_h, 62.0, 86.0);
    assert_true(now.q05 < c && now.q95 > c);
}

/* A tub whose alkalinity or salt was read day by day; from the fourth day on another one is read. */
static tw_problem *shifted(int observed, double before, double after)
{
    tw_problem *p = plain_start(24.0 * 7.0);
    plain_ln(p, TW_X_WATER, 1200.0, 0.05);
    plain_setting(p, 0.0, 0.0);
    for (int day = 0; day < 7; day++) {
        tw_reading *r = plain_value(p, 12.0 + 24.0 * day, observed, day < 3 ? before : after, 0.02 * before);
        r->rubbish = 0.02;
    }
    return p;
}

static const tw_unwritten *likeliest(const tw_belief *b, int act)
{
    assert_true(b->unwrittens >= 1);
    assert_int_equal(b->unwritten[0].act, act);
    assert_true(b->unwritten[0].probability > 0.7);
    return &b->unwritten[0];
}

static void acid_that_nobody_wrote_is_believed_with_its_size(void **state)
{
    (void)state;
    tw_belief b;
    tw_problem *p = shifted(TW_OBSERVED_ALKALINITY, 2.0, 1.4);
    assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
    const tw_unwritten *u = likeliest(&b, TW_UNLOGGED_ACID_POURED);
    assert_near(p->now_h - u->from_h, 60.0, 1e-9);
    assert_near(p->now_h - u->until_h, 84.0, 1e-9);
    assert_true(u->size.q05 < 0.6 && u->size.q95 > 0.6 && u->size.q95 - u->size.q05 < 0.2);
    p = shifted(TW_OBSERVED_ALKALINITY, 1.4, 2.0);
    assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
    u = likeliest(&b, TW_UNLOGGED_BASE_POURED);
    assert_true(u->size.q05 < 0.6 && u->size.q95 > 0.6);
}

/* A jump is explained before the volume is bent: 34 mmol/kg were poured and read, later there are ten more, or a fifth less. */
static void salt_or_water_that_nobody_wrote_bends_no_volume(void **state)
{
    (void)state;
    static const double AFTER[2] = {44.0, 27.4};
    tw_belief b;
    double plain = 0.0;
    for (int k = -1; k < 2; k++) {
        tw_problem *p = shifted(TW_OBSERVED_CHLORIDE, 34.8, k < 0 ? 34.8 : AFTER[k]);
        tw_dose_event *salt = plain_chlorine(p, 1.0, 0.0);
        salt->mmol[TW_TOTAL_NA] = salt->mmol[TW_TOTAL_CL] = 34.0 * 1200.0;
        assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
        const double water = tw_estimate_column(&b, TW_COLUMN_WATER_KG).q50;
        if (k < 0) {
            assert_int_equal(b.unwrittens, 0);
            plain = water;
            continue;
        }
        const tw_unwritten *u = likeliest(&b, k == 0 ? TW_UNLOGGED_SALT_POURED : TW_UNLOGGED_WATER_ADDED);
        const double size = k == 0 ? 44.0 - 34.8 : 1.0 - (27.4 - 0.8) / (34.8 - 0.8);
        assert_near(u->size.q50, size, 0.12 * size);
        assert_near(water, plain, 0.015 * plain);
    }
}

/* Water whose coordinate is known as it came, read in the minute of its fill and once more ten minutes later. */
static tw_problem *read_at_the_fill(int coordinate, double came, int observed, double found)
{
    tw_problem *p = plain_start(1.0);
    plain_ln(p, TW_X_WATER, 1200.0, 0.05);
    plain_setting(p, 0.0, 0.0);
    p->by_entry = 1;
    p->film_from_h = p->days_from_h = 1e6; /* no chlorine is written */
    plain_ln(p, coordinate, came, 0.05);
    for (int i = 0; i < 2; i++) {
        tw_reading *r = plain_value(p, i / 6.0, observed, found, 0.02 * found);
        r->rubbish = 0.02;
    }
    return p;
}

static void what_went_in_with_the_fill_is_believed_from_two_readings(void **state)
{
    (void)state;
    static const struct {
        int coordinate, observed, act;
        double came, found, size;
    } CASE[] = {{TW_X_CHLORIDE, TW_OBSERVED_CHLORIDE, TW_UNLOGGED_SALT_POURED, 0.8, 40.8, 40.0},
                {TW_X_ALKALINITY, TW_OBSERVED_ALKALINITY, TW_UNLOGGED_ACID_POURED, 2.0, 1.2, 0.8},
                {TW_X_ALKALINITY, TW_OBSERVED_ALKALINITY, TW_UNLOGGED_BASE_POURED, 1.2, 2.0, 0.8},
                {TW_X_CHLORINE0, TW_OBSERVED_FREE_CHLORINE, TW_UNLOGGED_CHLORINE_POURED, 0.1, 6.0, 5.9}};
    tw_belief b;
    for (size_t i = 0; i < sizeof CASE / sizeof *CASE; i++) {
        tw_problem *p = read_at_the_fill(CASE[i].coordinate, CASE[i].came, CASE[i].observed, CASE[i].found);
        assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
        const tw_unwritten *u = likeliest(&b, CASE[i].act);
        assert_near(p->now_h - u->from_h, -TW_FILLING_H, 1e-9);
        assert_near(p->now_h - u->until_h, 0.0, 1e-9);
        assert_true(u->size.q05 < CASE[i].size && u->size.q95 > CASE[i].size && u->size.q95 - u->size.q05 < 0.5 * CASE[i].size);
        assert_int_equal(b.contradictions, 0);
        const tw_spread now = tw_estimate_now(&b, CASE[i].observed);
        assert_near(now.q50, CASE[i].found / tw_estimate_inside_factor(CASE[i].observed, b.density_kg_per_l),
                    0.08 * now.q50);
        p = read_at_the_fill(CASE[i].coordinate, CASE[i].came, CASE[i].observed, CASE[i].came);
        assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK); /* as it came: nothing was done */
        assert_int_equal(b.unwrittens, 0);
    }
}

/* Of a tub that was found full nobody knows how its water came: nothing is said to have gone in before the first reading. */
static void before_a_found_tub_was_read_nothing_is_made_up(void **state)
{
    (void)state;
    tw_belief b;
    tw_problem *p = read_at_the_fill(TW_X_CHLORIDE, 0.8, TW_OBSERVED_CHLORIDE, 40.8);
    p->filled = 0;
    assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
    assert_int_equal(b.unwrittens, 0);
}

/* Two readings of the pH that agree: the act is before the first of them, not between. */
static void a_ph_that_was_read_twice_is_followed(void **state)
{
    (void)state;
    tw_belief b;
    tw_problem *p = plain_start(60.0);
    plain_ln(p, TW_X_WATER, 1200.0, 0.05);
    plain_fix(p, TW_X_KLA_STILL, 1e-4);
    plain_setting(p, 0.0, 0.0);
    for (int i = 0; i < 6; i++) {
        tw_reading *r = plain_value(p, 1.0 + 10.0 * i, TW_OBSERVED_PH, 7.4, 0.05);
        r->rubbish = 0.02;
        r = plain_value(p, 1.0 + 10.0 * i, TW_OBSERVED_ALKALINITY, 1.5, 0.05);
        r->rubbish = 0.02;
    }
    for (int i = 0; i < 2; i++) {
        tw_reading *r = plain_value(p, 58.0 + i, TW_OBSERVED_PH, 6.7, 0.05);
        r->rubbish = 0.02;
    }
    assert_int_equal(plain_sample(p, 3, NULL, &b), TW_OK);
    const tw_unwritten *u = likeliest(&b, TW_UNLOGGED_ACID_POURED);
    assert_near(p->now_h - u->from_h, 51.0, 1e-9);
    assert_near(p->now_h - u->until_h, 58.0, 1e-9);
    const tw_spread ph = tw_estimate_now(&b, TW_OBSERVED_PH);
    assert_true(ph.q05 < 6.7 && ph.q95 > 6.7 && ph.q95 - ph.q05 < 0.3);
}

/* The last reading alone: it is wrong, or something was poured, and members say either. */
static void one_reading_alone_leaves_both_open(void **state)
{
    (void)state;
    tw_belief b;
    assert_int_equal(plain_sample(read_tub(5.0, 4.0, 108.0), 9, NULL, &b), TW_OK);
    assert_true(b.unwrittens >= 1);
    double p = 0.0, high = 0.0;
    for (uint32_t i = 0; i < b.unwrittens; i++)
        p += b.unwritten[i].probability;
    for (size_t i = 0; i < b.n; i++)
        high += b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] > 5.5;
    high /= (double)b.n;
    assert_true(p > 0.1 && p < 0.95);
    assert_true(high > p - 0.13 && high < p + 0.13); /* eighths */
}

/* Simulated start-ups with 3 mg/L that nobody wrote, 256 members: forecasts, loss and output where they say. As
 * written alone they would be there in three of five. */
static void forecasts_stand_after_a_dose_that_nobody_wrote(void **state)
{
    (void)state;
    static const int ASKED[] = {CAL_CHLORINE_6H, CAL_CHLORINE_24H, CAL_CHLORINE_72H, CAL_LOSS, CAL_OUTPUT};
    static cal_work w;
    static cal_result r;
    double covered = 0.0;
    w.options = tw_estimate_options_quick();
    w.mem_bytes = tw_estimate_sample_bytes(&w.options);
    w.forecast_bytes = tw_estimate_held_bytes((size_t)w.options.chains * w.options.keep);
    w.mem = malloc(w.mem_bytes);
    w.forecast = malloc(w.forecast_bytes);
    w.timeline = malloc(tw_estimate_timeline_bytes());
    w.wrong = SIM_UNLOGGED_DOSE;
    for (uint64_t seed = 300; seed < 324; seed++)
        assert_true(cal_one(&w, &r, seed, NULL));
    for (size_t i = 0; i < sizeof ASKED / sizeof *ASKED; i++)
        covered += 0.2 * cal_coverage(&r, ASKED[i], 0.9);
    printf("# covered %.3f\n", covered);
    assert_true(covered > 0.77);
    free(w.timeline);
    free(w.forecast);
    free(w.mem);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_made_up_where_readings_agree),
        cmocka_unit_test(a_dose_that_nobody_wrote_is_believed_with_its_size_and_time),
        cmocka_unit_test(what_used_chlorine_up_is_believed_too),
        cmocka_unit_test(a_generator_that_was_off_is_believed_with_its_hours),
        cmocka_unit_test(acid_that_nobody_wrote_is_believed_with_its_size),
        cmocka_unit_test(salt_or_water_that_nobody_wrote_bends_no_volume),
        cmocka_unit_test(what_went_in_with_the_fill_is_believed_from_two_readings),
        cmocka_unit_test(before_a_found_tub_was_read_nothing_is_made_up),
        cmocka_unit_test(a_ph_that_was_read_twice_is_followed),
        cmocka_unit_test(one_reading_alone_leaves_both_open),
        cmocka_unit_test(forecasts_stand_after_a_dose_that_nobody_wrote),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
