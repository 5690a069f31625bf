/* tests/estimate/test_level.c: evaporation, splash-out, and top-ups of which nobody knows why. */
#include "support/check.h"

#include <math.h>

#include "lines_problem.h"
#include "estimate/level.h"
#include "estimate/model.h"
#include "estimate/timeline.h"
#include "plain.h"

/* 2.90 kg/h from 4 m2 at 38 C into air of 1.17 kPa (the worked example of Carrier's formula in SI units), over 0.45 m of water. */
static void open_water_loses_what_carriers_formula_says(void **state)
{
    (void)state;
    assert_near(tw_estimate_open_evaporation_per_h(38.0) * 4.0 * 0.45 * 1000.0, 2.90, 0.03);
    assert_near(tw_estimate_open_evaporation_per_h(5.0), 0.0, 0.0); /* colder than the dew point */
}

static tw_model model;
static tw_path path;
static tw_lanes x[TW_MAX_DIMS];
static void *timeline;

static void run(const tw_problem *p)
{
    tw_lanes ln;
    free(timeline);
    timeline = malloc(tw_estimate_timeline_bytes());
    assert_int_equal(tw_estimate_model_make(p, &model, timeline), TW_OK);
    tw_estimate_forward(&model, x, &path);
    tw_estimate_likelihood(&model, &path, 1.0, &ln);
}

/* 1,000 kg of which all is known: 30 mmol/kg chloride, 2 in the source. */
static tw_problem *known(double now_h, double dries)
{
    tw_problem *p = plain_start(now_h);
    plain_clean(p);
    plain_fix(p, TW_X_WATER, 1000.0);
    plain_fix(p, TW_X_CHLORINE0, 1e-9);
    plain_fix(p, TW_X_CHLORIDE, 2.0);
    plain_fix(p, TW_X_EVAPORATION, 1.0);
    plain_setting(p, 0.0, 0.0)->dries = dries;
    tw_dose_event *salt = plain_chlorine(p, 0.0, 0.0);
    salt->mmol[TW_TOTAL_CL] = salt->mmol[TW_TOTAL_NA] = 28000.0;
    return p;
}

/* low = most*(1 - exp(-d/most)) of the exposure d; chloride is read as the salts of the line over what is left, and what came in unseen
 * brings 2 mmol/kg of it. */
static void an_open_tub_concentrates_until_it_is_filled_up_unseen(void **state)
{
    (void)state;
    tw_problem *p = known(200.0, 1.0);
    plain_value(p, 20.0, TW_OBSERVED_CHLORIDE, 30.0, 1.0);
    plain_value(p, 200.0, TW_OBSERVED_CHLORIDE, 30.0, 1.0);
    run(p);
    const double most = TW_EVAPORATION_UNWRITTEN, rate = tw_estimate_open_evaporation_per_h(38.0);
    for (int i = 0; i < 2; i++) {
        const double d = rate * (i == 0 ? 20.0 : 200.0), low = most * (1.0 - exp(-d / most));
        assert_near(path.eta[i].v[0], (30.0 + 2.0 * (d - low)) / (1.0 - low), 1e-6);
    }
    assert_near(path.state.water_kg.v[0], 1000.0, 1e-9); /* kg at the line, as ever */
    p = known(200.0, 0.0);
    plain_value(p, 200.0, TW_OBSERVED_CHLORIDE, 30.0, 1.0);
    run(p);
    assert_int_equal(model.dries, 0);
    assert_near(path.eta[0].v[0], 30.0, 1e-6);
}

static void add_top_up(tw_problem *p, double at_h, double kg, int level)
{
    tw_exchange_event *gone = &p->exchange[p->exchanges++], *in = &p->exchange[p->exchanges++];
    memset(gone, 0, 2 * sizeof *gone);
    gone->at_h = in->at_h = at_h;
    gone->in_kg = -kg;
    gone->pure = 1;
    gone->level = level;
    in->in_kg = kg;
}

/* Two days open: 4.1 % below the line. 20 kg more by hand: all of it had evaporated. 200 kg: the 41 that had evaporated brought nothing,
 * the rest took its salts along. */
static void a_top_up_of_unknown_kind_is_either(void **state)
{
    (void)state;
    const double most = TW_EVAPORATION_UNWRITTEN, d = 48.0 * tw_estimate_open_evaporation_per_h(38.0), low = most * (1.0 - exp(-d / most));
    const double salts = 30.0 + 2.0 * (d - low);
    for (int i = 0; i < 2; i++) {
        const double kg = i == 0 ? 10.0 : 200.0;
        tw_problem *p = known(48.0, 1.0);
        add_top_up(p, 48.0, kg, TW_LEVEL_UNSAID);
        plain_value(p, 48.0, TW_OBSERVED_CHLORIDE, 30.0, 1.0);
        run(p);
        const double r = 1000.0 * low / kg, share = r / pow(1.0 + pow(r, 4.0), 0.25);
        const double expected = salts * (1.0 - (1.0 - share) * kg / 1000.0) + 2.0 * kg / 1000.0;
        assert_near(path.eta[0].v[0], expected, 0.05 * kg / 1000.0);
        assert_true(i == 0 ? share > 0.99 : share < 0.25);
        assert_near(path.state.low.v[0], 0.0, 0.0);
        assert_near(path.state.water_kg.v[0], 1000.0, 1e-9);
    }
}

/* The same in twice the tub with twice the litres: the same bits. */
static void twice_the_tub_and_twice_the_top_up_is_the_same(void **state)
{
    (void)state;
    double eta[2];
    for (int i = 0; i < 2; i++) {
        tw_problem *p = known(60.0, 1.0);
        p->prior[TW_X_WATER].kind = TW_PRIOR_PLAIN; /* a logarithm would round */
        p->prior[TW_X_WATER].middle = i == 0 ? 1000.0 : 2000.0;
        p->dose[0].mmol[TW_TOTAL_CL] *= i + 1.0;
        add_top_up(p, 48.0, 30.0 * (i + 1), TW_LEVEL_UNSAID);
        plain_value(p, 60.0, TW_OBSERVED_CHLORIDE, 30.0, 1.0);
        run(p);
        eta[i] = path.eta[0].v[0];
    }
    assert_true(!(eta[0] < eta[1]) && !(eta[0] > eta[1]));
}

/* Chloride and cyanurate both up by 4 % over a week of an open tub: it evaporated, and more than the formula says; both as they were:
 * less. The volume stays in either case. */
static double chloride_now(double by, double *volume)
{
    tw_problem *p = plain_start(168.0);
    plain_clean(p);
    plain_ln(p, TW_X_WATER, 1000.0, 0.02);
    plain_fix(p, TW_X_CHLORINE0, 1e-9);
    plain_fix(p, TW_X_CHLORIDE, 2.0);
    tw_dose_event *salt = plain_chlorine(p, 0.0, 0.0);
    salt->mmol[TW_TOTAL_CL] = salt->mmol[TW_TOTAL_NA] = 28000.0;
    plain_ln(p, TW_X_CYANURATE, 0.3, 0.3);
    plain_setting(p, 0.0, 0.0)->dries = 0.15;
    for (int i = 0; i < 2; i++) {
        const double at = i == 0 ? 0.0 : 168.0, up = i == 0 ? 1.0 : by;
        for (int k = 0; k < 4; k++) {
            plain_value(p, at, TW_OBSERVED_CHLORIDE, 30.0 * up, 0.06);
            plain_value(p, at, TW_OBSERVED_CYANURATE, 0.3 * up, 0.0006);
        }
    }
    tw_belief b;
    assert_int_equal(plain_sample(p, 5, NULL, &b), TW_OK);
    double mean = 0.0;
    *volume = 0.0;
    for (size_t i = 0; i < b.n; i++) {
        mean += b.total[TW_TOTAL_CL][i] * 1e3 / (double)b.n;
        *volume += b.column[TW_COLUMN_WATER_KG][i] / (double)b.n;
    }
    return mean;
}

static void salts_that_rise_together_have_lost_water_not_gained_salt(void **state)
{
    (void)state;
    double volume[2];
    const double up = chloride_now(1.04, &volume[0]), same = chloride_now(1.0, &volume[1]);
    print_message("# %.2f and %.2f mmol/kg where %.2f and 30.00 are read; %.0f and %.0f kg at the line\n", up, same, 30.0 * 1.04, volume[0], volume[1]);
    assert_near(up, 31.2, 0.1);
    assert_near(same, 30.0, 0.1);
    assert_near(volume[0], 1000.0, 6.0);
    assert_near(volume[1], 1000.0, 6.0);
}

static void filled(void)
{
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Larch\",\"use\":\"private\",\"start\":\"start-up\"");
    lines_add("exchange", 1, "\"cause\":\"fill\",\"in\":\"1250\",\"volume_unit\":\"L\",\"temperature\":\"37\",\"temperature_unit\":\"Cel\"");
    lines_add("volume", 1.1, "\"volume\":\"1250\",\"volume_unit\":\"L\",\"method\":\"meter\"");
    lines_add("setting", 1.2, "\"what\":\"temperature\",\"value\":\"37\",\"unit\":\"Cel\"");
}

/* 12 person-hours splash out 24 L, unless somebody writes what was filled up for it. */
static void bathers_splash_out_unless_it_is_written(void **state)
{
    (void)state;
    filled();
    lines_add("bathers", 30, "\"count\":\"6\",\"minutes\":\"120\"");
    const tw_problem *p = problem_at(50);
    assert_int_equal(p->exchanges, 1);
    assert_near(p->exchange[0].out_kg, 24.0, 0.1);
    assert_near(p->exchange[0].in_kg, p->exchange[0].out_kg, 0.0);
    assert_near(p->setting[0].dries, TW_EVAPORATION_COVERED, 0.0);
    lines_add("exchange", 40, "\"cause\":\"unknown\",\"in\":\"30\",\"volume_unit\":\"L\"");
    p = problem_at(50);
    assert_int_equal(p->exchanges, 2);
    assert_int_equal(p->exchange[0].level, TW_LEVEL_UNSAID);
    assert_near(p->exchange[0].in_kg, -p->exchange[1].in_kg, 0.0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(open_water_loses_what_carriers_formula_says),
        cmocka_unit_test(an_open_tub_concentrates_until_it_is_filled_up_unseen),
        cmocka_unit_test(a_top_up_of_unknown_kind_is_either),
        cmocka_unit_test(twice_the_tub_and_twice_the_top_up_is_the_same),
        cmocka_unit_test(salts_that_rise_together_have_lost_water_not_gained_salt),
        cmocka_unit_test(bathers_splash_out_unless_it_is_written),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
