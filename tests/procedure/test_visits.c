/* The pour of a card is the first of a course: a visit of two products goes on with its wait and without a retest, what is
 * open in a later stage rides along, the order of the stages stands, and the risk is what the entries have left of it. */
#include "support/check.h"

#include <math.h>

#include "procedure/spent.h"
#include "tubs.h"

static void pour(double hours, const char *substance, double amount, const char *unit)
{
    char members[200];
    (void)snprintf(members, sizeof members, "\"amount\":\"%.0f\",\"amount_unit\":\"%s\",\"measured\":\"weighed\",\"substance\":\"%s\"", amount, unit, substance);
    (void)lines_add("addition", hours, members);
}

/* Alkalinity far too high, and salt known and missing. */
static void a_tub_for_acid_and_salt(void)
{
    a_filled_tub("7.6", "230");
    (void)lines_add("plate", 2.61, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    (void)lines_reading(2.62, "conductivity", "640", "uS/cm", "meter", "");
}

/* Acid first; salt a quarter of an hour later, without a retest; then air, then the reading that ends it. */
static void two_products_are_one_visit(void **state)
{
    (void)state;
    a_tub_for_acid_and_salt();
    const tw_act acid = act_at(2.7, 1);
    assert_int_equal(acid.id, TW_ACT_ACID_STEP);
    assert_true(says(&acid.next_lines, TW_SAY_NEXT_POUR));
    assert_int_equal(acid.tests, 0);
    assert_true(acid.next.utc_s - lines_now(2.7).utc_s >= 15 * 60);
    pour(2.7, tw_dose_substances[acid.substance].id, acid.amount, acid.amount_unit);
    const tw_act wait = act_at(2.75, 1);
    assert_int_equal(wait.verb, TW_VERB_WAIT);
    assert_true(says(&wait.next_lines, TW_SAY_NEXT_POUR));
    assert_true(wait.until.utc_s == lines_now(2.95).utc_s);
    const tw_act salt = act_at(2.96, 1);
    assert_int_equal(salt.id, TW_ACT_SALT_STEP);
    assert_true(salt.predicted_salt[2] <= 2000.0 * 1.02);
    pour(2.96, "sodium-chloride", salt.amount_unit[0] == 'k' ? 1000.0 * salt.amount : salt.amount, "g");
    for (double at = 3.0; at < 3.95; at += 0.3)
        assert_int_equal(act_at(at, 1).verb, TW_VERB_WAIT);
    assert_int_equal(act_at(3.98, 1).verb, TW_VERB_AIR);
}

static int asks(const tw_act *act, int analyte)
{
    int times = 0;
    for (uint32_t i = 0; i < act->tests; i++)
        times += act->test[i] == analyte;
    return times;
}

/* Calcium and salt went in: one retest asks for both, each once, on the card of the last pour, while it mixes and after. */
static void a_visit_has_one_retest(void **state)
{
    (void)state;
    a_filled_tub_of("7.4", "80", "20");
    (void)lines_add("plate", 2.61, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\"");
    (void)lines_reading(2.62, "conductivity", "640", "uS/cm", "meter", "");
    pour(2.7, "calcium-chloride-dihydrate", 100.0, "g");
    const tw_act salt = act_at(3.72, 1);
    assert_int_equal(salt.id, TW_ACT_SALT_STEP);
    assert_int_equal(asks(&salt, TW_ANALYTE_CALCIUM_HARDNESS), 1);
    assert_int_equal(asks(&salt, TW_ANALYTE_CONDUCTIVITY), 1);
    pour(3.72, "sodium-chloride", 900.0, "g");
    for (double at = 4.0; at < 5.5; at += 1.0) {
        const tw_act act = act_at(at, 1);
        assert_int_equal(act.verb, at < 4.72 ? TW_VERB_WAIT : TW_VERB_TEST);
        assert_int_equal(asks(&act, TW_ANALYTE_CALCIUM_HARDNESS), 1);
        assert_int_equal(asks(&act, TW_ANALYTE_CONDUCTIVITY), 1);
    }
}

/* A reading between ends the visit: what it says comes first. */
static void a_reading_ends_a_visit(void **state)
{
    (void)state;
    a_tub_for_acid_and_salt();
    pour(2.7, "sodium-bisulfate-93", 90.0, "g");
    (void)lines_reading(2.96, "ph", "6.9", "pH", "meter", "");
    assert_int_equal(act_at(2.98, 1).verb, TW_VERB_AIR);
}

/* Chlorine is the last of a visit: after it nothing else goes in before it is read. */
static void nothing_rides_on_chlorine(void **state)
{
    (void)state;
    a_tub_for_acid_and_salt();
    pour(2.7, "sodium-hypochlorite-120", 16.0, "mL");
    for (double at = 2.75; at < 3.6; at += 0.2)
        assert_int_equal(act_at(at, 1).verb, TW_VERB_WAIT);
}

/* Alkalinity first: with salt alone on the shelf there is no card for salt. */
static void the_order_of_the_stages_stands(void **state)
{
    (void)state;
    a_tub_for_acid_and_salt();
    (void)lines_add("stock", 2.63, "\"amount\":\"5\",\"amount_unit\":\"kg\",\"substance\":\"sodium-chloride\"");
    assert_int_equal(act_at(2.7, 1).id, TW_ACT_NO_STOCK);
}

/* Two acids in the list: what the trade reaches for first, the other named with its amount, the same equivalents. Where of
 * the first too little is left for the way, the other is taken. */
static void two_products_that_serve(void **state)
{
    (void)state;
    const double dry_eq = -tw_dose_alk_eq_per_g(&tw_dose_substances[TW_SUBSTANCE_SODIUM_BISULFATE_93]);
    const double wet_eq = -tw_dose_alk_eq_per_g(&tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5]);
    for (int little = 0; little < 2; little++) {
        a_filled_tub("7.6", "210");
        (void)lines_add("stock", 0.1, little ? "\"substance\":\"sodium-bisulfate-93\",\"amount\":\"15\",\"amount_unit\":\"g\""
                                             : "\"substance\":\"sodium-bisulfate-93\",\"amount\":\"5\",\"amount_unit\":\"kg\"");
        (void)lines_add("stock", 0.1, "\"substance\":\"hydrochloric-acid-14.5\",\"amount\":\"5\",\"amount_unit\":\"kg\"");
        const tw_act act = act_at(2.7, 1);
        assert_int_equal(act.id, TW_ACT_ACID_STEP);
        assert_int_equal(act.substance, little ? TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5 : TW_SUBSTANCE_SODIUM_BISULFATE_93);
        const tw_said *other = NULL;
        for (uint32_t i = 0; i < act.why.n; i++)
            other = act.why.line[i].message == TW_SAY_WHY_OTHER_PRODUCT ? &act.why.line[i] : other;
        if (little)
            continue;
        assert_non_null(other);
        double ml = 0.0;
        for (uint32_t k = 0; k < other->args; k++)
            ml = tw_units_text_is(tw_units_text(other->arg[k].name), "amount") ? other->arg[k].number : ml;
        const double g = ml * tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5].density_kg_per_l;
        assert_near(g * wet_eq, act.amount_g * dry_eq, 0.1 * act.amount_g * dry_eq);
    }
    a_filled_tub("7.6", "210");
    (void)lines_add("stock", 0.1, "\"substance\":\"sodium-bisulfate-93\",\"amount\":\"5\",\"amount_unit\":\"kg\"");
    const tw_act alone = act_at(2.7, 1);
    for (uint32_t i = 0; i < alone.why.n; i++)
        assert_int_not_equal(alone.why.line[i].message, TW_SAY_WHY_OTHER_PRODUCT);
}

/* No more than what is left in the box, poured since the list was written taken off; and it says so. */
static void no_more_than_what_is_left(void **state)
{
    (void)state;
    a_filled_tub("7.6", "230");
    const double all = act_at(2.7, 1).amount_g;
    assert_true(all > 60.0);
    (void)lines_add("stock", 2.63, "\"amount\":\"40\",\"amount_unit\":\"g\",\"substance\":\"sodium-bisulfate-93\"");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_ACID_STEP);
    assert_true(act.amount_g > 30.0 && act.amount_g <= 40.0);
    assert_true(says(&act.why, TW_SAY_WHY_STOCK_LEFT));
}

/* Only dichlor is on the shelf and cyanuric acid stands near its cap: a stop that says which limit and how well it must be read, before what is said of any
 * stop. */
static void a_stop_says_what_frees_it(void **state)
{
    (void)state;
    a_tub_that_wants_chlorine();
    (void)lines_reading(2.6, "cyanuric-acid", "28", "mg/L", "laboratory", "");
    (void)lines_add("stock", 2.65, "\"amount\":\"1\",\"amount_unit\":\"kg\",\"substance\":\"dichlor-dihydrate\"");
    const tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_CANNOT_DOSE);
    assert_int_equal(act.lift.n, 2);
    assert_int_equal(act.lift.line[0].message, TW_SAY_COURSE_FREE_TEST);
    assert_int_equal(act.lift.line[1].message, TW_SAY_LIFT_CANNOT_DOSE);
}

static double left_at(double hours, uint32_t *pours)
{
    const tw_estimate_options quick = tw_estimate_options_quick();
    const tw_book *book = lines_book(NULL);
    const tw_time now = lines_now(hours);
    tw_tub tub;
    tw_scene scene;
    assert_int_equal(tw_logbook_book_tub(book, tw_units_text(LINES_TUB), now, &tub), TW_OK);
    const tw_belief belief = lines_fold(book, hours, &quick);
    const size_t bytes = tw_procedure_bytes(belief.n);
    free(tubs_memory);
    tubs_memory = malloc(bytes);
    tw_procedure_scene(book, &tub, now, &belief, NULL, tubs_memory, bytes, &scene);
    return tw_procedure_risk_left(&scene, 0.05, pours);
}

/* Far from its limits a pour spends next to nothing, near them up to half, and half where nothing was read before it. */
static void the_risk_travels_by_the_entries(void **state)
{
    uint32_t pours = 0;
    (void)state;
    a_filled_tub("7.6", "230");
    assert_near(left_at(2.7, &pours), 0.05, 1e-12);
    assert_int_equal(pours, 0); /* the holding dose of chlorine takes none */
    pour(2.7, "sodium-bisulfate-93", 30.0, "g");
    assert_near(left_at(3.0, &pours), 0.05, 1e-3);
    assert_int_equal(pours, 1);
    pour(2.8, "sodium-bisulfate-93", 30.0, "g"); /* on the same reading */
    assert_near(left_at(3.0, &pours), 0.025, 1e-3);
    a_filled_tub("7.6", "230");
    pour(2.7, "sodium-bisulfate-93", 400.0, "g"); /* whoever does that has spent his share */
    assert_near(left_at(3.0, &pours), 0.025, 1e-9);
}

/* Cold thin water, its alkalinity under the floor and its pH by the limit: bicarbonate leads over the one, acid under the other. Air
 * brings carbon dioxide in, a reading ends it, and bicarbonate goes in. */
static void air_makes_room_for_bicarbonate(void **state)
{
    (void)state;
    a_filled_tub_at("8.2", "30", "90", "12");
    (void)lines_add("waiver", 2.6, "\"condition\":\"warm-enough\",\"reason\":\"no power yet\",\"role\":\"owner\"");
    tw_act act = act_at(2.7, 1);
    assert_int_equal(act.id, TW_ACT_AIR);
    assert_int_equal(act.state, TW_STANDS_TO_DO);
    const double now = number_of(&act.why, TW_SAY_WHY_AIR_IN, "now"), to = number_of(&act.why, TW_SAY_WHY_AIR_IN, "ph");
    assert_true(now > 8.0 && to < now - 0.1);
    /* Not under the pH at which such water stands with the air: 2.1e-5 mol/kg of carbon dioxide at 12 C, K1 3.6e-7 (Plummer and
     * Busenberg 1982), 0.6 meq/kg: 7.9, by what is read of the alkalinity within 0.15. */
    assert_true(to > 7.75);
    assert_true(act.until.utc_s >= lines_now(2.95).utc_s && act.until.utc_s <= lines_now(6.7).utc_s);
    (void)lines_add("care", 2.7, "\"job\":\"aerate\",\"state\":\"started\"");
    (void)lines_add("care", 4.7, "\"job\":\"aerate\",\"state\":\"done\"");
    (void)lines_reading(4.7, "ph", "7.9", "pH", "meter", "");
    act = act_at(4.8, 1);
    assert_int_equal(act.id, TW_ACT_BICARBONATE);
    assert_true(act.predicted_ph[1] < 8.2 && act.chance <= 0.05);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_products_are_one_visit), cmocka_unit_test(a_visit_has_one_retest), cmocka_unit_test(a_reading_ends_a_visit),
        cmocka_unit_test(nothing_rides_on_chlorine),  cmocka_unit_test(the_order_of_the_stages_stands),
        cmocka_unit_test(two_products_that_serve), cmocka_unit_test(no_more_than_what_is_left),  cmocka_unit_test(the_risk_travels_by_the_entries), cmocka_unit_test(a_stop_says_what_frees_it),
        cmocka_unit_test(air_makes_room_for_bicarbonate),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
