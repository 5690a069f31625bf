/* The same equations, given to another solver: GSL's hybrid root finder on all components at once.
 *
 * Nothing is shared with the solver of the core but the rows of the tables (constants, species) and the two numbers
 * A and B of the activity law: constants are formed here from their coefficients with the library's log and pow, no
 * species is taken out of the problem, charge is balanced as charge, ionic strength and the sum of solutes are unknowns
 * of their own. The pH of random waters has to agree within 1e-9.
 *
 * usage: test-water-oracle [SEED [WATERS]]; 400 waters in `make check`, 10,000 in `make validate`. */
#include <math.h>

#include "num/status.h"
#include "support/check.h"
#include "water/speciate.h"

#ifdef TW_HAVE_GSL
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multiroots.h>
#endif

static int waters = 400;

/* 0 to 45 C, ionic strength to 0.2 mol/kg; each minor total is absent in a third of the waters. */
static tw_water draw(uint64_t *state)
{
    static const struct {
        tw_total total;
        double most;
    } minor[] = {{TW_TOTAL_K, 2e-3},         {TW_TOTAL_CA, 6e-3},      {TW_TOTAL_MG, 3e-3},
                 {TW_TOTAL_SO4, 5e-3},       {TW_TOTAL_OTHER, 1e-3},   {TW_TOTAL_BORATE, 5e-3},
                 {TW_TOTAL_CYANURATE, 1e-3}, {TW_TOTAL_ACTIVE_CHLORINE, 2e-4}, {TW_TOTAL_PHOSPHATE, 1e-4}};
    tw_water w = {.temp_k = check_uniform(state, 273.15, 318.15)};
    double *t = w.total_mol_per_kg;
    const double alk = check_uniform(state, 0.1e-3, 6e-3), over = check_uniform(state, 0.9, 1.6);
    for (size_t i = 0; i < sizeof minor / sizeof *minor; i++) {
        const double amount = check_uniform(state, 0.0, minor[i].most), there = check_uniform(state, 0.0, 3.0);
        t[minor[i].total] = there < 2.0 ? amount : 0.0;
    }
    const double salt = check_uniform(state, 0.0, 1.0);
    t[TW_TOTAL_DIC] = alk * over;
    t[TW_TOTAL_CL] = 18e-3 + 0.16 * salt * salt;
    t[TW_TOTAL_NA] = 0.0;
    const double sodium = alk - tw_water_strong_ion_alk_mol_per_kg(&w);
    t[TW_TOTAL_NA] = sodium > 1e-5 ? sodium : 1e-5;
    return w;
}

#ifdef TW_HAVE_GSL

/* Components: the five unknowns of the tables, then the first species of each group. */
enum { H, CO3, SO4, PO4, HOCL, NA, K, CA, MG, BORATE, CYANURATE, COMPONENTS };
#define MOST (COMPONENTS + 2)
static const int TOTAL_OF[COMPONENTS] = {-1,          TW_TOTAL_DIC, TW_TOTAL_SO4, TW_TOTAL_PHOSPHATE, TW_TOTAL_ACTIVE_CHLORINE,
                                         TW_TOTAL_NA, TW_TOTAL_K,   TW_TOTAL_CA,  TW_TOTAL_MG,        TW_TOTAL_BORATE,
                                         TW_TOTAL_CYANURATE};

typedef struct {
    const tw_water *water;
    double a_log10, b_per_angstrom, ln_beta[TW_SPECIES];
    int nu[TW_SPECIES][COMPONENTS], there[TW_SPECIES];
    int n, component[COMPONENTS];
} problem;

static double ln_k(const tw_reaction_row *row, double t)
{
    const double *a = row->a;
    return log(10.0) * (a[0] + a[1] * t + a[2] / t + a[3] * log10(t) + a[4] / (t * t) + a[5] * t * t);
}

static void lay_out(problem *p, const tw_water *water)
{
    tw_constants at;
    assert_ok(tw_water_constants_at(water->temp_k, &at));
    *p = (problem){.water = water, .a_log10 = at.debye_a_log10, .b_per_angstrom = at.debye_b_per_angstrom};
    int there[COMPONENTS];
    for (int c = 0; c < COMPONENTS; c++) {
        there[c] = c == H || water->total_mol_per_kg[TOTAL_OF[c]] > 0.0;
        if (there[c])
            p->component[p->n++] = c;
    }
    for (int i = 0; i < TW_SPECIES; i++) {
        const tw_species_row *s = &tw_water_species[i];
        for (int j = 0; j < s->terms; j++)
            p->ln_beta[i] += s->sign[j] * ln_k(&tw_water_reactions[s->term[j]], water->temp_k);
        for (int c = H; c <= HOCL; c++)
            p->nu[i][c] = s->of[c];
        for (int g = TW_GROUP_NA; g <= TW_GROUP_CYANURATE; g++)
            if ((int)s->group == g)
                p->nu[i][NA + g - TW_GROUP_NA] = s->count;
        p->there[i] = (int)s->group != TW_GROUP_CL && (int)s->group != TW_GROUP_OTHER;
        for (int c = 0; c < COMPONENTS; c++)
            if (c != H && p->nu[i][c] != 0 && !there[c])
                p->there[i] = 0;
    }
}

static double ln_gamma(const problem *p, const tw_species_row *s, double strength)
{
    const double r = sqrt(strength), z2 = s->charge * s->charge;
    const double log_gamma = s->law == TW_LAW_NEUTRAL  ? s->per_i * strength
                             : s->law == TW_LAW_DAVIES ? -p->a_log10 * z2 * (r / (1.0 + r) - 0.3 * strength)
                                                       : -p->a_log10 * z2 * r / (1.0 + p->b_per_angstrom * s->size_a * r) +
                                                             s->per_i * strength;
    return log(10.0) * log_gamma;
}

/* x: ln activity of each component that is there, ln of ionic strength, ln of the sum of solutes. */
static int residuals(const gsl_vector *x, void *data, gsl_vector *f)
{
    const problem *p = data;
    const double *t = p->water->total_mol_per_kg;
    double ln_a[COMPONENTS] = {0.0}, sum[COMPONENTS] = {0.0};
    for (int k = 0; k < p->n; k++)
        ln_a[p->component[k]] = gsl_vector_get(x, (size_t)k);
    const double strength = exp(fmin(gsl_vector_get(x, (size_t)p->n), 2.0));
    const double solutes = exp(fmin(gsl_vector_get(x, (size_t)p->n + 1), 2.0));
    const double ln_water = log(fmax(1.0 - 0.017 * solutes, 0.5)), inert = t[TW_TOTAL_CL] + t[TW_TOTAL_OTHER];
    double charge = -inert, twice = inert, all = inert;
    for (int i = 0; i < TW_SPECIES; i++) {
        const tw_species_row *s = &tw_water_species[i];
        if (!p->there[i])
            continue;
        double ln_m = p->ln_beta[i] + s->water * ln_water - ln_gamma(p, s, strength);
        for (int c = 0; c < COMPONENTS; c++)
            ln_m += p->nu[i][c] * ln_a[c];
        const double m = exp(fmin(ln_m, 20.0));
        for (int c = 0; c < COMPONENTS; c++)
            sum[c] += p->nu[i][c] * m;
        charge += s->charge * m;
        twice += s->charge * s->charge * m;
        all += m;
    }
    for (int k = 0; k < p->n; k++) {
        const int c = p->component[k];
        gsl_vector_set(f, (size_t)k, c == H ? charge / (1e-4 + t[TW_TOTAL_DIC]) : sum[c] / t[TOTAL_OF[c]] - 1.0);
    }
    gsl_vector_set(f, (size_t)p->n, 0.5 * twice / strength - 1.0);
    gsl_vector_set(f, (size_t)p->n + 1, all / solutes - 1.0);
    return GSL_SUCCESS;
}

/* Every total free at first, carbonate and phosphate as bicarbonate and hydrogen phosphate at this pH. */
static void start_at(const problem *p, double ph, gsl_vector *x)
{
    const double *t = p->water->total_mol_per_kg;
    const double ln_h = -ph * log(10.0);
    for (int k = 0; k < p->n; k++) {
        const int c = p->component[k];
        double value = c == H ? ln_h : log(t[TOTAL_OF[c]]);
        if (c == CO3)
            value -= p->ln_beta[TW_SPECIES_HCO3] + ln_h;
        if (c == PO4)
            value -= p->ln_beta[TW_SPECIES_HPO4] + ln_h;
        if (c == HOCL && t[TW_TOTAL_CYANURATE] > 0.0)
            value += log(0.02);
        gsl_vector_set(x, (size_t)k, value);
    }
    const double strength = t[TW_TOTAL_CL] + 2.0 * (t[TW_TOTAL_CA] + t[TW_TOTAL_SO4]) + 1e-3;
    gsl_vector_set(x, (size_t)p->n, log(strength));
    gsl_vector_set(x, (size_t)p->n + 1, log(2.0 * strength));
}

/* pH by GSL, NaN when no start leads home. */
static double ph_by_gsl(const tw_water *water)
{
    static const double starts[] = {7.5, 8.5, 6.5, 9.3, 5.5, 7.0, 8.0, 10.0, 4.5, 6.0};
    problem p;
    lay_out(&p, water);
    const size_t n = (size_t)p.n + 2;
    gsl_vector *x = gsl_vector_alloc(n);
    gsl_multiroot_fsolver *solver = gsl_multiroot_fsolver_alloc(gsl_multiroot_fsolver_hybrids, n);
    gsl_multiroot_function f = {residuals, n, &p};
    double ph = NAN;
    for (size_t s = 0; s < sizeof starts / sizeof *starts && ph != ph; s++) {
        start_at(&p, starts[s], x);
        gsl_multiroot_fsolver_set(solver, &f, x);
        for (int i = 0; i < 400; i++) {
            const int stuck = gsl_multiroot_fsolver_iterate(solver) != GSL_SUCCESS;
            if (gsl_multiroot_test_residual(solver->f, 2e-12) == GSL_SUCCESS)
                ph = -gsl_vector_get(solver->x, 0) / log(10.0);
            if (stuck || ph == ph)
                break;
        }
    }
    gsl_multiroot_fsolver_free(solver);
    gsl_vector_free(x);
    return ph;
}

static void another_solver_finds_the_same_ph(void **unused)
{
    (void)unused;
    gsl_set_error_handler_off();
    uint64_t state = check_seed;
    double worst = 0.0;
    int lost = 0;
    for (int n = 0; n < waters; n++) {
        const tw_water w = draw(&state);
        tw_constants at;
        tw_speciation sp;
        assert_ok(tw_water_constants_at(w.temp_k, &at));
        if (tw_water_speciate(&at, &w, &sp) != TW_OK)
            fail_msg("water %d of seed %llu has no solution", n, (unsigned long long)check_seed);
        const double ph = ph_by_gsl(&w);
        lost += ph != ph;
        if (ph == ph && fabs(ph - sp.ph) > worst)
            worst = fabs(ph - sp.ph);
    }
    print_message("# %d waters, largest difference %.2g pH, GSL lost on %d\n", waters, worst, lost);
    assert_int_equal(lost, 0);
    assert_true(worst < 1e-9);
}

#else
static void another_solver_finds_the_same_ph(void **unused)
{
    (void)unused;
    (void)draw;
    skip();
}
#endif

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(another_solver_finds_the_same_ph)};
    if (argc > 2)
        waters = atoi(argv[2]);
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
