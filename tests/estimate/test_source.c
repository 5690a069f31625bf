/* tests/estimate/test_source.c: the water let in, from soft and alkaline to hard and sour. */
#include "support/check.h"

#include "book_lines.h"
#include "estimate/belief.h"

static void a_fill(void)
{
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Mill\",\"use\":\"private\",\"volume\":\"1200\",\"volume_unit\":\"L\"");
    (void)lines_add("source", 0.0, "\"source\":\"main\",\"origin\":\"mains\"");
    (void)lines_add("filled", 0.5, "\"amount\":\"1200\",\"source\":\"main\",\"unit\":\"L\"");
}

/* Supplies as they are: soft water that was made alkaline against corrosion, chalk water, sour wells. Directive (EU) 2020/2184 allows pH
 * 6.5 to 9.5, so one reading of a meter beside one of drops is nothing to doubt at any of these. */
static void supplies_of_any_alkalinity_and_ph_are_believed(void **state)
{
    static const struct {
        const char *alkalinity, *ph;
        double value, ph_value;
    } SUPPLY[] = {{"30", "8.3", 30.0, 8.3}, {"40", "8.6", 40.0, 8.6}, {"60", "7.0", 60.0, 7.0}, {"150", "7.6", 150.0, 7.6}, {"300", "7.1", 300.0, 7.1},
                  {"30", "6.7", 30.0, 6.7}};
    (void)state;
    for (size_t i = 0; i < sizeof SUPPLY / sizeof *SUPPLY; i++) {
        a_fill();
        (void)lines_reading(1.0, "total-alkalinity", SUPPLY[i].alkalinity, "mg/L", "drops", "\"step\":\"5\"");
        (void)lines_reading(1.0, "ph", SUPPLY[i].ph, "pH", "meter", "");
        const tw_belief b = lines_fold(lines_book(NULL), 1.1, NULL);
        assert_int_equal(b.contradictions, 0);
        assert_near(tw_estimate_now(&b, TW_OBSERVED_PH).q50, SUPPLY[i].ph_value, 0.05);
        assert_near(tw_estimate_now(&b, TW_OBSERVED_ALKALINITY).q50, SUPPLY[i].value - 2.5, 4.0);
    }
}

/* What is expected of the pH is the same for soft and for hard water: the block of a coarse strip is read alike. */
static void alkalinity_says_nothing_of_the_ph(void **state)
{
    double middle[2];
    (void)state;
    for (int i = 0; i < 2; i++) {
        a_fill();
        (void)lines_reading(1.0, "total-alkalinity", i ? "300" : "30", "mg/L", "drops", "\"step\":\"5\"");
        (void)lines_reading(1.0, "ph", "7.6", "pH", "strip", "\"blocks\":\"6.2 6.8 7.2 7.6 8.4\"");
        const tw_belief b = lines_fold(lines_book(NULL), 1.1, NULL);
        assert_int_equal(b.contradictions, 0);
        middle[i] = tw_estimate_now(&b, TW_OBSERVED_PH).q50;
    }
    assert_near(middle[0], middle[1], 0.1);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(supplies_of_any_alkalinity_and_ph_are_believed),
        cmocka_unit_test(alkalinity_says_nothing_of_the_ph),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
