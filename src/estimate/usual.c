/* estimate/usual.c: see usual.h. */
#include "estimate/usual.h"

#include "estimate/carry.h"
#include "estimate/carbonate.h"
#include "estimate/hocl.h"
#include "num/elementary.h"

/* Up to here scale is thought of. */
#define MOST_SD 1.3             /* of what nobody read */
#define PH_DRIFT 0.25           /* over what was read, until it is read again */
#define WARM_C 40.0
#define FRESH_MOL_PER_KG 0.02

/* The middle of what a reading of the pH says; of a water that goes on and was not read, what is known at the cut. */
static double usual_ph(const tw_model *m)
{
    const tw_problem *p = m->problem;
    double sum = 0.0, n = 0.0;
    for (int late = 1; late >= 0 && !(n > 0.0); late--) /* since there is chlorine, if it was read then */
        for (size_t i = 0; i < p->readings; i++) {
            const tw_reading *r = &p->reading[i];
            if (r->observed != TW_OBSERVED_PH || r->source || r->standard || (late && r->at_h < p->film_from_h))
                continue;
            double ph = r->form == TW_FORM_VALUE ? r->value : r->low < -1e6 ? r->high : r->high > 1e6 ? r->low : 0.5 * (r->low + r->high);
            ph = ph > 6.8 ? ph : 6.8;
            sum += ph < 8.6 ? ph : 8.6;
            n += 1.0;
        }
    return n > 0.0 ? sum / n : tw_estimate_cut_scale[TW_CUT_PH].middle + tw_estimate_cut_scale[TW_CUT_PH].sd * tw_estimate_carry_mean(m, (int)(m->x_cut + TW_CUT_PH));
}

/* mmol per kg, nominal: from the prior or the cut, and poured. */
static double usual_rings(const tw_model *m)
{
    const tw_problem *p = m->problem;
    const tw_prior *at = p->goes_on ? &tw_estimate_cut_scale[TW_CUT_CYANURATE] : &p->prior[TW_X_CYANURATE];
    const size_t role = p->goes_on ? m->x_cut + TW_CUT_CYANURATE : TW_X_CYANURATE;
    double poured = 0.0;
    for (size_t i = 0; i < p->doses; i++)
        poured += p->dose[i].mmol[TW_TOTAL_CYANURATE];
    return tw_exp(at->middle + at->sd * tw_estimate_carry_mean(m, (int)role)) + poured * tw_exp(-p->prior[TW_X_WATER].middle);
}

#define USUAL_CHLORINE (3.0 / TW_MG_PER_MMOL_CL2) /* mmol per kg */

double tw_estimate_usual_over(const tw_model *m)
{
    const tw_acid_constants *k = &m->acid[m->now_acid];
    const double at = tw_exp(-TW_LN10 * usual_ph(m));
    const tw_lanes h = tw_lanes_of(at), ocl = tw_lanes_of(k->kocl / (k->kocl + at)), chlorine = tw_lanes_of(USUAL_CHLORINE);
    tw_lanes root[TW_ROOTS], left = tw_lanes_of(1.0), rings = tw_lanes_of(m->rings ? usual_rings(m) : 0.0);
    tw_estimate_hocl_root(k, &h, &ocl, m->rings, root);
    if (m->rings)
        tw_estimate_hocl_left(root, &chlorine, &rings, &left, NULL);
    return root[TW_ROOT_SHARE].v[0] * left.v[0] / TW_HOCL_SHARE_REF - 1.0;
}

/* The most that a reading may mean, inside. */
static double most_of(const tw_reading *r)
{
    const double said = r->form != TW_FORM_INTERVAL ? r->value : r->high < 1e6 ? r->high : r->low;
    const double on_scale = said + 2.0 * r->sd;
    return r->link == TW_LINK_LN ? tw_exp(on_scale) - r->offset : on_scale;
}

/* The most of such readings of the tub and of what was let in; `unread` where there is none. */
static double most_read(const tw_problem *p, unsigned observed, int of_source, double unread)
{
    double most = -1.0;
    for (size_t i = 0; i < p->readings; i++) {
        const tw_reading *r = &p->reading[i];
        if (!(observed & 1u << r->observed) || r->standard || (r->source && !of_source))
            continue;
        const double at = most_of(r);
        most = at > most ? at : most;
    }
    return most >= 0.0 ? most : unread;
}

/* The most that is likely before anything is read: at the fill, or at the cut. */
static double most_before(const tw_model *m, int fixed, int cut)
{
    const tw_problem *p = m->problem;
    const tw_prior *at = p->goes_on ? &tw_estimate_cut_scale[cut] : &p->prior[fixed];
    const size_t role = p->goes_on ? m->x_cut + (size_t)cut : (size_t)fixed;
    return tw_exp(at->middle + at->sd * (tw_estimate_carry_mean(m, (int)role) + MOST_SD));
}

int tw_estimate_usual_scales(const tw_model *m)
{
    const tw_problem *p = m->problem;
    tw_acid_constants k;
    double alk = most_read(p, 1u << TW_OBSERVED_ALKALINITY, 1, most_before(m, TW_X_ALKALINITY, TW_CUT_ALKALINITY));
    double ca = most_read(p, 1u << TW_OBSERVED_CALCIUM | 1u << TW_OBSERVED_HARDNESS, 1, most_before(m, TW_X_HARDNESS, TW_CUT_CALCIUM));
    const double per_kg = 1.0 / tw_exp(p->prior[TW_X_WATER].middle + p->prior[TW_X_WATER].sd * tw_estimate_carry_mean(m, TW_X_WATER));
    for (size_t i = 0; i < p->doses; i++) {
        const tw_dose_event *d = &p->dose[i];
        alk += d->alk_meq > 0.0 && d->mmol[TW_TOTAL_ACTIVE_CHLORINE] <= 0.0 ? per_kg * d->alk_meq : 0.0;
        ca += per_kg * d->mmol[TW_TOTAL_CA];
    }
    tw_estimate_acid_constants(WARM_C, FRESH_MOL_PER_KG, &k);
    const double h = tw_exp(-TW_LN10 * (most_read(p, 1u << TW_OBSERVED_PH, 0, 0.0) + PH_DRIFT));
    return ca * alk * k.k2 / (h + 2.0 * k.k2) > k.scale;
}
