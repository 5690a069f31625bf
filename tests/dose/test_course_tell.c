/* What is said of a visit's moves: hours of air against the integral done again, and the rest by hand. */
#include "frozen_course.h"
#include "dose/course_tell.h"

static tw_rows R;

static tw_reduced_answer solved_with(const tw_water *w, double dic)
{
    tw_water less = *w;
    less.total_mol_per_kg[TW_TOTAL_DIC] = dic;
    const tw_reduced_water q = tw_water_reduced_acids(less.total_mol_per_kg);
    tw_reduced_answer a;
    tw_water_reduced_solve(&R.acids, &q, &a);
    return a;
}

/* The integral of d(carbon) / (kla (CO2 - that of the air)), by four hundred trapezoids. */
static double integral(const tw_water *w, double kla_per_h, double to_dic)
{
    enum { PARTS = 400 };
    const double from = w->total_mol_per_kg[TW_TOTAL_DIC], each = (from - to_dic) / PARTS, air = 4.2e-4 * R.acids.co2_per_atm;
    double hours = 0.0;
    for (int i = 0; i <= PARTS; i++)
        hours += (i % PARTS == 0 ? 0.5 : 1.0) * each / (kla_per_h * (solved_with(w, from - i * each).co2 - air));
    return hours;
}

static void hours_of_air_are_the_integral(void **state)
{
    (void)state;
    uint64_t s = check_seed;
    for (int k = 0; k < 20; k++) {
        const double ph = check_uniform(&s, 6.7, 7.2), to = ph + check_uniform(&s, 0.1, 0.6), kla = check_uniform(&s, 0.5, 4.0);
        one_water((kit){check_uniform(&s, 12, 39), ph, check_uniform(&s, 40, 220), 100, 10, 1000, 20}, 1000);
        freeze_rows(&R);
        const tw_reduced_water q = tw_water_reduced_acids(R.middle_water.total_mol_per_kg);
        const double hours = integral(&R.middle_water, kla, tw_water_reduced_dic_at_ph(&R.acids, &q, to));
        double reached = 0.0;
        assert_near_rel(tw_dose_air_hours(&R.acids, &R.middle_water, kla, 4.2e-4, to, 100, &reached), hours, 2e-3);
        assert_near(reached, to, 0);
        assert_near_rel(tw_dose_air_hours(&R.acids, &R.middle_water, 0.5 * kla, 4.2e-4, to, 100, &reached), 2.0 * hours, 2e-3);
        /* Three quarters of the time: as far as that, within a step. */
        assert_near(tw_dose_air_hours(&R.acids, &R.middle_water, kla, 4.2e-4, to, 0.75 * hours, &reached), 0.75 * hours, 0);
        assert_true(reached > ph && reached < to);
        /* Water that stands there, or above, takes no time; nor does one that gives nothing to the air. */
        assert_near(tw_dose_air_hours(&R.acids, &R.middle_water, kla, 4.2e-4, ph - 0.01, 100, &reached), 0, 0);
        assert_near(reached, ph, 1e-5);
        assert_near(tw_dose_air_hours(&R.acids, &R.middle_water, 0.0, 4.2e-4, to, 100, &reached), 0, 0);
        assert_near(reached, ph, 1e-5);
        /* Over the pH at which it stands with the air no hours are enough. */
        assert_near(tw_dose_air_hours(&R.acids, &R.middle_water, kla, 4.2e-4, 9.5, 100, &reached), 100, 0);
        /* Nor when they are few and the exchange is quick: at rest with the air no hour more helps. */
        assert_near(tw_dose_air_hours(&R.acids, &R.middle_water, 1e6, 4.2e-4, 9.5, 0.5, &reached), 0.5, 0);
        const double there = tw_water_reduced_dic_at_ph(&R.acids, &q, reached), at_rest = R.acids.co2_per_atm * 4.2e-4;
        assert_true(solved_with(&R.middle_water, there).co2 > 0.6 * at_rest && solved_with(&R.middle_water, there).co2 < 3.0 * at_rest);
    }
}

/* 500 L out and in at 15 L/min; two pours; half of the chlorine gone at 5 % an hour; jets pressed every 20 minutes. */
static void minutes_of_the_moves(void **state)
{
    (void)state;
    one_water((kit){37, 7.0, 80, 100, 10, 1000, 20}, 1000);
    A.exchange_l_per_min = 15.0;
    A.loss_per_h = 0.05;
    A.source = kit_water((kit){15, 7.4, 80, 100, 10, 50, 20});
    freeze_rows(&R);
    tw_course_moves m;
    tw_visit v = {.additions = 2, .keeps = 1.0};
    const double plain = A.way_min + A.test_min + 2.0 * A.pour_min;
    assert_near(tw_dose_tell_moves(&R, &v, &m), plain, 1e-12);
    assert_true(m.exchange_l == 0.0 && m.air_hours == 0.0 && m.wait_hours == 0.0 && m.air_presses == 0);
    v.share = 0.5;
    assert_near(tw_dose_tell_moves(&R, &v, &m), plain + 1000.0 / 15.0, 1e-9);
    assert_near(m.exchange_l, 500.0, 1e-9);
    assert_near(m.exchange_share, 0.5, 0);
    A.exchange_l_per_min = 0.0; /* nothing known of the hose */
    assert_near(tw_dose_tell_moves(&R, &v, &m), plain, 1e-9);
    v.share = 0.0;
    v.keeps = 0.5;
    assert_near(tw_dose_tell_moves(&R, &v, &m), plain, 1e-12);
    assert_near(m.wait_hours, log(2.0) / 0.05, 1e-9);
    v = (tw_visit){.additions = 0, .keeps = 1.0, .air = TW_ROW_PH_TARGET};
    const double on_and_off = tw_dose_tell_moves(&R, &v, &m) - A.way_min - A.test_min;
    assert_true(on_and_off > 0.0 && m.air_presses == 0 && m.air_hours > 0.3);
    A.jets_stop_min = 60.0 * m.air_hours / 7.5; /* eight presses, four times as many as to go there and back */
    assert_near(tw_dose_tell_moves(&R, &v, &m) - A.way_min - A.test_min, 4.0 * on_and_off, 1e-9);
    assert_int_equal(m.air_presses, 8);
    A.jets_stop_min = 60.0 * m.air_hours / 2.0;
    assert_near(tw_dose_tell_moves(&R, &v, &m) - A.way_min - A.test_min, on_and_off, 1e-9);
    assert_int_equal(m.air_presses, 2);
    /* The slow case: exp(1.645 sd) times as long, no longer than the hours there are. */
    assert_near_rel(m.air_hours_slow, m.air_hours * exp(1.645 * A.kla_sd_ln), 1e-12);
    A.air_hours = 1.2 * m.air_hours;
    const double hours = m.air_hours;
    (void)tw_dose_tell_moves(&R, &v, &m);
    assert_near(m.air_hours_slow, 1.2 * hours, 1e-12);
    /* Nothing known of the exchange with the air: a reading ends it. */
    A.kla_jets_per_h = 0.0;
    (void)tw_dose_tell_moves(&R, &v, &m);
    assert_near(m.air_hours, A.air_hours, 0);
    assert_near(m.air_to_ph, 7.4, 1e-9);
}

/* The middle water after the first pours of a visit: as far as it has any, whatever stands behind them. */
static void the_middle_after_some_of_the_pours(void **state)
{
    (void)state;
    one_water((kit){37, 7.4, 80, 100, 10, 1000, 20}, 1000);
    A.source = kit_water((kit){15, 7.4, 40, 60, 10, 50, 20});
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 0);
    freeze_rows(&R);
    const tw_visit v = {.additions = 2, .stock = {0, 1, 0}, .grams = {300.0, 50.0, 999.0}, .share = 0.25, .keeps = 1.0};
    tw_water want = tw_dose_exchange(R.middle_water, &A.source, 0.25);
    for (size_t k = 0; k <= 3; k++) {
        const tw_water got = tw_dose_tell_middle(&R, &v, k);
        for (int t = 0; t < TW_TOTALS; t++)
            assert_near(got.total_mol_per_kg[t], want.total_mol_per_kg[t], 1e-15);
        if (k < 2)
            want = tw_dose_apply(want, R.middle_kg, &A.stock[v.stock[k]].substance, v.grams[k]);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(hours_of_air_are_the_integral), cmocka_unit_test(minutes_of_the_moves),
                                       cmocka_unit_test(the_middle_after_some_of_the_pours)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
