/* tests/estimate/test_found.c: a tub that stood full before anything was written of it. */
#include "support/check.h"

#include "book_lines.h"
#include "estimate/belief.h"

/* Said to be in care, or nothing said of it. */
static void a_found_tub(const char *start)
{
    lines_count = 0;
    char members[160];
    (void)snprintf(members, sizeof members, "\"name\":\"Barn\",\"use\":\"private\",\"volume\":\"1200\",\"volume_unit\":\"L\"%s%s%s",
                   start != NULL ? ",\"start\":\"" : "", start != NULL ? start : "", start != NULL ? "\"" : "");
    (void)lines_add("tub", 0.0, members);
}

static tw_spread now(double hours, int observed)
{
    const tw_belief b = lines_fold(lines_book(NULL), hours, NULL);
    assert_int_equal(b.contradictions, 0);
    return tw_estimate_now(&b, observed);
}

/* 60 mg/L of cyanuric acid hold a quarter of an alkalinity of 75 mg/L at pH 7.5: such a tub is nothing strange, and its pH is the one
 * that was read. */
static void cyanuric_acid_and_the_ph_of_a_tub_in_care_are_both_believed(void **state)
{
    (void)state;
    a_found_tub("care");
    (void)lines_reading(1.0, "ph", "7.5", "pH", "meter", "");
    (void)lines_reading(1.0, "total-alkalinity", "75", "mg/L", "drops", "\"step\":\"5\"");
    for (int i = 0; i < 2; i++) {
        (void)lines_reading(1.2 + 0.2 * i, "cyanuric-acid", "60", "mg/L", "photometer", "");
        const tw_spread cya = now(1.3 + 0.2 * i, TW_OBSERVED_CYANURATE), ph = now(1.3 + 0.2 * i, TW_OBSERVED_PH);
        assert_true(cya.q50 > 45.0 && cya.q50 < 65.0);
        assert_near(ph.q50, 7.5, 0.05);
        assert_true(ph.q05 > 7.35 && ph.q95 < 7.65);
    }
}

/* pH 8.7, as soda leaves it: carbonate is no bar to that. */
static void a_high_ph_of_a_tub_in_care_is_believed(void **state)
{
    (void)state;
    a_found_tub("care");
    (void)lines_reading(1.0, "total-alkalinity", "150", "mg/L", "drops", "\"step\":\"5\"");
    (void)lines_reading(1.0, "ph", "8.7", "pH", "meter", "");
    (void)lines_reading(1.1, "ph", "8.7", "pH", "meter", "");
    assert_near(now(1.2, TW_OBSERVED_PH).q50, 8.7, 0.08);
}

/* A tub that stood full was read, and the hose as well: what the tub's own reading says counts, what only the hose says is a maybe. */
static void the_source_does_not_bend_what_was_read_of_a_found_tub(void **state)
{
    (void)state;
    for (int with_source = 0; with_source < 2; with_source++) {
        a_found_tub(NULL);
        if (with_source) {
            (void)lines_reading(0.5, "total-alkalinity", "150", "mg/L", "laboratory", "\"source\":\"hose\"");
            (void)lines_reading(0.5, "calcium-hardness", "200", "mg/L", "laboratory", "\"source\":\"hose\"");
        }
        (void)lines_reading(1.0, "ph", "7.5", "pH", "meter", "");
        (void)lines_reading(1.0, "total-alkalinity", "75", "mg/L", "drops", "\"step\":\"5\"");
        const tw_spread alk = now(1.1, TW_OBSERVED_ALKALINITY), ca = now(1.1, TW_OBSERVED_CALCIUM);
        assert_near(alk.q50, 73.0, 4.0);
        assert_true(alk.q95 < 85.0);
        assert_true(ca.q05 < 100.0 && ca.q95 > 200.0);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cyanuric_acid_and_the_ph_of_a_tub_in_care_are_both_believed),
        cmocka_unit_test(a_high_ph_of_a_tub_in_care_is_believed),
        cmocka_unit_test(the_source_does_not_bend_what_was_read_of_a_found_tub),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
