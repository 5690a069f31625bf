/* Every unit that udunits-2 knows against it. Skipped where the library is not installed.
 * Its US gallon is rounded to 3.785412 L and its ounce to 28.34952 g, hence 1e-7 and 2e-7 where
 * they are inside. The exact values stand in test_convert.c. */
#include "units/convert.h"
#include "support/check.h"

#ifdef TW_HAVE_UDUNITS
#include <udunits2.h>

/* Unit, our inside unit of its quantity, both as udunits writes them. */
static const struct {
    tw_unit unit;
    const char *theirs, *inside;
    double rel;
} ROW[] = {
    {TW_UNIT_UG_PER_L, "ug/L", "mg/L", 1e-14},
    {TW_UNIT_G_PER_L, "g/L", "mg/L", 1e-14},
    {TW_UNIT_EH, "grain/Canadian_liquid_gallon", "mg/L", 1e-12},
    {TW_UNIT_GPG, "grain/US_liquid_gallon", "mg/L", 1e-7},
    {TW_UNIT_ML, "mL", "L", 1e-14},
    {TW_UNIT_M3, "m3", "L", 1e-14},
    {TW_UNIT_GAL_US, "US_liquid_gallon", "L", 1e-7},
    {TW_UNIT_GAL_IMP, "Canadian_liquid_gallon", "L", 1e-12},
    {TW_UNIT_FL_OZ_US, "fluid_ounce", "L", 1e-7},
    {TW_UNIT_QT_US, "US_liquid_quart", "L", 1e-7},
    {TW_UNIT_PT_US, "US_liquid_pint", "L", 1e-7},
    {TW_UNIT_TBSP_US, "tablespoon", "L", 1e-7},
    {TW_UNIT_MG, "mg", "g", 1e-14},
    {TW_UNIT_KG, "kg", "g", 1e-14},
    {TW_UNIT_OZ, "avoirdupois_ounce", "g", 2e-7},
    {TW_UNIT_LB, "avoirdupois_pound", "g", 1e-12},
    {TW_UNIT_DEGF, "degF", "degC", 1e-12},
    {TW_UNIT_MIN, "min", "h", 1e-14},
    {TW_UNIT_S, "s", "h", 1e-14},
    {TW_UNIT_D, "day", "h", 1e-14},
    {TW_UNIT_WK, "week", "h", 1e-14},
    {TW_UNIT_MS_PER_CM, "mS/cm", "uS/cm", 1e-14},
    {TW_UNIT_MG_PER_H, "mg/h", "g/h", 1e-14},
    {TW_UNIT_G_PER_D, "g/day", "g/h", 1e-14},
    {TW_UNIT_LB_PER_D, "avoirdupois_pound/day", "g/h", 1e-12},
    {TW_UNIT_W, "W", "kW", 1e-14},
    {TW_UNIT_L_PER_H, "L/h", "L/min", 1e-14},
    {TW_UNIT_L_PER_S, "L/s", "L/min", 1e-14},
    {TW_UNIT_M3_PER_H, "m3/h", "L/min", 1e-14},
    {TW_UNIT_GPM_US, "US_liquid_gallon/min", "L/min", 1e-7},
    {TW_UNIT_GPM_IMP, "Canadian_liquid_gallon/min", "L/min", 1e-12},
    {TW_UNIT_PCT, "percent", "1", 1e-14},
    {TW_UNIT_MM, "mm", "cm", 1e-14},
    {TW_UNIT_M, "m", "cm", 1e-14},
    {TW_UNIT_IN, "international_inch", "cm", 1e-14},
    {TW_UNIT_FT, "international_foot", "cm", 1e-14},
    {TW_UNIT_V, "V", "mV", 1e-14},
};
#endif

static void udunits_agrees(void **state)
{
    (void)state;
#ifdef TW_HAVE_UDUNITS
    ut_set_error_message_handler(ut_ignore);
    ut_system *const system = ut_read_xml(NULL);
    assert_non_null(system);
    for (size_t i = 0; i < sizeof ROW / sizeof *ROW; i++) {
        ut_unit *from = ut_parse(system, ROW[i].theirs, UT_ASCII);
        ut_unit *to = ut_parse(system, ROW[i].inside, UT_ASCII);
        if (!from || !to)
            print_error("# udunits does not know %s or %s\n", ROW[i].theirs, ROW[i].inside);
        assert_true(from && to);
        cv_converter *const convert = ut_get_converter(from, to);
        assert_non_null(convert);
        for (double typed = 0.5; typed < 3000.0; typed *= 1.7) {
            const double want = cv_convert_double(convert, typed);
            const double got = tw_units_inside(ROW[i].unit, typed);
            const double slack = want < 1.0 && want > -1.0 ? 1.0 : want < 0 ? -want : want;
            if (ROW[i].unit == TW_UNIT_DEGF)
                assert_near(got, want, ROW[i].rel * slack); /* near 0 only the difference counts */
            else
                assert_near_rel(got, want, ROW[i].rel);
        }
        cv_free(convert);
        ut_free(from);
        ut_free(to);
    }
    ut_free_system(system);
#else
    skip();
#endif
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(udunits_agrees)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
