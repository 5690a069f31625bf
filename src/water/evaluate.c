/* water/evaluate.c: what stands at one place of the search: molalities, sums, and their derivatives. This is where the
 * time goes. Loops over species run in blocks of lanes; sums over groups are written out by tools/gen/water_sums.py.
 * Equations: balance.h. */
#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/pick.h"
#include "water/balance.h"

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

/* Each total is shared out among the species of its group. */
static void share_out(tw_balance *b)
{
    for (int i = 0; i < b->groups; i++)
        if (b->to_share[i] > 0.0)
            b->is_plain ? tw_water_group_share_3(b->group[i], b->to_share[i], b->m)
                        : tw_water_group_share_5(b->group[i], b->to_share[i], b->m);
}

void tw_water_balance_weigh(tw_balance *b)
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
    b->has_slopes = true;
    share_out(b);
    if (b->ask == TW_ASK_CALCITE)
        tw_water_calcite_scale(b->m, tw_exp(b->at->ln_ksp_calcite - b->u[TW_U_CO3]));
}

/* A water one solve away keeps its molalities but for the shares of its groups: no exponential is needed. Each solve
 * multiplies them anew; after so many they are made from nothing, so that no rounding gathers. */
#define MOST_SOLVES 64

void tw_water_balance_carry_over(tw_balance *b, const tw_speciation *sp)
{
    if (!(sp->made_at_k == b->at->temp_k) || sp->made_with != b->at->set || sp->made_of != b->have ||
        sp->made_for != (int)b->ask || sp->solves_ago >= MOST_SOLVES)
        return;
    for (int i = 0; i < b->blocks; i++) {
        const int from = b->block[i];
        memcpy(b->m + from, sp->mol_per_kg + from, TW_LANES * sizeof *b->m);
        memcpy(b->ln_gamma + from, sp->ln_gamma + from, TW_LANES * sizeof *b->ln_gamma);
    }
    b->newton = sp->newton;
    b->solves_ago = sp->solves_ago + 1;
    b->is_carried = true;
    share_out(b);
}

/* e^x for |x| <= 0.12 by its series: the first term left out is 2e-16 there. */
static inline double exp_of_little(double x)
{
    const double x2 = x * x, x4 = x2 * x2;
    return 1.0 + (x + (x2 * ((0.5 + x * (1.0 / 6.0)) + x2 * (1.0 / 24.0 + x * (1.0 / 120.0))) +
                       x4 * x2 * ((1.0 / 720.0 + x * (1.0 / 5040.0)) + x2 * (1.0 / 40320.0 + x * (1.0 / 362880.0)))));
}

/* Molalities of a block after a step `by`, `water` of the unknowns and ln a_w. */
static inline void move_block(tw_balance *b, int from, const double *by, double water, double r)
{
    double e[TW_LANES], ln_gamma[TW_LANES], by_i[TW_LANES];
    gammas(b->at, from, b->ionic_strength, r, ln_gamma, by_i);
    exponents(by, water, from, e);
    for (int l = 0; l < TW_LANES; l++)
        e[l] = b->m[from + l] * exp_of_little(e[l] - (ln_gamma[l] - b->ln_gamma[from + l]));
    put(b, from, e, ln_gamma, by_i);
}

/* The same after a step so small that the cube of it in an exponent is the last that counts, and that of I leaves the slopes
 * of ln gamma as they are. */
static inline void nudge_block(tw_balance *b, int from, const double *by, double water, double grown)
{
    double e[TW_LANES];
    exponents(by, water, from, e);
    for (int l = 0; l < TW_LANES; l++) {
        const double turn = b->by_i[from + l] * grown, x = e[l] - turn;
        b->ln_gamma[from + l] += turn;
        b->m[from + l] += b->m[from + l] * (x + x * x * (0.5 + x * (1.0 / 6.0)));
    }
}

void tw_water_balance_move(tw_balance *b, const double from_u[TW_UNKNOWNS], double strength, double ln_water)
{
    const double r = sqrt(b->ionic_strength);
    const double grown = b->ionic_strength - strength, share = fabs(grown) / strength;
    double by[TW_UNKNOWNS], most = 4.0 * share;
    tw_water_balance_tie(b);
    for (int k = 0; k < TW_UNKNOWNS; k++) {
        by[k] = b->u[k] - from_u[k];
        most = tw_max(fabs(by[k]), most);
    }
    if (!(most < 0.024)) { /* five of them at most stand in an exponent */
        tw_water_balance_weigh(b);
        b->solves_ago = 0;
        return;
    }
    if (b->has_slopes && most < 1e-4 && share < 1e-7)
        for (int i = 0; i < b->blocks; i++)
            nudge_block(b, b->block[i], by, b->ln_water - ln_water, grown);
    else
        for (int i = 0; i < b->blocks; i++)
            move_block(b, b->block[i], by, b->ln_water - ln_water, r);
    b->has_slopes = true;
    share_out(b);
    if (b->ask == TW_ASK_CALCITE)
        tw_water_calcite_scale(b->m, tw_exp(-by[TW_U_CO3]));
}

/* ------------------------------------------------------------------------------------------------ sums */

/* Open to CO2, u_co3 is a constant - 2 u_h: what answers to it answers to u_h. */
static void tie_carbonate(tw_water_sums *b)
{
    double (*const j)[TW_UNKNOWNS] = b->jacobian;
    b->sum[TW_U_H] -= 2.0 * b->sum[TW_U_CO3];
    b->sum_by_i[TW_U_H] -= 2.0 * b->sum_by_i[TW_U_CO3];
    b->strength_by_u[TW_U_H] -= 2.0 * b->strength_by_u[TW_U_CO3];
    b->solutes_by_u[TW_U_H] -= 2.0 * b->solutes_by_u[TW_U_CO3];
    j[TW_U_H][TW_U_H] += 4.0 * (j[TW_U_CO3][TW_U_CO3] - j[TW_U_CO3][TW_U_H]);
    for (int k = TW_U_SO4; k < TW_UNKNOWNS; k++)
        j[k][TW_U_H] -= 2.0 * j[k][TW_U_CO3];
}

void tw_water_balance_add_up(tw_balance *b)
{
    tw_water_sums *s = &b->here;
    const int unknowns = b->is_plain ? TW_U_PO4 : TW_UNKNOWNS;
    memset(s, 0, sizeof *s);
    s->strength = s->solutes = b->inert_mol_per_kg;
    for (int i = 0; i < b->groups; i++) {
        const tw_species_group g = b->group[i];
        if (g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE)
            tw_water_calcite_add_up(b->m, b->by_i, s);
        else if (b->is_plain)
            tw_water_group_add_up_3(g, b->m, b->by_i, s);
        else
            tw_water_group_add_up_5(g, b->m, b->by_i, s);
    }
    if (b->ask == TW_ASK_OPEN)
        tie_carbonate(s);
    for (int k = 0; k < unknowns; k++) {
        s->strength_by_u[k] *= 0.5;
        for (int c = 0; c < k; c++)
            s->jacobian[c][k] = s->jacobian[k][c];
    }
    s->strength *= 0.5;
    s->strength_by_i *= 0.5;
}

void tw_water_balance_total_up(tw_balance *b)
{
    tw_water_sums *s = &b->here;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        s->sum[k] = 0.0;
    s->strength = s->solutes = b->inert_mol_per_kg;
    for (int i = 0; i < b->groups; i++)
        if (b->is_plain)
            tw_water_group_total_up_3(b->group[i], b->m, s);
        else
            tw_water_group_total_up_5(b->group[i], b->m, s);
    s->strength *= 0.5;
    b->calcium = b->ask == TW_ASK_CALCITE ? tw_water_calcite_sum(b->m) : b->total[TW_TOTAL_CA];
}
