/* tests/estimate/test_held.c: the verdict on the hold, duties, forecasts: closed forms and gates. */
#include "support/check.h"

#include "estimate/forecast.h"
#include "estimate/held.h"
#include "estimate/trial.h"
#include "plain.h"

static unsigned char work[1 << 20];

static tw_held ask(const tw_belief *b, double duty, double floor_mg, double ceiling_mg)
{
    tw_held h;
    const tw_held_ask a = {.duty = duty, .floor_mg_per_l = floor_mg, .ceiling_mg_per_l = ceiling_mg};
    assert_int_equal(tw_estimate_held(b, &a, work, sizeof work, &h), TW_OK);
    return h;
}

/* 0.15 g/h, loss 0.016 1/h, 1,350 L: from 1.0 to 3.0 mg/L in 25.63 h (statistics: plateau and arrival). */
static void hour_of_the_hold_is_the_balance_solved(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1350.0, 1.0, 1.0, 0.016, 0.15);
    const tw_held h = ask(&b, 1.0, 3.0, 0.0);
    assert_near(h.hours_q50, 25.63, 0.05);
    assert_near(h.hours_q95, 25.63, 0.05);
    assert_int_equal(h.held, 0);
    assert_near(h.p_hold_ever, 1.0, 0.0);
}

/* The verdict alone is the same verdict, without the hours. */
static void seven_days_are_enough_for_the_verdict(void **state)
{
    (void)state;
    for (int i = 0; i < 12; i++) {
        const tw_belief b = plain_belief(1350.0, 1.0 + 0.7 * i, 0.5 * i, 0.016, 0.15);
        tw_held_ask a = {.duty = 0.6, .floor_mg_per_l = 3.0, .ceiling_mg_per_l = 5.0};
        const tw_held all = ask(&b, a.duty, a.floor_mg_per_l, a.ceiling_mg_per_l);
        tw_held seven;
        a.seven_days = 1;
        assert_int_equal(tw_estimate_held(&b, &a, work, sizeof work, &seven), TW_OK);
        assert_int_equal(seven.held, all.held);
        assert_same_bits(seven.p_floor_7d, all.p_floor_7d);
        assert_same_bits(seven.p_ceiling, all.p_ceiling);
        assert_same_bits(seven.p_now, all.p_now);
        assert_same_bits(seven.hours_q50, 0.0);
        assert_same_bits(seven.remnant_hours_q95, 0.0);
    }
}

/* C* = P/(V k) = 6.944 mg/L. */
static void plateau_is_output_over_volume_and_loss(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1350.0, 6.0, 6.0, 0.016, 0.15);
    tw_duty d;
    assert_int_equal(tw_estimate_duty(&b, 4.0, 3.0, 5.0, 38.0, work, sizeof work, &d), TW_OK);
    assert_near(d.level_full.q50, 6.944, 0.002);
    assert_near(d.for_target.q50, 4.0 / 6.944, 0.001);
}

/* Duty for 4 mg/L at loss 0.0122, 1,020 L, 0.16 g/h is 0.311. */
static void duty_for_a_level_is_level_times_loss_volume_over_output(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1020.0, 4.0, 4.0, 0.0122, 0.16);
    tw_duty d;
    assert_int_equal(tw_estimate_duty(&b, 4.0, 3.0, 5.0, 38.0, work, sizeof work, &d), TW_OK);
    assert_near(d.for_target.q50, 0.311, 0.001);
    assert_true(d.lowest < 0.311 && d.highest > 0.311);
    assert_near(d.lowest, 3.0 * 0.0122 * 1.020 / 0.16, 0.001);
    assert_near(d.highest, 5.0 * 0.0122 * 1.020 / 0.16, 0.001);
    assert_near(d.p_best, 1.0, 0.0);
}

static void without_a_generator_a_big_dose_is_never_held(void **state)
{
    (void)state;
    /* 10 mg/L by hand, clean tub, no cell: the trade would call it held for days. */
    double c = 10.0;
    for (int day = 1; day <= 5; day++) {
        c *= exp(-0.012 * 24.0);
        tw_belief b = plain_belief(1200.0, c, 0.0, 0.012, 1e-9);
        b.hours_since_dose = 24.0 * day;
        const tw_held h = ask(&b, 1.0, 3.0, 0.0);
        assert_int_equal(h.held, 0);
        assert_near(h.p_floor_7d, 0.0, 0.0);
        if (c >= 3.0)
            assert_int_equal(h.trade_rule, 1);
    }
}

static void a_strong_generator_may_hold_beside_a_remnant_of_two(void **state)
{
    (void)state;
    tw_belief b = plain_belief(1100.0, 5.4, 3.4, 0.014, 0.16);
    b.hours_since_dose = 50.0;
    const tw_held h = ask(&b, 0.5, 3.0, 0.0);
    assert_int_equal(h.held, 1);
    assert_near(h.remnant_mg_per_l.q50, 2.0, 1e-12);
    assert_int_equal(h.remnant_rule, 0);
    assert_int_equal(h.trade_rule, 1);
}

static void a_dose_within_a_day_or_a_ceiling_stands_in_the_way(void **state)
{
    (void)state;
    tw_belief b = plain_belief(1100.0, 4.2, 4.2, 0.014, 0.16);
    b.hours_since_dose = 23.0;
    assert_int_equal(ask(&b, 0.45, 3.0, 0.0).held, 0);
    b.hours_since_dose = 24.0;
    assert_int_equal(ask(&b, 0.45, 3.0, 0.0).held, 1);
    /* At full duty the level climbs to 10: over a ceiling of 5. */
    const tw_held h = ask(&b, 1.0, 3.0, 5.0);
    assert_int_equal(h.held, 0);
    assert_near(h.p_ceiling, 0.0, 0.0);
}

static void a_test_without_generator_leaves_what_the_loss_leaves(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1020.0, 2.5, 2.5, 0.012182, 0.16);
    double off[64], on[64];
    assert_int_equal(tw_estimate_trial_foretell(&b, 12.0, work, sizeof work, off, on), TW_OK);
    assert_near(off[0] * b.density_kg_per_l, 2.16, 0.001); /* 2.5*exp(-12*0.012182) */
    assert_int_equal(tw_estimate_trial_foretell(&b, 24.0, work, sizeof work, off, on), TW_OK);
    assert_true(off[0] * b.density_kg_per_l < 2.0 && on[0] > off[0]);
}

/* From 4 mg/L to 1: 116, 69, 40 h at loss 0.012, 0.02, 0.035. */
static void power_cut_hours(void **state)
{
    (void)state;
    const double loss[3] = {0.012, 0.02, 0.035}, hours[3] = {115.5, 69.3, 39.6};
    for (int i = 0; i < 3; i++) {
        const tw_belief b = plain_belief(1200.0, 4.0, 4.0, loss[i], 0.16);
        assert_near(tw_estimate_hours_to(&b, 1.0).q50, hours[i], 0.1);
    }
}

static tw_fan fan_a, fan_b;

static void two_half_duty_hours_equal_one_full_hour_without_loss(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 1.0, 1.0, 0.0, 0.2);
    tw_schedule half = tw_estimate_schedule_same(&b), full = half;
    half.duty[0] = 0.5;
    assert_int_equal(tw_estimate_forecast(&b, &half, 2, work, sizeof work, &fan_a), TW_OK);
    assert_int_equal(tw_estimate_forecast(&b, &full, 1, work, sizeof work, &fan_b), TW_OK);
    assert_near(fan_a.chlorine[2].q50, fan_b.chlorine[1].q50, 1e-15);
    assert_near(fan_b.chlorine[1].q50, 1.2, 1e-12);
}

static void twice_the_tub_twice_the_cell_same_forecast_to_the_bit(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 3.0, 1.0, 0.015, 0.2);
    tw_schedule plan = tw_estimate_schedule_same(&b);
    plan.doses = 1;
    plan.dose[0].hour = 5;
    plan.dose[0].chlorine_mg = 2000.0;
    for (int i = 0; i < 64; i++) {
        b.column[TW_COLUMN_DEMAND_MG_PER_KG][i] = 0.02 * i;
        b.column[TW_COLUMN_DEMAND_RATE][i] = 0.05;
    }
    assert_int_equal(tw_estimate_forecast(&b, &plan, 72, work, sizeof work, &fan_a), TW_OK);
    tw_belief twice = b;
    for (int i = 0; i < 64; i++)
        twice.column[TW_COLUMN_WATER_KG][i] *= 2.0;
    twice.plate_output_g_per_h *= 2.0;
    plan.dose[0].chlorine_mg *= 2.0;
    assert_int_equal(tw_estimate_forecast(&twice, &plan, 72, work, sizeof work, &fan_b), TW_OK);
    assert_memory_equal(fan_a.chlorine, fan_b.chlorine, sizeof fan_a.chlorine);
    assert_memory_equal(fan_a.made, fan_b.made, sizeof fan_a.made);
}

static void a_forecast_asked_twice_is_the_same_and_an_odd_plan_is_refused(void **state)
{
    (void)state;
    tw_belief b = plain_belief(1000.0, 3.0, 1.0, 0.015, 0.2);
    b.day_sd = 0.1;
    tw_schedule plan = tw_estimate_schedule_same(&b);
    assert_int_equal(tw_estimate_forecast(&b, &plan, 336, work, sizeof work, &fan_a), TW_OK);
    assert_int_equal(tw_estimate_forecast(&b, &plan, 336, work, sizeof work, &fan_b), TW_OK);
    assert_memory_equal(fan_a.digest, fan_b.digest, sizeof fan_a.digest);
    assert_true(fan_a.chlorine[336].q95 - fan_a.chlorine[336].q05 > 0.3); /* days of chance spread it */
    assert_true(fan_a.chlorine[336].q05 > 0.0);
    plan.duty[0] = 1.5;
    assert_int_equal(tw_estimate_forecast(&b, &plan, 24, work, sizeof work, &fan_a), TW_ERR_RANGE);
    plan.duty[0] = 0.5;
    assert_int_equal(tw_estimate_forecast(&b, &plan, 337, work, sizeof work, &fan_a), TW_ERR_RANGE);
    assert_int_equal(tw_estimate_forecast(&b, &plan, 24, work, 100, &fan_a), TW_ERR_CAPACITY);
}

static void sulfite_takes_the_same_share_of_made_and_remnant(void **state)
{
    (void)state;
    const tw_belief b = plain_belief(1000.0, 8.0, 4.0, 1e-12, 1e-12);
    tw_schedule plan = tw_estimate_schedule_same(&b);
    plan.doses = 1;
    plan.dose[0].chlorine_mg = -4000.0;
    assert_int_equal(tw_estimate_forecast(&b, &plan, 1, work, sizeof work, &fan_a), TW_OK);
    assert_near(fan_a.chlorine[0].q50, 4.0, 1e-3);
    assert_near(fan_a.made[0].q50, 2.0, 1e-3);
    assert_near(fan_a.remnant[0].q50, 2.0, 1e-3);
}

static int rises(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void quantiles_are_those_of_the_sorted_values(void **state)
{
    (void)state;
    uint64_t s = check_seed;
    static double v[1024], sorted[1024], scratch[1024];
    for (int round = 0; round < 300; round++) {
        const size_t n = 1 + (size_t)(s >> 33) % 200;
        for (size_t i = 0; i < n; i++) {
            s = s * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            v[i] = (double)(int)((s >> 40) % 17) - 8.0; /* many equal ones */
        }
        memcpy(sorted, v, sizeof v);
        qsort(sorted, n, sizeof *sorted, rises);
        const tw_spread q = tw_estimate_spread(v, n, scratch);
        const double got[5] = {q.q05, q.q25, q.q50, q.q75, q.q95}, p[5] = {0.05, 0.25, 0.5, 0.75, 0.95};
        for (int i = 0; i < 5; i++) {
            const double at = p[i] * (double)(n - 1), low = floor(at);
            const size_t k = (size_t)low;
            const double above = k + 1 < n ? sorted[k + 1] : sorted[k];
            assert_near(got[i], sorted[k] + (at - low) * (above - sorted[k]), 1e-12);
        }
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(seven_days_are_enough_for_the_verdict),
        cmocka_unit_test(hour_of_the_hold_is_the_balance_solved),
        cmocka_unit_test(plateau_is_output_over_volume_and_loss),
        cmocka_unit_test(duty_for_a_level_is_level_times_loss_volume_over_output),
        cmocka_unit_test(without_a_generator_a_big_dose_is_never_held),
        cmocka_unit_test(a_strong_generator_may_hold_beside_a_remnant_of_two),
        cmocka_unit_test(a_dose_within_a_day_or_a_ceiling_stands_in_the_way),
        cmocka_unit_test(a_test_without_generator_leaves_what_the_loss_leaves),
        cmocka_unit_test(power_cut_hours),
        cmocka_unit_test(two_half_duty_hours_equal_one_full_hour_without_loss),
        cmocka_unit_test(twice_the_tub_twice_the_cell_same_forecast_to_the_bit),
        cmocka_unit_test(a_forecast_asked_twice_is_the_same_and_an_odd_plan_is_refused),
        cmocka_unit_test(sulfite_takes_the_same_share_of_made_and_remnant),
        cmocka_unit_test(quantiles_are_those_of_the_sorted_values),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
