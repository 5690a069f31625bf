/* A solve that starts from a water nearby: the answer of a cold one, in fewer steps.
 *
 * The cold solve is the outside here: it makes every molality from the constants, which the warm one carries over from
 * the answer before when constants and make of the water are the same. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/speciate.h"

static tw_constants at;

static int constants(void **unused)
{
    (void)unused;
    return tw_water_constants_at(308.15, &at) == TW_OK ? 0 : 1;
}

/* Salt water of pH 6.5 to 8.5; `rich` has everything. */
static tw_water draw(uint64_t *state, int rich)
{
    tw_water w = {.temp_k = 308.15};
    double *t = w.total_mol_per_kg;
    const double alk = check_uniform(state, 0.8e-3, 4e-3), over = check_uniform(state, 0.99, 1.3);
    t[TW_TOTAL_CA] = check_uniform(state, 0.1e-3, 4e-3);
    t[TW_TOTAL_MG] = check_uniform(state, 0.05e-3, 2e-3);
    t[TW_TOTAL_SO4] = check_uniform(state, 0.05e-3, 4e-3);
    t[TW_TOTAL_DIC] = alk * over;
    t[TW_TOTAL_CL] = check_uniform(state, 15e-3, 60e-3);
    const double k = check_uniform(state, 1e-5, 1e-3), borate = check_uniform(state, 1e-4, 3e-3);
    const double ring = check_uniform(state, 1e-5, 6e-4), chlorine = check_uniform(state, 1e-6, 2e-4);
    const double po4 = check_uniform(state, 1e-6, 5e-5);
    if (rich) {
        t[TW_TOTAL_K] = k;
        t[TW_TOTAL_BORATE] = borate;
        t[TW_TOTAL_CYANURATE] = ring;
        t[TW_TOTAL_ACTIVE_CHLORINE] = chlorine;
        t[TW_TOTAL_PHOSPHATE] = po4;
    }
    t[TW_TOTAL_NA] = alk - tw_water_strong_ion_alk_mol_per_kg(&w);
    return w;
}

/* Each thing that is there changes by up to a share; the alkalinity by a hundredth at most. */
static tw_water neighbour(const tw_water *from, double share, uint64_t *state)
{
    tw_water w = *from;
    for (int k = 0; k < TW_TOTALS; k++)
        w.total_mol_per_kg[k] *= 1.0 + check_uniform(state, -share, share);
    const double alk = tw_water_strong_ion_alk_mol_per_kg(from);
    w.total_mol_per_kg[TW_TOTAL_NA] += alk - tw_water_strong_ion_alk_mol_per_kg(&w);
    return w;
}

static void assert_same_water(const tw_speciation *a, const tw_speciation *b, double tolerance)
{
    assert_near(a->ph, b->ph, tolerance);
    assert_near(a->si_calcite, b->si_calcite, tolerance);
    assert_near(a->log10_pco2_atm, b->log10_pco2_atm, tolerance);
    assert_near_rel(a->ionic_strength_mol_per_kg, b->ionic_strength_mol_per_kg, tolerance);
    assert_near(a->water_activity, b->water_activity, 0.1 * tolerance);
    for (int i = 0; i < TW_SPECIES; i++) {
        assert_near_rel(a->mol_per_kg[i], b->mol_per_kg[i], 4.0 * tolerance); /* a cube of HOCl or H+ in one */
        assert_near(a->ln_gamma[i], b->ln_gamma[i], tolerance);
    }
}

/* From a start, by the constants `with`, and from nothing. */
static void assert_warm_is_cold(const tw_constants *with, const tw_water *w, const tw_speciation *start)
{
    tw_speciation warm, cold;
    assert_ok(tw_water_speciate_from(with, w, start, &warm));
    assert_ok(tw_water_speciate(with, w, &cold));
    assert_same_water(&warm, &cold, 1e-10);
}

static void a_warm_solve_gives_what_a_cold_one_gives(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 600; n++) {
        const double share = 0.1 / (double)(1 << (n % 12));
        const tw_water w = draw(&state, n & 1), next = neighbour(&w, share, &state);
        tw_speciation start;
        assert_ok(tw_water_speciate(&at, &w, &start));
        assert_warm_is_cold(&at, &next, &start);
    }
}

static void other_constants_are_noticed(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_constants older, cooler;
    assert_ok(tw_water_constants_with(308.15, TW_CYANURATE_1974, &older));
    assert_ok(tw_water_constants_at(283.15, &cooler));
    for (int n = 0; n < 50; n++) {
        tw_water w = draw(&state, n & 1);
        tw_speciation start;
        assert_ok(tw_water_speciate(&older, &w, &start));
        assert_warm_is_cold(&at, &w, &start);
        assert_ok(tw_water_speciate(&at, &w, &start));
        w.temp_k = 283.15;
        assert_warm_is_cold(&cooler, &w, &start);
    }
}

static void what_is_new_or_gone_is_noticed(void **unused)
{
    (void)unused;
    static const tw_total MAY_LACK[] = {TW_TOTAL_K, TW_TOTAL_MG, TW_TOTAL_CA, TW_TOTAL_SO4, TW_TOTAL_BORATE,
                                        TW_TOTAL_CYANURATE, TW_TOTAL_ACTIVE_CHLORINE, TW_TOTAL_PHOSPHATE};
    uint64_t state = check_seed;
    for (size_t i = 0; i < sizeof MAY_LACK / sizeof *MAY_LACK; i++) {
        const tw_water with = draw(&state, 1);
        tw_water without = with;
        without.total_mol_per_kg[MAY_LACK[i]] = 0.0;
        without.total_mol_per_kg[TW_TOTAL_NA] +=
            tw_water_strong_ion_alk_mol_per_kg(&with) - tw_water_strong_ion_alk_mol_per_kg(&without);
        tw_speciation a, b;
        assert_ok(tw_water_speciate(&at, &with, &a));
        assert_ok(tw_water_speciate(&at, &without, &b));
        tw_speciation warm;
        assert_ok(tw_water_speciate_from(&at, &without, &a, &warm));
        assert_near(warm.ph, b.ph, 1e-10);
        assert_ok(tw_water_speciate_from(&at, &with, &b, &warm));
        assert_same_water(&warm, &a, 1e-10);
    }
}

/* Each step multiplies the molalities anew: five hundred in a row leave no more than one does. */
static void a_long_walk_gathers_no_rounding(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int rich = 0; rich < 2; rich++) {
        tw_water w = draw(&state, rich);
        tw_speciation warm, cold;
        assert_ok(tw_water_speciate(&at, &w, &warm));
        for (int i = 0; i < 500; i++) {
            w = neighbour(&w, 1e-4, &state);
            assert_ok(tw_water_speciate_from(&at, &w, &warm, &warm));
        }
        assert_ok(tw_water_speciate(&at, &w, &cold));
        assert_same_water(&warm, &cold, 1e-11);
    }
}

/* Newton's steps are Newton's only with every derivative right: a wrong one still arrives, but in many more. */
static void few_steps_are_needed(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    int cold = 0, warm = 0, most_cold = 0, most_warm = 0;
    for (int n = 0; n < 400; n++) {
        const tw_water w = draw(&state, n & 1), next = neighbour(&w, 1e-4, &state);
        tw_speciation sp;
        assert_ok(tw_water_speciate(&at, &w, &sp));
        cold += sp.steps;
        most_cold = sp.steps > most_cold ? sp.steps : most_cold;
        assert_ok(tw_water_speciate_from(&at, &next, &sp, &sp));
        warm += sp.steps;
        most_warm = sp.steps > most_warm ? sp.steps : most_warm;
    }
    print_message("# steps: cold %.3f on average, %d at most; warm %.3f, %d\n", cold / 400.0, most_cold, warm / 400.0, most_warm);
    assert_in_range(most_cold, 2, 7);
    assert_in_range(cold, 800, 1440);
    assert_in_range(most_warm, 1, 3);
    assert_in_range(warm, 400, 804);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(a_warm_solve_gives_what_a_cold_one_gives, constants),
        cmocka_unit_test(other_constants_are_noticed),
        cmocka_unit_test(what_is_new_or_gone_is_noticed),
        cmocka_unit_test(a_long_walk_gathers_no_rounding),
        cmocka_unit_test(few_steps_are_needed),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
