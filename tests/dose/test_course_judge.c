/* What judges make of a visit that was chosen: as much of it as they let, by hand on waters that are all alike. */
#include "frozen_course.h"
#include "dose/course_judge.h"
#include "dose/size.h"

#define MEMBERS 8

static tw_rows R;
static tw_course_set S;
static double members_room[SET_DOUBLES(MEMBERS)];
static tw_candidate FOUND[TW_COURSE_SHORTLIST];
static tw_course_doing D;
static tw_course_judged J;

/* Tons of water with 1,500 mg/L of salt, whose limit is 2,400: so many grams of salt may go in. */
static double may_g;

static void alike(double grid_g)
{
    const tw_water w = kit_water((kit){37, 7.4, 80, 100, 10, 1500, 20});
    waters_clear(&W);
    for (int i = 0; i < MEMBERS; i++)
        waters_add(&W, &w, 1000);
    usual(&W);
    stock(TW_SUBSTANCE_SODIUM_CHLORIDE, grid_g);
    stock(TW_SUBSTANCE_SODIUM_BICARBONATE, grid_g);
    for (size_t j = 0; j < A.stocks; j++)
        A.stock[j].weighing_sd_ln = A.stock[j].substance.assay_sd_ln = 0.0;
    assert_ok(tw_dose_grams_to(&w, 1000, &A.stock[0].substance, TW_OF_SALT, 2400, 1.0, &may_g));
}

/* Salt and, where asked, bicarbonate, wanted as much as they are chosen. */
static void chosen(size_t at, double salt_g, double bicarbonate_g)
{
    tw_candidate *c = &FOUND[at];
    memset(c, 0, sizeof *c);
    c->visit.keeps = 1.0;
    c->risk = 0.01;
    if (bicarbonate_g > 0.0) {
        c->visit.stock[0] = 1;
        c->visit.serves[0] = TW_OF_ALKALINITY;
        c->visit.grams[c->visit.additions++] = bicarbonate_g;
    }
    if (salt_g > 0.0) {
        c->visit.stock[c->visit.additions] = 0;
        c->visit.serves[c->visit.additions] = TW_OF_SALT;
        c->visit.grams[c->visit.additions++] = salt_g;
    }
    memcpy(c->wanted, c->visit.grams, sizeof c->wanted);
}

static size_t judged(int first, size_t n)
{
    return tw_dose_judge_first(&R, &S, first, n, FOUND, &D, &J);
}

/* Up to five times too much comes down to nine tenths of what may be, or more, and never over it. */
static void too_much_comes_down(void **state)
{
    (void)state;
    static const double SHARE[] = {0.99, 0.95, 0.7, 0.5, 0.37, 0.2};
    alike(0);
    freeze_set(&R, members_room, &S);
    for (size_t k = 0; k < sizeof SHARE / sizeof *SHARE; k++) {
        chosen(0, may_g / SHARE[k], 0);
        assert_int_equal(judged(1, 1), 0);
        assert_true(FOUND[0].visit.grams[0] <= may_g * (1 + 1e-6) && FOUND[0].visit.grams[0] > 0.88 * may_g);
        assert_int_equal(FOUND[0].bound, TW_COURSE_BOUND_LIMIT);
        assert_int_equal(R.limit[FOUND[0].bound_limit].quantity, TW_OF_SALT);
        assert_near(J.chance_any, 0, 0);
        assert_near(D.visit.grams[0], FOUND[0].visit.grams[0], 0);
    }
    /* As much as may be stays what it is. */
    chosen(0, 0.999 * may_g, 0);
    assert_int_equal(judged(1, 1), 0);
    assert_near(FOUND[0].visit.grams[0], 0.999 * may_g, 0);
    assert_int_equal(FOUND[0].bound, TW_COURSE_BOUND_NOTHING);
}

/* What a limit held back by other members than the judges goes up again: to what it is wanted for, or to the limit. */
static void too_little_goes_up(void **state)
{
    (void)state;
    static const struct { double grams, wanted; } CASES[] = {{0.9, 2.0}, {0.9, 0.93}, {0.97, 2.0}, {0.85, 0.95}};
    alike(0);
    freeze_set(&R, members_room, &S);
    for (size_t k = 0; k < sizeof CASES / sizeof *CASES; k++)
        for (int how = 0; how < 3; how++) { /* the first visit, held by a limit; held by nothing; a later visit */
            const double grams = CASES[k].grams * may_g, most = CASES[k].wanted < 1.0 ? CASES[k].wanted * may_g : may_g;
            chosen(0, grams, 0);
            FOUND[0].wanted[0] = CASES[k].wanted * may_g;
            FOUND[0].bound = how == 1 ? TW_COURSE_BOUND_NOTHING : TW_COURSE_BOUND_LIMIT;
            assert_int_equal(judged(how < 2, 1), 0);
            if (how > 0)
                assert_near(FOUND[0].visit.grams[0], grams, 0);
            else
                assert_true(FOUND[0].visit.grams[0] <= most * (1 + 1e-6) && FOUND[0].visit.grams[0] > 0.985 * most);
        }
}

/* Only what pushes towards the limit comes down; by the marks of its measure. */
static void only_what_pushes_comes_down(void **state)
{
    (void)state;
    alike(10);
    freeze_set(&R, members_room, &S);
    chosen(0, 1500, 60);
    assert_int_equal(judged(1, 1), 0);
    assert_near(FOUND[0].visit.grams[0], 60, 0);
    assert_near(fmod(FOUND[0].visit.grams[1] + 1e-9, 10.0), 0, 1e-6);
    assert_true(FOUND[0].visit.grams[1] <= may_g && FOUND[0].visit.grams[1] >= 0.9 * may_g);
    /* Under a mark of salt may go in: the bicarbonate alone does. */
    A.band[TW_OF_SALT].hard_high = 1509;
    freeze_set(&R, members_room, &S);
    chosen(0, 1500, 60);
    assert_int_equal(judged(1, 1), 0);
    assert_int_equal(FOUND[0].visit.additions, 1);
    assert_int_equal(FOUND[0].visit.stock[0], 1);
    assert_near(FOUND[0].visit.grams[0], 60, 0);
}

/* A visit of which nothing is left is passed over: salt at its limit; water from under the floor of alkalinity. */
static void nothing_left_is_passed_over(void **state)
{
    (void)state;
    alike(10);
    A.band[TW_OF_SALT].hard_high = 1505;
    A.band[TW_OF_ALKALINITY].hard_low = 79.9;
    A.source = kit_water((kit){15, 7.4, 20, 50, 10, 20, 5});
    freeze_set(&R, members_room, &S);
    chosen(0, 500, 0);
    chosen(1, 0, 60);
    assert_int_equal(judged(1, 2), 1);
    chosen(0, 0, 0);
    FOUND[0].visit.share = 0.3;
    chosen(1, 0, 60);
    assert_int_equal(judged(1, 2), 1);
    assert_int_equal(D.visit.additions, 1);
    FOUND[0].visit.share = 0.3;
    assert_int_equal(judged(1, 1), 1);
    /* Where the floor lets half of it: to the twentieth. */
    A.band[TW_OF_ALKALINITY].hard_low = 70; /* 80 less a sixth of 60 */
    freeze_set(&R, members_room, &S);
    chosen(0, 0, 0);
    FOUND[0].visit.share = 0.3;
    assert_int_equal(judged(1, 1), 0);
    assert_near(FOUND[0].visit.share, 0.15, 1e-9);
    assert_near(J.chance_any, 0, 0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(too_much_comes_down), cmocka_unit_test(too_little_goes_up),
                                       cmocka_unit_test(only_what_pushes_comes_down), cmocka_unit_test(nothing_left_is_passed_over)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
