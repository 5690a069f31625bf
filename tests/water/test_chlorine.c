/* Chlorine by itself: balances within a model, agreement with the full solve, ranges. Table values: test_tables,
 * test_examples. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/chlorine.h"
#include "water/speciate.h"

static double rings(const tw_chlorine *c)
{
    return c->h3cy + c->h2cy + c->hcy + c->cy + c->hclcy + c->h2clcy + c->clcy + c->cl2cy + c->hcl2cy + c->cl3cy;
}

static void chlorine_and_rings_add_up(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    for (int n = 0; n < 3000; n++) {
        const double temp_k = check_uniform(&state, 273.15, 318.15), ph = check_uniform(&state, 2.0, 12.0),
                     cl_size = check_uniform(&state, -8.0, -2.0), cy_size = check_uniform(&state, -8.0, -2.0),
                     salt = check_uniform(&state, 0.0, 0.1);
        const double cl = pow(10.0, cl_size), cy = n % 5 == 0 ? 0.0 : pow(10.0, cy_size);
        for (int model = 0; model < TW_CHLORINE_MODELS; model++) {
            tw_chlorine c[2];
            assert_ok(tw_water_chlorine_ideal((tw_chlorine_model)model, temp_k, ph, cl, cy, &c[0]));
            assert_ok(tw_water_chlorine_activity((tw_chlorine_model)model, temp_k, ph, cl, cy, salt, &c[1]));
            for (int i = 0; i < 2; i++) {
                assert_near_rel(c[i].hocl + c[i].ocl + c[i].bound, cl, 1e-12);
                assert_near(rings(&c[i]), model == TW_CHLORINE_MORRIS ? 0.0 : cy, 1e-14);
                const double bound = c[i].hclcy + c[i].h2clcy + c[i].clcy + 2.0 * (c[i].cl2cy + c[i].hcl2cy) + 3.0 * c[i].cl3cy;
                assert_near(bound, c[i].bound, 1e-14);
                assert_true(c[i].hocl > 0.0);
            }
        }
    }
}

/* More cyanuric acid leaves less HOCl, more chlorine more, a higher pH less. */
static void free_hocl_moves_the_right_way(void **unused)
{
    (void)unused;
    tw_chlorine a, b;
    for (int model = 0; model < TW_CHLORINE_MODELS; model++) {
        double before = 1.0;
        for (double ph = 6.0; ph <= 9.0; ph += 0.25) {
            assert_ok(tw_water_chlorine_ideal((tw_chlorine_model)model, 298.15, ph, 4e-5, 2e-4, &a));
            if (model == TW_CHLORINE_MORRIS || ph > 7.0) /* below, the ring lets go of less than OCl- takes */
                assert_true(a.hocl < before);
            before = a.hocl;
            assert_ok(tw_water_chlorine_ideal((tw_chlorine_model)model, 298.15, ph, 5e-5, 2e-4, &b));
            assert_true(b.hocl > a.hocl);
            assert_ok(tw_water_chlorine_ideal((tw_chlorine_model)model, 298.15, ph, 4e-5, 3e-4, &b));
            assert_true(model == TW_CHLORINE_MORRIS ? b.hocl == a.hocl : b.hocl < a.hocl);
        }
    }
}

/* The full solve holds the same chemistry: with its pH and activities the part agrees. The simple model lacks the rare
 * rings, which hold under 3 % of the bound chlorine here. */
static void the_full_solve_agrees(void **unused)
{
    (void)unused;
    tw_constants at;
    tw_speciation sp;
    tw_chlorine c;
    assert_ok(tw_water_constants_at(308.15, &at));
    tw_water w = {.temp_k = 308.15};
    double *t = w.total_mol_per_kg;
    t[TW_TOTAL_DIC] = 1.5e-3;
    t[TW_TOTAL_CYANURATE] = 30.0 / 129074.2;
    t[TW_TOTAL_ACTIVE_CHLORINE] = 3.0 / 70906.0;
    t[TW_TOTAL_CL] = 34e-3;
    t[TW_TOTAL_NA] = t[TW_TOTAL_CL] + 1.6e-3;
    assert_ok(tw_water_speciate(&at, &w, &sp));
    assert_ok(tw_water_chlorine_activity(TW_CHLORINE_2019_SIMPLE, 308.15, sp.ph, t[TW_TOTAL_ACTIVE_CHLORINE],
                                         t[TW_TOTAL_CYANURATE], t[TW_TOTAL_CL], &c));
    assert_near_rel(c.hocl, sp.mol_per_kg[TW_SPECIES_HOCL], 0.03);
    assert_near_rel(c.ocl / c.hocl, sp.mol_per_kg[TW_SPECIES_OCL] / sp.mol_per_kg[TW_SPECIES_HOCL], 0.005);
    assert_ok(tw_water_constants_with(298.15, TW_CYANURATE_1974, &at));
    w.temp_k = 298.15;
    assert_ok(tw_water_speciate(&at, &w, &sp));
    assert_ok(tw_water_chlorine_activity(TW_CHLORINE_1974, 298.15, sp.ph, t[TW_TOTAL_ACTIVE_CHLORINE],
                                         t[TW_TOTAL_CYANURATE], t[TW_TOTAL_CL], &c));
    assert_near_rel(c.hocl, sp.mol_per_kg[TW_SPECIES_HOCL], 0.003);
    assert_near_rel(c.hclcy, sp.mol_per_kg[TW_SPECIES_HCLCY], 0.003);
    assert_near_rel(c.h2clcy, sp.mol_per_kg[TW_SPECIES_H2CLCY], 0.003);
}

static void nonsense_is_refused(void **unused)
{
    (void)unused;
    tw_chlorine c;
    const double nan = (double)NAN;
    const double bad[][4] = {{260, 7.5, 1e-5, 1e-4}, {330, 7.5, 1e-5, 1e-4}, {298.15, 1.9, 1e-5, 1e-4},
                             {298.15, 12.1, 1e-5, 1e-4}, {298.15, 7.5, -1e-5, 1e-4}, {298.15, 7.5, 1e-5, -1e-4},
                             {nan, 7.5, 1e-5, 1e-4}, {298.15, nan, 1e-5, 1e-4}, {298.15, 7.5, nan, 1e-4},
                             {298.15, 7.5, 1e-5, nan}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_status(tw_water_chlorine_ideal(TW_CHLORINE_1974, bad[i][0], bad[i][1], bad[i][2], bad[i][3], &c), TW_ERR_RANGE);
        assert_nan(c.hocl);
        assert_nan(c.bound);
        assert_status(tw_water_chlorine_activity(TW_CHLORINE_1974, bad[i][0], bad[i][1], bad[i][2], bad[i][3], 0.03, &c),
                      TW_ERR_RANGE);
    }
    /* Each amount alone may be too much; the ends of pH are inside. */
    assert_status(tw_water_chlorine_activity(TW_CHLORINE_1974, 298.15, 7.5, 11.0, 0.0, 0.0, &c), TW_ERR_RANGE);
    assert_status(tw_water_chlorine_activity(TW_CHLORINE_1974, 298.15, 7.5, 0.0, 11.0, 0.0, &c), TW_ERR_RANGE);
    assert_status(tw_water_chlorine_activity(TW_CHLORINE_1974, 298.15, 7.5, 0.0, 0.0, 11.0, &c), TW_ERR_RANGE);
    assert_status(tw_water_chlorine_activity(TW_CHLORINE_1974, 298.15, 7.5, 1e-5, 1e-4, -0.1, &c), TW_ERR_RANGE);
    assert_nan(c.ionic_strength_mol_per_kg);
    assert_ok(tw_water_chlorine_ideal(TW_CHLORINE_1974, 298.15, 2.0, 1e-5, 1e-4, &c));
    assert_ok(tw_water_chlorine_ideal(TW_CHLORINE_1974, 298.15, 12.0, 1e-5, 1e-4, &c));
    assert_ok(tw_water_chlorine_ideal(TW_CHLORINE_1974, 298.15, 7.5, 0.0, 1e-4, &c));
    assert_near(c.hocl, 0.0, 0.0);
    assert_near(c.h3cy + c.h2cy, 1e-4, 1e-7);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chlorine_and_rings_add_up),
        cmocka_unit_test(free_hocl_moves_the_right_way),
        cmocka_unit_test(the_full_solve_agrees),
        cmocka_unit_test(nonsense_is_refused),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
