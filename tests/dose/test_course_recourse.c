/* What a first visit is worth: retests and the visits after them, counted by hand on few waters. */
#include "frozen_course.h"
#include "dose/course_visit.h"

#define MEMBERS 64

static tw_rows R;
static tw_search S;
static double doubles[4][TW_COLUMNS_DOUBLES(MEMBERS)], value[MEMBERS],
    members_room[SET_DOUBLES(MEMBERS)];
static uint32_t order[MEMBERS];
static tw_course_set SET;

static void freeze(void)
{
    freeze_set(&R, members_room, &SET);
    tw_columns *const all[4] = {&S.full, &S.thin, &S.post, &S.trial};
    for (int k = 0; k < 4; k++)
        (void)tw_dose_columns_in(doubles[k], W.view.n, all[k]); /* one behind the other, as a course lays them */
    S.value = value;
    S.order = order;
    tw_dose_set_columns(&R, &SET, &S.full);
    tw_dose_set_thinned(&R, &S.full, 1, &S.thin);
}

/* Sixteen waters, the first `low` of them with so much salt, the others about their target: every sixteenth of the weights
 * is one of them. Salt to 2,000 within 1,800 to 2,200, by a retest that tells it to a milligram. */
static void salts(int low, double low_mg_per_l)
{
    waters_clear(&W);
    for (int i = 0; i < 16; i++) {
        const tw_water w = kit_water((kit){37, 7.4, 80, 100, 10, i < low ? low_mg_per_l : 2000, 20});
        waters_add(&W, &w, 1000);
    }
    usual(&W);
    only_band(TW_OF_SALT);
    A.test[TW_OF_SALT] = (tw_course_test){1.0, 0.0, 0.0};
    A.band[TW_OF_SALT].hard_high = (double)NAN;
    A.band[TW_OF_CYANURATE].hard_high = (double)NAN;
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    A.stock[0].weighing_sd_ln = A.stock[0].substance.assay_sd_ln = 0.0;
    freeze();
}

static double nothing_done(uint32_t retests, size_t *most)
{
    const tw_visit none = {.keeps = 1.0};
    return tw_dose_recourse(&R, &none, 0.05, 1e6, retests, &S, most);
}

/* A retest that tells exactly: each water needs its own visits, and the mean over the sixteen is expected. */
static void each_retest_needs_its_own_visits(void **state)
{
    (void)state;
    size_t most = 99;
    for (int low = 0; low <= 16; low += 4) {
        salts(low, 1500);
        assert_near(nothing_done(16, &most), 1.0 + low / 16.0, 1e-12);
        assert_int_equal(most, low > 0 ? 2 : 1);
        assert_near(nothing_done(4, &most), 1.0 + low / 16.0, 1e-12); /* every fourth of them */
    }
    /* Half of what is missing at once, and the cap again: three visits. */
    salts(4, 1000);
    A.largest_change[TW_OF_SALT] = 501;
    freeze();
    assert_near(nothing_done(16, &most), 1.0 + 2.0 * 4 / 16, 1e-12);
    assert_int_equal(most, 3);
    /* The visit itself brings the low ones there, and the others over their band: nothing takes that out. */
    salts(4, 1500);
    tw_visit whole = {.additions = 1, .stock = {0}, .serves = {TW_OF_SALT}, .keeps = 1.0};
    whole.grams[0] = 500.0 / (tw_dose_quantity(TW_OF_SALT, A.stock[0].substance.total_mol_per_g, 1.0) / 1000.0);
    assert_near(tw_dose_recourse(&R, &whole, 0.05, 1e6, 16, &S, &most), 1.0, 1e-12);
    assert_int_equal(most, 1); /* what nothing moves is no reason for a visit */
    /* The caller's columns stand as they were. */
    assert_near(S.thin.row[TW_OF_SALT][0], S.full.row[TW_OF_SALT][0], 0.0);
    assert_near(S.thin.weight[0], 1.0 / 16, 1e-15);
    assert_near(S.thin.crossed[0], 0.0, 0.0);
}

/* A retest that tells nothing leaves the belief: by its middle nothing is to move, or one visit moves all. */
static void a_retest_that_tells_nothing(void **state)
{
    (void)state;
    size_t most = 99;
    salts(4, 1500);
    A.test[TW_OF_SALT] = (tw_course_test){0.0, 0.0, 0.0};
    freeze();
    assert_near(nothing_done(16, &most), 1.0, 1e-12);
    salts(14, 1500);
    A.test[TW_OF_SALT] = (tw_course_test){0.0, 0.0, 0.0};
    freeze();
    assert_near(nothing_done(16, &most), 2.0, 1e-12); /* 437 mg/L for all: then 14 stand at 1,937, about their target */
    assert_int_equal(most, 2);
}

/* A limit that just bears the whole is no hindrance; one under the band leaves nothing to be done in the end; who has no room
 * is left out as far as the risk goes. */
static void a_limit_makes_more_visits(void **state)
{
    (void)state;
    size_t most = 99;
    salts(16, 1500);
    A.band[TW_OF_SALT].hard_high = 2000.001;
    freeze();
    assert_near(nothing_done(16, &most), 2.0, 1e-12);
    A.band[TW_OF_SALT].hard_high = 1750; /* half of the way to the target, and no further */
    A.band[TW_OF_SALT].high = 2200;
    freeze();
    assert_near(nothing_done(16, &most), 12.0, 1e-12);
    assert_int_equal(most, 0);
    /* Two in sixteen have no room: within a risk of an eighth the others go on. */
    salts(16, 1500);
    for (int i = 0; i < 2; i++)
        W.kg[i] = 200; /* in a fifth of the water it is five times as much */
    A.band[TW_OF_SALT].hard_high = 2500;
    A.test[TW_OF_SALT] = (tw_course_test){0.0, 0.0, 0.0};
    freeze();
    const tw_visit none = {.keeps = 1.0};
    assert_near(tw_dose_recourse(&R, &none, 0.13, 1e9, 16, &S, &most), 2.0, 1e-12);
    assert_true(tw_dose_recourse(&R, &none, 0.12, 1e9, 16, &S, &most) > 2.5);
}

/* A visit after which something is still to move works at half of the risk, without air as with it. Alkalinity takes two
 * visits of 25, for its cap; salt would be whole in the first, were it not for two waters in sixteen that bear nine tenths. */
static void half_of_the_risk_while_something_is_open(void **state)
{
    (void)state;
    size_t most = 99;
    waters_clear(&W);
    for (int i = 0; i < 16; i++) {
        const tw_water w = kit_water((kit){37, 7.4, 30, 100, 10, i < 2 ? 2000 : 1500, 20});
        waters_add(&W, &w, 1000);
    }
    usual(&W);
    A.band[TW_OF_PH] = A.band[TW_OF_CALCIUM] = A.band[TW_OF_CHLORINE] = A.band[TW_OF_CYANURATE];
    A.band[TW_OF_PH].hard_high = A.band[TW_OF_CALCIUM].hard_high = A.band[TW_OF_CHLORINE].hard_high = (double)NAN;
    A.band[TW_OF_CYANURATE].hard_high = A.band[TW_OF_ALKALINITY].hard_high = (double)NAN;
    A.band[TW_OF_SALT] = (tw_course_band){1920, 2000, 2200, (double)NAN, 2400};
    A.largest_change[TW_OF_ALKALINITY] = 25.01;
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        A.test[q] = (tw_course_test){0.0, 0.0, 0.0};
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 0);
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 0);
    for (size_t j = 0; j < A.stocks; j++)
        A.stock[j].weighing_sd_ln = A.stock[j].substance.assay_sd_ln = 0.0;
    freeze();
    const tw_visit none = {.keeps = 1.0};
    assert_near(tw_dose_recourse(&R, &none, 0.26, 1e9, 16, &S, &most), 3.0, 1e-12);
    assert_true(tw_dose_recourse(&R, &none, 0.24, 1e9, 16, &S, &most) > 3.5);
}

/* Who crosses in a visit looked at has crossed, and is no hindrance to the next; who had crossed before is none at all. */
static void who_crossed_is_no_hindrance_after(void **state)
{
    (void)state;
    static double crossed[16];
    const tw_visit none = {.keeps = 1.0};
    size_t most = 99;
    for (int before = 0; before < 2; before++) {
        salts(16, 1500);
        for (int i = 0; i < 16; i++)
            crossed[i] = before && i < 2;
        W.view.crossed = crossed;
        for (int i = 0; i < 2; i++)
            W.kg[i] = 200;
        A.band[TW_OF_SALT].hard_high = 2500;
        A.test[TW_OF_SALT] = (tw_course_test){0.0, 0.0, 0.0};
        freeze();
        const double visits = tw_dose_recourse(&R, &none, 0.01, 1e9, 16, &S, &most);
        assert_true(before ? visits == 2.0 : visits > 2.5);
    }
    W.view.crossed = NULL;
}

/* Too low a pH is aired, and air is a visit; with acid still to come it goes on. */
static void air_is_a_visit(void **state)
{
    (void)state;
    size_t most = 99;
    for (int air = 0; air < 2; air++) {
        one_water((kit){37, 6.95, 80, 100, 10, 2000, 20}, 1000);
        only_band(TW_OF_PH);
        A.air_hours = air ? 4.0 : 0.0;
        A.air_to_ph = 7.4;
        A.test[TW_OF_PH] = (tw_course_test){0.01, 0.0, 0.0};
        freeze();
        assert_near(nothing_done(16, &most), air ? 2.0 : 1.0, 1e-12);
        assert_int_equal(most, air ? 2 : 1);
    }
}

/* Carbon dioxide goes with air, and no soda for it: alkalinity, which soda would bring over its band, stays. */
static void no_soda_where_air_does(void **state)
{
    (void)state;
    size_t most = 99;
    one_water((kit){37, 6.95, 96, 100, 10, 2000, 20}, 1000);
    A.band[TW_OF_CALCIUM].target = A.band[TW_OF_SALT].target = A.band[TW_OF_CHLORINE].target = (double)NAN;
    A.air_to_ph = 7.4;
    stock(TW_SUBSTANCE_SODIUM_CARBONATE, 0);
    stock(TW_SUBSTANCE_SODIUM_BISULFATE_93, 0);
    freeze();
    assert_near(nothing_done(16, &most), 2.0, 1e-12);
    assert_int_equal(most, 2);
    A.air_hours = 0.0;
    freeze();
    assert_true(nothing_done(16, &most) > 2.5); /* soda, and acid for what it brings */
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_retest_needs_its_own_visits), cmocka_unit_test(a_retest_that_tells_nothing),
        cmocka_unit_test(a_limit_makes_more_visits), cmocka_unit_test(half_of_the_risk_while_something_is_open),
        cmocka_unit_test(who_crossed_is_no_hindrance_after), cmocka_unit_test(air_is_a_visit), cmocka_unit_test(no_soda_where_air_does)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
