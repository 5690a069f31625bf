/* water/settle.c: from a start to the solution of the equations in balance.h.
 *
 * First Newton's method on everything at once, ionic strength included: from the closed-form start it
 * takes three to five steps. Should it ever not settle, what follows needs no luck: the ionic strength is
 * the root of one continuous function, strength(species at frozen I) - I, which is positive near zero and
 * negative above a bound that the totals give, so bisection closes in on it; and at each frozen I the problem is
 * convex with a positive definite Hessian, where damped Newton steps (Armijo) descend to the one minimum from
 * any start. */
#include "water/balance.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"

#define LN_HALF_TRACE (-200.0)
#define JOINT_STEPS 40
#define SETTLED 1e-6 /* the step after one of this size is about its square: 1e-12 */
#define NEAR 1.5e-4  /* a step of this size leaves about its square, of which a short step leaves 1e-4: 2e-12 */

/* The water activity belongs to the sum of solutes: 1 - 0.017 sum (PHREEQC). The lower end is never met. */
static double ln_water_of(double solutes)
{
    const double share = 0.017 * solutes;
    if (!(share < 0.02))
        return tw_log1p(-(share < 0.5 ? share : 0.5));
    /* ln(1 - x) = -2 atanh(x/(2 - x)); the first term left out is 1e-19. */
    const double s = share / (2.0 - share), z = s * s;
    return -2.0 * s * (1.0 + z * (1.0 / 3.0 + z * (1.0 / 5.0 + z * (1.0 / 7.0))));
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
    const double alk = b->alk < 0.0 ? -b->alk : b->alk;
    const double twice = t[TW_TOTAL_NA] + t[TW_TOTAL_K] + t[TW_TOTAL_CL] + t[TW_TOTAL_OTHER] + alk +
                         3.2 * (t[TW_TOTAL_CA] + t[TW_TOTAL_MG] + t[TW_TOTAL_SO4]);
    const double guess = 0.5 * twice;
    return guess > 1e-7 ? (guess < 1.0 ? guess : 1.0) : 1e-7;
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
 * activity c: alk h^2 - k1 c h - 2 k1 k2 c = 0. Outside of what carbonate can hold: acid or hydroxide. */
static double start_h(const tw_balance *b, double g1, double g2)
{
    const double *beta = b->at->ln_beta;
    const double k1 = tw_exp(beta[TW_SPECIES_HCO3] - beta[TW_SPECIES_CO2]) / g1;
    const double k2 = tw_exp(-beta[TW_SPECIES_HCO3]) * g1 / g2;
    const double kw = tw_exp(beta[TW_SPECIES_OH]) / g1;
    const double alk = b->alk - other_alk(b, 3.2e-8, g1);
    if (b->ask == TW_ASK_OPEN) {
        const double c = tw_exp(b->ln_co2);
        if (alk <= 2.0 * sqrt(k1 * c + kw))
            return h_of_rest(alk, k1 * c + kw);
        return (k1 * c + sqrt(k1 * c * (k1 * c + 8.0 * k2 * alk))) / (2.0 * alk);
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
        const double least = 0.02 * (b->alk > 1e-5 ? b->alk : 1e-5);
        return (left > least ? left : least) / (hco3 + 2.0 / g2);
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
    b->ln_water = ln_water_of(2.0 * b->ionic_strength);
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
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (b->present[k] && !(sp->ln_activity[k] > LN_HALF_TRACE)) {
            tw_water_balance_start_cold(b); /* something new is in the water */
            return;
        }
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (b->present[k])
            b->u[k] = sp->ln_activity[k];
    b->ionic_strength = sp->ionic_strength_mol_per_kg > 1e-7 ? sp->ionic_strength_mol_per_kg : 1e-7;
    b->ln_water = ln_water_of(sp->sum_mol_per_kg);
    b->weighed = tw_water_balance_carry_over(b, sp);
}

/* --------------------------------------------------------------------------------------------- Newton */

typedef struct {
    int n, unknown[TW_UNKNOWNS];
    double residual[TW_UNKNOWNS];
    double row[TW_UNKNOWNS][TW_UNKNOWNS]; /* d residual / d unknown, then its factors, the diagonal inverted */
    double by_i[TW_UNKNOWNS];             /* d residual / d I, then row^-1 of it                             */
    double slope;                         /* of strength - I along the balances, turned round                */
} system_here;

/* What the sum of nu m shall be. H+ has no total of its own: its row is 2 DIC + 3 PO4 - alkalinity, which is
 * the charge balance in other words. */
static double wanted(const tw_balance *b, int k)
{
    const double *t = b->total;
    switch (k) {
    case TW_U_H:
        return (b->ask == TW_ASK_OPEN ? 0.0 : 2.0 * t[TW_TOTAL_DIC]) + 3.0 * t[TW_TOTAL_PHOSPHATE] - b->alk;
    case TW_U_CO3:
        return t[TW_TOTAL_DIC] - (b->ask == TW_ASK_CALCITE ? t[TW_TOTAL_CA] : 0.0);
    case TW_U_SO4:
        return t[TW_TOTAL_SO4];
    case TW_U_PO4:
        return t[TW_TOTAL_PHOSPHATE];
    default:
        return t[TW_TOTAL_ACTIVE_CHLORINE];
    }
}

static void list_unknowns(const tw_balance *b, system_here *s)
{
    s->n = 0;
    for (int k = 0; k < TW_UNKNOWNS; k++) {
        const int fixed = k == TW_U_H ? b->ask == TW_ASK_AT_PH || b->ask == TW_ASK_DIC
                                      : k == TW_U_CO3 && b->ask == TW_ASK_OPEN;
        if (b->present[k] && !fixed)
            s->unknown[s->n++] = k;
    }
}

/* What the balances are off by. In place of the balance of carbon (ask DIC) stands alkalinity: 2 sum_co3 + 3 sum_po4 -
 * sum_h. */
static void find_residuals(const tw_balance *b, system_here *s)
{
    for (int r = 0; r < s->n; r++) {
        const int k = s->unknown[r];
        s->residual[r] = b->here.sum[k] - wanted(b, k);
        if (b->ask == TW_ASK_DIC && k == TW_U_CO3)
            s->residual[r] = 2.0 * b->here.sum[TW_U_CO3] + 3.0 * b->here.sum[TW_U_PO4] - b->here.sum[TW_U_H] - b->alk;
    }
}

static void alkalinity_row(const tw_balance *b, system_here *s, int r)
{
    const double po4 = b->present[TW_U_PO4] ? 3.0 : 0.0;
    for (int c = 0; c < s->n; c++) {
        const int k = s->unknown[c];
        s->row[r][c] = 2.0 * b->here.jacobian[TW_U_CO3][k] + po4 * b->here.jacobian[TW_U_PO4][k] - b->here.jacobian[TW_U_H][k];
    }
    s->by_i[r] = 2.0 * b->here.sum_by_i[TW_U_CO3] + po4 * b->here.sum_by_i[TW_U_PO4] - b->here.sum_by_i[TW_U_H];
}

static void assemble(const tw_balance *b, system_here *s)
{
    list_unknowns(b, s);
    find_residuals(b, s);
    for (int r = 0; r < s->n; r++) {
        const int k = s->unknown[r];
        s->by_i[r] = b->here.sum_by_i[k];
        for (int c = 0; c < s->n; c++)
            s->row[r][c] = b->here.jacobian[k][s->unknown[c]];
        if (b->ask == TW_ASK_DIC && k == TW_U_CO3)
            alkalinity_row(b, s, r);
    }
}

/* Three unknowns, of any water without phosphate and chlorine, written out: the same operations in the same order. */
static int factor_three(system_here *s)
{
    double (*const a)[TW_UNKNOWNS] = s->row;
    if (!(a[0][0] > 0.0))
        return 0;
    a[0][0] = 1.0 / a[0][0];
    a[1][0] *= a[0][0];
    a[2][0] *= a[0][0];
    a[1][1] -= a[1][0] * a[0][1];
    if (!(a[1][1] > 0.0))
        return 0;
    a[1][1] = 1.0 / a[1][1];
    a[1][2] -= a[1][0] * a[0][2];
    a[2][1] = (a[2][1] - a[2][0] * a[0][1]) * a[1][1];
    a[2][2] = a[2][2] - a[2][0] * a[0][2] - a[2][1] * a[1][2];
    if (!(a[2][2] > 0.0))
        return 0;
    a[2][2] = 1.0 / a[2][2];
    return 1;
}

static void substitute_three(const system_here *s, double *x)
{
    const double (*const a)[TW_UNKNOWNS] = s->row;
    x[1] -= a[1][0] * x[0];
    x[2] = (x[2] - a[2][0] * x[0] - a[2][1] * x[1]) * a[2][2];
    x[1] = (x[1] - a[1][2] * x[2]) * a[1][1];
    x[0] = (x[0] - a[0][1] * x[1] - a[0][2] * x[2]) * a[0][0];
}

/* Factors in place, without pivoting: the matrix is positive definite, or (ask DIC) differs from one in a row whose
 * diagonal leads. 0 for a pivot that is not positive. */
static int factor(system_here *s)
{
    if (s->n == 3)
        return factor_three(s);
    for (int p = 0; p < s->n; p++) {
        if (!(s->row[p][p] > 0.0))
            return 0;
        const double inverse = 1.0 / s->row[p][p];
        s->row[p][p] = inverse;
        for (int r = p + 1; r < s->n; r++) {
            const double f = s->row[r][p] * inverse;
            s->row[r][p] = f;
            for (int c = p + 1; c < s->n; c++)
                s->row[r][c] -= f * s->row[p][c];
        }
    }
    return 1;
}

/* x := row^-1 x by the factors. */
static void substitute(const system_here *s, double *x)
{
    if (s->n == 3) {
        substitute_three(s, x);
        return;
    }
    for (int r = 1; r < s->n; r++)
        for (int c = 0; c < r; c++)
            x[r] -= s->row[r][c] * x[c];
    for (int r = s->n - 1; r >= 0; r--) {
        for (int c = r + 1; c < s->n; c++)
            x[r] -= s->row[r][c] * x[c];
        x[r] *= s->row[r][r];
    }
}

/* The largest of the moves; NaN when one of them is NaN or infinite. */
static double largest(const system_here *s)
{
    double most = 0.0, sum = 0.0;
    for (int r = 0; r < s->n; r++) {
        const double size = fabs(s->residual[r]);
        most = size > most ? size : most;
        sum += size;
    }
    return most + 0.0 * sum;
}

/* One step of everything at once, by the factors in s. With x = -row^-1 residual and y = row^-1 by_i the logarithms move by
 * x - y dI, and
 *     strength + strength_by_u (x - y dI) + strength_by_i dI = I + dI.
 * The slope is about 1: pairs answer weakly to I. Where it is not, the plain update serves. Returns the size of the step
 * (relative in I), or infinity when there is none; *water how far the water activity went, which the step took as fixed:
 * so much the logarithms are still off. */
static double take_step(tw_balance *b, system_here *s, double *water)
{
    double *x = s->residual, from[TW_UNKNOWNS];
    substitute(s, x);
    const double strength = b->ionic_strength, ln_water = b->ln_water;
    double gap = b->here.strength - strength;
    for (int r = 0; r < s->n; r++)
        gap -= b->here.strength_by_u[s->unknown[r]] * x[r];
    double next = strength + (s->slope > 0.2 ? gap / s->slope : gap);
    const double highest = 4.0 * strength, lowest = 0.25 * strength;
    next = next > highest ? highest : next < lowest ? lowest : next;
    for (int r = 0; r < s->n; r++)
        x[r] = -x[r] - s->by_i[r] * (next - strength);
    const double most = largest(s);
    if (!(most < 1e6))
        return TW_WATER_INFINITY;
    const double part = most > 1.5 ? 1.5 / most : 1.0;
    double solutes = b->here.solutes + b->here.solutes_by_i * (next - strength);
    memcpy(from, b->u, sizeof from);
    for (int r = 0; r < s->n; r++) {
        b->u[s->unknown[r]] += part * x[r];
        solutes += part * b->here.solutes_by_u[s->unknown[r]] * x[r];
    }
    b->ionic_strength = next;
    b->ln_water = ln_water_of(solutes > 0.0 ? solutes : 0.0);
    *water = fabs(b->ln_water - ln_water);
    const double relative = fabs(next - strength) / strength, size = most > relative ? most : relative;
    if (size + *water < 1e-8)
        tw_water_balance_nudge(b, from, strength, ln_water);
    else
        tw_water_balance_move(b, from, strength, ln_water);
    return size;
}

/* Newton's step: the matrix of this very place. */
static double full_step(tw_balance *b, system_here *s, double *water)
{
    tw_water_balance_add_up(b);
    b->steps++;
    assemble(b, s);
    if (!factor(s))
        return TW_WATER_INFINITY;
    substitute(s, s->by_i);
    s->slope = 1.0 - b->here.strength_by_i;
    for (int r = 0; r < s->n; r++)
        s->slope += b->here.strength_by_u[s->unknown[r]] * s->by_i[r];
    return take_step(b, s, water);
}

/* A step by the matrix of the place before, for sums alone: after a step of size d it leaves a few times d of what it
 * moves by. */
static double short_step(tw_balance *b, system_here *s, double *water)
{
    tw_water_balance_total_up(b);
    if (b->ask == TW_ASK_OPEN)
        b->here.sum[TW_U_H] -= 2.0 * b->here.sum[TW_U_CO3];
    if (b->ask == TW_ASK_CALCITE)
        b->here.sum[TW_U_CO3] -= b->calcium;
    find_residuals(b, s);
    return take_step(b, s, water);
}

static int settle_jointly(tw_balance *b)
{
    if (!b->weighed)
        tw_water_balance_weigh(b, 0);
    b->weighed = 0;
    for (int i = 0; i < JOINT_STEPS; i++) {
        system_here s;
        double water = 0.0;
        double size = full_step(b, &s, &water);
        if (!(size < 1e6))
            return 0;
        if (size < NEAR && size > SETTLED) {
            size = short_step(b, &s, &water);
            size = size < 1e-8 ? 0.0 : 1.0;
        }
        if (size < SETTLED && water < 1e-12) {
            tw_water_balance_total_up(b);
            return 1;
        }
    }
    return 0;
}

/* ---------------------------------------------------------------------------------- without any luck */

static void evaluate(tw_balance *b)
{
    tw_water_balance_weigh(b, 1);
    tw_water_balance_add_up(b);
}

static double dual_here(const tw_balance *b, const system_here *s)
{
    double f = b->dual;
    for (int r = 0; r < s->n; r++)
        f -= wanted(b, s->unknown[r]) * b->u[s->unknown[r]];
    return f;
}

/* Minimum of the convex function at frozen ionic strength and water activity. Steps under 0.2 change the
 * Hessian by less than half, so the full step always improves there; longer ones are tested by Armijo's rule. */
static int settle_frozen(tw_balance *b)
{
    for (int i = 0; i < 400; i++) {
        system_here s;
        evaluate(b);
        b->steps++;
        assemble(b, &s);
        const double before = dual_here(b, &s);
        double gradient[TW_UNKNOWNS], from[TW_UNKNOWNS];
        memcpy(gradient, s.residual, sizeof gradient);
        memcpy(from, b->u, sizeof from);
        if (!factor(&s))
            return 0;
        substitute(&s, s.residual);
        const double most = largest(&s);
        if (!(most < 1e300))
            return 0;
        double part = most > 5.0 ? 5.0 / most : 1.0, slope = 0.0;
        for (int r = 0; r < s.n; r++)
            slope -= gradient[r] * s.residual[r];
        for (int tries = 0; tries < 60; tries++) {
            for (int r = 0; r < s.n; r++)
                b->u[s.unknown[r]] = from[s.unknown[r]] - part * s.residual[r];
            if (most < 0.2)
                break;
            evaluate(b);
            if (dual_here(b, &s) <= before + 1e-4 * part * slope + 1e-15 * fabs(before))
                break;
            part *= 0.5;
        }
        if (most < 1e-9) {
            evaluate(b);
            return 1;
        }
    }
    return 0;
}

/* Above what the species can reach: every ion of the totals free, and as much acid or base again. */
static double strength_bound(const tw_balance *b)
{
    double sum = 1.0;
    for (int i = 0; i < TW_TOTALS; i++)
        sum += 4.0 * b->total[i];
    return sum;
}

static int settle_by_bracket(tw_balance *b)
{
    double low = 1e-9, high = strength_bound(b);
    tw_water_balance_start_cold(b);
    for (int i = 0; i < 60; i++) {
        const double middle = i < 20 ? sqrt(low * high) : 0.5 * (low + high);
        b->ionic_strength = middle;
        if (!settle_frozen(b))
            return 0;
        b->ln_water = ln_water_of(b->here.solutes);
        if (b->here.strength > middle)
            low = middle;
        else
            high = middle;
        if (high - low < 1e-3 * low && settle_jointly(b))
            return 1;
    }
    return 0;
}

int tw_water_balance_settle(tw_balance *b)
{
    if (settle_jointly(b))
        return 1;
    return b->ask != TW_ASK_DIC && settle_by_bracket(b);
}
