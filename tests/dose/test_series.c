/* Alkalinity down in shrinking steps with air between. */
#include "support/check.h"

#include <math.h>

#include "dose/series.h"
#include "num/normal.h"
#include "num/status.h"
#include "waters.h"

static unsigned char room[1u << 21];
static waters W;
static tw_dose_series_step step[12];

static tw_dose_ask acid_ask(const tw_substance *acid, double target, double floor_ph)
{
    tw_dose_ask ask = {.substance = acid, .aim = TW_OF_ALKALINITY, .target = target, .aim_quantile = 0.5, .seed = 3,
                       .limits = 2, .limit = {{TW_OF_PH, floor_ph, 1}, {TW_OF_ALKALINITY, 40, 1}}};
    return ask;
}

static tw_dose_series_sum run(const tw_dose_ask *ask, double rest, size_t cap)
{
    tw_dose_series_sum sum;
    assert_ok(tw_dose_series(&W.view, ask, 0.05, rest, room, sizeof room, step, cap, &sum));
    return sum;
}

/* Hard well water, 235 -> 80 in 1,130 L: about five shrinking steps, none under pH 6.8, 350 +- 7 mL of 10 mol/L acid. */
static void five_shrinking_steps_with_air(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.6, 235, 100, 20, 50, 20});
    waters_clear(&W);
    waters_add(&W, &w, 1130);
    tw_substance acid = tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45];
    const tw_dose_ask ask = acid_ask(&acid, 80, TW_DOSE_PH_FLOOR_ON);
    const tw_dose_series_sum sum = run(&ask, TW_DOSE_PH_AT_REST, 12);
    assert_true(sum.arrives);
    assert_in_range(sum.steps, 5, 6);
    assert_near(sum.grams * -tw_dose_alk_eq_per_g(&acid) / 10.0 * 1000, 350, 7);
    /* Each step replayed with the full solver, air by the full solver too. */
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(w.temp_k, &at));
    tw_water now = w;
    for (size_t i = 0; i < sum.steps; i++) {
        now = tw_dose_apply(now, 1130, &acid, step[i].grams);
        const double ph = ph_of_water(&now);
        assert_true(ph >= 6.8);
        assert_near(ph, step[i].ph_after[1], 0.004);
        if (i > 0)
            assert_true(step[i].grams < step[i - 1].grams);
        assert_ok(tw_water_dic_for_ph(&at, &now, TW_DOSE_PH_AT_REST, &sp));
    }
    assert_near(tw_dose_quantity(TW_OF_ALKALINITY, now.total_mol_per_kg, 1.0), 80, 1e-6);
    /* Without air the floor ends it; with heater and cell off the steps are larger. */
    const tw_dose_series_sum closed = run(&ask, nan(""), 12);
    assert_false(closed.arrives);
    const tw_dose_ask off = acid_ask(&acid, 80, TW_DOSE_PH_FLOOR_OFF);
    assert_true(run(&off, TW_DOSE_PH_AT_REST, 12).steps < sum.steps);
}

/* Over uncertain waters the chance that the series ever crosses stays within the plan's 5 %. */
static void risk_is_for_the_whole_series(void **state)
{
    (void)state;
    uint64_t s = check_seed;
    waters_clear(&W);
    for (int i = 0; i < 1000; i++) {
        const double z1 = tw_normal_quantile(check_uniform(&s, 1e-9, 1)), z2 = tw_normal_quantile(check_uniform(&s, 1e-9, 1));
        const double z3 = tw_normal_quantile(check_uniform(&s, 1e-9, 1));
        const tw_water w = kit_water((kit){38, 7.6 + 0.1 * z1, 200 + 8 * z2, 100, 20, 50, 20});
        waters_add(&W, &w, 1130 * exp(0.04 * z3));
    }
    tw_substance acid = tw_dose_substances[TW_SUBSTANCE_SODIUM_BISULFATE_93];
    acid.assay_sd_ln = 0.05;
    tw_dose_ask ask = acid_ask(&acid, 90, 6.8);
    ask.grid_g = 1;
    ask.margin = 1;
    const tw_dose_series_sum sum = run(&ask, TW_DOSE_PH_AT_REST, 12);
    assert_true(sum.steps >= 3);
    assert_true(sum.chance_ever <= 0.05);
    assert_true(sum.chance_ever > 0.005);
    assert_true(sum.left >= 0.0 && sum.left < 0.05);
    double spent = 0.0;
    for (size_t i = 0; i < sum.steps; i++) {
        spent += step[i].chance;
        assert_near(step[i].grams, floor(step[i].grams + 0.5), 1e-9);
        assert_true(step[i].before[1] > step[i].after[1]);
    }
    assert_true(sum.chance_ever <= spent + 1e-12); /* Boole */
    /* The next step starts from where this one left its members, errors of strength and all; air leaves
     * alkalinity alone. */
    for (size_t i = 1; i < sum.steps; i++)
        for (int q = 0; q < 3; q++)
            assert_near(step[i].before[q], step[i - 1].after[q], 1e-9);
    /* The caller's arrays are as they were. */
    assert_true(W.view.total[TW_TOTAL_SO4] == W.total[TW_TOTAL_SO4] && W.total[TW_TOTAL_SO4][0] < 3e-4);
}

/* What the first step of salt risked stays risked: without a reading there is no room for a second. */
static void salt_waits_for_a_reading(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){36, 7.5, 70, 60, 10, 60, 20});
    waters_clear(&W);
    for (int i = 0; i < 1000; i++)
        waters_add(&W, &w, 1130 * exp(0.05 * tw_normal_quantile((i + 0.5) / 1000)));
    const tw_substance salt = tw_dose_substances[TW_SUBSTANCE_SODIUM_CHLORIDE];
    tw_dose_ask ask = {.substance = &salt, .aim = TW_OF_SALT, .target = 1900, .aim_quantile = 0.5, .limits = 1,
                       .limit = {{TW_OF_SALT, 2000, 0}}, .grid_g = 10};
    const tw_dose_series_sum sum = run(&ask, nan(""), 12);
    assert_int_equal(sum.steps, 1);
    assert_false(sum.arrives);
    assert_true(sum.chance_ever <= 0.05 && sum.chance_ever > 0.01);
    assert_true(step[0].after[1] > 1700);
}

static void few_steps_and_little_room(void **state)
{
    (void)state;
    const tw_water w = kit_water((kit){38, 7.6, 235, 100, 20, 50, 20});
    waters_clear(&W);
    waters_add(&W, &w, 1130);
    const tw_substance acid = tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45];
    const tw_dose_ask ask = acid_ask(&acid, 80, 6.8);
    const tw_dose_series_sum sum = run(&ask, 7.6, 2);
    assert_int_equal(sum.steps, 2);
    assert_false(sum.arrives);
    tw_dose_series_sum none;
    assert_status(tw_dose_series(&W.view, &ask, 0.05, 7.6, room, 100, step, 12, &none), TW_ERR_CAPACITY);
    assert_status(tw_dose_series(&W.view, &ask, 0.05, 7.6, room, sizeof room, step, 0, &none), TW_ERR_CAPACITY);
    assert_status(tw_dose_series(&W.view, &ask, -1, 7.6, room, sizeof room, step, 12, &none), TW_ERR_RANGE);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_shrinking_steps_with_air), cmocka_unit_test(risk_is_for_the_whole_series),
        cmocka_unit_test(salt_waits_for_a_reading), cmocka_unit_test(few_steps_and_little_room)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
