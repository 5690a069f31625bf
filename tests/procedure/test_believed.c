/* What was read against what is believed of chlorine, each through tw_procedure_next: nobody waits for chlorine, airs it, or is kept
 * from giving any by a belief that nobody read. Rules of the trade: a zero of a colour may be a bleached pad; over
 * 10 mg/L reagents of pH fade; total chlorine over free is what people brought. */
#include "support/check.h"

#include <math.h>
#include <string.h>

#include "tubs.h"

static void pour(double hours, const char *substance, const char *amount, const char *unit)
{
    char members[200];
    (void)snprintf(members, sizeof members, "\"amount\":\"%s\",\"amount_unit\":\"%s\",\"measured\":\"weighed\",\"substance\":\"%s\"", amount, unit, substance);
    (void)lines_add("addition", hours, members);
}

/* 20 mg/L went in by the entries: it is read before anybody waits for it, and before air throws droplets of it about. */
static void much_that_was_poured_is_read_before_it_is_waited_for(void **state)
{
    (void)state;
    for (int unread = 0; unread < 2; unread++) {
        a_filled_tub("7.0", "75");
        if (!unread)
            (void)lines_reading(2.6, "free-chlorine", "1.0", "mg/L", "drops", "");
        pour(2.7, "sodium-hypochlorite-120", "215", "mL");
        const tw_act act = act_at(3.8, 1);
        assert_int_equal(act.id, TW_ACT_TEST_CHLORINE);
        (void)lines_reading(3.8, "free-chlorine", "20", "mg/L", "drops", "");
        (void)lines_reading(3.8, "total-chlorine", "20", "mg/L", "drops", "");
        assert_int_equal(act_at(3.9, 1).id, TW_ACT_WAIT_CHLORINE);
    }
}

/* Then a strip shows nothing: bleached, or gone? It is thinned. Drops show nothing either: no wait for 20 mg/L, another way to read. */
static void a_zero_against_the_belief_is_read_again_and_not_waited_for(void **state)
{
    (void)state;
    a_filled_tub("7.4", "75");
    pour(2.7, "sodium-hypochlorite-120", "215", "mL");
    (void)lines_reading(3.8, "free-chlorine", "0", "mg/L", "strip", "\"lot\":\"B\"");
    tw_act act = act_at(3.85, 1);
    assert_int_equal(act.id, TW_ACT_RETEST_DILUTED);
    assert_true(says(&act.why, TW_SAY_WHY_BLEACHED) && !says(&act.why, TW_SAY_WHY_OVER_SCALE));
    (void)lines_reading(3.9, "free-chlorine", "0", "mg/L", "drops", "");
    act = act_at(3.95, 1);
    printf("# two zeros: act %d\n", (int)act.id);
    assert_true(act.id == TW_ACT_UNEXPLAINED || act.id == TW_ACT_CHECK_POUR || act.id == TW_ACT_DOUBTFUL);
    reply(3.96, "amount-right", "yes");
    assert_int_equal(act_at(3.97, 1).id, TW_ACT_UNEXPLAINED);
}

/* Six people later drops read 0.4 free and 1.4 total, twice: what they brought is no reason to leave the water without. */
static void combined_chlorine_is_no_reason_to_give_none(void **state)
{
    (void)state;
    a_tub_that_wants_chlorine();
    (void)lines_reading(2.6, "free-chlorine", "4.8", "mg/L", "drops", "");
    (void)lines_reading(2.6, "total-chlorine", "4.8", "mg/L", "drops", "");
    (void)lines_add("bathers", 3.0, "\"count\":\"6\",\"minutes\":\"90\"");
    for (int k = 0; k < 2; k++) {
        (void)lines_reading(4.6 + 0.1 * k, "free-chlorine", "0.4", "mg/L", "drops", "");
        (void)lines_reading(4.6 + 0.1 * k, "total-chlorine", "1.4", "mg/L", "drops", "");
    }
    (void)lines_reading(4.7, "ph", "7.4", "pH", "meter", "");
    const tw_act act = act_at(4.75, 1);
    assert_int_equal(act.verb, TW_VERB_ADD);
    assert_int_equal(tw_dose_substances[act.substance].effect, TW_EFFECT_FC_UP);
}

/* A resin that oxidant ages does not go into warm water that is never left without chlorine: rather other water. */
static void a_pad_in_warm_water_is_not_called_cold(void **state)
{
    (void)state;
    for (int warm = 0; warm < 2; warm++) {
        a_filled_tub_at("7.4", "75", "420", warm ? "38" : "12");
        (void)lines_reading(2.6, "calcium-hardness", "420", "mg/L", "drops", "\"step\":\"10\"");
        const tw_act act = act_at(2.7, 1);
        assert_int_equal(act.id, TW_ACT_CALCIUM_PAD);
        assert_int_equal(says(&act.first, TW_SAY_FIRST_COLD), !warm);
        assert_int_equal(says(&act.first, TW_SAY_FIRST_WARM_PAD), warm);
    }
}

/* The list has dichlor only, and the tub is let: the stop says why it is not that, and what would do. */
static void a_stop_names_what_is_barred_and_what_would_do(void **state)
{
    (void)state;
    a_tub_that_wants_chlorine();
    (void)lines_add("stock", 2.62, "\"amount\":\"1\",\"amount_unit\":\"kg\",\"substance\":\"dichlor-dihydrate\"");
    assert_int_not_equal(act_at(2.7, 1).id, TW_ACT_NO_STOCK); /* in a private tub it is what there is */
    a_tub_that_wants_chlorine();
    (void)lines_add("tub", 2.61, "\"name\":\"Barn\",\"use\":\"public\",\"volume\":\"1200\",\"volume_unit\":\"L\"");
    (void)lines_add("stock", 2.62, "\"amount\":\"1\",\"amount_unit\":\"kg\",\"substance\":\"dichlor-dihydrate\"");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_NO_STOCK);
    assert_true(says(&act.why, TW_SAY_WHY_BARRED_STABILISED) && !says(&act.why, TW_SAY_WHY_NO_STOCK));
    assert_true(says(&act.lift, TW_SAY_LIFT_GET));
    for (uint32_t k = 0; k < act.lift.line[0].args; k++)
        if (tw_units_text_is(tw_units_text(act.lift.line[0].arg[k].name), "id"))
            assert_true(tw_units_text_is(act.lift.line[0].arg[k].text, "sodium-hypochlorite-120"));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(much_that_was_poured_is_read_before_it_is_waited_for),
        cmocka_unit_test(a_zero_against_the_belief_is_read_again_and_not_waited_for),
        cmocka_unit_test(combined_chlorine_is_no_reason_to_give_none),
        cmocka_unit_test(a_pad_in_warm_water_is_not_called_cold),
        cmocka_unit_test(a_stop_names_what_is_barred_and_what_would_do)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
