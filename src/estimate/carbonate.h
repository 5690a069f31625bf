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

/* Fixed, so that every lane does the same work. */
#define TW_NEWTON_STEPS 4

/* Everything about one candidate H. */
typedef struct {
    double f, slope, co2, by_alk, co2_by_lnh, inverse_b, ocl, b, cy, p;
} tw_acid_at;

/* The balance and its slopes at ln H = x. */
static inline tw_acid_at tw_estimate_acid_at(const tw_acid_constants *k, double x, double alk,
                                             double rhs, double e, double active, double borate,
                                             double cyanurate, double phosphate)
{
    tw_acid_at r;
    const double k12 = k->k1 * k->k2;
    const double ih = 1.0 / x;
    const double r_ocl = 1.0 / (k->kocl + x), r_b = 1.0 / (k->kb + x), r_cy = 1.0 / (k->kcy + x),
                 r_p = 1.0 / (k->kp2 + x);
    r.ocl = k->kocl * r_ocl;
    r.b = k->kb * r_b;
    r.cy = k->kcy * r_cy;
    r.p = 1.0 + k->kp2 * r_p;
    const double oh = k->kw * ih, hp = k->per_h * x;
    const double alk_c = alk - r.ocl * active - r.b * borate - r.cy * cyanurate - r.p * phosphate -
                         oh + hp;
    const double w = x * (r.ocl * r_ocl * active + r.b * r_b * borate + r.cy * r_cy * cyanurate +
                          (r.p - 1.0) * r_p * phosphate) +
                     oh + hp;
    const double hco3 = k->k1 * ih, co3 = k12 * ih * ih;
    const double s = 1.0 + hco3 + co3 + e, b = hco3 + 2.0 * co3, b2 = hco3 + 4.0 * co3;
    const double ib = 1.0 / b;
    const double slope = w * s * ib + alk_c * (s * b2 * ib * ib - 1.0);
    r.f = alk_c * s * ib - rhs;
    r.slope = slope > 1e-9 ? slope : 1e-9;
    r.co2 = alk_c * ib;
    r.by_alk = s * ib;
    r.co2_by_lnh = w * ib + alk_c * b2 * ib * ib;
    r.inverse_b = ib;
    return r;
}

/* Solve alk_c(H) * (S + e)/B = rhs for H (docs/estimate.md "Carbonate"): e = 0 and rhs = DIC give the
 * pH; e = E and rhs = DIC + E*co2_eq give the end of an exchange with the air. The left side rises
 * with ln H, so Newton's step in ln H, never more than a factor of four, comes home. */
static inline void tw_estimate_acid_solve(const tw_acid_constants *k, tw_lanes alk, tw_lanes rhs,
                                          tw_lanes e, const tw_acids *acid, tw_acid_root *out)
{
    const tw_acid_constants c = *k;
    const tw_acids a = *acid;
    const double k12 = c.k1 * c.k2, h_start = 3.1622776601683794e-8; /* pH 7.5 */
    const double s_ocl = c.kocl / (c.kocl + h_start), s_b = c.kb / (c.kb + h_start),
                 s_cy = c.kcy / (c.kcy + h_start), s_p = 1.0 + c.kp2 / (c.kp2 + h_start);
    tw_lanes h, half_b, inverse, inside, sour, acid_in;
    tw_acid_root r;
    /* Two starts: with alkalinity to spare, carbonate alone (a quadratic); where acid has eaten it,
     * CO2 with a little HCO3- against free acid (another one). */
    TW_EACH_LANE(l)
    {
        const double a0 = alk.v[l] - s_ocl * a.active.v[l] - s_b * a.borate.v[l] -
                          s_cy * a.cyanurate.v[l] - s_p * a.phosphate.v[l];
        const double most = 1.9 * rhs.v[l], floor_at = 0.02;
        double a1 = a0 < floor_at ? floor_at : a0;
        a1 = a1 > most ? most : a1;
        const double qa = a1 * (1.0 + e.v[l]);
        const double qb = c.k1 * (a1 - rhs.v[l]);
        const double qc = k12 * (a1 - 2.0 * rhs.v[l]);
        half_b.v[l] = qb;
        inside.v[l] = qb * qb - 4.0 * qa * qc;
        inverse.v[l] = 1.0 / (2.0 * qa);
        const double left = alk.v[l] - a.phosphate.v[l];
        acid_in.v[l] = left * left + 4.0 * c.per_h * c.k1 * rhs.v[l] / (1.0 + e.v[l]);
    }
    TW_EACH_LANE(l) sour.v[l] = alk.v[l] < 0.15 ? 1.0 : 0.0;
    /* Roots alone: errno keeps them out of vectors. */
    TW_EACH_LANE(l) inside.v[l] = sqrt(inside.v[l] > 0.0 ? inside.v[l] : 0.0);
    TW_EACH_LANE(l) acid_in.v[l] = sqrt(acid_in.v[l] > 0.0 ? acid_in.v[l] : 0.0);
    TW_EACH_LANE(l)
    {
        const double sweet = (inside.v[l] - half_b.v[l]) * inverse.v[l];
        const double acid_h = (acid_in.v[l] - alk.v[l] + a.phosphate.v[l]) / (2.0 * c.per_h);
        h.v[l] = sour.v[l] * acid_h + (1.0 - sour.v[l]) * sweet;
    }
    TW_EACH_LANE(l) h.v[l] = h.v[l] < 1e-12 ? 1e-12 : h.v[l];
    for (int step = 0; step < TW_NEWTON_STEPS; step++)
        TW_EACH_LANE(l)
        {
            const tw_acid_at at =
                tw_estimate_acid_at(&c, h.v[l], alk.v[l], rhs.v[l], e.v[l], a.active.v[l],
                                    a.borate.v[l], a.cyanurate.v[l], a.phosphate.v[l]);
            double move = 1.0 - at.f / at.slope;
            move = move < 0.25 ? 0.25 : move;
            move = move > 4.0 ? 4.0 : move;
            double next = h.v[l] * move;
            next = next < 1e-12 ? 1e-12 : next;
            h.v[l] = next > 1e-2 ? 1e-2 : next;
        }
    TW_EACH_LANE(l)
    {
        const tw_acid_at at =
            tw_estimate_acid_at(&c, h.v[l], alk.v[l], rhs.v[l], e.v[l], a.active.v[l],
                                a.borate.v[l], a.cyanurate.v[l], a.phosphate.v[l]);
        r.h.v[l] = h.v[l];
        r.co2.v[l] = at.co2;
        r.slope.v[l] = at.slope;
        r.by_alk.v[l] = at.by_alk;
        r.co2_by_lnh.v[l] = at.co2_by_lnh;
        r.inverse_b.v[l] = at.inverse_b;
        r.share_ocl.v[l] = at.ocl;
        r.share_b.v[l] = at.b;
        r.share_cy.v[l] = at.cy;
        r.share_p.v[l] = at.p;
    }
    *out = r;
}

#endif
