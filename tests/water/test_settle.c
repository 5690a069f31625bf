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
    int by_bracket = 0, most = 0;
    double steps = 0.0;
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
            assert_true(tw_water_balance_settle(&b));
            by_bracket += b.steps > 60;
            most = b.steps > most ? b.steps : most;
            steps += b.steps / 800.0;
            for (int k = 0; k < TW_UNKNOWNS; k++)
                if (right.present[k])
                    assert_near(b.u[k], right.u[k], 1e-10);
            assert_near(b.ionic_strength, right.ionic_strength, 1e-12);
        }
    }
    print_message("# %d of 800 went by the bracket, %.1f steps on average, %d at most\n", by_bracket, steps, most);
    assert_true(by_bracket > 0); /* or this test would not show what it is for */
    assert_true(steps < 90.0 && most < 160);
}

/* A tub's water of pH 6.5 to 9; `rich` has everything. */
static tw_water draw(uint64_t *state, int rich)
{
    tw_water w = {.temp_k = 311.15};
    double *t = w.total_mol_per_kg;
    const double alk = check_uniform(state, 0.8e-3, 5e-3), over = check_uniform(state, 0.97, 1.4);
    t[TW_TOTAL_CA] = check_uniform(state, 0.1e-3, 5e-3);
    t[TW_TOTAL_MG] = check_uniform(state, 0.05e-3, 2e-3);
    t[TW_TOTAL_SO4] = check_uniform(state, 0.05e-3, 5e-3);
    t[TW_TOTAL_DIC] = alk * over;
    t[TW_TOTAL_CL] = check_uniform(state, 10e-3, 100e-3);
    if (rich) {
        t[TW_TOTAL_K] = check_uniform(state, 1e-5, 1e-3);
        t[TW_TOTAL_BORATE] = check_uniform(state, 1e-4, 5e-3);
        t[TW_TOTAL_CYANURATE] = check_uniform(state, 1e-5, 8e-4);
        t[TW_TOTAL_ACTIVE_CHLORINE] = check_uniform(state, 1e-6, 2e-4);
        t[TW_TOTAL_PHOSPHATE] = check_uniform(state, 1e-6, 5e-5);
    }
    t[TW_TOTAL_NA] = alk - tw_water_strong_ion_alk_mol_per_kg(&w);
    return w;
}

/* The closed forms of a cold start come so near on average, by question and unknown (logarithms), and I by a share. */
static void a_cold_start_is_near(void **unused)
{
    (void)unused;
    static const struct {
        tw_ask ask;
        double near[TW_UNKNOWNS + 1];
    } asked[] = {
        {TW_ASK_PH, {0.30, 0.40, 0.14, 0.43, 0.19, 0.013}},    {TW_ASK_OPEN, {0.16, 0.32, 0.14, 0.22, 0.05, 0.012}},
        {TW_ASK_CALCITE, {1.6, 2.0, 0.15, 1.5, 0.42, 0.030}},  {TW_ASK_AT_PH, {0.0, 0.064, 0.14, 0.080, 0.035, 0.015}},
        {TW_ASK_DIC, {0.0, 0.064, 0.14, 0.080, 0.035, 0.015}},
    };
    uint64_t state = check_seed;
    tw_constants at;
    tw_speciation sp;
    assert_ok(tw_water_constants_at(311.15, &at));
    for (int a = 0; a < 5; a++) {
        double mean[TW_UNKNOWNS + 1] = {0.0};
        for (int n = 0; n < 400; n++) {
            const tw_water w = draw(&state, n & 1);
            const double ph = check_uniform(&state, 6.5, 8.5), log_co2 = check_uniform(&state, -3.5, -2.0);
            tw_balance b;
            tw_water_balance_begin(&b, &at, &w, asked[a].ask, ph, at.ln_henry_co2 + log_co2 * log(10.0));
            assert_ok(tw_water_at_ph(&at, &w, ph, &sp));
            if (asked[a].ask == TW_ASK_DIC)
                b.alk = sp.strong_ion_alk_mol_per_kg;
            tw_water_balance_start_cold(&b);
            tw_water_balance_tie(&b);
            const tw_balance start = b;
            assert_true(tw_water_balance_settle(&b));
            for (int k = 0; k <= TW_UNKNOWNS; k++) {
                const double off = k < TW_UNKNOWNS ? fabs(start.u[k] - b.u[k]) : fabs(start.ionic_strength / b.ionic_strength - 1.0);
                mean[k] += off / 400.0;
            }
        }
        for (int k = 0; k <= TW_UNKNOWNS; k++)
            if (!(mean[k] <= asked[a].near[k]))
                fail_msg("question %d, unknown %d: %.4f on average", a, k, mean[k]);
    }
}

/* So does the start where carbonate cannot hold the alkalinity: acid or hydroxide alone; the last two all but without CO2. */
static void a_cold_start_is_near_outside_of_carbonate(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_constants at;
    assert_ok(tw_water_constants_at(311.15, &at));
    const double near[] = {0.125, 0.38, 0.125, 0.016, 0.125, 0.010};
    for (int kind = 0; kind < 6; kind++) {
        double mean = 0.0;
        for (int n = 0; n < 400; n++) {
            tw_water w = {.temp_k = 311.15};
            double *t = w.total_mol_per_kg;
            const double size = check_uniform(&state, -5.0, -2.3), dic = pow(10.0, size),
                         share = kind & 1 ? check_uniform(&state, 2.1, 5.0) : check_uniform(&state, -2.0, 0.01);
            t[TW_TOTAL_CL] = 20e-3;
            t[TW_TOTAL_NA] = t[TW_TOTAL_CL] + share * dic;
            t[TW_TOTAL_DIC] = dic;
            tw_balance b;
            tw_water_balance_begin(&b, &at, &w, kind < 2 ? TW_ASK_PH : TW_ASK_OPEN, 7.0, at.ln_henry_co2 - (kind < 4 ? 3.4 : 15.0) * log(10.0));
            tw_water_balance_start_cold(&b);
            const double start = b.u[TW_U_H];
            assert_true(tw_water_balance_settle(&b));
            mean += fabs(start - b.u[TW_U_H]) / 400.0;
        }
        assert_true(mean < near[kind]);
    }
}

static void evaluate(tw_balance *b)
{
    tw_water_balance_weigh(b);
    tw_water_balance_add_up(b);
}

/* Open to CO2, CO3 is no unknown of its own. */
static int is_free(const tw_balance *b, int k)
{
    return b->present[k] && !(k == TW_U_CO3 && b->ask == TW_ASK_OPEN);
}

/* Differences of the sums; symmetric, as the Hessian of one function is. */
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
        evaluate(&b);
        const tw_balance place = b;
        const double e = 1e-5;
        for (int k = 0; k < TW_UNKNOWNS; k++) {
            if (!is_free(&place, k))
                continue;
            tw_balance up = place, down = place;
            up.u[k] += e;
            down.u[k] -= e;
            evaluate(&up);
            evaluate(&down);
            assert_near(place.here.strength_by_u[k], (up.here.strength - down.here.strength) / (2.0 * e), 1e-8);
            assert_near(place.here.solutes_by_u[k], (up.here.solutes - down.here.solutes) / (2.0 * e), 1e-8);
            for (int j = 0; j < TW_UNKNOWNS; j++) {
                if (!is_free(&place, j))
                    continue;
                assert_near(place.here.jacobian[j][k], (up.here.sum[j] - down.here.sum[j]) / (2.0 * e), 1e-9);
                assert_near(place.here.jacobian[j][k], place.here.jacobian[k][j], 1e-18);
            }
        }
        tw_balance up = place, down = place;
        up.ionic_strength *= 1.0 + e;
        down.ionic_strength *= 1.0 - e;
        evaluate(&up);
        evaluate(&down);
        const double by = 2.0 * e * place.ionic_strength;
        assert_near(place.here.strength_by_i, (up.here.strength - down.here.strength) / by, 1e-7);
        assert_near(place.here.solutes_by_i, (up.here.solutes - down.here.solutes) / by, 1e-7);
        for (int k = 0; k < TW_UNKNOWNS; k++)
            if (is_free(&place, k))
                assert_near(place.here.sum_by_i[k], (up.here.sum[k] - down.here.sum[k]) / by, 1e-7);
    }
}

/* After a step molalities are moved by the series of e^x when it is a small one: as if weighed anew, whatever its size. */
static void moving_is_weighing_anew(void **unused)
{
    (void)unused;
    tw_constants at;
    uint64_t state = check_seed;
    assert_ok(tw_water_constants_at(300.0, &at));
    tw_water w = tub();
    w.temp_k = 300.0;
    const tw_ask asks[] = {TW_ASK_PH, TW_ASK_OPEN, TW_ASK_CALCITE, TW_ASK_AT_PH, TW_ASK_DIC};
    for (int n = 0; n < 500; n++) {
        tw_balance b, anew;
        tw_water_balance_begin(&b, &at, &w, asks[n % 5], 7.2, at.ln_henry_co2 - 6.0);
        tw_water_balance_start_cold(&b);
        tw_water_balance_weigh(&b);
        const double strength = b.ionic_strength, ln_water = b.ln_water;
        const double exponent = check_uniform(&state, -12.0, -1.0), size = pow(10.0, exponent);
        double from[TW_UNKNOWNS];
        memcpy(from, b.u, sizeof from);
        for (int k = 0; k < TW_UNKNOWNS; k++)
            b.u[k] += check_uniform(&state, -size, size);
        b.ionic_strength *= 1.0 + check_uniform(&state, -0.25 * size, 0.25 * size);
        b.ln_water *= 1.0 + check_uniform(&state, -size, size);
        anew = b;
        tw_water_balance_move(&b, from, strength, ln_water);
        tw_water_balance_weigh(&anew);
        for (int i = 0; i < TW_WATER_LANES; i++) {
            if (b.m[i] == anew.m[i])
                continue;
            assert_near_rel(b.m[i], anew.m[i], 3e-14);
            assert_near(b.ln_gamma[i], anew.ln_gamma[i], 5e-15);
            assert_near_rel(b.by_i[i], anew.by_i[i], 1e-6); /* the slope may be that of I a ten-millionth off */
        }
    }
}

/* The quick sums are the ones that come with the derivatives. */
static void sums_alone_are_the_same_sums(void **unused)
{
    (void)unused;
    tw_constants at;
    assert_ok(tw_water_constants_at(311.15, &at));
    const tw_water w = tub();
    tw_balance b;
    tw_water_balance_begin(&b, &at, &w, TW_ASK_AT_PH, 7.9, 0.0);
    tw_water_balance_start_cold(&b);
    evaluate(&b);
    tw_balance alone = b;
    alone.here.strength = alone.here.solutes = 0.0;
    tw_water_balance_total_up(&alone);
    assert_near_rel(alone.here.strength, b.here.strength, 1e-15);
    assert_near_rel(alone.here.solutes, b.here.solutes, 1e-15);
    for (int k = 0; k < TW_UNKNOWNS; k++)
        assert_near_rel(alone.here.sum[k], b.here.sum[k], 1e-14);
    double calcium = 0.0;
    for (int i = 0; i < TW_WATER_LANES; i++)
        calcium += tw_water_species[i].group == TW_GROUP_CA ? b.m[i] : 0.0;
    assert_near_rel(alone.calcium, calcium, 1e-14);
    assert_near_rel(calcium, w.total_mol_per_kg[TW_TOTAL_CA], 1e-14);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_start_leads_to_the_same_answer),
        cmocka_unit_test(a_cold_start_is_near),
        cmocka_unit_test(a_cold_start_is_near_outside_of_carbonate),
        cmocka_unit_test(the_jacobian_is_the_slope_of_the_sums),
        cmocka_unit_test(moving_is_weighing_anew),
        cmocka_unit_test(sums_alone_are_the_same_sums),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
