/* estimate/carbonate.h: pH and CO2 exchange for a group of lanes. Internal.
 *
 * With conditional constants frozen at a temperature and an ionic strength, the charge balance is one
 * equation in H. Carbonate alone makes it a quadratic (the start); the other acids and water are
 * corrected by Newton steps, a fixed number of them, so that the result is a smooth function. */
#ifndef TW_ESTIMATE_CARBONATE_H
#define TW_ESTIMATE_CARBONATE_H

#include <math.h>

#include "estimate/model.h"

/* Constants at a temperature (0.5..44.5 C) and an ionic strength (0.005..0.3 mol/kg), both kept within. */
void tw_estimate_acid_constants(double temp_c, double ionic_strength, tw_acid_constants *out);

/* How much faster CO2 goes from water of temp_c than of 20 C: 1.024 per kelvin (aeration standards). */
double tw_estimate_gas_factor(double temp_c);

/* Acids beside carbonate, mmol/kg: hypochlorous, boric, cyanuric, phosphoric. */
typedef struct {
    tw_lanes active, borate, cyanurate, phosphate;
} tw_acids;

/* The root and what its neighbourhood looks like. */
typedef struct {
    tw_lanes h;                          /* activity of H+, mol/kg                     */
    tw_lanes co2;                        /* mmol/kg                                    */
    tw_lanes slope;                      /* dF/d ln H                                  */
    tw_lanes by_alk;                     /* dF/d alkalinity                            */
    tw_lanes co2_by_lnh, inverse_b;      /* d CO2/d ln H at fixed totals; 1/B          */
    tw_lanes share_ocl, share_b, share_cy, share_p; /* charge a mmol of each acid      */
} tw_acid_root;

/* Newton's steps: fixed beforehand, so that every lane does the same work and the result is a smooth
 * function. Four serve any water that we know; where a step of less than TW_NEWTON_NEAR (of ln H) was
 * the last that was needed, half its square is left as an error: under 1e-4 of pH. */
#define TW_NEWTON_STEPS 4
#define TW_NEWTON_MOST 6
#define TW_NEWTON_NEAR 2e-2

/* What the acids are at a candidate H. */
typedef struct {
    tw_lanes ocl, b, cy, p2;    /* share of each acid that has given its (second) proton  */
    tw_lanes iq;                /* 1/(k1 H + 2 k1 k2) = 1/(H^2 B), B = HCO3/CO2 + 2 CO3/CO2 */
    tw_lanes alk_c, w;          /* alkalinity left for carbon, minus its slope in ln H    */
    tw_lanes free;              /* OH- less H+                                            */
} tw_acid_at;

/* The six reciprocals that this needs cost one division: of the product of all, then multiplied
 * apart (the product stays above 1e-80). */
TW_INLINE void tw_estimate_acid_at(const tw_acid_constants *k, const tw_lanes *h, const tw_lanes *alk,
                                       const tw_acids *acid, tw_acid_at *restrict out)
{
    const tw_acid_constants c = *k;
    const double two_k12 = 2.0 * (c.k1 * c.k2);
    TW_EACH_LANE(l)
    {
        const double x = h->v[l], phosphate = acid->phosphate.v[l];
        const double d_ocl = c.kocl + x, d_b = c.kb + x, d_cy = c.kcy + x, d_p = c.kp2 + x,
                     q = c.k1 * x + two_k12;
        const double two = d_ocl * d_b, other = d_cy * d_p, last = x * q, four = two * other;
        const double all = 1.0 / (four * last);
        const double i_last = all * four, i_four = all * last;
        const double i_two = i_four * other, i_other = i_four * two;
        const double ocl = c.kocl * (i_two * d_b), b = c.kb * (i_two * d_ocl),
                     cy = c.kcy * (i_other * d_p), p2 = c.kp2 * (i_other * d_cy);
        const double on_ocl = ocl * acid->active.v[l], on_b = b * acid->borate.v[l],
                     on_cy = cy * acid->cyanurate.v[l], on_p = p2 * phosphate;
        const double oh = c.kw * (i_last * q), hp = c.per_h * x;
        out->ocl.v[l] = ocl;
        out->b.v[l] = b;
        out->cy.v[l] = cy;
        out->p2.v[l] = p2;
        out->iq.v[l] = i_last * x;
        out->alk_c.v[l] = alk->v[l] - (on_ocl + on_b + on_cy + phosphate + on_p) - (oh - hp);
        out->free.v[l] = oh - hp;
        /* of each: share, times one less the share, times the amount */
        out->w.v[l] = (on_ocl - on_ocl * ocl) + (on_b - on_b * b) + (on_cy - on_cy * cy) +
                      (on_p - on_p * p2) + (oh + hp);
    }
}

/* Where a search without a predecessor starts: the acids at pH 7.5. */
TW_INLINE void tw_estimate_acid_guess(const tw_acid_constants *k, tw_acid_guess *out)
{
    const double h = 3.1622776601683794e-8;
    out->ocl = tw_lanes_of(k->kocl / (k->kocl + h));
    out->b = tw_lanes_of(k->kb / (k->kb + h));
    out->cy = tw_lanes_of(k->kcy / (k->kcy + h));
    out->p = tw_lanes_of(1.0 + k->kp2 / (k->kp2 + h));
    out->free = tw_lanes_of(0.0);
}

/* Solve alk_c(H) * (S + e)/B = rhs for H (docs/estimate.md "Carbonate"): e = 0 and rhs = DIC give the
 * pH; e = E and rhs = DIC + E*co2_eq give the end of an exchange with the air. The left side rises
 * with ln H, so Newton's step in ln H, never more than a factor of four, comes home. */
TW_INLINE void tw_estimate_acid_solve(const tw_acid_constants *k, tw_lanes alk, tw_lanes rhs,
                                          tw_lanes e, const tw_acids *acid, int steps,
                                          tw_acid_guess *guess, tw_acid_root *out, tw_lanes *needed)
{
    const tw_acid_constants c = *k;
    const tw_acids a = *acid;
    const double k12 = c.k1 * c.k2;
    tw_lanes h, half_b, inverse, inside, move;
    tw_acid_at at;
    /* Two starts: with alkalinity to spare, carbonate alone (a quadratic); where acid has eaten it,
     * CO2 with a little HCO3- against free acid (another one). */
    TW_EACH_LANE(l)
    {
        const double a0 = alk.v[l] - guess->ocl.v[l] * a.active.v[l] - guess->b.v[l] * a.borate.v[l] -
                          guess->cy.v[l] * a.cyanurate.v[l] - guess->p.v[l] * a.phosphate.v[l] -
                          guess->free.v[l];
        const double most = 1.9 * rhs.v[l], floor_at = 0.02;
        double a1 = a0 > floor_at ? a0 : floor_at;
        a1 = a1 < most ? a1 : most;
        const double qa = a1 * (1.0 + e.v[l]);
        const double qb = c.k1 * (a1 - rhs.v[l]);
        const double qc = k12 * (a1 - 2.0 * rhs.v[l]);
        half_b.v[l] = qb;
        inside.v[l] = qb * qb - 4.0 * qa * qc;
        inverse.v[l] = 1.0 / (2.0 * qa);
    }
    /* Roots alone: errno keeps them out of vectors. */
    TW_EACH_LANE(l) inside.v[l] = sqrt(inside.v[l] > 0.0 ? inside.v[l] : 0.0);
    TW_EACH_LANE(l) h.v[l] = (inside.v[l] - half_b.v[l]) * inverse.v[l];
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        if (alk.v[l] >= 0.15)
            continue;
        const double left = alk.v[l] - a.phosphate.v[l];
        const double root = left * left + 4.0 * c.per_h * c.k1 * rhs.v[l] / (1.0 + e.v[l]);
        h.v[l] = (sqrt(root > 0.0 ? root : 0.0) - left) / (2.0 * c.per_h);
    }
    TW_EACH_LANE(l) h.v[l] = h.v[l] > 1e-12 ? h.v[l] : 1e-12;
    if (needed != NULL)
        *needed = tw_lanes_of(1.0);
    for (int step = 0;; step++) {
        tw_estimate_acid_at(&c, &h, &alk, &a, &at);
        if (step == steps)
            break;
        TW_EACH_LANE(l)
        {
            const double x = h.v[l], iq = at.iq.v[l], alk_c = at.alk_c.v[l], bicarbonate = c.k1 * x;
            const double s_b = ((1.0 + e.v[l]) * x * x + bicarbonate + k12) * iq;
            const double b2_b = (bicarbonate + 4.0 * k12) * iq;
            double slope = at.w.v[l] * s_b + alk_c * (s_b * b2_b - 1.0);
            slope = slope > 1e-9 ? slope : 1e-9;
            double to = 1.0 - (alk_c * s_b - rhs.v[l]) / slope;
            to = to > 0.25 ? to : 0.25;
            to = to < 4.0 ? to : 4.0;
            move.v[l] = to;
            double next = x * to;
            next = next > 1e-12 ? next : 1e-12;
            h.v[l] = next < 1e-2 ? next : 1e-2;
        }
        if (needed != NULL)
            TW_EACH_LANE(l) needed->v[l] = fabs(move.v[l] - 1.0) > TW_NEWTON_NEAR ? step + 2.0 : needed->v[l];
    }
    TW_EACH_LANE(l)
    {
        const double x = h.v[l], iq = at.iq.v[l], alk_c = at.alk_c.v[l], bicarbonate = c.k1 * x;
        const double s_b = ((1.0 + e.v[l]) * x * x + bicarbonate + k12) * iq;
        const double b2_b = (bicarbonate + 4.0 * k12) * iq, ib = x * x * iq;
        const double slope = at.w.v[l] * s_b + alk_c * (s_b * b2_b - 1.0);
        out->slope.v[l] = slope > 1e-9 ? slope : 1e-9;
        out->co2.v[l] = alk_c * ib;
        out->by_alk.v[l] = s_b;
        out->co2_by_lnh.v[l] = (at.w.v[l] + alk_c * b2_b) * ib;
        out->inverse_b.v[l] = ib;
        out->share_p.v[l] = 1.0 + at.p2.v[l];
    }
    out->h = h;
    out->share_ocl = at.ocl;
    out->share_b = at.b;
    out->share_cy = at.cy;
    guess->ocl = at.ocl;
    guess->b = at.b;
    guess->cy = at.cy;
    guess->p = out->share_p;
    guess->free = at.free;
}

#endif
