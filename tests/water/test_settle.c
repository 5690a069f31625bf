/* The solver behind the questions: any start leads to the same answer, also by the bracket. Uses the internal header
 * water/balance.h on purpose: the fall-back has no known input of its own. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/balance.h"
#include "water/inverse.h"

static tw_water tub(void)
{
    tw_water w = {.temp_k = 311.15,
                  .total_mol_per_kg = {[TW_TOTAL_NA] = 36.0e-3, [TW_TOTAL_K] = 0.2e-3, [TW_TOTAL_CA] = 1.0e-3,
                                       [TW_TOTAL_MG] = 0.2e-3, [TW_TOTAL_CL] = 36.0e-3, [TW_TOTAL_SO4] = 0.3e-3,
                                       [TW_TOTAL_OTHER] = 0.1e-3, [TW_TOTAL_DIC] = 1.55e-3,
                                       [TW_TOTAL_BORATE] = 0.5e-3, [TW_TOTAL_CYANURATE] = 0.2e-3,
                                       [TW_TOTAL_ACTIVE_CHLORINE] = 0.05e-3, [TW_TOTAL_PHOSPHATE] = 0.01e-3}};
    return w;
}

static void any_start_leads_to_the_same_answer(void **unused)
{
    (void)unused;
    const tw_ask asks[] = {TW_ASK_PH, TW_ASK_OPEN, TW_ASK_CALCITE, TW_ASK_AT_PH};
    uint64_t state = check_seed;
    tw_constants at;
    int by_bracket = 0;
    assert_ok(tw_water_constants_at(311.15, &at));
    const tw_water w = tub();
    const double ln_co2 = at.ln_henry_co2 - 3.38 * log(10.0);
    for (int a = 0; a < 4; a++) {
        tw_balance right, b;
        tw_water_balance_begin(&right, &at, &w, asks[a], 7.2, ln_co2);
        tw_water_balance_start_cold(&right);
        assert_true(tw_water_balance_settle(&right));
        for (int n = 0; n < 200; n++) {
            tw_water_balance_begin(&b, &at, &w, asks[a], 7.2, ln_co2);
            for (int k = 0; k < TW_UNKNOWNS; k++)
                if (!(k == TW_U_H && asks[a] == TW_ASK_AT_PH))
                    b.u[k] = check_uniform(&state, -60.0, 3.0);
            const double size = check_uniform(&state, -6.0, 0.0);
            b.ionic_strength = pow(10.0, size);
            b.ln_water = 0.0;
            assert_true(tw_water_balance_settle(&b));
            by_bracket += b.steps > 60;
            for (int k = 0; k < TW_UNKNOWNS; k++)
                if (right.present[k])
                    assert_near(b.u[k], right.u[k], 1e-10);
            assert_near(b.ionic_strength, right.ionic_strength, 1e-12);
        }
    }
    print_message("# %d of 800 went by the bracket\n", by_bracket);
    assert_true(by_bracket > 0); /* or this test would not show what it is for */
}

/* The residuals are the gradient and the Jacobian the Hessian of one convex function: differences of the dual. */
static void the_jacobian_is_the_slope_of_the_sums(void **unused)
{
    (void)unused;
    tw_constants at;
    assert_ok(tw_water_constants_at(311.15, &at));
    const tw_water w = tub();
    const tw_ask asks[] = {TW_ASK_PH, TW_ASK_OPEN, TW_ASK_CALCITE};
    for (int a = 0; a < 3; a++) {
        tw_balance b;
        tw_water_balance_begin(&b, &at, &w, asks[a], 7.2, at.ln_henry_co2 - 6.0);
        tw_water_balance_start_cold(&b);
        tw_water_balance_evaluate(&b, 1);
        const tw_balance here = b;
        const double e = 1e-5;
        for (int k = 0; k < TW_UNKNOWNS; k++) {
            if (!here.present[k])
                continue;
            tw_balance up = here, down = here;
            up.u[k] += e;
            down.u[k] -= e;
            tw_water_balance_evaluate(&up, 1);
            tw_water_balance_evaluate(&down, 1);
            assert_near(here.sum[k], (up.dual - down.dual) / (2.0 * e), 1e-9);
            assert_near(here.strength_by_u[k], (up.strength - down.strength) / (2.0 * e), 1e-8);
            assert_near(here.solutes_by_u[k], (up.solutes - down.solutes) / (2.0 * e), 1e-8);
            for (int j = 0; j < TW_UNKNOWNS; j++) {
                if (!here.present[j])
                    continue;
                assert_near(here.jacobian[j][k], (up.sum[j] - down.sum[j]) / (2.0 * e), 1e-9);
                assert_near(here.jacobian[j][k], here.jacobian[k][j], 1e-18);
            }
        }
        tw_balance up = here, down = here;
        up.ionic_strength *= 1.0 + e;
        down.ionic_strength *= 1.0 - e;
        tw_water_balance_evaluate(&up, 0);
        tw_water_balance_evaluate(&down, 0);
        const double by = 2.0 * e * here.ionic_strength;
        assert_near(here.strength_by_i, (up.strength - down.strength) / by, 1e-7);
        assert_near(here.solutes_by_i, (up.solutes - down.solutes) / by, 1e-7);
        for (int k = 0; k < TW_UNKNOWNS; k++)
            if (here.present[k])
                assert_near(here.sum_by_i[k], (up.sum[k] - down.sum[k]) / by, 1e-7);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_start_leads_to_the_same_answer),
        cmocka_unit_test(the_jacobian_is_the_slope_of_the_sums),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
