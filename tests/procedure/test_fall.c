/* Chlorine over its limit: it is waited for, by the forecast; a reducer only where the wait is long or an hour is asked for. */
#include "support/check.h"

#include <math.h>

#include "tubs.h"

#define NOW_H 2.6

/* A tub in care that somebody gave so much hypochlorite (12.5 %) two hours ago, read by drops. */
static void a_tub_with_chlorine(const char *ml, const char *mg_per_l)
{
    static const char *const READ[][4] = {{"ph", "7.4", "pH", "meter"}, {"total-alkalinity", "80", "mg/L", "drops"}, {"calcium-hardness", "90", "mg/L", "laboratory"},
        {"temperature", "37", "Cel", "thermometer"}, {"conductivity", "4150", "uS/cm", "meter"}, {"phosphate", "0.1", "mg/L", "laboratory"}};
    char pour[160];
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Barn\",\"use\":\"private\",\"volume\":\"1200\",\"volume_unit\":\"L\",\"start\":\"care\"");
    no_old_chemistry(0.0);
    (void)snprintf(pour, sizeof pour, "\"amount\":\"%s\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\"", ml);
    (void)lines_add("addition", 0.5, pour);
    for (size_t i = 0; i < sizeof READ / sizeof *READ; i++)
        (void)lines_reading(NOW_H - 0.1, READ[i][0], READ[i][1], READ[i][2], READ[i][3], "");
    (void)lines_reading(NOW_H - 0.1, "free-chlorine", mg_per_l, "mg/L", "drops", "");
    (void)lines_reading(NOW_H - 0.1, "total-chlorine", mg_per_l, "mg/L", "drops", "");
}

static double hours_of(const tw_act *act)
{
    return (double)(act->until.utc_s - lines_now(NOW_H).utc_s) / 3600.0;
}

static void a_little_too_much_is_waited_for(void **state)
{
    (void)state;
    a_tub_with_chlorine("115", "11");
    const tw_act act = act_at(NOW_H, 1);
    assert_int_equal(act.id, TW_ACT_WAIT_CHLORINE);
    assert_int_equal(act.verb, TW_VERB_WAIT);
    assert_int_equal(act.substance, -1);
    const double hours = hours_of(&act), then = number_of(&act.why, TW_SAY_WHY_CHLORINE_HIGH, "after");
    printf("# %.0f h, then %.2f mg/L\n", hours, then);
    assert_true(hours >= 1.0 && hours <= 48.0 && then <= 10.0);
    /* Waited for so long it is within the limit, and no sooner than an hour before. */
    assert_int_not_equal(act_at(NOW_H + hours + 0.1, 1).id, TW_ACT_WAIT_CHLORINE);
    assert_int_equal(act_at(NOW_H + 0.25 * hours, 1).id, TW_ACT_WAIT_CHLORINE);
}

static void within_the_limit_nothing_is_waited_for(void **state)
{
    (void)state;
    a_tub_with_chlorine("70", "7");
    assert_int_not_equal(act_at(NOW_H, 1).id, TW_ACT_WAIT_CHLORINE);
}

/* By the balance: 1 mg/L of chlorine is 14.1 umol, a mol of sulfite (130 g at 97 %) takes one: 1.83 g for each mg/L and m3. */
static void taken_out_where_the_wait_is_long(void **state)
{
    (void)state;
    a_tub_with_chlorine("260", "26");
    tw_act act = act_at(NOW_H, 1);
    assert_int_equal(act.id, TW_ACT_WAIT_CHLORINE); /* nothing in the list: no advice to buy it */
    (void)lines_add("stock", 0.1, "\"substance\":\"sodium-sulfite\",\"amount\":\"500\",\"amount_unit\":\"g\"");
    act = act_at(NOW_H, 1);
    assert_int_equal(act.id, TW_ACT_DECHLORINATE);
    assert_int_equal(act.verb, TW_VERB_ADD);
    assert_true(act.amount_g > 0.0 && act.predicted_chlorine[0] >= 1.0 && act.predicted_chlorine[1] <= 10.0);
    const double now = number_of(&act.why, TW_SAY_WHY_DECHLORINATE, "now");
    assert_near(act.amount_g, (now - act.predicted_chlorine[1]) * 1.2 * 1e3 / 70.906 * 126.0427 / 0.97 * 1e-3, 0.08 * act.amount_g);
}

static void taken_out_where_an_hour_is_asked_for(void **state)
{
    (void)state;
    for (int soon = 0; soon < 2; soon++) {
        char hour[80];
        a_tub_with_chlorine("115", "11"); /* within its limit in some hours */
        (void)lines_add("stock", 0.1, "\"substance\":\"sodium-sulfite\",\"amount\":\"500\",\"amount_unit\":\"g\"");
        (void)snprintf(hour, sizeof hour, "\"by_time\":\"%s\"", lines_time(NOW_H + (soon ? 2.0 : 20.0)));
        (void)lines_add("ready-by", NOW_H - 0.05, hour);
        assert_int_equal(act_at(NOW_H, 1).id, soon ? TW_ACT_DECHLORINATE : TW_ACT_WAIT_CHLORINE);
    }
}

/* ">10" by a strip whose scale ends there says that it may be 30. No duty and no chlorine before it was thinned or read by
 * drops; a block "5 to 10" of the same strips does not settle it. */
static void over_the_end_of_a_scale_is_read_again(void **state)
{
    (void)state;
    a_filled_tub("7.4", "75");
    (void)lines_add("addition", 2.65, "\"amount\":\"85\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\"");
    (void)lines_reading(3.8, "ph", "7.4", "pH", "meter", "");
    (void)lines_add("reading", 3.8, "\"analyte\":\"free-chlorine\",\"form\":\"above\",\"value\":\"10\",\"unit\":\"mg/L\",\"instrument\":\"strip\"");
    tw_act act = act_at(3.9, 1);
    assert_int_equal(act.id, TW_ACT_RETEST_DILUTED);
    assert_int_equal(act.unmet, TW_CONDITION_CHLORINE_NOT_HIGH);
    const double chance = number_of(&act.why, TW_SAY_WHY_OVER_SCALE, "chance");
    printf("# over 10 mg/L: %.2f\n", chance);
    assert_true(chance > 0.05 && chance < 0.95);
    (void)lines_add("reading", 4.0, "\"analyte\":\"free-chlorine\",\"form\":\"between\",\"value\":\"5\",\"high\":\"10\",\"unit\":\"mg/L\",\"instrument\":\"strip\"");
    assert_int_equal(act_at(4.1, 1).id, TW_ACT_RETEST_DILUTED);
    (void)lines_reading(4.2, "free-chlorine", "7.0", "mg/L", "drops", "");
    assert_int_not_equal(act_at(4.3, 1).id, TW_ACT_RETEST_DILUTED);
}

/* The tub that wants chlorine, with so many mL of hypochlorite poured at 2.7 h. */
static void a_tub_chlorinated_with(const char *ml)
{
    char pour[160];
    a_tub_that_wants_chlorine();
    (void)snprintf(pour, sizeof pour, "\"amount\":\"%s\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\"", ml);
    (void)lines_add("addition", 2.7, pour);
}

/* What may be over the limit gets no generator on top; below it the generator is set up. */
static void near_the_limit_the_generator_waits(void **state)
{
    (void)state;
    for (int near = 0; near < 2; near++) {
        a_tub_chlorinated_with(near ? "103" : "55");
        (void)lines_reading(3.8, "free-chlorine", near ? "10.06" : "5.6", "mg/L", "drops", "");
        (void)lines_reading(3.8, "ph", "7.4", "pH", "meter", "");
        const tw_act act = act_at(3.9, 1);
        assert_int_equal(act.id, near ? TW_ACT_WAIT_CHLORINE : TW_ACT_START_GENERATOR);
        if (near) {
            const double chance = number_of(&act.why, TW_SAY_WHY_CHLORINE_NEAR, "chance");
            printf("# over 10 mg/L: %.2f\n", chance);
            assert_true(chance >= 0.25 && chance <= 0.75 && act.until.utc_s > lines_now(3.9).utc_s && act.substance == -1);
        }
    }
}

/* A generator that runs is not turned up either. */
static void near_the_limit_the_duty_is_not_raised(void **state)
{
    (void)state;
    for (int near = 0; near < 2; near++) {
        a_tub_chlorinated_with(near ? "103" : "70");
        (void)lines_add("setting", 2.8, "\"what\":\"duty\",\"value\":\"5\",\"unit\":\"pct\"");
        (void)lines_reading(3.8, "free-chlorine", near ? "10.1" : "7.0", "mg/L", "drops", "");
        (void)lines_reading(3.8, "total-chlorine", near ? "10.1" : "7.0", "mg/L", "drops", "");
        (void)lines_reading(3.8, "ph", "7.4", "pH", "meter", "");
        const tw_act act = act_at(3.9, 1);
        printf("# act %d, duty %.2f\n", (int)act.id, act.setting_value);
        assert_int_equal(act.id == TW_ACT_HAND_DUTY && act.setting_value > 0.05, !near);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_little_too_much_is_waited_for), cmocka_unit_test(within_the_limit_nothing_is_waited_for),
        cmocka_unit_test(taken_out_where_the_wait_is_long), cmocka_unit_test(taken_out_where_an_hour_is_asked_for),
        cmocka_unit_test(over_the_end_of_a_scale_is_read_again), cmocka_unit_test(near_the_limit_the_generator_waits),
        cmocka_unit_test(near_the_limit_the_duty_is_not_raised)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
