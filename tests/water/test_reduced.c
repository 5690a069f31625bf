/* The reduced form against the full solve: at its reference water, around it, its derivatives and inverses. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/reduced.h"

static tw_constants at;

static int constants(void **unused)
{
    (void)unused;
    return tw_water_constants_at(311.15, &at) == TW_OK ? 0 : 1;
}

/* A tub; pH is put where it is wanted by strong ions. */
static tw_water draw(uint64_t *state, double ph)
{
    tw_water w = {.temp_k = 311.15};
    double *t = w.total_mol_per_kg;
    t[TW_TOTAL_CA] = check_uniform(state, 0.2e-3, 3e-3);
    t[TW_TOTAL_MG] = check_uniform(state, 0.0, 0.6e-3);
    t[TW_TOTAL_SO4] = check_uniform(state, 0.0, 1e-3);
    t[TW_TOTAL_CL] = check_uniform(state, 12e-3, 60e-3);
    t[TW_TOTAL_BORATE] = check_uniform(state, -3e-3, 5e-3);
    t[TW_TOTAL_CYANURATE] = check_uniform(state, -0.3e-3, 0.6e-3);
    t[TW_TOTAL_ACTIVE_CHLORINE] = check_uniform(state, -0.05e-3, 0.2e-3);
    t[TW_TOTAL_PHOSPHATE] = check_uniform(state, -0.02e-3, 0.02e-3);
    for (int i = TW_TOTAL_BORATE; i < TW_TOTALS; i++)
        t[i] = t[i] > 0.0 ? t[i] : 0.0;
    t[TW_TOTAL_DIC] = check_uniform(state, 0.6e-3, 4e-3);
    t[TW_TOTAL_NA] = t[TW_TOTAL_CL];
    for (int i = 0; i < 8; i++) {
        tw_speciation sp;
        assert_ok(tw_water_at_ph(&at, &w, ph, &sp));
        t[TW_TOTAL_NA] += sp.strong_ion_alk_mol_per_kg - tw_water_strong_ion_alk_mol_per_kg(&w);
    }
    return w;
}

static tw_reduced_water acids_of(const tw_water *w)
{
    const double *t = w->total_mol_per_kg;
    const tw_reduced_water r = {tw_water_strong_ion_alk_mol_per_kg(w), t[TW_TOTAL_DIC],       t[TW_TOTAL_BORATE],
                                t[TW_TOTAL_CYANURATE],                 t[TW_TOTAL_ACTIVE_CHLORINE],
                                t[TW_TOTAL_PHOSPHATE]};
    return r;
}

/* At the water that it was frozen at, what is left out (Cy-3, Cl3Cy) is worth less than 2e-6 in pH. */
static void at_its_reference_water_it_is_the_full_solve(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    double worst_ph = 0.0, worst_hocl = 0.0, worst_co2 = 0.0;
    for (int n = 0; n < 3000; n++) {
        const tw_water w = draw(&state, check_uniform(&state, 6.2, 8.8));
        tw_speciation sp;
        tw_reduced k;
        tw_reduced_answer a;
        assert_ok(tw_water_speciate(&at, &w, &sp));
        tw_water_reduced_from(&at, &sp, &k);
        const tw_reduced_water r = acids_of(&w);
        tw_water_reduced_solve(&k, &r, &a);
        worst_ph = fmax(worst_ph, fabs(a.ph - sp.ph));
        worst_co2 = fmax(worst_co2, fabs(a.co2 / sp.mol_per_kg[TW_SPECIES_CO2] - 1.0));
        if (r.active_chlorine > 0.0)
            worst_hocl = fmax(worst_hocl, fabs(a.hocl / sp.mol_per_kg[TW_SPECIES_HOCL] - 1.0));
    }
    print_message("# pH %.2g, CO2 %.2g, HOCl %.2g\n", worst_ph, worst_co2, worst_hocl);
    assert_true(worst_ph < 5e-6);
    assert_true(worst_co2 < 1e-5);
    assert_true(worst_hocl < 2e-5);
}

/* Frozen at a reference water, then acid or base up to half the alkalinity and 30 % of the carbon: the error grows with
 * pH, as the metals' carbonate pairs do. */
static void around_its_reference_water_it_stays_close(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    double worst = 0.0, worst_below_78 = 0.0, sum = 0.0;
    int counted = 0;
    for (int n = 0; n < 3000; n++) {
        const tw_water w = draw(&state, check_uniform(&state, 6.8, 8.2));
        tw_water moved = w;
        tw_speciation sp, full;
        tw_reduced k;
        tw_reduced_answer a;
        assert_ok(tw_water_speciate(&at, &w, &sp));
        tw_water_reduced_from(&at, &sp, &k);
        double *t = moved.total_mol_per_kg;
        const double alk = check_uniform(&state, -0.5, 0.5) * sp.strong_ion_alk_mol_per_kg,
                     carbon = check_uniform(&state, 0.7, 1.3);
        t[TW_TOTAL_NA] += alk > 0.0 ? alk : 0.0;
        t[TW_TOTAL_CL] += alk < 0.0 ? -alk : 0.0;
        t[TW_TOTAL_DIC] *= carbon;
        if (tw_water_speciate(&at, &moved, &full) != TW_OK || full.ph < 6.2 || full.ph > 8.8)
            continue;
        const tw_reduced_water r = acids_of(&moved);
        tw_water_reduced_solve(&k, &r, &a);
        const double gap = fabs(a.ph - full.ph);
        worst = fmax(worst, gap);
        sum += gap;
        worst_below_78 = full.ph < 7.8 ? fmax(worst_below_78, gap) : worst_below_78;
        counted++;
    }
    print_message("# pH %.2g on average, %.2g below 7.8, %.2g at most, on %d waters\n", sum / counted, worst_below_78, worst,
                  counted);
    assert_true(counted > 1000);
    assert_true(sum / counted < 1.5e-3);
    assert_true(worst_below_78 < 3e-3);
    assert_true(worst < 0.04);
}

static void derivatives_are_those_of_differences(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_reduced k;
    assert_ok(tw_water_reduced_at(&at, 0.04, 1.2e-3, 0.2e-3, &k));
    assert_near(k.ionic_strength_mol_per_kg, 0.04, 1e-6);
    for (int n = 0; n < 1000; n++) {
        const double ph = check_uniform(&state, 6.2, 8.8);
        const tw_water w = draw(&state, ph);
        tw_reduced_water r = acids_of(&w);
        tw_reduced_answer a, up, down;
        r.alk = tw_water_reduced_alk_at_ph(&k, &r, ph);
        tw_water_reduced_solve(&k, &r, &a);
        assert_near(a.ph, ph, 1e-9);
        const double e = 1e-8;
        r.alk += e;
        tw_water_reduced_solve(&k, &r, &up);
        r.alk -= 2.0 * e;
        tw_water_reduced_solve(&k, &r, &down);
        r.alk += e;
        assert_near_rel(a.ph_by_alk, (up.ph - down.ph) / (2.0 * e), 1e-5);
        assert_near_rel(a.co2_by_alk, (up.co2 - down.co2) / (2.0 * e), 1e-5);
        r.dic += e;
        tw_water_reduced_solve(&k, &r, &up);
        r.dic -= 2.0 * e;
        tw_water_reduced_solve(&k, &r, &down);
        r.dic += e;
        assert_near_rel(a.ph_by_dic, (up.ph - down.ph) / (2.0 * e), 1e-5);
        assert_near(a.co2_by_dic, (up.co2 - down.co2) / (2.0 * e), 1e-6);
    }
}

static void alkalinity_and_carbon_at_a_ph_are_exact_inverses(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_reduced k;
    assert_ok(tw_water_reduced_at(&at, 0.04, 1.2e-3, 0.2e-3, &k));
    for (int n = 0; n < 1000; n++) {
        const double ph = check_uniform(&state, 6.0, 9.0);
        const tw_water w = draw(&state, ph);
        tw_reduced_water r = acids_of(&w);
        tw_reduced_answer a;
        r.alk = tw_water_reduced_alk_at_ph(&k, &r, ph);
        assert_near(tw_water_reduced_dic_at_ph(&k, &r, ph), r.dic, 1e-14);
        tw_water_reduced_solve(&k, &r, &a);
        assert_near(a.ph, ph, 1e-9);
        if (r.active_chlorine > 0.0)
            assert_near_rel(tw_water_reduced_hocl(&k, ph, r.active_chlorine, r.cyanurate), a.hocl, 1e-7);
    }
}

static void many_at_once_give_the_same_bits(void **unused)
{
    (void)unused;
    enum { N = 37 };
    static double alk[N], dic[N], borate[N], cyanurate[N], chlorine[N], phosphate[N], ph[N], co2[N], hocl[N], by_alk[N];
    uint64_t state = check_seed;
    tw_reduced k;
    assert_ok(tw_water_reduced_at(&at, 0.04, 1.2e-3, 0.2e-3, &k));
    for (int n = 0; n < N; n++) {
        const tw_water w = draw(&state, 7.4);
        const tw_reduced_water r = acids_of(&w);
        alk[n] = r.alk;
        dic[n] = r.dic;
        borate[n] = r.borate;
        cyanurate[n] = r.cyanurate;
        chlorine[n] = r.active_chlorine;
        phosphate[n] = r.phosphate;
    }
    const tw_reduced_waters all = {alk, dic, borate, cyanurate, chlorine, phosphate}, bare = {.alk = alk, .dic = dic};
    const tw_reduced_answers out = {.ph = ph, .co2 = co2, .hocl = hocl, .ph_by_alk = by_alk};
    tw_water_reduced_solve_many(&k, N, &all, &out);
    for (int n = 0; n < N; n++) {
        const tw_reduced_water r = {alk[n], dic[n], borate[n], cyanurate[n], chlorine[n], phosphate[n]};
        tw_reduced_answer a;
        tw_water_reduced_solve(&k, &r, &a);
        assert_same_bits(ph[n], a.ph);
        assert_same_bits(co2[n], a.co2);
        assert_same_bits(hocl[n], a.hocl);
        assert_same_bits(by_alk[n], a.ph_by_alk);
    }
    tw_water_reduced_solve_many(&k, N, &bare, &out);
    assert_true(ph[0] > 2.0 && ph[0] < 12.0);
}

/* Nonsense in, a number inside 2..12 out: a sampler may try anything. */
static void any_totals_give_a_number(void **unused)
{
    (void)unused;
    uint64_t state = check_seed;
    tw_reduced k;
    assert_ok(tw_water_reduced_at(&at, 0.04, 1.2e-3, 0.2e-3, &k));
    for (int n = 0; n < 20000; n++) {
        double x[6];
        for (int i = 0; i < 6; i++) {
            const double size = check_uniform(&state, -9.0, -1.0), none = check_uniform(&state, 0.0, 1.0);
            x[i] = none < 0.2 ? 0.0 : pow(10.0, size);
        }
        const tw_reduced_water r = {x[0] - x[1], x[1], x[2], x[3], x[4], x[5]};
        tw_reduced_answer a;
        tw_water_reduced_solve(&k, &r, &a);
        assert_true(a.ph >= 1.999 && a.ph <= 12.001);
        assert_true(a.co2 >= 0.0 && a.co2 <= r.dic * 1.0000001);
        assert_true(a.hocl >= 0.0 && isfinite(a.hocl));
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(at_its_reference_water_it_is_the_full_solve, constants),
        cmocka_unit_test(around_its_reference_water_it_stays_close),
        cmocka_unit_test(derivatives_are_those_of_differences),
        cmocka_unit_test(alkalinity_and_carbon_at_a_ph_are_exact_inverses),
        cmocka_unit_test(many_at_once_give_the_same_bits),
        cmocka_unit_test(any_totals_give_a_number),
    };
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
