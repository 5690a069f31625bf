/* Units against their definitions, against themselves, and the questions back. */
#include "units/convert.h"
#include "support/check.h"

static double inside(const char *word, double typed)
{
    double value = -1.0;
    assert_ok(tw_units_to_si(tw_units_text(word), typed, &value));
    return value;
}

static void definitions(void **state)
{
    (void)state;
    static const struct {
        const char *word;
        double typed, want, rel;
    } row[] = {
        {"gal-us", 1.0, 3.785411784, 0},      {"gal-imp", 1.0, 4.54609, 0},     {"gal-us", 350.0, 1324.8941244, 1e-15},
        {"gal-imp", 350.0, 1591.1315, 1e-15}, {"m3", 1.13, 1130.0, 1e-15},      {"mL", 250.0, 0.25, 0},
        {"lb", 1.0, 453.59237, 0},            {"oz", 16.0, 453.59237, 1e-15},   {"kg", 2.5, 2500.0, 0},
        {"mg", 1.0, 0.001, 0},                {"degF", 104.0, 40.0, 0},         {"degF", 32.0, 0.0, 0},
        {"degF", -40.0, -40.0, 0},            {"Cel", 38.5, 38.5, 0},           {"min", 90.0, 1.5, 0},
        {"s", 3600.0, 1.0, 0},                {"d", 2.0, 48.0, 0},              {"wk", 1.0, 168.0, 0},
        {"mS/cm", 3.2, 3200.0, 1e-15},        {"ppm", 3.0, 3.0, 0},             {"ppb", 300.0, 0.3, 1e-15},
        {"ug/L", 300.0, 0.3, 1e-15},          {"g/L", 2.0, 2000.0, 0},          {"ppt", 2.0, 2000.0, 0},
        {"pct", 65.0, 0.65, 0},               {"mg/h", 500.0, 0.5, 0},          {"g/d", 24.0, 1.0, 0},
        {"W", 3000.0, 3.0, 0},                {"L/s", 1.0, 60.0, 0},            {"m3/h", 6.0, 100.0, 0},
        {"L/h", 90.0, 1.5, 0},                {"in", 2.0, 5.08, 0},             {"ft", 1.0, 30.48, 0},
        {"V", 0.65, 650.0, 1e-15},            {"pH", 7.4, 7.4, 0},              {"1", 3.0, 3.0, 0},
        /* Hardness, as CaCO3. The grain is 64.79891 mg. */
        {"gpg", 1.0, 17.1180610, 1e-8},       {"fH", 1.0, 10.0, 0},             {"eH", 1.0, 14.2537675, 1e-7},
        {"dH", 1.0, 17.848, 0},               {"mmol/L", 1.0, 100.0869, 0},     {"meq/L", 1.0, 50.04345, 0},
        {"mmol-H/L", 1.0, 50.04345, 0},
        /* US kitchen measures: 768 teaspoons, 256 tablespoons, 16 cups, 8 pints, 4 quarts, 128 ounces. */
        {"tsp-us", 768.0, 3.785411784, 1e-15}, {"tbsp-us", 256.0, 3.785411784, 1e-15},
        {"cup-us", 16.0, 3.785411784, 1e-15},  {"pt-us", 8.0, 3.785411784, 1e-15},
        {"qt-us", 4.0, 3.785411784, 1e-15},    {"fl-oz-us", 128.0, 3.785411784, 1e-15},
        {"fl-oz-imp", 160.0, 4.54609, 1e-15},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++)
        assert_near_rel(inside(row[i].word, row[i].typed), row[i].want, row[i].rel);
}

static void a_german_degree_is_10_mg_of_lime(void **state)
{
    (void)state;
    /* 1 dH = 10 mg CaO/L = 0.17832 mmol/L; the four degrees of hardness against each other. */
    assert_near_rel(inside("dH", 1.0), inside("mmol/L", 0.17832), 5e-5);
    assert_near_rel(inside("dH", 1.0), inside("fH", 1.7848), 1e-12);
    assert_near_rel(inside("eH", 1.0), inside("gpg", 1.0) * 3.785411784 / 4.54609, 1e-15);
}

static void every_unit_goes_round(void **state)
{
    (void)state;
    uint64_t random = check_seed;
    for (int unit = 0; unit < TW_UNITS; unit++)
        for (int i = 0; i < 1000; i++) {
            const double typed = check_uniform(&random, -50.0, 5000.0);
            const double there = tw_units_inside((tw_unit)unit, typed);
            assert_near(tw_units_typed((tw_unit)unit, there), typed, 2e-12);
            const double difference = tw_units_inside_difference((tw_unit)unit, 9.0);
            const double two = tw_units_inside((tw_unit)unit, typed + 9.0) - there;
            assert_near(two, difference, 1e-11 * (there > 1.0 || there < -1.0 ? (there < 0 ? -there : there) : 1.0));
        }
    assert_near(tw_units_inside_difference(TW_UNIT_DEGF, 9.0), 5.0, 0.0);
}

static void every_row_is_whole(void **state)
{
    (void)state;
    int inside_units[TW_QUANTITIES] = {0};
    for (int unit = 0; unit < TW_UNITS; unit++) {
        const tw_unit_row *row = tw_units_row((tw_unit)unit);
        tw_unit found;
        assert_ok(tw_units_find(tw_units_text(row->word), &found));
        assert_int_equal(found, unit);
        const tw_unit_about *about = &tw_units_about[unit];
        assert_true(strlen(about->source) > 0 && strlen(about->mark) > 0 && strlen(about->name) > 0);
        assert_true(strlen(row->word) <= 12); /* the logbook's fields for units hold so many */
        assert_true(row->basis == TW_BASIS_ANY || row->quantity == TW_QUANTITY_CONCENTRATION);
        inside_units[row->quantity] += row->factor == row->divisor && row->zero == 0.0;
    }
    for (int quantity = 0; quantity < TW_QUANTITIES; quantity++) {
        tw_quantity found;
        const char *name = tw_units_quantity_name((tw_quantity)quantity);
        assert_ok(tw_units_quantity_find(tw_units_text(name), &found));
        assert_int_equal(found, quantity);
        assert_true(inside_units[quantity] >= 1 || quantity == TW_QUANTITY_FRACTION);
    }
    tw_quantity none;
    assert_status(tw_units_quantity_find(tw_units_text("colour"), &none), TW_ERR_UNKNOWN);
}

static void a_bare_gallon_is_asked(void **state)
{
    (void)state;
    static const char *const words[] = {"gal", "gallons", "Gal", "GALLON", "fl-oz"};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        tw_unit unit = TW_UNIT_G;
        assert_status(tw_units_find(tw_units_text(words[i]), &unit), TW_ERR_AMBIGUOUS);
        assert_status(tw_units_find_typed(tw_units_text(words[i]), &unit), TW_ERR_AMBIGUOUS);
        assert_int_equal(unit, TW_UNIT_G);
        double value = 42.0;
        assert_status(tw_units_to_si(tw_units_text(words[i]), 1.0, &value), TW_ERR_AMBIGUOUS);
        assert_near(value, 42.0, 0.0);
    }
    tw_unit meaning[8];
    assert_int_equal(tw_units_meanings(tw_units_text("gal"), meaning, 8), 2);
    assert_int_equal(meaning[0], TW_UNIT_GAL_US);
    assert_int_equal(meaning[1], TW_UNIT_GAL_IMP);
    assert_int_equal(tw_units_meanings(tw_units_text("gal"), meaning, 1), 1);
    assert_int_equal(tw_units_meanings(tw_units_text("gal-us"), meaning, 8), 0);
}

static void what_people_type(void **state)
{
    (void)state;
    static const struct {
        const char *typed;
        tw_unit want;
    } row[] = {
        {"l", TW_UNIT_L},        {"Litres", TW_UNIT_L},     {"PPM", TW_UNIT_PPM},     {"mg/l", TW_UNIT_MG_PER_L},
        {"\xc2\xb0" "C", TW_UNIT_CEL}, {"F", TW_UNIT_DEGF}, {"\xc2\xb0" "F", TW_UNIT_DEGF}, {"ML", TW_UNIT_ML},
        {"\xc2\xb5S/cm", TW_UNIT_US_PER_CM}, {"ms/cm", TW_UNIT_MS_PER_CM}, {"KG", TW_UNIT_KG}, {"lbs", TW_UNIT_LB},
        {"%", TW_UNIT_PCT},      {"\xc2\xb0" "dH", TW_UNIT_DH}, {"hours", TW_UNIT_H}, {"usgal", TW_UNIT_GAL_US},
        {"Ounces", TW_UNIT_OZ},  {"gal-imp", TW_UNIT_GAL_IMP}, {"min", TW_UNIT_MIN},  {"kWh", TW_UNIT_KWH},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        tw_unit unit = TW_UNITS;
        const tw_status got = tw_units_find_typed(tw_units_text(row[i].typed), &unit);
        if (got != TW_OK || unit != row[i].want)
            print_error("# %s\n", row[i].typed);
        assert_ok(got);
        assert_int_equal(unit, row[i].want);
    }
    tw_unit unit;
    assert_status(tw_units_find_typed(tw_units_text("furlong"), &unit), TW_ERR_UNKNOWN);
    assert_status(tw_units_find_typed(tw_units_text(""), &unit), TW_ERR_UNKNOWN);
    assert_status(tw_units_find_typed(tw_units_text("MM"), &unit), TW_ERR_UNKNOWN); /* mm or mM */
    assert_status(tw_units_find(tw_units_text("Litres"), &unit), TW_ERR_UNKNOWN); /* the logbook has one word */
    assert_status(tw_units_find(tw_units_text("MG/L"), &unit), TW_ERR_UNKNOWN);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(definitions),
        cmocka_unit_test(a_german_degree_is_10_mg_of_lime),
        cmocka_unit_test(every_unit_goes_round),
        cmocka_unit_test(every_row_is_whole),
        cmocka_unit_test(a_bare_gallon_is_asked),
        cmocka_unit_test(what_people_type),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
