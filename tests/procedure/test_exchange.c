/* What no product takes out leaves with part of the water: how much, from where, what stands in its way, what is read after. */
#include "support/check.h"

#include <math.h>

#include "tubs.h"

#define READ_H 74.0 /* cyanuric acid takes days to dissolve */

/* A tub in care, all in order but what is given; the plate wants 2,000 mg/L of salt. source_ta: NULL, the tap was not read. */
static void a_tub_in_care(const char *us_per_cm, const char *ta, const char *cyanurate, const char *source_ta)
{
    static const char *const READ[][4] = {{"ph", "7.4", "pH", "meter"}, {"calcium-hardness", "90", "mg/L", "laboratory"}, {"free-chlorine", "3.5", "mg/L", "drops"},
        {"temperature", "37", "Cel", "thermometer"}, {"phosphate", "0.1", "mg/L", "laboratory"}};
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Barn\",\"use\":\"private\",\"volume\":\"1200\",\"volume_unit\":\"L\",\"start\":\"care\"");
    no_old_chemistry(0.0);
    (void)lines_add("plate", 0.2, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    if (source_ta != NULL) {
        (void)lines_add("source", 0.3, "\"source\":\"hose\",\"origin\":\"mains\"");
        (void)lines_reading(0.4, "ph", "7.6", "pH", "laboratory", "\"source\":\"hose\"");
        (void)lines_reading(0.4, "total-alkalinity", source_ta, "mg/L", "laboratory", "\"source\":\"hose\"");
    }
    for (size_t i = 0; i < sizeof READ / sizeof *READ; i++)
        (void)lines_reading(READ_H, READ[i][0], READ[i][1], READ[i][2], READ[i][3], "");
    (void)lines_reading(READ_H, "total-alkalinity", ta, "mg/L", "drops", "");
    (void)lines_reading(READ_H, "conductivity", us_per_cm, "uS/cm", "meter", "");
    if (cyanurate != NULL)
        (void)lines_reading(READ_H, "cyanuric-acid", cyanurate, "mg/L", "laboratory", "");
}

static int asks_for(const tw_act *act, int analyte)
{
    for (uint32_t i = 0; i < act->tests; i++)
        if (act->test[i] == analyte)
            return 1;
    return 0;
}

/* 3,300 of 2,000 mg/L: by the balance (now - target)/now of the water, to the next 5 %, and 10 L. */
static void too_much_salt(void **state)
{
    (void)state;
    a_tub_in_care("6500", "75", NULL, "120");
    const tw_act act = act_at(READ_H + 0.2, 1);
    assert_int_equal(act.id, TW_ACT_EXCHANGE);
    assert_int_equal(act.verb, TW_VERB_DO);
    assert_int_equal(act.unmet, TW_CONDITION_SALT_NOT_HIGH);
    const double now = number_of(&act.why, TW_SAY_WHY_SALT_HIGH, "now"), share = number_of(&act.how, TW_SAY_HOW_EXCHANGE, "fraction");
    assert_true(now > 3100.0 && now < 3500.0);
    assert_near(share, 0.05 * ceil((now - 2000.0) / now / 0.05 - 0.2), 1e-9); /* the planner's middle water is not quite the median */
    assert_near(act.amount, share * 1200.0, 30.0);
    assert_near(fmod(act.amount, 10.0), 0.0, 1e-9);
    assert_string_equal(act.amount_unit, "L");
    assert_near(act.predicted_salt[1], (1.0 - share) * now, 0.02 * now);
    assert_near(act.predicted_ta[1], (1.0 - share) * 75.0 + share * 120.0, 3.0);
    assert_true(tw_units_text_is(act.source, "hose"));
    /* The cautions stand where water and power are near each other, and it may be set aside with a reason. */
    assert_true(says(&act.first, TW_SAY_FIRST_DRAIN) && says(&act.first, TW_SAY_FIRST_BACKFLOW) && act.may_waive);
    assert_true(asks_for(&act, TW_ANALYTE_PH) && asks_for(&act, TW_ANALYTE_TOTAL_ALKALINITY) && asks_for(&act, TW_ANALYTE_CONDUCTIVITY));
}

static void too_much_cyanuric_acid(void **state)
{
    (void)state;
    a_tub_in_care("4150", "75", "60", "120");
    (void)lines_add("addition", 0.5, "\"amount\":\"72\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"cyanuric-acid\"");
    const tw_act act = act_at(READ_H + 0.2, 1);
    assert_int_equal(act.id, TW_ACT_EXCHANGE);
    assert_int_equal(act.unmet, TW_CONDITION_CYANURATE_NOT_HIGH);
    assert_true(asks_for(&act, TW_ANALYTE_CYANURIC_ACID));
    const double share = number_of(&act.how, TW_SAY_HOW_EXCHANGE, "fraction");
    assert_true(share >= 0.4 && share <= 0.5); /* 60 to 20 is two thirds: half at once is the most */
    a_tub_in_care("4150", "75", "28", "120"); /* within the band */
    assert_int_not_equal(act_at(READ_H + 0.2, 1).id, TW_ACT_EXCHANGE);
}

/* At most half at once, and never over a limit: soft water under the floor of alkalinity is let in by less, or not at all. */
static void other_water_keeps_its_limits(void **state)
{
    (void)state;
    a_tub_in_care("9000", "100", NULL, "100");
    tw_act act = act_at(READ_H + 0.2, 1);
    assert_near(number_of(&act.how, TW_SAY_HOW_EXCHANGE, "fraction"), 0.5, 1e-9);
    a_tub_in_care("9000", "65", NULL, "10");
    act = act_at(READ_H + 0.2, 1);
    const double share = number_of(&act.how, TW_SAY_HOW_EXCHANGE, "fraction");
    assert_int_equal(act.id, TW_ACT_EXCHANGE);
    assert_true(share > 0.1 && share < 0.5 && act.predicted_ta[0] >= 40.0 && act.chance <= 0.05);
    a_tub_in_care("9000", "45", NULL, "10"); /* no room above the floor: bicarbonate first */
    assert_int_equal(act_at(READ_H + 0.2, 1).id, TW_ACT_BICARBONATE);
}

static void what_comes_first(void **state)
{
    (void)state;
    a_tub_in_care("6500", "75", NULL, NULL); /* nobody has read what it would be filled with */
    tw_act act = act_at(READ_H + 0.2, 1);
    assert_int_equal(act.id, TW_ACT_TEST_SOURCE);
    assert_int_equal(act.unmet, TW_CONDITION_SALT_NOT_HIGH);
    a_tub_in_care("6500", "75", NULL, "120");
    (void)lines_add("bathers", READ_H + 0.1, "\"count\":\"2\",\"minutes\":\"60\"");
    act = act_at(READ_H + 0.2, 1);
    assert_int_equal(act.verb, TW_VERB_WAIT);
    a_tub_in_care("6500", "75", NULL, "120");
    (void)lines_add("waiver", READ_H + 0.1, "\"condition\":\"salt-not-high\",\"reason\":\"new water on Friday\",\"role\":\"owner\"");
    assert_int_not_equal(act_at(READ_H + 0.2, 1).id, TW_ACT_EXCHANGE);
}

/* After it all is read anew: no acid, and no second exchange, on a reading of the water before. */
static void other_water_is_read(void **state)
{
    (void)state;
    a_tub_in_care("6500", "140", NULL, "140"); /* alkalinity over its band as well */
    assert_int_equal(act_at(READ_H + 0.2, 1).id, TW_ACT_EXCHANGE);
    (void)lines_add("exchange", READ_H + 0.3, "\"cause\":\"swap\",\"out\":\"490\",\"in\":\"490\",\"volume_unit\":\"L\",\"source\":\"hose\"");
    const tw_act act = act_at(READ_H + 0.9, 1);
    assert_int_equal(act.verb, TW_VERB_TEST);
    assert_int_equal(act.id, TW_ACT_TEST_ACIDS);
    (void)lines_reading(READ_H + 1.0, "free-chlorine", "2.8", "mg/L", "drops", "");
    (void)lines_reading(READ_H + 1.0, "ph", "7.5", "pH", "meter", "");
    (void)lines_reading(READ_H + 1.0, "total-alkalinity", "140", "mg/L", "drops", "");
    assert_int_equal(act_at(READ_H + 1.1, 1).id, TW_ACT_ACID_STEP);
}

/* Let out, the tub is filled: nothing is asked of what is left, and nothing heats or makes chlorine meanwhile. What was let
 * out and what is left are what it holds. A third let out asks for no fill. */
static void a_tub_that_was_let_out_is_filled(void **state)
{
    (void)state;
    a_filled_tub("7.4", "75");
    (void)lines_add("exchange", 3.0, "\"cause\":\"drain\",\"out\":\"400\",\"volume_unit\":\"L\"");
    assert_int_not_equal(act_at(3.1, 1).id, TW_ACT_FILL);
    (void)lines_add("exchange", 3.2, "\"cause\":\"drain\",\"out\":\"720\",\"volume_unit\":\"L\"");
    const tw_act act = act_at(3.3, 1);
    assert_int_equal(act.id, TW_ACT_FILL);
    assert_int_equal(act.stage, TW_STAGE_FILL);
    assert_true(says(&act.first, TW_SAY_FIRST_POWER_OFF));
    assert_near(number_of(&act.why, TW_SAY_WHY_FILL, "high"), 1180.0, 60.0);
    (void)lines_add("exchange", 3.5, "\"cause\":\"fill\",\"in\":\"1150\",\"source\":\"hose\",\"volume_unit\":\"L\"");
    assert_int_not_equal(act_at(3.6, 1).id, TW_ACT_FILL);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(too_much_salt), cmocka_unit_test(too_much_cyanuric_acid), cmocka_unit_test(other_water_keeps_its_limits),
        cmocka_unit_test(what_comes_first), cmocka_unit_test(other_water_is_read), cmocka_unit_test(a_tub_that_was_let_out_is_filled)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
