/* What may follow what, and the cautions of each class. */
#include "support/check.h"

#include <math.h>

#include "dose/hazard.h"
#include "dose/pairs.h"

static tw_dose_pair_verdict follow(tw_family before, double minutes, tw_family now)
{
    return tw_dose_may_follow(before, minutes, now, 0);
}

/* Acid, then any chlorine: 15 minutes with the pump on, another place, another vessel, another box. */
static void acid_and_chlorine(void **state)
{
    (void)state;
    static const tw_family chlorine[] = {TW_FAMILY_HYPOCHLORITE, TW_FAMILY_DICHLOR, TW_FAMILY_CAL_HYPO};
    for (size_t i = 0; i < 3; i++) {
        tw_dose_pair_verdict v = follow(TW_FAMILY_ACID, 4, chlorine[i]);
        assert_false(v.may);
        assert_near(v.wait_left_min, 11, 1e-12);
        assert_int_equal(v.pair->why, TW_SAY_PAIR_CHLORINE_GAS);
        v = follow(chlorine[i], 14.9, TW_FAMILY_ACID); /* either order */
        assert_false(v.may);
        v = follow(TW_FAMILY_ACID, 15, chlorine[i]);
        assert_true(v.may && v.apart && v.boxes);
        assert_false(tw_dose_may_follow(TW_FAMILY_ACID, 600, chlorine[i], 1).may); /* same bucket: never */
    }
}

static void an_hour_between_calcium_and_carbonate(void **state)
{
    (void)state;
    assert_false(follow(TW_FAMILY_CALCIUM, 59, TW_FAMILY_CARBONATE).may);
    assert_true(follow(TW_FAMILY_CARBONATE, 60, TW_FAMILY_CALCIUM).may);
}

static void waiting_does_not_help(void **state)
{
    (void)state;
    static const tw_family never[][2] = {{TW_FAMILY_LANTHANUM, TW_FAMILY_SEQUESTRANT}, {TW_FAMILY_BROMIDE, TW_FAMILY_DICHLOR},
                                         {TW_FAMILY_BIGUANIDE, TW_FAMILY_HYPOCHLORITE}, {TW_FAMILY_AMMONIA, TW_FAMILY_CAL_HYPO}};
    for (size_t i = 0; i < sizeof never / sizeof *never; i++) {
        const tw_dose_pair_verdict v = follow(never[i][1], 1e6, never[i][0]);
        assert_false(v.may);
        assert_true(v.wait_left_min < 0.0);
    }
}

static void nothing_known_against_it(void **state)
{
    (void)state;
    const tw_dose_pair_verdict v = follow(TW_FAMILY_PLAIN, 0, TW_FAMILY_CARBONATE);
    assert_true(v.may && v.pair == NULL && v.wait_left_min == 0.0);
    assert_true(follow(TW_FAMILY_ACID, 0, TW_FAMILY_ACID).may);
}

/* Not known when, or by a clock ahead: as if just now. */
static void an_unknown_time_is_now(void **state)
{
    (void)state;
    assert_near(follow(TW_FAMILY_ACID, (double)NAN, TW_FAMILY_DICHLOR).wait_left_min, 15, 0);
    assert_near(follow(TW_FAMILY_ACID, -300, TW_FAMILY_DICHLOR).wait_left_min, 15, 0);
}

static void families_by_their_words(void **state)
{
    (void)state;
    assert_int_equal(tw_dose_family_find(tw_units_text("sequestrant")), TW_FAMILY_SEQUESTRANT);
    assert_int_equal(tw_dose_family_find(tw_units_text("cal-hypo")), TW_FAMILY_CAL_HYPO);
    assert_int_equal(tw_dose_family_find(tw_units_text("Acid")), TW_FAMILIES);
    for (int f = 0; f < TW_FAMILIES; f++)
        assert_int_equal(tw_dose_family_find(tw_units_text(tw_dose_families[f])), f);
}

/* Every acid gets the caution about chlorine, every chlorine the one about acid, and the label's word stands
 * first everywhere. */
static void cautions_fit_the_substance(void **state)
{
    (void)state;
    for (int i = 0; i < TW_SUBSTANCES; i++) {
        const tw_substance *s = &tw_dose_substances[i];
        const tw_dose_hazard *h = tw_dose_hazard_of(s);
        assert_in_range(h->n, 1, TW_HAZARD_CAUTIONS);
        assert_int_equal(h->caution[0], TW_SAY_CAUTION_LABEL);
        int gas = 0;
        for (uint32_t c = 0; c < h->n; c++)
            gas |= h->caution[c] == TW_SAY_CAUTION_ACID_GAS;
        const int meets = s->family == TW_FAMILY_ACID || s->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] > 0.0;
        assert_int_equal(gas, meets);
        if (s->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] > 0.0)
            assert_non_null(tw_dose_pair_of(TW_FAMILY_ACID, s->family));
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acid_and_chlorine), cmocka_unit_test(an_hour_between_calcium_and_carbonate),
        cmocka_unit_test(waiting_does_not_help), cmocka_unit_test(nothing_known_against_it),
        cmocka_unit_test(an_unknown_time_is_now), cmocka_unit_test(families_by_their_words),
        cmocka_unit_test(cautions_fit_the_substance)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
