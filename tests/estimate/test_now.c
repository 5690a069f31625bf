/* tests/estimate/test_now.c: the water now in the trade's units, and typed values that must be asked back. */
#include "support/check.h"

#include <string.h>

#include "estimate/instrument.h"
#include "plain.h"

static void totals_turn_into_what_kits_read(void **state)
{
    (void)state;
    tw_belief b = plain_belief(1000.0, 3.0, 3.0, 0.015, 0.15);
    b.density_kg_per_l = 0.993;
    for (int i = 0; i < 64; i++)
        b.column[TW_COLUMN_PH][i] = 7.4;
    /* alkalinity = Na 36 + 2 Ca 2 - Cl 36 = 2 meq/kg */
    assert_near(tw_estimate_now(&b, TW_OBSERVED_ALKALINITY).q50, 2.0 * 50.0435 * 0.993, 1e-9);
    assert_near(tw_estimate_now(&b, TW_OBSERVED_CALCIUM).q50, 100.087 * 0.993, 1e-9);
    assert_near(tw_estimate_now(&b, TW_OBSERVED_CHLORIDE).q50, 36.0 * 58.443 * 0.993, 1e-8);
    assert_near(tw_estimate_now(&b, TW_OBSERVED_FREE_CHLORINE).q50, 3.0 * 0.993, 1e-12);
    assert_near(tw_estimate_now(&b, TW_OBSERVED_PH).q50, 7.4, 0.0);
}

static void a_value_typed_ten_times_too_large_is_not_plausible(void **state)
{
    (void)state;
    tw_belief b = plain_belief(1000.0, 3.0, 3.0, 0.015, 0.15);
    double likely[3];
    for (int i = 0; i < 64; i++) {
        b.column[TW_COLUMN_PH][i] = 7.2 + 0.005 * i;
        b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] = 2.5 + 0.02 * i;
    }
    tw_written_reading like;
    memset(&like, 0, sizeof like);
    like.observed = TW_OBSERVED_PH;
    like.instrument = TW_TOOL_COMPARATOR;
    tw_estimate_plausible(&b, &like, likely);
    assert_true(likely[0] > 6.2 && likely[0] < 7.0 && likely[2] > 7.8 && likely[2] < 8.6);
    assert_near(likely[1], 7.36, 0.02); /* "did you mean 7.4?" for 74 */
    like.observed = TW_OBSERVED_FREE_CHLORINE;
    like.instrument = TW_TOOL_DROPS;
    tw_estimate_plausible(&b, &like, likely);
    assert_true(likely[0] < 2.0 && likely[0] >= 0.0 && likely[2] > 4.5 && likely[2] < 10.0);
    /* A strip may be a block off, and shows only its blocks. */
    like.instrument = TW_TOOL_STRIP;
    tw_estimate_plausible(&b, &like, likely);
    assert_near(likely[0], 1.0, 0.0);
    assert_near(likely[2], 10.0, 0.0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(totals_turn_into_what_kits_read),
        cmocka_unit_test(a_value_typed_ten_times_too_large_is_not_plausible),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
