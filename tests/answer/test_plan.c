/* tests/answer/test_plan.c: plans of a forecast as people write them. */
#include "support/check.h"

#include "answer/plan.h"

static tw_schedule start(void)
{
    tw_schedule p;
    memset(&p, 0, sizeof p);
    p.settings = 1;
    p.duty[0] = 1.0;
    p.temp_c[0] = 38.0;
    return p;
}

static void a_plan_is_taken_word_by_word(void **state)
{
    (void)state;
    tw_schedule p = start();
    assert_int_equal(tw_answer_plan_read(tw_units_text("0h:duty=60;12h:duty=42.5;12h:temperature=36;24:bathers=4x90;24h:jets=on;"
                                                       "26h:jets=off;27h:sodium-hypochlorite-120=50mL;30h:sodium-sulfite=9g"),
                                         &p),
                     TW_OK);
    assert_int_equal(p.settings, 4);
    assert_near(p.duty[0], 0.60, 1e-12);
    assert_int_equal(p.set_hour[1], 12);
    assert_near(p.duty[1], 0.425, 1e-12);
    assert_near(p.temp_c[1], 36.0, 1e-12);
    assert_near(p.duty[3], 0.425, 1e-12);
    assert_near(p.jets[2], 1.0, 0.0);
    assert_near(p.jets[3], 0.0, 0.0);
    assert_near(p.bather[0].person_h, 6.0, 1e-12);
    assert_near(p.dose[0].chlorine_mg, 6000.0, 1.0); /* 50 mL of 120 g/L */
    assert_true(p.dose[0].alk_meq > 6000.0 / 70.906);
    /* Na2SO3, 126.04 g/mol, 97 %, takes a mole of chlorine each. */
    assert_near(p.dose[1].chlorine_mg, -9.0 * 0.97 / 126.04 * 70906.0, 5.0);
    assert_int_equal(tw_answer_plan_end(&p), 30);
}

static void what_is_no_plan_is_refused_and_changes_nothing(void **state)
{
    (void)state;
    static const struct {
        const char *item;
        tw_status status;
    } BAD[] = {{"", TW_ERR_FORMAT}, {"duty=42", TW_ERR_FORMAT}, {"12h:", TW_ERR_FORMAT}, {"12h:duty", TW_ERR_FORMAT},
               {"12h:duty=", TW_ERR_FORMAT}, {"1.5h:duty=4", TW_ERR_FORMAT}, {"400h:duty=4", TW_ERR_FORMAT}, {"-1h:duty=4", TW_ERR_FORMAT},
               {"12h:duty=101", TW_ERR_RANGE}, {"12h:temperature=46", TW_ERR_RANGE}, {"12h:jets=maybe", TW_ERR_FORMAT},
               {"12h:bathers=4", TW_ERR_FORMAT}, {"12h:bathers=0x30", TW_ERR_RANGE}, {"12h:bathers=4x601", TW_ERR_RANGE},
               {"12h:nonsense=4g", TW_ERR_UNKNOWN}, {"12h:cyanuric-acid=4g", TW_ERR_UNKNOWN}, {"12h:dichlor-dihydrate=4g", TW_ERR_UNKNOWN},
               {"12h:sodium-sulfite=9mL", TW_ERR_FORMAT}, {"12h:sodium-sulfite=9", TW_ERR_FORMAT}, {"12h:sodium-sulfite=0g", TW_ERR_RANGE},
               {"12h:sodium-sulfite=101kg", TW_ERR_RANGE}, {"12h:sodium-sulfite=9gal", TW_ERR_FORMAT}};
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        tw_schedule p = start(), was = start();
        const tw_status got = tw_answer_plan_item(tw_units_text(BAD[i].item), &p);
        if (got != BAD[i].status)
            print_error("# %s: %s\n", BAD[i].item, tw_status_text(got));
        assert_int_equal(got, BAD[i].status);
        assert_memory_equal(&p, &was, sizeof p);
    }
    tw_schedule p = start();
    assert_int_equal(tw_answer_plan_item(tw_units_text("12h:duty=40"), &p), TW_OK);
    assert_int_equal(tw_answer_plan_item(tw_units_text("11h:duty=40"), &p), TW_ERR_FORMAT);
    for (uint32_t k = 2; k < TW_PLAN_STEPS; k++) {
        char item[32];
        (void)snprintf(item, sizeof item, "%uh:duty=40", 12 + k);
        assert_int_equal(tw_answer_plan_item(tw_units_text(item), &p), TW_OK);
    }
    assert_int_equal(tw_answer_plan_item(tw_units_text("99h:duty=40"), &p), TW_ERR_CAPACITY);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plan_is_taken_word_by_word),
        cmocka_unit_test(what_is_no_plan_is_refused_and_changes_nothing),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
