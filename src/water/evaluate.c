/* water/evaluate.c: what stands at one place of the search: molalities, sums, and their derivatives. This is where the
 * time goes; the loops are laid out for it. Equations: balance.h. */
#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/elementary_inline.h"
#include "water/balance.h"

static const int TOTAL_OF_GROUP[TW_GROUPS] = TW_BALANCE_TOTAL_OF_GROUP;

/* e^(ln beta + ...) of every packed species, and the slope of its ln gamma in I. With r = sqrt(I):
 * ln g = -z2 r/(1 + size r) + per_i I,  d ln g/dI = -z2/(2 r (1 + size r)^2) + per_i. */
static void weights(tw_balance *b)
{
    const double r = sqrt(b->ionic_strength), half_over_r = 0.5 / r, strength = b->ionic_strength;
    const double ln_water = b->ln_water;
    for (int from = 0; from < b->n; from += TW_LANES) {
        double e[TW_LANES];
        for (int l = 0; l < TW_LANES; l++) {
            const int i = from + l;
            const double t = 1.0 / (1.0 + b->law_size[i] * r);
            b->by_i[i] = b->law_per_i[i] - b->law_z2[i] * half_over_r * t * t;
            e[l] = b->base[i] + b->water[i] * ln_water - (b->law_per_i[i] * strength - b->law_z2[i] * r * t);
        }
        for (int k = 0; k < TW_UNKNOWNS; k++) {
            const double u = b->u[k];
            if (b->present[k])
                for (int l = 0; l < TW_LANES; l++)
                    e[l] += b->nu[k][from + l] * u;
        }
        for (int l = 0; l < TW_LANES; l++)
            b->m[from + l] = tw_exp_lane(e[l]);
    }
}

/* Share the total of a group out among its species: a D1 + 2 a^2 D2 = T, D2 the species that holds the group's
 * part twice. Returns a. */
static double share_out(tw_balance *b, int g)
{
    const double total = b->total[TOTAL_OF_GROUP[g]];
    const int from = b->begin[g], to = b->begin[g + 1];
    double once = 0.0;
    for (int i = from; i < to; i++)
        once += b->m[i];
    if (b->twice < from || b->twice >= to) {
        const double a = total / once;
        for (int i = from; i < to; i++)
            b->m[i] *= a;
        return a;
    }
    const double twice = b->m[b->twice];
    once -= twice;
    const double a = 2.0 * total / (once + sqrt(once * once + 8.0 * twice * total));
    for (int i = from; i < to; i++)
        b->m[i] *= a;
    b->m[b->twice] *= a;
    return a;
}

/* Sums over one group; x is nu m of each unknown, by its place in the list of unknowns. */
typedef struct {
    double m, slope_m;            /* of m, of m d ln g/dI                                    */
    double charge, slope_charge;  /* of z2 m, of z2 m d ln g/dI                              */
    double x[TW_UNKNOWNS], slope_x[TW_UNKNOWNS], charge_x[TW_UNKNOWNS], xx[TW_UNKNOWNS][TW_UNKNOWNS];
} group_sums;

static void add_group(const tw_balance *b, int from, int to, const int *list, int count, group_sums *g)
{
    g->m = g->slope_m = g->charge = g->slope_charge = 0.0;
    for (int a = 0; a < count; a++) {
        g->x[a] = g->slope_x[a] = g->charge_x[a] = 0.0;
        for (int c = 0; c <= a; c++)
            g->xx[a][c] = 0.0;
    }
    for (int i = from; i < to; i++) {
        const double m = b->m[i], slope = b->by_i[i], z2 = b->z2[i];
        g->m += m;
        g->slope_m += slope * m;
        g->charge += z2 * m;
        g->slope_charge += slope * (z2 * m);
        for (int a = 0; a < count; a++) {
            const double x = b->nu[list[a]][i] * m;
            g->x[a] += x;
            g->slope_x[a] += slope * x;
            g->charge_x[a] += z2 * x;
            for (int c = 0; c <= a; c++)
                g->xx[a][c] += x * b->nu[list[c]][i];
        }
    }
}

/* The same written out for H+, CO3 and SO4, the unknowns of most waters: everything stays in registers. */
static void add_group_of_three(const tw_balance *b, int from, int to, group_sums *g)
{
    const double *nu0 = b->nu[TW_U_H], *nu1 = b->nu[TW_U_CO3], *nu2 = b->nu[TW_U_SO4];
    double m_ = 0.0, sm = 0.0, zm = 0.0, szm = 0.0, x0 = 0.0, x1 = 0.0, x2 = 0.0, s0 = 0.0, s1 = 0.0, s2 = 0.0,
           z0 = 0.0, z1 = 0.0, z2_ = 0.0, j00 = 0.0, j10 = 0.0, j11 = 0.0, j20 = 0.0, j21 = 0.0, j22 = 0.0;
    for (int i = from; i < to; i++) {
        const double m = b->m[i], slope = b->by_i[i], z2 = b->z2[i];
        const double a = nu0[i] * m, c = nu1[i] * m, d = nu2[i] * m;
        m_ += m;
        sm += slope * m;
        zm += z2 * m;
        szm += slope * (z2 * m);
        x0 += a;
        x1 += c;
        x2 += d;
        s0 += slope * a;
        s1 += slope * c;
        s2 += slope * d;
        z0 += z2 * a;
        z1 += z2 * c;
        z2_ += z2 * d;
        j00 += a * nu0[i];
        j10 += c * nu0[i];
        j11 += c * nu1[i];
        j20 += d * nu0[i];
        j21 += d * nu1[i];
        j22 += d * nu2[i];
    }
    g->m = m_;
    g->slope_m = sm;
    g->charge = zm;
    g->slope_charge = szm;
    g->x[0] = x0;
    g->x[1] = x1;
    g->x[2] = x2;
    g->slope_x[0] = s0;
    g->slope_x[1] = s1;
    g->slope_x[2] = s2;
    g->charge_x[0] = z0;
    g->charge_x[1] = z1;
    g->charge_x[2] = z2_;
    g->xx[0][0] = j00;
    g->xx[1][0] = j10;
    g->xx[1][1] = j11;
    g->xx[2][0] = j20;
    g->xx[2][1] = j21;
    g->xx[2][2] = j22;
}

/* The place itself: what every group adds. */
static void add_up(tw_balance *b, const int *list, int count, const group_sums *g)
{
    b->solutes += g->m;
    b->solutes_by_i -= g->slope_m;
    b->strength += g->charge;
    b->strength_by_i -= g->slope_charge;
    for (int a = 0; a < count; a++) {
        const int k = list[a];
        b->sum[k] += g->x[a];
        b->sum_by_i[k] -= g->slope_x[a];
        b->strength_by_u[k] += g->charge_x[a];
        b->solutes_by_u[k] += g->x[a];
        for (int c = 0; c <= a; c++)
            b->jacobian[k][list[c]] += g->xx[a][c];
    }
}

/* The group's own logarithm follows the others: with held parts counted,
 *     d ln a = -(sum held nu m du - sum held slope m dI) / sum held^2 m,
 * which takes from every derivative what moves along with it. Held is 1 but for one species, which has 2. */
static void eliminate(tw_balance *b, const int *list, int count, const group_sums *g, int twice)
{
    double parts = g->m, slope = g->slope_m, charge = g->charge, number = g->m, x[TW_UNKNOWNS];
    for (int a = 0; a < count; a++)
        x[a] = g->x[a];
    if (twice >= 0) {
        const double m = b->m[twice];
        parts += 3.0 * m;
        slope += b->by_i[twice] * m;
        charge += b->z2[twice] * m;
        number += m;
        for (int a = 0; a < count; a++)
            x[a] += b->nu[list[a]][twice] * m;
    }
    const double inverse = 1.0 / parts;
    for (int a = 0; a < count; a++) {
        const int k = list[a];
        const double f = x[a] * inverse;
        b->sum_by_i[k] += f * slope;
        b->strength_by_u[k] -= f * charge;
        b->solutes_by_u[k] -= f * number;
        for (int c = 0; c <= a; c++)
            b->jacobian[k][list[c]] -= f * x[c];
    }
    b->strength_by_i += charge * slope * inverse;
    b->solutes_by_i += number * slope * inverse;
}

/* Cl2Cy- and HCl2Cy, and how they move: the group's derivative of a part of it. */
static void held_chlorine(tw_balance *b, const int *list, int count, const group_sums *g)
{
    for (int i = b->begin[TW_GROUP_CYANURATE]; i < b->begin[TW_GROUP_CYANURATE + 1]; i++) {
        if (b->which[i] != TW_SPECIES_CL2CY && b->which[i] != TW_SPECIES_HCL2CY)
            continue;
        b->held_chlorine += b->m[i];
        for (int a = 0; a < count; a++)
            b->held_by_u[list[a]] += b->m[i] * (b->nu[list[a]][i] - g->x[a] / g->m);
    }
}

static void clear_sums(tw_balance *b)
{
    memset(b->sum, 0, sizeof b->sum);
    memset(b->jacobian, 0, sizeof b->jacobian);
    memset(b->sum_by_i, 0, sizeof b->sum_by_i);
    memset(b->strength_by_u, 0, sizeof b->strength_by_u);
    memset(b->solutes_by_u, 0, sizeof b->solutes_by_u);
    memset(b->held_by_u, 0, sizeof b->held_by_u);
    b->strength = b->solutes = b->inert_mol_per_kg;
    b->strength_by_i = b->solutes_by_i = b->held_chlorine = b->dual = 0.0;
}

/* With calcite the calcium group is tied to carbonate and shares no total. */
static int is_shared(const tw_balance *b, int g)
{
    return g != TW_GROUP_FREE && !(g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE);
}

static void finish_sums(tw_balance *b, const int *list, int count)
{
    for (int a = 0; a < count; a++) {
        b->strength_by_u[list[a]] *= 0.5;
        for (int c = 0; c < a; c++)
            b->jacobian[list[c]][list[a]] = b->jacobian[list[a]][list[c]];
    }
    b->strength *= 0.5;
    b->strength_by_i *= 0.5;
    b->dual += b->solutes;
}

void tw_water_balance_evaluate(tw_balance *b, int with_dual)
{
    int list[TW_UNKNOWNS], count = 0;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (b->present[k])
            list[count++] = k;
    const int three = count == 3 && list[2] == TW_U_SO4;
    clear_sums(b);
    weights(b);
    for (int g = 0; g < TW_GROUP_CL; g++) {
        const int from = b->begin[g], to = b->begin[g + 1];
        if (from == to)
            continue;
        group_sums sums;
        if (is_shared(b, g)) {
            const double a = share_out(b, g);
            if (with_dual)
                b->dual -= b->total[TOTAL_OF_GROUP[g]] * tw_log(a);
        }
        if (three)
            add_group_of_three(b, from, to, &sums);
        else
            add_group(b, from, to, list, count, &sums);
        add_up(b, list, count, &sums);
        if (is_shared(b, g))
            eliminate(b, list, count, &sums, b->twice >= from && b->twice < to ? b->twice : -1);
        if (g == TW_GROUP_CYANURATE && b->titrated)
            held_chlorine(b, list, count, &sums);
    }
    finish_sums(b, list, count);
}

void tw_water_balance_molalities(tw_balance *b)
{
    weights(b);
    b->solutes = b->inert_mol_per_kg;
    for (int g = 0; g < TW_GROUP_CL; g++) {
        const int from = b->begin[g], to = b->begin[g + 1];
        if (from == to)
            continue;
        if (is_shared(b, g))
            share_out(b, g);
        double sum = 0.0;
        for (int i = from; i < to; i++)
            sum += b->m[i];
        b->solutes += sum;
        if (g == TW_GROUP_CA)
            b->calcium = sum;
    }
}
