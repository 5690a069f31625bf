/* water/settle.c: from a start to the solution of the equations in balance.h.
 *
 * First Newton's method on everything at once, ionic strength included: from the closed-form start it
 * takes three to five steps. Should it ever not settle, what follows needs no luck: the ionic strength is
 * the root of one continuous function, strength(species at frozen I) - I, which is positive near zero and
 * negative above a bound that the totals give, so bisection closes in on it; and at each frozen I the problem is
 * convex with a positive definite Hessian, where damped Newton steps descend to the one minimum from any start. */
#include "water/balance.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/pick.h"

#define JOINT_STEPS 40
#define MOST 1e6     /* no step is as large */
#define NEAR 3e-4    /* after a full step of this size a short one does */
#define SETTLED 1e-12 /* what is left of the logarithms, and how far that of the water activity goes */
#define FROZEN_STEPS 4000
#define STRENGTH_MOST 100.0 /* 10 mol/kg with a charge of 3 make 45, and as much again in acid or base */

/* The water activity belongs to the sum of solutes. More than half is never met. */
static void set_water(tw_balance *b, double solutes)
{
    const double share = TW_WATER_LESS_PER_MOL * solutes;
    b->solutes = solutes;
    b->ln_water = tw_log1p(-tw_min(share, 0.5));
}

/* The same after a step. A small one by ln(1 - q) = -q - q^2/2; the first term left out is 3e-16. */
static void move_water(tw_balance *b, double solutes)
{
    const double before = b->solutes, q = TW_WATER_LESS_PER_MOL * (solutes - before) / (1.0 - TW_WATER_LESS_PER_MOL * before);
    if (fabs(q) < 1e-5) {
        b->solutes = solutes;
        b->ln_water -= q * (1.0 + 0.5 * q);
    } else {
        set_water(b, tw_max(solutes, 0.0));
    }
}

/* ---------------------------------------------------------------------------------------------- start */

/* Activity coefficients that do for a start (Davies), by charge. */
static double start_gamma(double strength, double charge)
{
    const double r = sqrt(strength);
    return tw_exp(-1.17 * charge * charge * (r / (1.0 + r) - 0.3 * strength));
}

static double start_strength(const tw_balance *b)
{
    const double *t = b->total;
    const double twice = t[TW_TOTAL_NA] + t[TW_TOTAL_K] + t[TW_TOTAL_CL] + t[TW_TOTAL_OTHER] + fabs(b->alk) +
                         3.2 * (t[TW_TOTAL_CA] + t[TW_TOTAL_MG] + t[TW_TOTAL_SO4]);
    return tw_clamp(0.5 * twice, 1e-7, 1.0);
}

/* Alkalinity that borate, cyanurate, hypochlorite and phosphate hold at an activity h of H+. */
static double other_alk(const tw_balance *b, double h, double g1)
{
    const double *t = b->total, *beta = b->at->ln_beta;
    const double borate = tw_exp(beta[TW_SPECIES_H2BO3]) / g1, cy = tw_exp(beta[TW_SPECIES_H2CY]) / g1,
                 ocl = tw_exp(beta[TW_SPECIES_OCL]) / g1;
    return t[TW_TOTAL_BORATE] * borate / (borate + h) + t[TW_TOTAL_CYANURATE] * cy / (cy + h) +
           t[TW_TOTAL_ACTIVE_CHLORINE] * ocl / (ocl + h) + 1.5 * t[TW_TOTAL_PHOSPHATE];
}

/* Root of h - q/h = -alk: acid or hydroxide alone. */
static double h_of_rest(double alk, double q)
{
    const double root = sqrt(alk * alk + 4.0 * q);
    return alk > 0.0 ? 2.0 * q / (alk + root) : 0.5 * (root - alk);
}

/* h from carbonate alkalinity in closed form: alk (h^2 + k1 h + k1 k2) = dic (k1 h + 2 k1 k2), or at a CO2
 * activity c: alk h^2 - (k1 c + kw) h - 2 k1 k2 c = 0. Outside of what carbonate can hold: acid or hydroxide. */
static double start_h(const tw_balance *b, double g1, double g2)
{
    const double *beta = b->at->ln_beta;
    const double k1 = tw_exp(beta[TW_SPECIES_HCO3] - beta[TW_SPECIES_CO2]) / g1;
    const double k2 = tw_exp(-beta[TW_SPECIES_HCO3]) * g1 / g2;
    const double kw = tw_exp(beta[TW_SPECIES_OH]) / g1;
    const double alk = b->alk - other_alk(b, 3.2e-8, g1);
    if (b->ask == TW_ASK_OPEN) {
        const double c = tw_exp(b->ln_co2), q = k1 * c + kw;
        return alk <= 2.0 * sqrt(q) ? h_of_rest(alk, q) : (q + sqrt(q * q + 8.0 * k1 * k2 * c * alk)) / (2.0 * alk);
    }
    const double dic = b->present[TW_U_CO3] ? b->total[TW_TOTAL_DIC] + (b->ask == TW_ASK_CALCITE ? 1e-4 : 0.0) : 0.0;
    if (alk <= 0.02 * dic)
        return h_of_rest(alk, k1 * dic + kw);
    if (alk >= 1.9 * dic)
        return h_of_rest(alk - 1.9 * dic, kw);
    const double minus_b = k1 * (dic - alk);
    const double root = sqrt(minus_b * minus_b - 4.0 * alk * k1 * k2 * (alk - 2.0 * dic));
    return minus_b > 0.0 ? (minus_b + root) / (2.0 * alk)
                         : 2.0 * k1 * k2 * (2.0 * dic - alk) / (root - minus_b);
}

/* Free HOCl when cyanurate binds it: C/(1 + OCl/HOCl + binding). */
static double start_hocl(const tw_balance *b, double h, double g1)
{
    const double *beta = b->at->ln_beta;
    const double chlorine = b->total[TW_TOTAL_ACTIVE_CHLORINE], ring = b->total[TW_TOTAL_CYANURATE];
    const double ocl = tw_exp(beta[TW_SPECIES_OCL]) / (h * g1);
    const double unbound = ring > chlorine ? ring - 0.7 * chlorine : 0.3 * ring;
    const double cy = tw_exp(beta[TW_SPECIES_H2CY]) / g1, bound = tw_exp(beta[TW_SPECIES_HCLCY]) / g1;
    return chlorine / (1.0 + ocl + unbound * bound / (h + cy));
}

static double start_carbonate(const tw_balance *b, double h, double g1, double g2)
{
    const double *beta = b->at->ln_beta;
    const double hco3 = tw_exp(beta[TW_SPECIES_HCO3]) * h / g1, co2 = tw_exp(beta[TW_SPECIES_CO2]) * h * h;
    if (b->ask == TW_ASK_DIC) {
        const double kw = tw_exp(beta[TW_SPECIES_OH]) / g1;
        const double left = b->alk - other_alk(b, h, g1) - kw / h + h / g1;
        return tw_max(left, 0.02 * tw_max(b->alk, 1e-5)) / (hco3 + 2.0 / g2);
    }
    const double dic = b->total[TW_TOTAL_DIC] + (b->ask == TW_ASK_CALCITE ? 1e-6 : 0.0);
    return dic / (1.0 / g2 + hco3 + co2);
}

static double start_phosphate(const tw_balance *b, double h, double g1, double g2)
{
    const double *beta = b->at->ln_beta;
    const double g3 = g2 * g2 * g1;
    return 0.8 * b->total[TW_TOTAL_PHOSPHATE] /
           (1.0 / g3 + tw_exp(beta[TW_SPECIES_HPO4]) * h / g2 + tw_exp(beta[TW_SPECIES_H2PO4]) * h * h / g1 +
            tw_exp(beta[TW_SPECIES_H3PO4]) * h * h * h);
}

void tw_water_balance_start_cold(tw_balance *b)
{
    b->ionic_strength = start_strength(b);
    set_water(b, 2.0 * b->ionic_strength);
    const double g1 = start_gamma(b->ionic_strength, 1.0), g2 = start_gamma(b->ionic_strength, 2.0);
    double h = tw_exp(b->u[TW_U_H]);
    if (b->ask != TW_ASK_AT_PH && b->ask != TW_ASK_DIC) {
        h = start_h(b, g1, g2);
        b->u[TW_U_H] = tw_log(h);
    }
    if (b->present[TW_U_CO3] && b->ask != TW_ASK_OPEN)
        b->u[TW_U_CO3] = tw_log(start_carbonate(b, h, g1, g2));
    if (b->present[TW_U_SO4])
        b->u[TW_U_SO4] = tw_log(0.8 * g2 * b->total[TW_TOTAL_SO4]);
    if (b->present[TW_U_PO4])
        b->u[TW_U_PO4] = tw_log(start_phosphate(b, h, g1, g2));
    if (b->present[TW_U_HOCL])
        b->u[TW_U_HOCL] = tw_log(start_hocl(b, h, g1));
}

void tw_water_balance_start_from(tw_balance *b, const tw_speciation *sp)
{
    if (b->have & ~sp->made_of & TW_WATER_UNKNOWN_BITS) {
        tw_water_balance_start_cold(b); /* something new is in the water */
        return;
    }
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (b->present[k])
            b->u[k] = sp->ln_activity[k];
    b->ionic_strength = sp->ionic_strength_mol_per_kg;
    set_water(b, sp->sum_mol_per_kg);
    tw_water_balance_carry_over(b, sp);
}

/* --------------------------------------------------------------------------------------------- Newton */

/* Alkalinity as sums tell it: what takes the place of the balance of carbon when that is asked for (DIC). */
static double alkalinity_of(const double *sum)
{
    return 2.0 * sum[TW_U_CO3] + 3.0 * sum[TW_U_PO4] - sum[TW_U_H];
}

/* What the balances are off by. */
static void find_residuals(const tw_balance *b, double *x)
{
    for (int r = 0; r < b->n; r++)
        x[r] = b->here.sum[b->unknown[r]] - b->wanted[b->unknown[r]];
    if (b->ask == TW_ASK_DIC) /* CO3 stands first: the pH is known */
        x[0] = alkalinity_of(b->here.sum) - b->alk;
}

static void assemble(tw_balance *b)
{
    for (int r = 0; r < b->n; r++) {
        const int k = b->unknown[r];
        b->newton.by_i[r] = b->here.sum_by_i[k];
        b->newton.strength_by_u[r] = b->here.strength_by_u[k];
        b->newton.solutes_by_u[r] = b->here.solutes_by_u[k];
        for (int c = 0; c < b->n; c++)
            b->newton.row[r][c] = b->here.jacobian[k][b->unknown[c]];
    }
    b->newton.solutes_by_i = b->here.solutes_by_i;
    if (b->ask == TW_ASK_DIC) {
        b->newton.by_i[0] = alkalinity_of(b->here.sum_by_i);
        for (int c = 0; c < b->n; c++)
            b->newton.row[0][c] = alkalinity_of(b->here.jacobian[b->unknown[c]]); /* symmetric */
    }
}

/* Three unknowns, of any water without phosphate and chlorine: the inverse by cofactors, which divides once and is
 * there for several steps. False when the matrix is not positive definite. */
static bool invert_three(double a[TW_UNKNOWNS][TW_UNKNOWNS])
{
    const double c00 = a[1][1] * a[2][2] - a[1][2] * a[2][1], c01 = a[1][2] * a[2][0] - a[1][0] * a[2][2],
                 c02 = a[1][0] * a[2][1] - a[1][1] * a[2][0];
    const double c10 = a[0][2] * a[2][1] - a[0][1] * a[2][2], c11 = a[0][0] * a[2][2] - a[0][2] * a[2][0],
                 c12 = a[0][1] * a[2][0] - a[0][0] * a[2][1];
    const double c20 = a[0][1] * a[1][2] - a[0][2] * a[1][1], c21 = a[0][2] * a[1][0] - a[0][0] * a[1][2],
                 c22 = a[0][0] * a[1][1] - a[0][1] * a[1][0];
    const double determinant = a[0][0] * c00 + a[0][1] * c01 + a[0][2] * c02;
    if (!(a[2][2] > 0.0 && c00 > 0.0 && determinant > 0.0))
        return false;
    const double f = 1.0 / determinant;
    const double inverse[3][3] = {{c00 * f, c10 * f, c20 * f}, {c01 * f, c11 * f, c21 * f}, {c02 * f, c12 * f, c22 * f}};
    for (int r = 0; r < 3; r++)
        memcpy(a[r], inverse[r], sizeof inverse[r]);
    return true;
}

/* Makes a ready for solve_by, in place: its inverse, or its factors without pivoting, the diagonal inverted. The matrix is
 * positive definite, or (ask DIC) differs from one in a row whose diagonal leads. False for a pivot that is not positive. */
static bool prepare(double a[TW_UNKNOWNS][TW_UNKNOWNS], int n)
{
    if (n == 3)
        return invert_three(a);
    for (int p = 0; p < n; p++) {
        if (!(a[p][p] > 0.0))
            return false;
        a[p][p] = 1.0 / a[p][p];
        for (int r = p + 1; r < n; r++) {
            a[r][p] *= a[p][p];
            for (int c = p + 1; c < n; c++)
                a[r][c] -= a[r][p] * a[p][c];
        }
    }
    return true;
}

/* x := row^-1 x. */
static void solve_by(double a[TW_UNKNOWNS][TW_UNKNOWNS], int n, double *x)
{
    if (n == 3) {
        const double x0 = x[0], x1 = x[1], x2 = x[2];
        for (int r = 0; r < 3; r++)
            x[r] = a[r][0] * x0 + a[r][1] * x1 + a[r][2] * x2;
        return;
    }
    for (int r = 1; r < n; r++)
        for (int c = 0; c < r; c++)
            x[r] -= a[r][c] * x[c];
    for (int r = n - 1; r >= 0; r--) {
        for (int c = r + 1; c < n; c++)
            x[r] -= a[r][c] * x[c];
        x[r] *= a[r][r];
    }
}

/* One step of everything at once, by a matrix that is ready, from the residuals x. With x := -row^-1 x and y = row^-1 by_i
 * the logarithms move by x - y dI, and
 *     strength + strength_by_u (x - y dI) + strength_by_i dI = I + dI.
 * Returns the size of the step (all moves together, that of I as a share), or infinity when there is none; *water how far
 * the water activity went, which the step took as fixed: so much the logarithms are still off. */
static double take_step(tw_balance *b, double *x, double *water)
{
    const tw_newton *by = &b->newton;
    solve_by(b->newton.row, b->n, x);
    const double strength = b->ionic_strength, ln_water = b->ln_water;
    double gap = b->here.strength - strength;
    for (int r = 0; r < b->n; r++)
        gap -= by->strength_by_u[r] * x[r];
    const double next = tw_clamp(strength + gap * by->strength_by_gap, 0.25 * strength, 4.0 * strength);
    double size = 0.0;
    for (int r = 0; r < b->n; r++) {
        x[r] = -x[r] - by->by_i[r] * (next - strength);
        size += fabs(x[r]);
    }
    if (!(size < MOST))
        return TW_WATER_INFINITY;
    const double part = tw_min(3.0 / size, 1.0);
    double solutes = b->here.solutes + by->solutes_by_i * (next - strength), from[TW_UNKNOWNS];
    memcpy(from, b->u, sizeof from);
    for (int r = 0; r < b->n; r++) {
        b->u[b->unknown[r]] += part * x[r];
        solutes += part * by->solutes_by_u[r] * x[r];
    }
    b->ionic_strength = next;
    move_water(b, solutes);
    *water = fabs(b->ln_water - ln_water);
    tw_water_balance_move(b, from, strength, ln_water);
    return size + fabs(next - strength) / strength;
}

/* Newton's step: the matrix of this very place. How strength - I answers to I along the balances is about -1: pairs answer
 * weakly to I. */
static double full_step(tw_balance *b, double *water)
{
    tw_newton *by = &b->newton;
    double x[TW_UNKNOWNS];
    tw_water_balance_add_up(b);
    b->steps++;
    assemble(b);
    find_residuals(b, x);
    if (!prepare(by->row, b->n))
        return TW_WATER_INFINITY;
    solve_by(by->row, b->n, by->by_i);
    double slope = 1.0 - b->here.strength_by_i;
    for (int r = 0; r < b->n; r++)
        slope += by->strength_by_u[r] * by->by_i[r];
    by->strength_by_gap = 1.0 / tw_max(slope, 0.2);
    return take_step(b, x, water);
}

/* A step by the matrix of a place before, for sums alone: after a step of size d it leaves about d times what it moves
 * by. */
static double short_step(tw_balance *b, double *water)
{
    double x[TW_UNKNOWNS];
    tw_water_balance_total_up(b);
    if (b->ask == TW_ASK_OPEN)
        b->here.sum[TW_U_H] -= 2.0 * b->here.sum[TW_U_CO3];
    if (b->ask == TW_ASK_CALCITE)
        b->here.sum[TW_U_CO3] -= b->calcium;
    find_residuals(b, x);
    return take_step(b, x, water);
}

/* Full steps until one is small, then a short one. The matrix of a water nearby is as good as one made here, where nothing
 * has moved yet: then a short one goes before. */
static bool settle_jointly(tw_balance *b)
{
    double water = 0.0, size = 0.0;
    if (b->is_carried)
        size = short_step(b, &water);
    else
        tw_water_balance_weigh(b);
    int left = JOINT_STEPS;
    while (size < MOST && left--) {
        size = full_step(b, &water);
        if (size < NEAR && size * short_step(b, &water) < SETTLED && water < SETTLED) {
            tw_water_balance_total_up(b);
            return true;
        }
    }
    return false;
}

/* ---------------------------------------------------------------------------------- without any luck */

/* How far apart the exponents of two species can be that differ in one unknown (Cy-3 and H3PO4, ...). */
static const double WIDEST[TW_UNKNOWNS] = {6.0, 1.0, 2.0, 1.0, 3.0};

/* Minimum of the convex function at frozen ionic strength and water activity. Along any line its third derivative is at
 * most `spread` times the second (as of every exponential and of every variance of a bounded quantity), and for such
 * functions the Newton step shortened to ln(1 + spread)/spread or less always descends, from anywhere to the one minimum
 * (Sun and Tran-Dinh 2019, Math. Program. 178, 145, nu = 2). 2/(2 + spread) is less, and 1 for a small step. */
static void settle_frozen(tw_balance *b)
{
    double x[TW_UNKNOWNS], spread = 1.0;
    int left = FROZEN_STEPS;
    while (spread > 1e-9 && left--) {
        tw_water_balance_weigh(b);
        tw_water_balance_add_up(b);
        b->steps++;
        assemble(b);
        find_residuals(b, x);
        if (!prepare(b->newton.row, b->n))
            return;
        solve_by(b->newton.row, b->n, x);
        spread = 0.0;
        for (int r = 0; r < b->n; r++)
            spread += WIDEST[b->unknown[r]] * fabs(x[r]);
        for (int r = 0; r < b->n; r++)
            b->u[b->unknown[r]] -= x[r] * (2.0 / (2.0 + spread));
    }
    tw_water_balance_weigh(b);
    tw_water_balance_total_up(b);
}

/* Each round halves the logarithm's range, of 25 at first. */
static bool settle_by_bracket(tw_balance *b)
{
    double low = 1e-9, high = STRENGTH_MOST;
    tw_water_balance_start_cold(b);
    while (high > 1.001 * low) {
        b->ionic_strength = sqrt(low * high);
        settle_frozen(b);
        set_water(b, b->here.solutes);
        *(b->here.strength > b->ionic_strength ? &low : &high) = b->ionic_strength;
    }
    b->is_carried = false;
    return settle_jointly(b);
}

bool tw_water_balance_settle(tw_balance *b)
{
    return settle_jointly(b) || (b->ask != TW_ASK_DIC && settle_by_bracket(b));
}
