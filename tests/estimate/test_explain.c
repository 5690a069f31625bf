/* tests/estimate/test_explain.c: what may stand behind a doubtful reading, and what tells them apart. */
#include "support/check.h"

#include <math.h>

#include "book_lines.h"
#include "estimate/explain.h"

/* A tub of 1,200 L at 37 C, just filled. */
static void filled(void)
{
    lines_count = 0;
    lines_add("tub", 0, "\"name\":\"Larch\",\"use\":\"private\",\"start\":\"start-up\"");
    lines_add("plate", 0, "\"cell_output\":\"0.15\",\"cell_output_unit\":\"g/h\",\"volume\":\"1250\",\"volume_unit\":\"L\"");
    lines_add("exchange", 1, "\"cause\":\"fill\",\"in\":\"1200\",\"volume_unit\":\"L\",\"temperature\":\"37\",\"temperature_unit\":\"Cel\"");
    lines_add("volume", 1.1, "\"volume\":\"1200\",\"volume_unit\":\"L\",\"method\":\"meter\"");
    lines_add("setting", 1.2, "\"what\":\"temperature\",\"value\":\"37\",\"unit\":\"Cel\"");
}

/* A tub that holds: 4 mg/L for four days, pH 7.5, alkalinity 80, salt 2,000. */
static void holding(void)
{
    filled();
    lines_reading(2, "ph", "7.45", "pH", "meter", "\"serial\":\"p1\"");
    lines_reading(2, "total-alkalinity", "80", "mg/L", "drops", "");
    lines_reading(2, "calcium-hardness", "120", "mg/L", "drops", "");
    lines_add("addition", 3, "\"substance\":\"sodium-chloride\",\"amount\":\"2300\",\"amount_unit\":\"g\",\"measured\":\"weighed\"");
    lines_reading(20, "conductivity", "4050", "uS/cm", "meter", "\"serial\":\"m1\"");
    lines_add("addition", 21, "\"substance\":\"sodium-hypochlorite-120\",\"amount\":\"45\",\"amount_unit\":\"mL\",\"measured\":\"jug\"");
    lines_reading(22, "free-chlorine", "4.2", "mg/L", "drops", "\"step\":\"0.2\"");
    lines_add("setting", 22.1, "\"what\":\"duty\",\"value\":\"60\",\"unit\":\"pct\"");
    for (int i = 1; i <= 8; i++) {
        lines_reading(22 + 12 * i, "free-chlorine", "4.2", "mg/L", "drops", "\"step\":\"0.2\"");
        lines_reading(22 + 12 * i, "ph", "7.5", "pH", "meter", "\"serial\":\"p1\"");
    }
    lines_reading(118, "total-alkalinity", "80", "mg/L", "drops", "");
    lines_reading(118, "conductivity", "4050", "uS/cm", "meter", "\"serial\":\"m1\"");
}

static tw_belief belief;
static tw_book *book;

/* How much the members themselves believe in acts that nobody wrote. */
static double in_members(void)
{
    double p = 0.0;
    for (uint32_t i = 0; i < belief.unwrittens; i++)
        p += belief.unwritten[i].probability;
    return p;
}

/* The contradiction of this analyte; where members share an act that explains it, its reading stands for it. */
static tw_contradiction odd_one(int observed)
{
    tw_contradiction odd = {0, 0.0, {0.0, 0.0, 0.0}, observed};
    for (uint32_t i = 0; i < belief.contradictions; i++)
        if (belief.contradiction[i].observed == observed)
            return belief.contradiction[i];
    assert_true(belief.unwrittens > 0);
    odd.entry = belief.unwritten[0].entry;
    return odd;
}

/* Folds at an hour and explains the contradiction about this analyte. */
static tw_explained explained(double hours, int observed)
{
    tw_explained e;
    book = lines_book(NULL);
    belief = lines_fold(book, hours, NULL);
    const tw_contradiction odd = odd_one(observed);
    assert_int_equal(tw_estimate_explain_entry(&belief, book, tw_units_text(LINES_TUB), lines_now(hours), &odd, &e), TW_OK);
    double sum = 0.0;
    for (size_t k = 0; k < e.count; k++) {
        print_message("# act %d: %.3f, size %.2f\n", e.why[k].act, e.why[k].probability, e.why[k].size);
        assert_true(k == 0 || e.why[k].probability <= e.why[k - 1].probability);
        sum += e.why[k].probability;
    }
    assert_true(sum > 0.9 && sum <= 1.0 + 1e-9);
    print_message("# retest %d, %.1f sd apart, %.0f h; in the members %.3f\n", e.retest, e.apart, e.hours, in_members());
    return e;
}

static double chance(const tw_explained *e, int act)
{
    for (size_t k = 0; k < e->count; k++)
        if (e->why[k].act == act)
            return e->why[k].probability;
    return 0.0;
}

static void a_jump_of_chlorine_is_a_dose_or_a_wrong_reading(void **state)
{
    (void)state;
    holding();
    lines_reading(130, "free-chlorine", "8.6", "mg/L", "drops", "\"step\":\"0.2\"");
    const tw_explained e = explained(130.1, TW_OBSERVED_FREE_CHLORINE);
    assert_true(chance(&e, TW_UNLOGGED_CHLORINE_POURED) + chance(&e, TW_UNLOGGED_NONE) > 0.95);
    assert_near(e.hours, 12.0, 0.01); /* it was 4.2 then */
    assert_int_equal(e.retest, TW_OBSERVED_FREE_CHLORINE);
    assert_true(e.apart > 4.0);
    assert_near(in_members(), chance(&e, TW_UNLOGGED_CHLORINE_POURED), 0.15); /* two ways to one number */
    for (size_t k = 0; k < e.count; k++)
        if (e.why[k].act == TW_UNLOGGED_CHLORINE_POURED)
            assert_near(e.why[k].size, 4.3, 0.8);
    /* A second kit says the same beside it: then it is the dose. */
    lines_reading(130, "total-chlorine", "8.8", "mg/L", "photometer", "");
    book = lines_book(NULL);
    belief = lines_fold(book, 130.1, NULL);
    assert_true(in_members() > 0.95);
    assert_int_equal(belief.unwritten[0].act, TW_UNLOGGED_CHLORINE_POURED);
    assert_near(belief.unwritten[0].size.q50, 4.6, 0.8); /* six hours earlier it was a little more */
    assert_int_equal(belief.contradictions, 0);
}

static void a_fall_of_chlorine_asks_for_bathers_and_the_generator(void **state)
{
    (void)state;
    holding();
    lines_reading(130, "free-chlorine", "1.2", "mg/L", "drops", "\"step\":\"0.2\"");
    const tw_explained e = explained(130.1, TW_OBSERVED_FREE_CHLORINE);
    assert_true(chance(&e, TW_UNLOGGED_CHLORINE_USED) > 0.3);
    assert_near(in_members(), chance(&e, TW_UNLOGGED_CHLORINE_USED), 0.15);
    assert_true(chance(&e, TW_UNLOGGED_CHLORINE_USED) + chance(&e, TW_UNLOGGED_NONE) > 0.9);
    assert_true(chance(&e, TW_UNLOGGED_CHLORINE_POURED) < 0.01);
    /* Twelve hours without the generator take 1 mg/L at most, not 3. */
    assert_true(chance(&e, TW_UNLOGGED_GENERATOR_OFF) < 0.1);
}

static double act_in_members(int act)
{
    double p = 0.0;
    for (uint32_t i = 0; i < belief.unwrittens; i++)
        p += belief.unwritten[i].act == act ? belief.unwritten[i].probability : 0.0;
    return p;
}

/* A meter's reading twelve hours after the last ones, weighed by what was believed before it. */
static tw_explained weighed(int observed, double value, const tw_written_reading *beside, size_t n)
{
    tw_explained e;
    tw_written_reading odd;
    holding();
    book = lines_book(NULL);
    belief = lines_fold(book, 130.0, NULL);
    assert_int_equal(belief.unwrittens, 0);
    memset(&odd, 0, sizeof odd);
    odd.instrument = TW_TOOL_METER;
    odd.observed = observed;
    odd.written = TW_WRITTEN_VALUE;
    odd.value = value;
    odd.step = 0.01;
    odd.dilution = odd.density_kg_per_l = 1.0;
    odd.decimals = 2;
    assert_int_equal(tw_estimate_explain(&belief, &odd, beside, n, 12.0, &e), TW_OK);
    for (size_t k = 0; k < e.count; k++)
        print_message("# act %d: %.3f, size %.2f\n", e.why[k].act, e.why[k].probability, e.why[k].size);
    return e;
}

static void read_and_fold(int more_alkalinity)
{
    holding();
    lines_reading(130, "ph", "8.15", "pH", "meter", "\"serial\":\"p1\"");
    if (more_alkalinity)
        lines_reading(130, "total-alkalinity", "80", "mg/L", "drops", "");
    book = lines_book(NULL);
    belief = lines_fold(book, 130.1, NULL);
    print_message("# members: air %.3f, base %.3f, acid %.3f\n", act_in_members(TW_UNLOGGED_AIRED),
                  act_in_members(TW_UNLOGGED_BASE_POURED), act_in_members(TW_UNLOGGED_ACID_POURED));
}

static void air_and_base_lift_ph_and_alkalinity_tells_them_apart(void **state)
{
    (void)state;
    const tw_explained e = weighed(TW_OBSERVED_PH, 8.15, NULL, 0);
    assert_true(chance(&e, TW_UNLOGGED_AIRED) > 0.3);
    assert_true(chance(&e, TW_UNLOGGED_ACID_POURED) < 0.01);
    /* Alkalinity read beside it as before: no base was poured. */
    tw_written_reading drops;
    memset(&drops, 0, sizeof drops);
    drops.instrument = TW_TOOL_DROPS;
    drops.observed = TW_OBSERVED_ALKALINITY;
    drops.written = TW_WRITTEN_VALUE;
    drops.value = 80.0;
    drops.step = 10.0;
    drops.dilution = drops.density_kg_per_l = 1.0;
    const tw_explained more = weighed(TW_OBSERVED_PH, 8.15, &drops, 1);
    assert_true(chance(&more, TW_UNLOGGED_BASE_POURED) < chance(&e, TW_UNLOGGED_BASE_POURED) + 1e-12);
    assert_true(chance(&more, TW_UNLOGGED_AIRED) > 0.5);
    /* The members: air first, pH as read; no acid. */
    for (int both = 0; both < 2; both++) {
        read_and_fold(both);
        assert_near(act_in_members(TW_UNLOGGED_AIRED), chance(both ? &more : &e, TW_UNLOGGED_AIRED), 0.2);
        assert_true(act_in_members(TW_UNLOGGED_ACID_POURED) < 1e-12);
        const tw_spread ph = tw_estimate_column(&belief, TW_COLUMN_PH);
        assert_true(ph.q95 > 8.1);
    }
}

static void a_rise_of_conductivity_is_salt_or_a_wrong_reading(void **state)
{
    (void)state;
    const tw_explained e = weighed(TW_OBSERVED_CONDUCTIVITY, 5200.0, NULL, 0);
    assert_true(chance(&e, TW_UNLOGGED_SALT_POURED) + chance(&e, TW_UNLOGGED_NONE) > 0.95);
    assert_true(e.retest == TW_OBSERVED_CONDUCTIVITY || e.retest == TW_OBSERVED_CHLORIDE);
    const double water = tw_estimate_column(&belief, TW_COLUMN_WATER_KG).q50;
    holding();
    lines_reading(130, "conductivity", "5200", "uS/cm", "meter", "\"serial\":\"m1\"");
    book = lines_book(NULL);
    belief = lines_fold(book, 130.1, NULL);
    print_message("# members: salt %.3f\n", act_in_members(TW_UNLOGGED_SALT_POURED));
    assert_near(act_in_members(TW_UNLOGGED_SALT_POURED), chance(&e, TW_UNLOGGED_SALT_POURED), 0.2);
    assert_near(tw_estimate_column(&belief, TW_COLUMN_WATER_KG).q50, water, 0.01 * water); /* and the volume stays */
}

static void old_readings_and_other_waters_are_not_explained(void **state)
{
    (void)state;
    holding();
    lines_reading(130, "free-chlorine", "8.6", "mg/L", "drops", "\"step\":\"0.2\"");
    (void)explained(130.1, TW_OBSERVED_FREE_CHLORINE);
    tw_explained e;
    const tw_contradiction odd = odd_one(TW_OBSERVED_FREE_CHLORINE);
    assert_int_equal(tw_estimate_explain_entry(&belief, book, tw_units_text(LINES_TUB), lines_now(160.0), &odd, &e),
                     TW_ERR_RANGE);
    lines_add("exchange", 131, "\"cause\":\"top-up\",\"in\":\"40\",\"volume_unit\":\"L\"");
    book = lines_book(NULL);
    assert_int_equal(tw_estimate_explain_entry(&belief, book, tw_units_text(LINES_TUB), lines_now(132.0), &odd, &e),
                     TW_ERR_RANGE);
}

static tw_written_reading drops_or_meter(int observed, double value)
{
    tw_written_reading w;
    memset(&w, 0, sizeof w);
    w.instrument = observed == TW_OBSERVED_PH ? TW_TOOL_METER : TW_TOOL_DROPS;
    w.observed = observed;
    w.written = TW_WRITTEN_VALUE;
    w.value = value;
    w.step = observed == TW_OBSERVED_PH ? 0.01 : 4.0;
    w.dilution = w.density_kg_per_l = 1.0;
    w.decimals = observed == TW_OBSERVED_PH ? 2 : 0;
    return w;
}

/* Hard water far over saturation whose calcium and alkalinity stood for days: four days later both are lower by as much (as CaCO3).
 * Acid takes no calcium, and other water would take salt too: it is scale, at a rate that the days before did not teach. Alkalinity that falls
 * alone is acid, and soft water stands over nothing. */
static void calcium_and_alkalinity_that_fall_together_are_scale(void **state)
{
    (void)state;
    static const struct { const char *calcium, *ph; double alkalinity_now, calcium_now, ph_now; int scale; } CASE[] = {
        {"300", "8.1", 176.0, 256.0, 8.0, 1}, {"300", "8.1", 176.0, 300.0, 6.85, 0}, {"60", "7.5", 176.0, 60.0, 7.4, 0}, {"60", "7.5", 208.0, 60.0, 7.6, 0}};
    for (size_t k = 0; k < sizeof CASE / sizeof *CASE; k++) {
        tw_explained e;
        filled();
        for (int i = 0; i < 5; i++) {
            lines_reading(2 + 24 * i, "ph", CASE[k].ph, "pH", "meter", "\"serial\":\"p1\"");
            lines_reading(2 + 24 * i, "total-alkalinity", "220", "mg/L", "drops", "\"step\":\"4\"");
            lines_reading(2 + 24 * i, "calcium-hardness", CASE[k].calcium, "mg/L", "drops", "\"step\":\"4\"");
        }
        belief = lines_fold(lines_book(NULL), 194.0, NULL);
        const tw_written_reading odd = drops_or_meter(TW_OBSERVED_ALKALINITY, CASE[k].alkalinity_now);
        const tw_written_reading beside[] = {drops_or_meter(TW_OBSERVED_CALCIUM, CASE[k].calcium_now), drops_or_meter(TW_OBSERVED_PH, CASE[k].ph_now)};
        assert_int_equal(tw_estimate_explain(&belief, &odd, beside, 2, 96.0, &e), TW_OK);
        for (size_t i = 0; i < e.count; i++)
            print_message("# act %d: %.3f, size %.3f\n", e.why[i].act, e.why[i].probability, e.why[i].size);
        if (CASE[k].scale)
            assert_true(e.why[0].act == TW_EXPLAINED_SCALE && e.why[0].probability > 0.5);
        else
            assert_true(chance(&e, TW_EXPLAINED_SCALE) < 0.1);
        /* What leaves alkalinity as it was explains nothing of it. */
        assert_true(chance(&e, TW_UNLOGGED_CHLORINE_USED) == 0.0 && chance(&e, TW_UNLOGGED_SALT_POURED) == 0.0);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(calcium_and_alkalinity_that_fall_together_are_scale),
        cmocka_unit_test(a_jump_of_chlorine_is_a_dose_or_a_wrong_reading),
        cmocka_unit_test(a_fall_of_chlorine_asks_for_bathers_and_the_generator),
        cmocka_unit_test(air_and_base_lift_ph_and_alkalinity_tells_them_apart),
        cmocka_unit_test(a_rise_of_conductivity_is_salt_or_a_wrong_reading),
        cmocka_unit_test(old_readings_and_other_waters_are_not_explained),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
