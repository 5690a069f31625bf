/* A course beyond its first visit, and what calcium does to the saturation index: what small changes of the planner would break. */
#include "support/check.h"

#include <math.h>
#include <string.h>

#include "dose/course.h"
#include "num/status.h"
#include "waters.h"

static double room[1u << 17];
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
    A.befores = 1;
    A.before[0] = (tw_course_before){TW_FAMILY_CALCIUM, 20};
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

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_went_in_before_grows_old),
        cmocka_unit_test(a_box_is_emptied_once),
        cmocka_unit_test(calcium_alone_keeps_the_index)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
