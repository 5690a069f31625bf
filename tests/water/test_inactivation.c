/* CT against published times: CDC and VSP 2018 (published), and the decaying residual of worked arithmetic. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/inactivation.h"

/* CDC, published: 15,300 at 20 mg/L is 12.75 h; with a loss of 0.03 a hour only 12,713 is reached by then. */
static void cryptosporidium_takes_its_hours(void **unused)
{
    (void)unused;
    double hours = 0.0;
    const double ct = tw_water_germs[TW_GERM_CRYPTOSPORIDIUM].ct_mg_min_per_l;
    assert_ok(tw_water_ct_hours(20.0, 0.0, ct, &hours));
    assert_near(hours, 12.75, 1e-12);
    assert_near(tw_water_ct_mg_min_per_l(20.0, 0.03, 12.75), 12713.0, 1.0);
}

/* VSP 2018, published: 45 at 2 mg/L is 22.5 minutes. */
static void giardia_takes_its_minutes(void **unused)
{
    (void)unused;
    double hours = 0.0;
    assert_ok(tw_water_ct_hours(2.0, 0.0, tw_water_germs[TW_GERM_GIARDIA].ct_mg_min_per_l, &hours));
    assert_near(60.0 * hours, 22.5, 1e-12);
}

static void hours_are_the_inverse_of_ct(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 500; n++) {
        const double start = check_uniform(&state, 0.1, 30.0), loss = check_uniform(&state, 0.0, 2.0),
                     time = check_uniform(&state, 0.01, 3.0);
        double hours = 0.0;
        assert_ok(tw_water_ct_hours(start, loss, tw_water_ct_mg_min_per_l(start, loss, time), &hours));
        assert_near_rel(hours, time, 1e-11);
    }
}

/* A loss that tends to none tends to the straight product; no jump between both forms. */
static void a_small_loss_is_no_loss(void **unused)
{
    (void)unused;
    assert_near_rel(tw_water_ct_mg_min_per_l(3.0, 1e-14, 7.0), tw_water_ct_mg_min_per_l(3.0, 0.0, 7.0), 1e-13);
    assert_near_rel(tw_water_ct_mg_min_per_l(3.0, 1e-6, 7.0), 60.0 * 3.0 * 7.0 * (1.0 - 0.5 * 7e-6), 1e-10);
}

static void a_residual_that_is_gone_first_is_named(void **unused)
{
    (void)unused;
    double hours = 0.0;
    assert_status(tw_water_ct_hours(20.0, 0.1, 15300.0, &hours), TW_ERR_NO_ROOT); /* 12,000 is all there is */
    assert_nan(hours);
    assert_status(tw_water_ct_hours(20.0, 0.1, 12000.0, &hours), TW_ERR_NO_ROOT);
    assert_ok(tw_water_ct_hours(20.0, 0.1, 11999.0, &hours));
    assert_status(tw_water_ct_hours(0.0, 0.1, 45.0, &hours), TW_ERR_NO_ROOT);
    assert_ok(tw_water_ct_hours(0.0, 0.1, 0.0, &hours));
    assert_near(hours, 0.0, 0.0);
    assert_status(tw_water_ct_hours(-1.0, 0.1, 45.0, &hours), TW_ERR_RANGE);
    assert_status(tw_water_ct_hours(1.0, NAN, 45.0, &hours), TW_ERR_RANGE);
    assert_status(tw_water_ct_hours(1.0, 0.1, -45.0, &hours), TW_ERR_RANGE);
    assert_nan(tw_water_ct_mg_min_per_l(-1.0, 0.0, 1.0));
    assert_nan(tw_water_ct_mg_min_per_l(1.0, -0.1, 1.0));
    assert_nan(tw_water_ct_mg_min_per_l(1.0, 0.1, INFINITY));
}

static void readings_make_an_area(void **unused)
{
    (void)unused;
    const double hours[] = {0.0, 1.0, 3.0}, level[] = {20.0, 18.0, 16.0}, back[] = {0.0, 1.0, 0.5};
    assert_near(tw_water_ct_of_readings(hours, level, 3), 60.0 * (19.0 + 34.0), 1e-9);
    assert_near(tw_water_ct_of_readings(hours, level, 1), 0.0, 0.0);
    assert_nan(tw_water_ct_of_readings(back, level, 3));
    assert_nan(tw_water_ct_of_readings(hours, level, 0));
    double t[2], c[2], ct = 0.0;
    for (int i = 0; i < 120; i++) { /* one reading a tenth of a hour apart: the integral */
        t[0] = 0.1 * i;
        t[1] = 0.1 * (i + 1);
        c[0] = 20.0 * exp(-0.03 * t[0]);
        c[1] = 20.0 * exp(-0.03 * t[1]);
        ct += tw_water_ct_of_readings(t, c, 2);
    }
    assert_near_rel(ct, tw_water_ct_mg_min_per_l(20.0, 0.03, 12.0), 1e-6);
}

/* Morris 1966 (from memory, as in data/constants.csv): pKa at 25 C 7.54, so half of 15,300 at pH 7.5. */
static void a_ct_carries_over_as_hocl(void **unused)
{
    (void)unused;
    const double pka = -(10.0686 - 0.0253 * 298.15 - 3000.0 / 298.15);
    assert_near_rel(tw_water_ct_as_hocl_mg_min_per_l(TW_GERM_CRYPTOSPORIDIUM), 15300.0 / (1.0 + pow(10.0, 7.5 - pka)), 1e-9);
    assert_nan(tw_water_ct_as_hocl_mg_min_per_l(TW_GERMS));
}

static void every_row_says_where_it_is_from(void **unused)
{
    (void)unused;
    for (int i = 0; i < TW_GERMS; i++) {
        assert_true(strlen(tw_water_germs[i].source) > 5);
        assert_non_null(strstr(tw_water_germs[i].mark, "published"));
        assert_true(tw_water_ct_as_hocl_mg_min_per_l((tw_germ)i) < tw_water_germs[i].ct_mg_min_per_l);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cryptosporidium_takes_its_hours), cmocka_unit_test(giardia_takes_its_minutes),
        cmocka_unit_test(hours_are_the_inverse_of_ct),     cmocka_unit_test(a_small_loss_is_no_loss),
        cmocka_unit_test(a_residual_that_is_gone_first_is_named),
        cmocka_unit_test(readings_make_an_area),           cmocka_unit_test(a_ct_carries_over_as_hocl),
        cmocka_unit_test(every_row_says_where_it_is_from),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
