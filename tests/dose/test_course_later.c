/* A course beyond its first visit, and what calcium does to the saturation index: what small changes of the planner would break. */
#include "support/check.h"

#include <math.h>
#include <string.h>

#include "dose/course.h"
#include "num/status.h"
#include "waters.h"

static double room[1u << 19];
static waters W;
static tw_course C;
static tw_course_ask A;

static void one_water(kit k, double kg)
{
    const double nan = (double)NAN;
    const tw_water w = kit_water(k);
    waters_clear(&W);
    waters_add(&W, &w, kg);
    tw_dose_course_defaults(&A);
    A.waters = &W.view;
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        A.band[q] = (tw_course_band){nan, nan, nan, nan, nan};
    A.seed = 11;
}

static void stock(tw_substance_id id, double grid_g)
{
    A.stock[A.stocks].substance = tw_dose_substances[id];
    A.stock[A.stocks++].grid_g = grid_g;
}

static void plan(void)
{
    assert_ok(tw_dose_course(&A, room, sizeof room, &C));
}

/* Calcium went in 20 minutes ago: the first bicarbonate waits 40 more, the second visit's no longer. Two of 60 mg/L. */
static void what_went_in_before_grows_old(void **state)
{
    (void)state;
    one_water((kit){37, 7.4, 20, 40, 10, 2000, 20}, 1000);
    A.band[TW_OF_ALKALINITY] = (tw_course_band){110, 120, 130, (double)NAN, 300};
    A.largest_change[TW_OF_ALKALINITY] = 60.0;
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 1);
    A.befores = 2;
    A.before[0] = (tw_course_before){TW_FAMILY_PLAIN, 20}; /* matters to nothing */
    A.before[1] = (tw_course_before){TW_FAMILY_CALCIUM, 20};
    plan();
    assert_int_equal(C.stands, TW_COURSE_GOES);
    assert_int_equal(C.visits, 2);
    assert_near(C.visit[0].addition[0].start_min, 40.0, 1e-9);
    assert_near(C.visit[1].addition[0].start_min, 0.0, 1e-9);
    assert_int_equal(C.visit[0].bound, TW_COURSE_BOUND_CAP);
    /* 1.6787 g of bicarbonate for each mg/L and m3; the cap is 60 mg/L of the middle water */
    assert_near(C.visit[0].grams, 60.0 * 1.6787, 1.01);
    assert_near(C.visit[0].grams + C.visit[1].grams, 100.0 * 1.6787, 2.0);
}

/* Monopersulfate has just gone in, and chlorine waits an hour for it. Two trims of acid, for the cap of one step: the chlorine
 * of the second visit comes 60 min less what the first one took, 15 of mixing, 10 of reading and 5 until the next. */
static void time_goes_on_between_visits(void **state)
{
    (void)state;
    one_water((kit){37, 8.0, 80, 100, 10, 2000, 20}, 1000);
    A.band[TW_OF_PH] = (tw_course_band){7.3, 7.4, 7.5, 6.8, 8.4};
    A.band[TW_OF_CHLORINE] = (tw_course_band){2, 3, 4, (double)NAN, 10};
    A.largest_change[TW_OF_ALKALINITY] = 3.2;
    A.between_min = 5.0;
    stock(TW_SUBSTANCE_SODIUM_BISULFATE_93, 0);
    stock(TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, 0);
    A.befores = 1;
    A.before[0] = (tw_course_before){TW_FAMILY_MONOPERSULFATE, 0};
    plan();
    assert_int_equal(C.visits, 2);
    assert_int_equal(C.visit[0].additions, 1);
    assert_near(C.visit[0].retest_min, 15.0, 1e-9);
    assert_int_equal(C.visit[1].additions, 2);
    assert_near(C.visit[1].start_min, 30.0, 1e-9);
    assert_near(C.visit[1].addition[1].start_min, 30.0, 1e-9);
}

/* What the first visit pours is gone from the box for the second: 120 g are not enough for 100 mg/L. */
static void a_box_is_emptied_once(void **state)
{
    (void)state;
    one_water((kit){37, 7.4, 20, 40, 10, 2000, 20}, 1000);
    A.band[TW_OF_ALKALINITY] = (tw_course_band){110, 120, 130, (double)NAN, 300};
    A.largest_change[TW_OF_ALKALINITY] = 60.0;
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, 1);
    A.stock[0].left_g = 120.0;
    plan();
    double grams = 0.0;
    for (size_t i = 0; i < C.visits; i++)
        grams += C.visit[i].grams;
    assert_true(grams <= 120.0 + 1e-9);
    assert_int_not_equal(C.stands, TW_COURSE_GOES);
    assert_near(C.visit[0].addition[0].left_g, 120.0 - C.visit[0].grams, 1e-9);
}

/* Calcium chloride alone lifts the saturation index: in alkaline water the limit stops it, in thin water it does not. */
static void calcium_alone_keeps_the_index(void **state)
{
    (void)state;
    double grams[2];
    for (int full = 0; full < 2; full++) {
        one_water((kit){38, full ? 8.1 : 7.2, full ? 150 : 40, 60, 10, 2000, 20}, 1000);
        A.band[TW_OF_CALCIUM] = (tw_course_band){180, 200, 220, (double)NAN, 400};
        A.si_high = 0.6;
        stock(TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, 1);
        plan();
        grams[full] = C.visits > 0 ? C.visit[0].grams : 0.0;
    }
    assert_near(grams[0], 140.0 * 1.4689, 3.0); /* g for each mg/L and m3 */
    assert_true(grams[1] < 0.6 * grams[0]);
}

/* A thousand waters, volume known to 12 %: salt is bound by its limit. What the visit takes off the risk is at least the chance
 * that the judges find and at most half of it, and what travels on is the rest. */
static void the_risk_is_booked(void **state)
{
    (void)state;
    uint64_t s = check_seed;
    const tw_water w = kit_water((kit){37, 7.4, 80, 60, 10, 50, 20});
    waters_clear(&W);
    for (int i = 0; i < 1000; i++) {
        double z = -6.0; /* nearly normal: twelve uniforms less six */
        for (int k = 0; k < 12; k++)
            z += check_uniform(&s, 0.0, 1.0);
        waters_add(&W, &w, 1190.0 * (1.0 + 0.12 * z));
    }
    tw_dose_course_defaults(&A);
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        A.band[q] = (tw_course_band){(double)NAN, (double)NAN, (double)NAN, (double)NAN, (double)NAN};
    A.waters = &W.view;
    A.band[TW_OF_SALT] = (tw_course_band){1900, 2000, 2100, (double)NAN, 2200};
    A.seed = 11;
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, 10);
    plan();
    const tw_course_visit *v = &C.visit[0];
    assert_int_equal(v->bound, TW_COURSE_BOUND_LIMIT);
    assert_true(v->chance_any > 0.0 && v->risk_worked_at < 0.025);
    assert_near(v->risk_spent, v->chance_any, 1e-15); /* the judges are fair: no margin is booked */
    assert_near(v->risk_left, 0.05 - v->risk_spent, 1e-12);
    assert_near(C.risk_left, v->risk_left, 1e-12);
    assert_true(C.expected_visits > 1.0 && C.expected_visits < 3.0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_went_in_before_grows_old),
        cmocka_unit_test(time_goes_on_between_visits),
        cmocka_unit_test(a_box_is_emptied_once),
        cmocka_unit_test(calcium_alone_keeps_the_index),
        cmocka_unit_test(the_risk_is_booked)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
