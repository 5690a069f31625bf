/* After a party: read at once, dosed in steps that count on what people brought, read again each hour until it stays. */
#include "support/check.h"

#include <math.h>

#include "estimate/burn.h"
#include "tubs.h"

#define OUT_H 50.0 /* the hour at which all are out */

/* 1,600 L on the generator for two days at 5 mg/L, then six people for two hours. */
static void a_tub_after_a_party(void)
{
    static const char *const READ[][4] = {{"ph", "7.4", "pH", "meter"}, {"total-alkalinity", "80", "mg/L", "drops"}, {"calcium-hardness", "90", "mg/L", "laboratory"},
        {"temperature", "37", "Cel", "thermometer"}, {"conductivity", "4150", "uS/cm", "meter"}, {"phosphate", "0.1", "mg/L", "laboratory"}};
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Barn\",\"use\":\"private\",\"volume\":\"1600\",\"volume_unit\":\"L\",\"start\":\"care\"");
    no_old_chemistry(0.0);
    (void)lines_add("plate", 0.1, "\"salt_target\":\"2000\",\"salt_unit\":\"mg/L\",\"cell_output\":\"0.2\",\"cell_output_unit\":\"g/h\"");
    (void)lines_add("volume", 0.1, "\"method\":\"meter\",\"volume\":\"1600\",\"volume_unit\":\"L\"");
    (void)lines_add("setting", 0.2, "\"what\":\"duty\",\"value\":\"60\",\"unit\":\"pct\"");
    for (int day = 0; day < 2; day++) {
        for (size_t i = 0; i < sizeof READ / sizeof *READ; i++)
            (void)lines_reading(1.0 + 24.0 * day, READ[i][0], READ[i][1], READ[i][2], READ[i][3], "");
        (void)lines_reading(1.0 + 24.0 * day, "free-chlorine", "5.0", "mg/L", "drops", "\"step\":\"0.2\"");
        (void)lines_reading(1.0 + 24.0 * day, "total-chlorine", "5.0", "mg/L", "drops", "\"step\":\"0.2\"");
    }
    (void)lines_add("bathers", OUT_H - 2.0, "\"count\":\"6\",\"minutes\":\"120\"");
}

static void people_out_is_read_at_once(void **state)
{
    (void)state;
    a_tub_after_a_party();
    const tw_act act = act_at(OUT_H + 0.05, 1);
    assert_int_equal(act.verb, TW_VERB_TEST);
    assert_int_equal(act.test[0], TW_ANALYTE_FREE_CHLORINE);
    assert_true(act.next.utc_s <= lines_now(OUT_H + 0.1).utc_s);
}

/* 48 to 84 g are wanted (reference/water-balance.md 3), 30 to 52 mg/L: the step is all that the cap of 10 mg/L bears, and says so. */
static void what_people_brought_is_dosed_in_whole_steps(void **state)
{
    (void)state;
    a_tub_after_a_party();
    (void)lines_reading(OUT_H + 0.1, "free-chlorine", "0", "mg/L", "drops", "\"step\":\"0.2\"");
    tw_act act = act_at(OUT_H + 0.15, 1);
    assert_int_equal(act.id, TW_ACT_BRIDGE_DOSE);
    const double step = act.amount_g / 1.18 * 0.12 / 1.6; /* mg/L of hypochlorite of 120 g/L in 1,600 L */
    printf("# first step %.1f mg/L\n", step);
    assert_true(step > 7.0 && step <= 10.0 && act.predicted_chlorine[2] <= 10.5);
    assert_true(says(&act.why, TW_SAY_WHY_BRIDGE_DEMAND));
    assert_true(number_of(&act.why, TW_SAY_WHY_BRIDGE_DEMAND, "low") > 10.0);
    assert_near((double)(act.next.utc_s - lines_now(OUT_H + 0.15).utc_s), 3600.0, 60.0);
    /* An hour later 2 mg/L of it are left: another step. 6 mg/L of three are no end either: read again in an hour. */
    (void)lines_add("addition", OUT_H + 0.2, "\"amount\":\"120\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\"");
    (void)lines_reading(OUT_H + 1.3, "free-chlorine", "2.0", "mg/L", "drops", "\"step\":\"0.2\"");
    act = act_at(OUT_H + 1.35, 1);
    assert_int_equal(act.id, TW_ACT_BRIDGE_DOSE);
    assert_true(act.amount_g / 1.18 * 0.12 / 1.6 > 5.0);
    (void)lines_add("addition", OUT_H + 1.4, "\"amount\":\"110\",\"amount_unit\":\"mL\",\"measured\":\"jug\",\"substance\":\"sodium-hypochlorite-120\"");
    (void)lines_reading(OUT_H + 2.5, "free-chlorine", "4.2", "mg/L", "drops", "\"step\":\"0.2\"");
    act = act_at(OUT_H + 2.55, 1);
    assert_int_equal(act.id, TW_ACT_PROVE_HOLD);
    assert_true(act.until.utc_s <= lines_now(OUT_H + 3.6).utc_s);
}

/* The law of docs/estimate.md integrated in a thousand steps; a pour for what shall be left leaves it. */
static void what_is_left_is_what_the_law_leaves(void **state)
{
    (void)state;
    a_tub_after_a_party();
    (void)lines_reading(OUT_H + 0.1, "free-chlorine", "0", "mg/L", "drops", "\"step\":\"0.2\"");
    const tw_estimate_options quick = tw_estimate_options_quick();
    tw_belief b = lines_fold(lines_book(NULL), OUT_H + 0.2, &quick);
    const double litre = b.density_kg_per_l;
    double *left = calloc(b.n, sizeof *left);
    double *scratch = calloc(b.n, sizeof *scratch);
    assert_non_null(left);
    assert_non_null(scratch);
    for (size_t i = 0; i < b.n; i++) {
        double c = b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] + 20.0 / litre, d = b.column[TW_COLUMN_DEMAND_MG_PER_KG][i];
        for (int k = 0; k < 20000; k++) {
            const double eaten = b.column[TW_COLUMN_DEMAND_RATE][i] * c * d * 1e-4;
            c -= eaten + b.column[TW_COLUMN_LOSS_NOW_PER_H][i] * c * 1e-4;
            d -= eaten;
        }
        left[i] = c * litre;
    }
    const tw_spread want = tw_estimate_spread(left, b.n, scratch), got = tw_estimate_left_after(&b, 20.0, 2.0);
    assert_near(got.q05, want.q05, 0.02);
    assert_near(got.q50, want.q50, 0.02);
    assert_near(got.q95, want.q95, 0.1);
    const double level = tw_estimate_level_for(&b, 4.0, 1.0, 100.0);
    assert_near(tw_estimate_left_after(&b, level - tw_estimate_column_mg_per_l(&b, TW_COLUMN_CHLORINE_MG_PER_KG).q50, 1.0).q50, 4.0, 0.05);
    free(left);
    free(scratch);
}

/* A cell that is dead for sure, and hardly any chlorine left in warm water: a hand dose first, whatever is at fault. */
static void a_dead_cell_leaves_no_warm_water_untreated(void **state)
{
    (void)state;
    a_tub_after_a_party();
    lines_count -= 1; /* nobody was in */
    (void)lines_add("setting", 26.0, "\"what\":\"duty\",\"value\":\"100\",\"unit\":\"pct\"");
    static const char *const FALLS[] = {"4.0", "3.2", "2.6", "2.0", "1.6", "1.2", "0.8", "0.4"};
    double hour = 36.0;
    for (size_t i = 0; i < sizeof FALLS / sizeof *FALLS; i++, hour += 12.0)
        (void)lines_reading(hour, "free-chlorine", FALLS[i], "mg/L", "drops", "\"step\":\"0.2\"");
    (void)lines_reading(hour - 12.0, "ph", "7.4", "pH", "meter", "");
    const tw_act act = act_at(hour - 11.9, 1);
    assert_int_equal(act.id, TW_ACT_BRIDGE_DOSE);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(people_out_is_read_at_once), cmocka_unit_test(what_people_brought_is_dosed_in_whole_steps),
        cmocka_unit_test(what_is_left_is_what_the_law_leaves), cmocka_unit_test(a_dead_cell_leaves_no_warm_water_untreated)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
