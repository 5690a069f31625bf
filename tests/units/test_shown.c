/* Units for people, against the factors of NIST Special Publication 811 (2008), appendix B.8, which has seven digits of each. */
#include "units/shown.h"
#include "support/check.h"

#include <math.h>

static tw_shown chosen(const char *words)
{
    tw_shown shown = 0;
    assert_ok(tw_units_shown_read(tw_units_text(words), &shown));
    return shown;
}

static void amounts_are_those_of_published_factors(void **state)
{
    (void)state;
    static const struct {
        const char *choice, *unit, *label;
        double value, by, zero;
    } ROW[] = {
        {"oz", "g", "oz", 97.0, 28.34952, 0.0},         {"oz", "g", "lb", 2100.0, 453.5924, 0.0},     {"oz", "kg", "lb", 2.1, 0.4535924, 0.0},
        {"gal-us", "L", "US gal", 1180.0, 3.785412, 0.0}, {"gal-us", "mL", "US fl oz", 59.0, 29.57353, 0.0},
        {"gal-imp", "L", "imp gal", 1180.0, 4.54609, 0.0}, {"gal-imp", "mL", "imp fl oz", 59.0, 28.41306, 0.0},
        {"degF", "\302\260C", "\302\260F", 38.0, 1.0 / 1.8, 32.0}, {"degF", "\302\260C", "\302\260F", -40.0, 1.0 / 1.8, 32.0},
    };
    for (size_t i = 0; i < sizeof ROW / sizeof *ROW; i++) {
        tw_shown_amount amount;
        assert_int_equal(tw_units_shown(chosen(ROW[i].choice), tw_units_text(ROW[i].unit), ROW[i].value, 1, &amount), 1);
        assert_near_rel(amount.value, ROW[i].value / ROW[i].by + ROW[i].zero, 2e-7); /* seven digits */
        assert_string_equal(amount.label, ROW[i].label);
    }
}

static void three_digits_are_within_half_a_percent(void **state)
{
    (void)state;
    const tw_shown shown = chosen("degF,gal-us,oz");
    for (double g = 0.5; g < 30000.0; g *= 1.01) {
        tw_shown_amount amount;
        assert_int_equal(tw_units_shown(shown, tw_units_text("g"), g, 0, &amount), 1);
        const double step = pow(10.0, -amount.decimals);
        assert_true(step / 2.0 <= 0.00501 * amount.value);
        assert_true(amount.decimals == 0 || step > 0.0009 * amount.value); /* and not more of them */
    }
    tw_shown_amount degrees;
    assert_int_equal(tw_units_shown(shown, tw_units_text("\302\260C"), 38.5, 1, &degrees), 1);
    assert_int_equal(degrees.decimals, 1);
}

static void what_nobody_chose_stays(void **state)
{
    (void)state;
    tw_shown_amount amount = {1.0, 2, "as before"};
    assert_int_equal(tw_units_shown(0, tw_units_text("g"), 97.0, 0, &amount), 0);
    assert_int_equal(tw_units_shown(chosen("degF"), tw_units_text("g"), 97.0, 0, &amount), 0);
    assert_int_equal(tw_units_shown(chosen("degF,gal-us,oz"), tw_units_text("mg/L"), 97.0, 0, &amount), 0);
    assert_int_equal(tw_units_shown(chosen("oz"), tw_units_text("oz"), 97.0, 0, &amount), 0); /* as it was typed */
    assert_string_equal(amount.label, "as before");
    assert_int_equal(tw_units_shown(chosen("oz"), tw_units_text("g"), (double)NAN, 0, &amount), 1);
    assert_true(amount.value != amount.value);
}

static void bad_choices_are_refused(void **state)
{
    (void)state;
    static const char *const BAD[] = {"gal", "oz,stone", "lb", "Cel", "degF;oz", " oz", ","};
    tw_shown shown = 7;
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        assert_int_equal(tw_units_shown_read(tw_units_text(BAD[i]), &shown), TW_ERR_UNKNOWN);
        assert_int_equal(shown, 0);
    }
    assert_int_equal(tw_units_shown_read(tw_units_text("gal-us,degF,gal-imp"), &shown), TW_ERR_CONFLICT);
    assert_int_equal(shown, 0);
    assert_int_equal(chosen(""), 0);
    assert_int_equal(chosen("oz,oz") == chosen("oz"), 1);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(amounts_are_those_of_published_factors), cmocka_unit_test(three_digits_are_within_half_a_percent),
        cmocka_unit_test(what_nobody_chose_stays), cmocka_unit_test(bad_choices_are_refused),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
