/* tests/estimate/test_poured.c: what a dose of the logbook brings into the water, as the sampler gets it. */
#include "support/check.h"

#include "lines_problem.h"
#include "plain.h"

static double poured_mg(const char *substance, const char *amount, const char *unit, const char *strength, int total, double g_per_mol)
{
    char members[200];
    lines_count = 0;
    (void)lines_add("tub", 0.0, "\"name\":\"Barn\",\"use\":\"private\",\"volume\":\"1000\",\"volume_unit\":\"L\"");
    (void)snprintf(members, sizeof members, "\"amount\":\"%s\",\"amount_unit\":\"%s\"%s%s%s,\"substance\":\"%s\"", amount, unit,
                   strength != NULL ? ",\"strength\":\"" : "", strength != NULL ? strength : "", strength != NULL ? "\"" : "", substance);
    (void)lines_add("addition", 1.0, members);
    const tw_problem *p = problem_at(2.0);
    assert_int_equal(p->doses, 1);
    return p->dose[0].mmol[total] * g_per_mol;
}

/* Milligrams by the box (reference/chlorine.md 3, reference/dosing.csv): 49 mL of "12 %" are 5,880 mg of chlorine, 20 g of dichlor with
 * 56 % available 11,200 mg and of 99 % substance 10,969; 100 mL of 10 % acid 10,470 mg of HCl. */
static void a_box_means_what_it_says(void **state)
{
    (void)state;
    const int chlorine = TW_TOTAL_ACTIVE_CHLORINE;
    assert_near_rel(poured_mg("sodium-hypochlorite-120", "49", "mL", NULL, chlorine, 70.906), 5880.0, 2e-3);
    assert_near_rel(poured_mg("sodium-hypochlorite-120", "49", "mL", "12", chlorine, 70.906), 5880.0, 2e-3);
    assert_near_rel(poured_mg("sodium-hypochlorite-50", "49", "mL", "12", chlorine, 70.906), 5880.0, 2e-3);
    assert_near_rel(poured_mg("dichlor-dihydrate", "20", "g", "56", chlorine, 70.906), 11200.0, 2e-3);
    assert_near_rel(poured_mg("dichlor-dihydrate", "20", "g", "99", chlorine, 70.906), 10969.0, 2e-3);
    assert_near_rel(poured_mg("calcium-hypochlorite-65", "20", "g", "70", chlorine, 70.906), 14000.0, 2e-3);
    assert_near_rel(poured_mg("hydrochloric-acid-31.45", "100", "mL", "10", TW_TOTAL_CL, 36.4609), 10470.0, 2e-3);
    assert_near_rel(poured_mg("sodium-chloride", "1200", "g", "97", TW_TOTAL_CL, 58.4428), 1164000.0, 2e-3);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_box_means_what_it_says)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
