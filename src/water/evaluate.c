/* water/evaluate.c: what stands at one place of the search: molalities, sums, and their derivatives. This is where the
 * time goes. Loops over species run in blocks of lanes; sums over groups are written out by tools/gen/water_sums.py.
 * Equations: balance.h. */
#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "water/balance.h"

static const int TOTAL_OF_GROUP[TW_GROUPS] = {-1,          TW_TOTAL_NA,     TW_TOTAL_K,         TW_TOTAL_CA, TW_TOTAL_MG,
                                              TW_TOTAL_BORATE, TW_TOTAL_CYANURATE, TW_TOTAL_CL, TW_TOTAL_OTHER};

/* With calcite the calcium group is tied to carbonate and shares no total. */
static int is_shared(const tw_balance *b, tw_species_group g)
{
    return g != TW_GROUP_FREE && !(g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE);
}

void tw_water_balance_tie(tw_balance *b)
{
    if (b->ask == TW_ASK_OPEN)
        b->u[TW_U_CO3] = b->ln_co2 - b->at->ln_beta[TW_SPECIES_CO2] - 2.0 * b->u[TW_U_H] + b->ln_water;
}

/* ------------------------------------------------------------------------------------------ molalities */

/* ln gamma and its slope in I of one block, with r = sqrt(I):
 * ln g = -z2 r/(1 + size r) + per_i I,  d ln g/dI = -z2/(2 r (1 + size r)^2) + per_i. */
static inline void gammas(const tw_constants *at, int from, double strength, double r, double *ln_gamma, double *by_i)
{
    const double half_over_r = 0.5 / r;
    for (int l = 0; l < TW_LANES; l++) {
        const double z2 = at->ln_gamma_z2[from + l], per_i = at->ln_gamma_per_i[from + l];
        const double t = 1.0 / (1.0 + at->ln_gamma_size[from + l] * r);
        by_i[l] = per_i - z2 * half_over_r * t * t;
        ln_gamma[l] = per_i * strength - z2 * r * t;
    }
}

/* nu . u + water ln a_w of one block; PO4 and HOCl stand in the later blocks alone. */
static inline void exponents(const double *u, double ln_water, int from, double *e)
{
    for (int l = 0; l < TW_LANES; l++)
        e[l] = TW_WATER_H2O[from + l] * ln_water + TW_WATER_NU[TW_U_H][from + l] * u[TW_U_H] +
               (TW_WATER_NU[TW_U_CO3][from + l] * u[TW_U_CO3] + TW_WATER_NU[TW_U_SO4][from + l] * u[TW_U_SO4]);
    if (from >= TW_WATER_COMMON)
        for (int l = 0; l < TW_LANES; l++)
            e[l] += TW_WATER_NU[TW_U_PO4][from + l] * u[TW_U_PO4] + TW_WATER_NU[TW_U_HOCL][from + l] * u[TW_U_HOCL];
}

/* Lanes are made in arrays of their own, which no pointer reaches, so that compilers see that they are independent. */
static inline void put(tw_balance *b, int from, const double *m, const double *ln_gamma, const double *by_i)
{
    memcpy(b->m + from, m, TW_LANES * sizeof *m);
    memcpy(b->ln_gamma + from, ln_gamma, TW_LANES * sizeof *ln_gamma);
    memcpy(b->by_i + from, by_i, TW_LANES * sizeof *by_i);
}

/* Share each total out among the species of its group: a D1 + 2 a^2 D2 = T, D2 the species that holds the group's
 * part twice (Na2SO4). Calcium in balance with calcite has the activity `calcium` times what it had. */
static void share_out(tw_balance *b, double calcium, int with_dual)
{
    b->dual = 0.0;
    for (int i = 0; i < b->groups; i++) {
        const tw_species_group g = b->group[i];
        double sum;
        if (g == TW_GROUP_FREE)
            continue;
        if (!is_shared(b, g)) {
            tw_water_group_scale(g, b->m, calcium);
            continue;
        }
        const double total = b->total[TOTAL_OF_GROUP[g]];
        tw_water_group_sum(g, b->m, &sum);
        double a = total / sum;
        if (g == TW_GROUP_NA) {
            const double twice = b->m[TW_SPECIES_NA2SO4], once = sum - twice;
            a = 2.0 * total / (once + sqrt(once * once + 8.0 * twice * total));
            b->m[TW_SPECIES_NA2SO4] *= a;
        }
        tw_water_group_scale(g, b->m, a);
        if (with_dual)
            b->dual -= total * tw_log(a);
    }
}

void tw_water_balance_weigh(tw_balance *b, int with_dual)
{
    const double r = sqrt(b->ionic_strength);
    tw_water_balance_tie(b);
    for (int i = 0; i < b->blocks; i++) {
        const int from = b->block[i];
        double e[TW_LANES], ln_gamma[TW_LANES], by_i[TW_LANES];
        gammas(b->at, from, b->ionic_strength, r, ln_gamma, by_i);
        exponents(b->u, b->ln_water, from, e);
        for (int l = 0; l < TW_LANES; l++)
            e[l] += b->at->ln_beta[from + l] - ln_gamma[l];
        for (int l = 0; l < TW_LANES; l++)
            e[l] = tw_exp_lane(e[l]);
        put(b, from, e, ln_gamma, by_i);
    }
    share_out(b, b->ask == TW_ASK_CALCITE ? tw_exp(b->at->ln_ksp_calcite - b->u[TW_U_CO3]) : 1.0, with_dual);
}

/* e^x for |x| <= 0.04 by its series: the first term left out is 2e-16 there. */
static inline double exp_of_little(double x)
{
    const double x2 = x * x;
    return 1.0 + (x + x2 * ((0.5 + x * (1.0 / 6.0)) + x2 * ((1.0 / 24.0 + x * (1.0 / 120.0)) + x2 * (1.0 / 720.0 + x * (1.0 / 5040.0)))));
}

void tw_water_balance_move(tw_balance *b, const double from_u[TW_UNKNOWNS], double strength, double ln_water)
{
    const double r = sqrt(b->ionic_strength);
    double by[TW_UNKNOWNS], most = 4.0 * fabs(b->ionic_strength - strength) / strength;
    tw_water_balance_tie(b);
    for (int k = 0; k < TW_UNKNOWNS; k++) {
        by[k] = b->u[k] - from_u[k];
        most = fabs(by[k]) > most ? fabs(by[k]) : most;
    }
    if (!(most < 0.008)) {
        tw_water_balance_weigh(b, 0);
        return;
    }
    for (int i = 0; i < b->blocks; i++) {
        const int from = b->block[i];
        double e[TW_LANES], ln_gamma[TW_LANES], by_i[TW_LANES];
        gammas(b->at, from, b->ionic_strength, r, ln_gamma, by_i);
        exponents(by, b->ln_water - ln_water, from, e);
        for (int l = 0; l < TW_LANES; l++)
            e[l] = b->m[from + l] * exp_of_little(e[l] - (ln_gamma[l] - b->ln_gamma[from + l]));
        put(b, from, e, ln_gamma, by_i);
    }
    share_out(b, b->ask == TW_ASK_CALCITE ? tw_exp(-by[TW_U_CO3]) : 1.0, 0);
}

/* ------------------------------------------------------------------------------------------------ sums */

/* In balance with calcite calcium's own logarithm is a constant - u_co3: each of its species holds one CO3 less. */
static void tie_calcium(tw_water_linear *x, tw_water_moments *g)
{
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (k < TW_U_CO3)
            g->xx[TW_U_CO3][k] -= x->x[k];
        else if (k > TW_U_CO3)
            g->xx[k][TW_U_CO3] -= x->x[k];
    g->xx[TW_U_CO3][TW_U_CO3] -= 2.0 * x->x[TW_U_CO3] - x->m;
    x->x[TW_U_CO3] -= x->m;
    g->slope_x[TW_U_CO3] -= g->slope_m;
    g->charge_x[TW_U_CO3] -= x->charge;
}

/* What a group adds. */
static inline void add(tw_balance *b, const tw_water_linear *x, const tw_water_moments *g, int n)
{
    b->solutes += x->m;
    b->solutes_by_i -= g->slope_m;
    b->strength += x->charge;
    b->strength_by_i -= g->slope_charge;
    for (int k = 0; k < n; k++) {
        b->sum[k] += x->x[k];
        b->sum_by_i[k] -= g->slope_x[k];
        b->strength_by_u[k] += g->charge_x[k];
        b->solutes_by_u[k] += x->x[k];
        for (int c = 0; c <= k; c++)
            b->jacobian[k][c] += g->xx[k][c];
    }
}

/* The group's own logarithm follows the others: with held parts counted,
 *     d ln a = -(sum held nu m du - sum held slope m dI) / sum held^2 m,
 * which takes from every derivative what moves along with it. Held is 1 but for Na2SO4, which has 2. */
static inline void eliminate(tw_balance *b, tw_species_group group, const tw_water_linear *at, const tw_water_moments *g, int n)
{
    double parts = at->m, slope = g->slope_m, charge = at->charge, number = at->m, x[TW_UNKNOWNS];
    for (int k = 0; k < n; k++)
        x[k] = at->x[k];
    if (group == TW_GROUP_NA) {
        const double m = b->m[TW_SPECIES_NA2SO4];
        parts += 3.0 * m;
        slope += b->by_i[TW_SPECIES_NA2SO4] * m;
        number += m;
        x[TW_U_SO4] += m;
    }
    const double inverse = 1.0 / parts;
    for (int k = 0; k < n; k++) {
        const double f = x[k] * inverse;
        b->sum_by_i[k] += f * slope;
        b->strength_by_u[k] -= f * charge;
        b->solutes_by_u[k] -= f * number;
        for (int c = 0; c <= k; c++)
            b->jacobian[k][c] -= f * x[c];
    }
    b->strength_by_i += charge * slope * inverse;
    b->solutes_by_i += number * slope * inverse;
}

/* Open to CO2, u_co3 is a constant - 2 u_h: what answers to it answers to u_h. */
static void tie_carbonate(tw_balance *b)
{
    double (*const j)[TW_UNKNOWNS] = b->jacobian;
    b->sum[TW_U_H] -= 2.0 * b->sum[TW_U_CO3];
    b->sum_by_i[TW_U_H] -= 2.0 * b->sum_by_i[TW_U_CO3];
    b->strength_by_u[TW_U_H] -= 2.0 * b->strength_by_u[TW_U_CO3];
    b->solutes_by_u[TW_U_H] -= 2.0 * b->solutes_by_u[TW_U_CO3];
    j[TW_U_H][TW_U_H] += 4.0 * (j[TW_U_CO3][TW_U_CO3] - j[TW_U_CO3][TW_U_H]);
    for (int k = TW_U_SO4; k < b->unknowns; k++)
        j[k][TW_U_H] -= 2.0 * j[k][TW_U_CO3];
}

static void clear_sums(tw_balance *b)
{
    for (int k = 0; k < TW_UNKNOWNS; k++) {
        b->sum[k] = b->sum_by_i[k] = b->strength_by_u[k] = b->solutes_by_u[k] = 0.0;
        for (int c = 0; c < TW_UNKNOWNS; c++)
            b->jacobian[k][c] = 0.0;
    }
    b->strength = b->solutes = b->inert_mol_per_kg;
    b->strength_by_i = b->solutes_by_i = 0.0;
}

static inline void add_groups(tw_balance *b, int n)
{
    for (int i = 0; i < b->groups; i++) {
        const tw_species_group g = b->group[i];
        tw_water_linear x;
        tw_water_moments moments;
        tw_water_group_linear(g, b->m, &x);
        tw_water_group_moments(g, b->m, b->by_i, &moments);
        if (is_shared(b, g))
            eliminate(b, g, &x, &moments, n);
        else if (g == TW_GROUP_CA)
            tie_calcium(&x, &moments);
        add(b, &x, &moments, n);
    }
}

void tw_water_balance_add_up(tw_balance *b)
{
    clear_sums(b);
    if (b->unknowns <= TW_U_PO4)
        add_groups(b, TW_U_PO4);
    else
        add_groups(b, TW_UNKNOWNS);
    if (b->ask == TW_ASK_OPEN)
        tie_carbonate(b);
    for (int k = 0; k < b->unknowns; k++) {
        b->strength_by_u[k] *= 0.5;
        for (int c = 0; c < k; c++)
            b->jacobian[c][k] = b->jacobian[k][c];
    }
    b->strength *= 0.5;
    b->strength_by_i *= 0.5;
    b->dual += b->solutes;
}

void tw_water_balance_total_up(tw_balance *b)
{
    double m = b->inert_mol_per_kg, charge = b->inert_mol_per_kg;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        b->sum[k] = 0.0;
    for (int i = 0; i < b->groups; i++) {
        tw_water_linear x;
        tw_water_group_linear(b->group[i], b->m, &x);
        m += x.m;
        charge += x.charge;
        for (int k = 0; k < TW_UNKNOWNS; k++)
            b->sum[k] += x.x[k];
        if (b->group[i] == TW_GROUP_CA)
            b->calcium = x.m;
    }
    b->solutes = m;
    b->strength = 0.5 * charge;
}
