/* estimate/scale.c: see scale.h.
 *
 * One unknown, ln H where the index is down: there the balance of charge says what has fallen out,
 *
 *     P = (alk_c(H) - charge*DIC)/(2 - charge),        charge: meq that a mmol of carbon holds at H
 *
 * and (Ca - P)*(DIC - P)*(share of CO3) is the product of the index. Newton's steps in ln H start near the water's own pH,
 * where P is nothing. Of water under the index P comes out negative. */
#include "estimate/scale.h"

#include "gen/scale_tables.h"
#include "num/elementary.h"

#define STEPS 12
#define STEP_NEAR 1e-3 /* of ln H: the square of the last step is left as an error */
#define NEXT_TO_NONE 1e-9 /* mmol/kg */

/* P and how the logarithm of the product stands over the index (near it), with their slopes in ln H. */
typedef struct {
    tw_lanes charge, p, p_slope, over, over_slope;
    tw_lanes ca_left, dic_left;
} scale_at;

TW_INLINE double at_least(double x, double least)
{
    return x > least ? x : least;
}

TW_INLINE void look(const tw_acid_constants *k, const tw_lanes *h, const tw_lanes *ca, const tw_lanes *dic, const tw_acid_at *acids,
                    scale_at *at)
{
    const double k12 = k->k1 * k->k2;
    TW_EACH_LANE(l)
    {
        const double x = h->v[l], bicarbonate = k->k1 * x, whole = x * x + bicarbonate + k12;
        const double charge = (bicarbonate + 2.0 * k12) / whole, by_ln_h = charge * charge - (bicarbonate + 4.0 * k12) / whole;
        const double p = (acids->alk_c.v[l] - charge * dic->v[l]) / (2.0 - charge);
        at->charge.v[l] = charge;
        at->p.v[l] = p;
        at->p_slope.v[l] = (acids->w.v[l] - by_ln_h * (dic->v[l] - p)) / (2.0 - charge);
        at->ca_left.v[l] = at_least(ca->v[l] - p, NEXT_TO_NONE);
        at->dic_left.v[l] = at_least(dic->v[l] - p, NEXT_TO_NONE);
        const double product = at->ca_left.v[l] * at->dic_left.v[l] * k12, index = whole * k->scale;
        at->over.v[l] = 2.0 * (product - index) / (product + index);
        at->over_slope.v[l] = charge - 2.0 - at->p_slope.v[l] * (1.0 / at->ca_left.v[l] + 1.0 / at->dic_left.v[l]);
    }
}

/* Newton's step, never further than half of what is left of calcium or carbon. Each lane goes until its own step is small, or it is
 * clear that its water is under the index. Returns whether any goes on. */
TW_INLINE int step(const scale_at *at, tw_lanes *h, tw_lanes *going)
{
    int any = 0;
    TW_EACH_LANE(l)
    {
        const double scarce = at->ca_left.v[l] < at->dic_left.v[l] ? at->ca_left.v[l] : at->dic_left.v[l];
        const double most = 0.5 * scarce / at->p_slope.v[l];
        const int beyond = !(scarce > NEXT_TO_NONE); /* more than there is: well back */
        double move = beyond ? -0.35 : -at->over.v[l] / at->over_slope.v[l];
        move = move < most || beyond ? move : most;
        move = move < 0.7 ? move : 0.7;
        move = move > -0.7 ? move : -0.7;
        const int under = at->over.v[l] <= 0.0 && at->p.v[l] <= 0.0, goes = going->v[l] > 0.0 && !under;
        h->v[l] *= goes ? (2.0 + move) / (2.0 - move) : 1.0;
        going->v[l] = goes && fabs(move) > STEP_NEAR ? 1.0 : 0.0;
        any |= goes;
    }
    return any;
}

TW_WIDE void tw_estimate_scale(const tw_acid_constants *k, double hours, const tw_lanes *rate, const tw_lanes *ca, const tw_lanes *alk,
                               const tw_lanes *dic, const tw_acids *acid, const tw_lanes *where, tw_lanes *start, tw_lanes *amount, tw_scale_slope *slope)
{
    const double corner = TW_SCALE_CORNER;
    tw_lanes h = *start, left, falls;
    TW_EACH_LANE(l) left.v[l] = -rate->v[l] * hours;
    left = tw_lanes_exp(left);
    tw_acid_at acids;
    scale_at at;
    tw_lanes going = *where;
    for (int i = 0;; i++) {
        tw_estimate_acid_at(k, &h, alk, acid, &acids);
        look(k, &h, ca, dic, &acids, &at);
        if (i == STEPS || !step(&at, &h, &going))
            break;
    }
    TW_EACH_LANE(l)
    {
        const double p = where->v[l] > 0.0 && at.p.v[l] > 0.0 ? at.p.v[l] : 0.0;
        start->v[l] = p > 0.0 ? h.v[l] : start->v[l];
        falls.v[l] = p < corner ? 0.5 * p * p / corner : p - 0.5 * corner;
        amount->v[l] = (1.0 - left.v[l]) * falls.v[l];
    }
    if (slope == NULL)
        return;
    TW_EACH_LANE(l)
    {
        const int forms = where->v[l] > 0.0 && at.p.v[l] > 0.0;
        const double rounded = at.p.v[l] < corner ? at.p.v[l] / corner : 1.0;
        const double each = 1.0 / at.ca_left.v[l] + 1.0 / at.dic_left.v[l], free = 1.0 / (2.0 - at.charge.v[l]);
        /* P moves with a total by itself and by the H at which the index is down. */
        const double by_h = -at.p_slope.v[l] / at.over_slope.v[l];
        const double by_alk = free - by_h * each * free, carbon = at.charge.v[l] * free;
        const double by_dic = -carbon + by_h * (1.0 / at.dic_left.v[l] + each * carbon), by_ca = by_h / at.ca_left.v[l];
        const double whole = (1.0 - left.v[l]) * rounded;
        slope->by_ca.v[l] = forms ? whole * by_ca : 0.0;
        slope->by_alk.v[l] = forms ? whole * by_alk : 0.0;
        slope->by_dic.v[l] = forms ? whole * by_dic : 0.0;
        slope->by_rate.v[l] = hours * left.v[l] * falls.v[l];
        slope->share_p.v[l] = 1.0 + acids.p2.v[l];
    }
    slope->share_ocl = acids.ocl;
    slope->share_b = acids.b;
    slope->share_cy = acids.cy;
}
