/* What is never advised, each through tw_procedure_next: the rule, the moment it stands, and the moment it is over.
 * Rules of the trade as in data/pairs.csv, data/waits.csv, data/conditions.csv and docs/dose.md. */
#include "support/check.h"

#include <math.h>

#include "dose/pairs.h"
#include "tubs.h"

static void pour(double hours, const char *substance, const char *amount, const char *unit)
{
    char members[200];
    (void)snprintf(members, sizeof members, "\"amount\":\"%s\",\"amount_unit\":\"%s\",\"measured\":\"weighed\",\"substance\":\"%s\"", amount, unit, substance);
    (void)lines_add("addition", hours, members);
}

static tw_family family_of(const tw_act *act)
{
    assert_true(act->verb == TW_VERB_ADD && act->substance >= 0);
    return tw_dose_substances[act->substance].family;
}

/* Acid after chlorine and chlorine after acid wait; after the wait the cautions still ask for another place and vessel. */
static void acid_and_chlorine_never_within_the_time(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    assert_int_equal(act_at(2.7, 1).id, TW_ACT_ACID_STEP);
    pour(2.7, "sodium-hypochlorite-120", "10", "mL");
    for (double at = 2.72; at < 2.95; at += 0.05)
        assert_int_not_equal(act_at(at, 1).verb, TW_VERB_ADD);
    (void)lines_reading(3.75, "ph", "7.6", "pH", "meter", "");
    const tw_act acid = act_at(3.8, 1);
    assert_int_equal(family_of(&acid), TW_FAMILY_ACID);
    assert_true(says(&acid.first, TW_SAY_CAUTION_ACID_GAS));
    a_tub_that_wants_chlorine();
    const tw_act chlorine = act_at(2.7, 1);
    assert_int_equal(family_of(&chlorine), TW_FAMILY_HYPOCHLORITE);
    assert_true(says(&chlorine.first, TW_SAY_CAUTION_ACID_GAS));
    pour(2.7, "sodium-bisulfate-93", "5", "g");
    for (double at = 2.72; at < 2.95; at += 0.05)
        assert_int_not_equal(act_at(at, 1).verb, TW_VERB_ADD);
    /* the rule itself: not in one place even when the time is over, and a time that is not known is now */
    assert_false(tw_dose_may_follow(TW_FAMILY_ACID, 600.0, TW_FAMILY_HYPOCHLORITE, 1).may);
    assert_false(tw_dose_may_follow(TW_FAMILY_DICHLOR, (double)NAN, TW_FAMILY_ACID, 0).may);
}

/* Only soda on hand, hard hot water: milk. The same soda into soft cold water may go. */
static void soda_never_into_hard_hot_water(void **state)
{
    (void)state;
    for (int hard = 0; hard < 2; hard++) {
        a_filled_tub_of("7.7", "40", hard ? "420" : "60");
        (void)lines_add("plate", 2.62, "\"ch_min\":\"50\",\"ch_max\":\"600\",\"hardness_unit\":\"mg/L\"");
        (void)lines_add("stock", 2.63, "\"amount\":\"2\",\"amount_unit\":\"kg\",\"substance\":\"sodium-carbonate\"");
        const tw_act act = act_at(2.7, 1);
        if (hard) {
            assert_int_equal(act.id, TW_ACT_NO_STOCK);
            assert_true(says(&act.why, TW_SAY_WHY_SODA_MILK));
            (void)lines_add("stock", 2.64, "\"amount\":\"2\",\"amount_unit\":\"kg\",\"substance\":\"sodium-bicarbonate\"");
            const tw_act other = act_at(2.7, 1);
            assert_int_equal(other.verb, TW_VERB_ADD);
            assert_string_equal(tw_dose_substances[other.substance].id, "sodium-bicarbonate");
        } else {
            assert_int_equal(act.verb, TW_VERB_ADD);
            assert_string_equal(tw_dose_substances[act.substance].id, "sodium-carbonate");
        }
    }
}

/* Each job that pours keeps its cap, whatever is believed of a tub that is far off and said to be huge. */
static void never_over_the_largest_single_addition(void **state)
{
    (void)state;
    a_filled_tub("7.8", "300");
    tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_ACID_STEP);
    assert_true(act.amount_g > 0.0 && act.amount_g <= 1.25 * 1200.0 * 45.0 * 2.58e-3 + 1.0);
    a_filled_tub("7.4", "20");
    act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_BICARBONATE);
    assert_true(act.amount_g > 0.0 && act.amount_g <= 1.25 * 1200.0 * 60.0 * 1.679e-3 + 1.0);
    a_tub_that_wants_chlorine();
    act = act_at(2.7, 1);
    assert_true(act.amount_g > 0.0 && act.amount_g <= 1.25 * 1200.0 * 10.0 * 9.8333e-3 + 6.0);
}

/* Dichlor alone on hand: not where guests bathe, not where the guidance bars it, not over 30 mg/L of cyanuric acid. */
static void stabilised_chlorine_keeps_its_cap_and_its_bars(void **state)
{
    (void)state;
    for (int what = 0; what < 4; what++) {
        a_tub_that_wants_chlorine();
        if (what == 1)
            (void)lines_add("tub", 2.671, "\"name\":\"Barn\",\"use\":\"lodging\",\"volume\":\"1200\",\"volume_unit\":\"L\"");
        if (what == 2)
            (void)lines_add("tub", 2.671, "\"name\":\"Barn\",\"use\":\"private\",\"profile\":\"nsw-2012\",\"volume\":\"1200\",\"volume_unit\":\"L\"");
        if (what == 0 || what == 3) /* unread, a tub that stood full may hold too much of it already */
            (void)lines_reading(2.672, "cyanuric-acid", what == 0 ? "5" : "45", "mg/L", "photometer", "");
        (void)lines_add("stock", 2.68, "\"amount\":\"1\",\"amount_unit\":\"kg\",\"substance\":\"dichlor-dihydrate\"");
        const tw_act act = act_at(2.7, 1);
        if (what == 0) {
            assert_int_equal(family_of(&act), TW_FAMILY_DICHLOR);
            assert_true(act.amount_g < 40.0);
        } else {
            assert_int_not_equal(act.verb, TW_VERB_ADD);
        }
    }
}

/* People in the water: nothing is poured until they are out, and then as before. */
static void nothing_while_somebody_bathes(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    (void)lines_add("bathers", 2.65, "\"count\":\"2\",\"minutes\":\"30\"");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.verb, TW_VERB_WAIT);
    assert_int_equal(act.substance, -1);
    assert_true(act.until.utc_s == lines_now(2.65 + 0.5).utc_s);
    assert_true(act.why.n > 0);
    assert_int_equal(act_at(3.2, 1).verb, TW_VERB_ADD);
    a_tub_that_wants_chlorine();
    (void)lines_add("bathers", 2.69, "\"count\":\"1\",\"minutes\":\"20\"");
    assert_int_equal(act_at(2.7, 1).verb, TW_VERB_WAIT);
}

/* Whatever must be gone first stands before any pour, "don't know" too. */
static void nothing_while_old_chemistry_stands(void **state)
{
    static const char *const OLD[] = {"bromine", "biguanide", "silver", "copper", "monopersulfate", "ozone"};
    (void)state;
    for (size_t i = 0; i < sizeof OLD / sizeof *OLD; i++) {
        a_filled_tub("7.6", "230");
        reply(2.65, OLD[i], i % 2 ? "yes" : "unknown");
        assert_int_equal(act_at(2.7, 1).verb, TW_VERB_STOP);
    }
}

/* A reading that does not fit is read again; nothing is poured on it. */
static void nothing_on_a_reading_in_doubt(void **state)
{
    (void)state;
    a_filled_tub("7.5", "75");
    (void)lines_reading(2.65, "total-alkalinity", "240", "mg/L", "drops", "\"step\":\"10\"");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_DOUBTFUL);
    assert_int_equal(act.substance, -1);
}

/* An addition that is taken back may have gone in all the same: no second one before the water was read. */
static void no_second_dose_because_the_first_ones_entry_was_edited(void **state)
{
    (void)state;
    for (int again = 0; again < 2; again++) {
        a_filled_tub("7.6", "230");
        const tw_act first = act_at(2.7, 1);
        assert_int_equal(first.id, TW_ACT_ACID_STEP);
        char members[200], id[40];
        (void)snprintf(id, sizeof id, "%s", lines_add("addition", 2.72, "\"amount\":\"90\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-bisulfate-93\""));
        (void)snprintf(members, sizeof members, "\"target\":\"%s\",\"reason\":\"wrong number\"", id);
        (void)lines_add("void", 2.75, members);
        if (again)
            (void)lines_add("addition", 2.72, "\"amount\":\"70\",\"amount_unit\":\"g\",\"measured\":\"weighed\",\"substance\":\"sodium-bisulfate-93\"");
        for (double at = 2.76; at < 4.2; at += 0.35) {
            const tw_act act = act_at(at, 1);
            assert_int_not_equal(act.verb, TW_VERB_ADD);
        }
        /* read since: then the water decides */
        (void)lines_reading(4.3, "ph", again ? "7.2" : "7.6", "pH", "meter", "");
        (void)lines_reading(4.3, "total-alkalinity", again ? "210" : "230", "mg/L", "drops", "\"step\":\"10\"");
        if (!again)
            assert_int_equal(act_at(4.35, 1).id, TW_ACT_ACID_STEP);
    }
    /* the same of chlorine and of salt */
    for (int salt = 0; salt < 2; salt++) {
        a_tub_that_wants_chlorine();
        if (salt)
            (void)lines_reading(2.68, "conductivity", "560", "uS/cm", "meter", "");
        const tw_act first = act_at(2.7, 1);
        assert_int_equal(first.verb, TW_VERB_ADD);
        char members[200], id[40];
        (void)snprintf(members, sizeof members, "\"amount\":\"%.0f\",\"amount_unit\":\"%s\",\"measured\":\"weighed\",\"substance\":\"%s\"",
                       first.amount_unit[0] == 'k' ? 1000.0 * first.amount : first.amount, first.amount_unit[0] == 'k' ? "g" : first.amount_unit, tw_dose_substances[first.substance].id);
        (void)snprintf(id, sizeof id, "%s", lines_add("addition", 2.72, members));
        (void)snprintf(members, sizeof members, "\"target\":\"%s\",\"reason\":\"slip\"", id);
        (void)lines_add("void", 2.75, members);
        for (double at = 2.76; at < 4.2; at += 0.35)
            assert_int_not_equal(act_at(at, 1).verb, TW_VERB_ADD);
    }
}

/* What stands in the stock list under a name of the person's own is poured at the strength that was written for it. */
static void a_product_of_ones_own_counts_at_its_strength(void **state)
{
    (void)state;
    double grams[2];
    for (int weak = 0; weak < 2; weak++) {
        a_filled_tub("7.6", "230");
        char members[200], id[40];
        (void)snprintf(members, sizeof members, "\"defines\":\"substance\",\"name\":\"autumn acid\",\"substance\":\"sodium-bisulfate-93\",\"strength\":\"%s\"", weak ? "46.5" : "93");
        (void)snprintf(id, sizeof id, "%s", lines_add("definition", 2.61, members));
        (void)snprintf(members, sizeof members, "\"amount\":\"2\",\"amount_unit\":\"kg\",\"substance\":\"%s\"", id);
        (void)lines_add("stock", 2.62, members);
        const tw_act act = act_at(2.7, 1);
        assert_int_equal(family_of(&act), TW_FAMILY_ACID);
        grams[weak] = act.amount_g;
    }
    assert_near_rel(grams[1] / grams[0], 2.0, 0.03);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acid_and_chlorine_never_within_the_time),
        cmocka_unit_test(soda_never_into_hard_hot_water),
        cmocka_unit_test(never_over_the_largest_single_addition),
        cmocka_unit_test(stabilised_chlorine_keeps_its_cap_and_its_bars),
        cmocka_unit_test(nothing_while_somebody_bathes),
        cmocka_unit_test(nothing_while_old_chemistry_stands),
        cmocka_unit_test(nothing_on_a_reading_in_doubt),
        cmocka_unit_test(no_second_dose_because_the_first_ones_entry_was_edited),
        cmocka_unit_test(a_product_of_ones_own_counts_at_its_strength),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
