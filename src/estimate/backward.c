/* estimate/backward.c: the gradient, by running the path of forward.c backwards (its adjoint).
 *
 * `a` holds the derivative of the ln likelihood by each part of the state; every operation is undone
 * in turn, handing its share to the state before it and to the parameters. Checked against central
 * differences in tests/estimate/test_adjoint.c. */
#include <math.h>

#include "estimate/arena.h"
#include "estimate/conductivity.h"
#include "estimate/hocl.h"
#include "estimate/level.h"
#include "estimate/model.h"
#include "num/elementary.h"

typedef struct {
    tw_lanes water, chlorine, demand, combined, undissolved, low;
    tw_lanes before;                  /* by tw_state.before                    */
    tw_lanes total[TW_T_COUNT];
    tw_lanes fixed[TW_X_FIXED];       /* by the parameter itself               */
    tw_lanes bias[TW_MAX_BIASES];
    tw_lanes product[TW_MAX_PRODUCTS];
    tw_lanes own[TW_MAX_OWN];
    tw_lanes loss[TW_MAX_CLASSES], made[TW_MAX_MADE];
    tw_lanes root[3];                 /* by TW_ROOT_SHARE, ONE, TWO of the last carbon step */
} adjoint;

/* Two of them: the second keeps the first while a reading of the source water is undone. */
size_t tw_estimate_adjoint_bytes(void) { return 2 * sizeof(adjoint) + TW_ARENA_ALIGN; }

/* flow_h: hours of inflow that went in with it. */
TW_INLINE void back_linear(const tw_lanes *after, const tw_lanes *gain, double h, double flow_h, const tw_lanes *e,
                        const tw_lanes *f, const tw_lanes *df, const tw_lanes *p, adjoint *a,
                        tw_lanes *by_k, tw_lanes *by_p, tw_lanes *by_b)
{
    /* C' = C e + p h f(k h), D' = D + b flow_h */
    TW_EACH_LANE(l)
    {
        const double g = a->chlorine.v[l];
        by_k->v[l] += g * (-h * (after->v[l] - gain->v[l]) + p->v[l] * h * h * df->v[l]);
        by_p->v[l] += g * h * f->v[l];
        by_b->v[l] += a->demand.v[l] * flow_h;
        a->chlorine.v[l] = g * e->v[l];
    }
}

TW_INLINE void back_demand(const tw_lanes *c, const tw_lanes *d, const tw_lanes *rate, double h,
                        const tw_lanes kept[4], adjoint *a, tw_lanes *by_rate)
{
    TW_EACH_LANE(l)
    {
        const double w = rate->v[l] * h, C = c->v[l], D = d->v[l];
        const double E = kept[0].v[l], F = kept[1].v[l], DF = kept[2].v[l], ig = kept[3].v[l];
        const double g_c = D * w * DF * w;            /* dG/dC */
        const double g_d = w * F - g_c;               /* dG/dD */
        const double g_w = D * (F + w * DF * (C - D)); /* dG/dw */
        const double ac = a->chlorine.v[l], ad = a->demand.v[l];
        const double c_g = -C * ig * ig, d_g = -D * E * ig * ig; /* by G */
        const double by_g = ac * c_g + ad * d_g;
        const double by_e = ad * D * ig;
        a->chlorine.v[l] = ac * ig + by_g * g_c - by_e * w * E;
        a->demand.v[l] = ad * E * ig + by_g * g_d + by_e * w * E;
        by_rate->v[l] += h * (by_g * g_w - by_e * (C - D) * E);
    }
}

/* by*x more. The sum goes through a copy: the compiler cannot know that it is apart from what it is made of. */
TW_INLINE void add(double by, const tw_lanes *x, tw_lanes *to)
{
    tw_lanes sum = *to;
    TW_EACH_LANE(l) sum.v[l] += by * x->v[l];
    *to = sum;
}

/* by_k: by the rate of the loss in this stretch. */
TW_INLINE void back_follow(const tw_model *m, int index, const tw_path *path, const tw_lanes *by_k, adjoint *a)
{
    const tw_step *st = &m->step[index];
    /* Copies: the compiler cannot know that they are apart from what is written. */
    const tw_lanes part = path->par.fixed[TW_X_HOCL_PART], over = path->step_hocl[index], loss = path->loss[st->loss_class];
    const double per = st->drift / TW_HOCL_SHARE_REF;
    tw_lanes by_loss = a->loss[st->loss_class], by_part = a->fixed[TW_X_HOCL_PART], by_share = a->root[0], by;
    TW_EACH_LANE(l)
    {
        const double by_follow = by_k->v[l] * loss.v[l];
        by_loss.v[l] += by_k->v[l] * (1.0 + part.v[l] * over.v[l]);
        by_part.v[l] += by_follow * over.v[l];
        by.v[l] = by_follow * part.v[l] * per;
    }
    a->loss[st->loss_class] = by_loss;
    a->fixed[TW_X_HOCL_PART] = by_part;
    if (!m->rings) {
        TW_EACH_LANE(l) by_share.v[l] += by.v[l];
        a->root[0] = by_share;
        return;
    }
    const tw_lanes *left = path->step_left[index], *root = path->root[st->root];
    TW_EACH_LANE(l)
    {
        const double by_left = by.v[l] * root[TW_ROOT_SHARE].v[l];
        a->root[0].v[l] += by.v[l] * left[0].v[l];
        a->root[1].v[l] += by_left * left[1].v[l];
        a->root[2].v[l] += by_left * left[2].v[l];
        a->chlorine.v[l] += by_left * left[3].v[l] * (1.0 / TW_MG_PER_MMOL_CL2);
        a->total[TW_T_CYA].v[l] += by_left * left[4].v[l];
    }
}

TW_WIDE static void back_step(const tw_model *m, int index, const tw_path *path, adjoint *a)
{
    const tw_step *st = &m->step[index];
    const tw_parameters *par = &path->par;
    const double h = st->h / (double)st->substeps, half = 0.5 * h, first_h = st->before * h;
    tw_lanes p, e2, f2, df2, gain1, gain2;
    const tw_lanes e1 = path->step_decay[index][0], f1 = path->step_decay[index][1],
                   df1 = path->step_decay[index][2];
    tw_lanes by_k = tw_lanes_of(0.0), by_p = by_k, by_b = by_k, by_rate = by_k;
    const tw_lanes zero = tw_lanes_of(0.0);
    const tw_lanes film = st->film_h >= 0.0 ? path->film[index] : zero;
    const tw_lanes made = st->made_class >= 0 ? path->made[st->made_class] : zero;
    const double duty = st->duty * 1000.0;
    TW_EACH_LANE(l) p.v[l] = made.v[l] * duty / path->step_water[index].v[l];
    const int salt = path->step_short[index];
    const tw_lanes *share = path->step_salt[index];
    if (salt)
        TW_EACH_LANE(l) p.v[l] *= share[0].v[l];
    TW_EACH_LANE(l)
    {
        /* f(2z) = f(z)(1 + e^-z)/2 and its derivative */
        e2.v[l] = e1.v[l] * e1.v[l];
        f2.v[l] = 0.5 * f1.v[l] * (1.0 + e1.v[l]);
        df2.v[l] = 0.25 * (df1.v[l] * (1.0 + e1.v[l]) - f1.v[l] * e1.v[l]);
        gain1.v[l] = p.v[l] * half * f1.v[l];
        gain2.v[l] = p.v[l] * h * f2.v[l];
    }
    const tw_lanes *after = &path->after[st->first_substep + index];
    for (int i = st->substeps - 1; i >= 0; i--) {
        const int last = i + 1 == st->substeps;
        if (last)
            back_linear(&after[i + 1], &gain1, half, h - first_h, &e1, &f1, &df1, &p, a, &by_k, &by_p, &by_b);
        else
            back_linear(&after[i + 1], &gain2, h, h, &e2, &f2, &df2, &p, a, &by_k, &by_p, &by_b);
        back_demand(&path->c[st->first_substep + i], &path->d[st->first_substep + i],
                    &par->fixed[TW_X_DEMAND_RATE], h, path->demand_decay[st->first_substep + i], a, &by_rate);
    }
    back_linear(&after[0], &gain1, half, first_h, &e1, &f1, &df1, &p, a, &by_k, &by_p, &by_b);
    TW_EACH_LANE(l) a->fixed[TW_X_DEMAND_RATE].v[l] += by_rate.v[l];
    if (st->root >= 0)
        back_follow(m, index, path, &by_k, a);
    else
        TW_EACH_LANE(l) a->loss[st->loss_class].v[l] += by_k.v[l];
    if (st->film_h >= 0.0)
        TW_EACH_LANE(l)
        {
            const double left = film.v[l], tau = par->fixed[TW_X_FILM_HOURS].v[l];
            a->fixed[TW_X_FILM].v[l] += by_k.v[l] * left / par->fixed[TW_X_FILM].v[l];
            a->fixed[TW_X_FILM_HOURS].v[l] += by_k.v[l] * left * st->film_h / (tau * tau);
            a->fixed[TW_X_INFLOW].v[l] += by_b.v[l];
        }
    if (st->made_class >= 0)
        TW_EACH_LANE(l)
        {
            const double per = duty / path->step_water[index].v[l], whole = salt ? share[0].v[l] : 1.0;
            a->made[st->made_class].v[l] += by_p.v[l] * per * whole;
            a->water.v[l] -= by_p.v[l] * p.v[l] / path->step_water[index].v[l];
            if (salt)
                a->total[TW_T_CL].v[l] += by_p.v[l] * per * made.v[l] * share[1].v[l];
        }
}

/* Chlorine, from where its fall is counted until the next exchange with the air. */
TW_INLINE void back_before(adjoint *a)
{
    TW_EACH_LANE(l) a->chlorine.v[l] += a->before.v[l];
    a->before = tw_lanes_of(0.0);
}

TW_WIDE static void back_scale(const tw_scale_slope *s, adjoint *a)
{
    const double per = 1.0 / TW_MG_PER_MMOL_CL2;
    TW_EACH_LANE(l)
    {
        const double by_gone = -(a->total[TW_T_CA].v[l] + 2.0 * a->total[TW_T_ALK].v[l] + a->total[TW_T_DIC].v[l]);
        const double alk = by_gone * s->by_alk.v[l];
        a->fixed[TW_X_SCALE_RATE].v[l] += by_gone * s->by_rate.v[l];
        a->total[TW_T_CA].v[l] += by_gone * s->by_ca.v[l];
        a->total[TW_T_DIC].v[l] += by_gone * s->by_dic.v[l];
        a->total[TW_T_ALK].v[l] += alk;
        a->chlorine.v[l] += per * alk * (1.0 - s->share_ocl.v[l]);
        a->total[TW_T_BORATE].v[l] -= alk * s->share_b.v[l];
        a->total[TW_T_CYA].v[l] -= alk * s->share_cy.v[l];
        a->total[TW_T_PO4].v[l] -= alk * s->share_p.v[l];
    }
}

/* From what the stretches after a carbon step made of its pH to ln H. */
TW_INLINE void back_root(const tw_model *m, int index, const tw_path *path, adjoint *a, tw_lanes *by_h)
{
    const tw_lanes *root = path->root[index];
    TW_EACH_LANE(l)
    {
        const double share = root[TW_ROOT_SHARE].v[l];
        by_h->v[l] = a->root[0].v[l] * share * (1.0 - share);
    }
    if (m->rings)
        TW_EACH_LANE(l)
        by_h->v[l] += a->root[1].v[l] * root[TW_ROOT_ONE_SLOPE].v[l] + a->root[2].v[l] * root[TW_ROOT_TWO_SLOPE].v[l];
    a->root[0] = a->root[1] = a->root[2] = tw_lanes_of(0.0);
}

/* Chlorine that fell during an exchange: from what its right sides make of the bases it held. */
TW_INLINE void back_held(int index, const tw_path *path, const tw_lanes *by_held, adjoint *a)
{
    const double per = 1.0 / TW_MG_PER_MMOL_CL2;
    const tw_lanes *root = path->root[index - 1];
    TW_EACH_LANE(l)
    {
        const double fell = per * by_held->v[l] * root[TW_ROOT_SHARE].v[l];
        a->before.v[l] += fell;
        a->chlorine.v[l] -= fell;
        a->root[0].v[l] += by_held->v[l] * path->carbon_fell[index].v[l];
    }
}

TW_WIDE static void back_carbon(const tw_model *m, int index, const tw_path *path, adjoint *a)
{
    const tw_carbon *c = &m->carbon[index];
    const double per = 1.0 / TW_MG_PER_MMOL_CL2;
    const tw_lanes zero = tw_lanes_of(0.0);
    tw_lanes by_x = zero, by_h = zero, by_held = zero, room;
    back_before(a);
    if (m->follows)
        back_root(m, index, path, a, &by_h);
    for (int i = c->parts - 1; i >= 0; i--) {
        const tw_lanes *s = path->part_slope[c->first_part + i];
        const tw_lanes *of_h = path->root_slope[index]; /* of the last piece's H */
        const double last = i + 1 == c->parts && m->follows ? 1.0 : 0.0;
        TW_EACH_LANE(l)
        {
            const double g = a->total[TW_T_DIC].v[l], h = last * by_h.v[l];
            const double alk = g * s[0].v[l] + h * of_h[0].v[l], dic = g * s[1].v[l] + h * of_h[1].v[l];
            by_x.v[l] += g * s[2].v[l] + h * of_h[2].v[l];
            by_held.v[l] += dic * s[7].v[l];
            a->total[TW_T_DIC].v[l] = dic;
            a->total[TW_T_ALK].v[l] += alk;
            a->chlorine.v[l] += per * alk * (1.0 - s[3].v[l]);
            a->total[TW_T_BORATE].v[l] -= alk * s[4].v[l];
            a->total[TW_T_CYA].v[l] -= alk * s[5].v[l];
            a->total[TW_T_PO4].v[l] -= alk * s[6].v[l];
        }
        if (path->scales[c->first_part + i])
            back_scale(&path->scale_slope[c->first_part + i], a);
    }
    TW_EACH_LANE(l)
    {
        const double x = (path->par.fixed[TW_X_KLA_STILL].v[l] * c->still_h +
                          path->par.fixed[TW_X_KLA_JETS].v[l] * c->jets_h);
        room.v[l] = x > 12.0 * c->parts ? 0.0 : by_x.v[l];
        a->fixed[TW_X_KLA_STILL].v[l] += room.v[l] * c->still_h;
        a->fixed[TW_X_KLA_JETS].v[l] += room.v[l] * c->jets_h;
    }
    if (m->follows && index > 0)
        back_held(index, path, &by_held, a);
}

static void back_dissolve(double hours, const tw_lanes *before, adjoint *a)
{
    const double per_g = 1000.0 / TW_G_PER_MOL_NACL;
    TW_EACH_LANE(l)
    {
        const double u = before[0].v[l], e = before[1].v[l], iw = 1.0 / before[2].v[l];
        const double cl = a->total[TW_T_CL].v[l] * per_g * iw;
        const double by_gone = cl - a->undissolved.v[l];
        a->water.v[l] -= cl * u * (1.0 - e) * iw;
        a->undissolved.v[l] += by_gone * (1.0 - e);
        a->fixed[TW_X_DISSOLVE].v[l] += by_gone * u * e * hours;
    }
}

TW_WIDE static void back_dry(const tw_model *m, double exposure, const tw_path *path, const tw_lanes kept[2], adjoint *a)
{
    const tw_lanes *factor = &path->par.fixed[TW_X_EVAPORATION];
    const double hard = 1.0 - m->problem->soft_fraction;
    tw_lanes by_refill = tw_lanes_of(0.0), refill;
    TW_EACH_LANE(l)
    refill.v[l] = factor->v[l] * exposure - kept[1].v[l] * (1.0 - kept[0].v[l]);
    for (int t = 0; t < TW_T_COUNT; t++) {
        const int role = tw_estimate_source_role[t];
        if (role < 0)
            continue;
        const double part = t == TW_T_CA || t == TW_T_MG ? hard : 1.0;
        const tw_lanes g = a->total[t], source = path->par.fixed[role];
        tw_lanes by = a->fixed[role];
        TW_EACH_LANE(l)
        {
            by_refill.v[l] += g.v[l] * part * source.v[l];
            by.v[l] += g.v[l] * part * refill.v[l];
        }
        a->fixed[role] = by;
    }
    tw_estimate_level_back(exposure, kept, &by_refill, &a->low, &a->fixed[TW_X_EVAPORATION]);
}

TW_WIDE static void back_exchange(const tw_model *m, int index, const tw_path *path, adjoint *a)
{
    static const int *const ROLE = tw_estimate_source_role;
    const tw_exchange_event *x = &m->problem->exchange[index];
    const tw_lanes *before = path->before_exchange[index];
    const double hard = 1.0 - x->soft_fraction;
    tw_lanes keep, by_keep = tw_lanes_of(0.0), left, in_kg, slope, splashed = by_keep;
    if (x->level == TW_LEVEL_UNSAID) {
        splashed = tw_estimate_level_share(&before[TW_T_COUNT + 4], &before[TW_T_COUNT], -x->in_kg, &slope);
        TW_EACH_LANE(l) splashed.v[l] = -x->in_kg * (1.0 - splashed.v[l]);
    }
    back_before(a);
    if (x->level != TW_LEVEL_AS_IT_WAS)
        a->low = tw_lanes_of(0.0);
    TW_EACH_LANE(l)
    {
        const double w = before[TW_T_COUNT].v[l], least = 0.05 * w, rest = w - x->out_kg - splashed.v[l];
        left.v[l] = rest < least ? least : rest;
        in_kg.v[l] = x->in_kg + splashed.v[l];
        keep.v[l] = left.v[l] / (left.v[l] + in_kg.v[l]);
    }
    for (int t = 0; t < TW_T_COUNT; t++) {
        const double soft = t == TW_T_CA || t == TW_T_MG ? hard : 1.0;
        const tw_lanes was = before[t];
        tw_lanes g = a->total[t], in = tw_lanes_of(0.0), by_in;
        if (!x->pure && ROLE[t] >= 0) {
            in = path->par.fixed[ROLE[t]];
            TW_EACH_LANE(l)
            {
                in.v[l] *= soft;
                by_in.v[l] = g.v[l] * (1.0 - keep.v[l]);
            }
            add(soft, &by_in, &a->fixed[ROLE[t]]);
        }
        TW_EACH_LANE(l)
        {
            by_keep.v[l] += g.v[l] * (was.v[l] - in.v[l]);
            g.v[l] *= keep.v[l];
        }
        a->total[t] = g;
    }
    TW_EACH_LANE(l)
    {
        by_keep.v[l] += a->chlorine.v[l] * before[TW_T_COUNT + 1].v[l] +
                        a->demand.v[l] * before[TW_T_COUNT + 2].v[l] +
                        a->combined.v[l] * before[TW_T_COUNT + 3].v[l];
        a->chlorine.v[l] *= keep.v[l];
        a->demand.v[l] *= keep.v[l];
        a->combined.v[l] *= keep.v[l];
        const double whole = left.v[l] + in_kg.v[l], w = before[TW_T_COUNT].v[l];
        const double by_left = by_keep.v[l] * in_kg.v[l] / (whole * whole) + a->water.v[l];
        const int pinned = w - x->out_kg - splashed.v[l] < 0.05 * w;
        if (x->level == TW_LEVEL_UNSAID) { /* of the share by low*water/in */
            const double by_in = a->water.v[l] - by_keep.v[l] * left.v[l] / (whole * whole);
            const double by_ratio = x->in_kg * (by_in - (pinned ? 0.0 : by_left)) * slope.v[l];
            const double each = by_ratio / -x->in_kg;
            a->low.v[l] = each * w;
            a->water.v[l] = (pinned ? 0.05 * by_left : by_left) + each * before[TW_T_COUNT + 4].v[l];
        } else {
            a->water.v[l] = pinned ? 0.05 * by_left : by_left;
        }
    }
}

TW_WIDE static void back_dose(const tw_model *m, int index, const tw_path *path, adjoint *a)
{
    const tw_dose_event *d = &m->problem->dose[index];
    double add[TW_T_COUNT];
    tw_estimate_dose_totals(d, add);
    const tw_lanes factor = tw_estimate_dose_factor(m, index, &path->par);
    const tw_lanes *water = &path->before_dose[index][0], *had = &path->before_dose[index][1];
    tw_lanes by_per_kg = tw_lanes_of(0.0), by_factor;
    back_before(a);
    if (add[TW_T_PO4] < 0.0)
        TW_EACH_LANE(l)
        {
            const double x = path->before_dose[index][2].v[l] + add[TW_T_PO4] * factor.v[l] / water->v[l];
            a->total[TW_T_PO4].v[l] *= 0.5 * (1.0 + x / sqrt(x * x + 1e-8));
        }
    for (int t = 0; t < TW_T_COUNT; t++)
        if (add[t] < 0.0 || add[t] > 0.0)
            TW_EACH_LANE(l) by_per_kg.v[l] += a->total[t].v[l] * add[t];
    const double chlorine = d->mmol[TW_TOTAL_ACTIVE_CHLORINE] * TW_MG_PER_MMOL_CL2;
    TW_EACH_LANE(l) by_per_kg.v[l] += a->demand.v[l] * d->demand_mg;
    if (chlorine > 0.0) {
        TW_EACH_LANE(l) by_per_kg.v[l] += a->chlorine.v[l] * chlorine;
    } else if (chlorine < 0.0) {
        TW_EACH_LANE(l)
        {
            const double x = had->v[l] + chlorine * factor.v[l] / water->v[l];
            const double slope = 0.5 * (1.0 + x / sqrt(x * x + 4e-4));
            a->chlorine.v[l] *= slope;
            by_per_kg.v[l] += a->chlorine.v[l] * chlorine;
        }
    }
    TW_EACH_LANE(l)
    {
        const double iw = 1.0 / water->v[l];
        by_factor.v[l] = by_per_kg.v[l] * iw;
        a->water.v[l] -= by_per_kg.v[l] * factor.v[l] * iw * iw;
    }
    if (d->solid_salt) {
        const double g = d->mmol[TW_TOTAL_CL] * 1e-3 * TW_G_PER_MOL_NACL;
        TW_EACH_LANE(l) by_factor.v[l] += a->undissolved.v[l] * g;
    }
    const int own = m->own_of_dose[index];
    if (d->product >= 0)
        TW_EACH_LANE(l)
        a->product[d->product].v[l] +=
            by_factor.v[l] * factor.v[l] / path->par.product[d->product].v[l];
    if (own >= 0)
        TW_EACH_LANE(l)
        {
            const double rest = d->product >= 0 ? path->par.product[d->product].v[l] : 1.0;
            a->own[own].v[l] += by_factor.v[l] * rest;
        }
}

static void back_bather(const tw_model *m, int index, const tw_path *path, adjoint *a)
{
    const double person_h = m->problem->bather[index].person_h * 1000.0;
    const tw_lanes *water = &path->bather_water[index];
    TW_EACH_LANE(l)
    {
        const double g = a->demand.v[l] * person_h / water->v[l];
        a->fixed[TW_X_BATHER].v[l] += g;
        a->water.v[l] -= g * path->par.fixed[TW_X_BATHER].v[l] / water->v[l];
    }
}

/* Hand d lnL/d quantity of what was seen in one slot to the state. */
/* By a pH; s: as tw_path.ph_slope. */
TW_INLINE void back_ph(const tw_lanes *s, const tw_lanes *by_ph, adjoint *a)
{
    tw_lanes alk, chlorine;
    TW_EACH_LANE(l)
    {
        alk.v[l] = by_ph->v[l] * s[0].v[l];
        chlorine.v[l] = (1.0 / TW_MG_PER_MMOL_CL2) * alk.v[l] * (1.0 - s[2].v[l]);
    }
    add(1.0, &alk, &a->total[TW_T_ALK]);
    add(1.0, &chlorine, &a->chlorine);
    static const int HELD[3] = {TW_T_BORATE, TW_T_CYA, TW_T_PO4};
    for (int i = 0; i < 3; i++) {
        tw_lanes held;
        TW_EACH_LANE(l) held.v[l] = alk.v[l] * s[3 + i].v[l];
        add(-1.0, &held, &a->total[HELD[i]]);
    }
    TW_EACH_LANE(l) alk.v[l] = by_ph->v[l] * s[1].v[l];
    add(1.0, &alk, &a->total[TW_T_DIC]);
}

TW_WIDE static void back_reading(const tw_model *m, size_t r, const tw_path *path, adjoint *a)
{
    const tw_reading *reading = &m->problem->reading[tw_estimate_reading_of(m->problem, r)];
    const tw_conductivity_fit *ec = &m->problem->conductivity;
    const double per = 1.0 / TW_MG_PER_MMOL_CL2;
    tw_lanes g;
    if (reading->bias >= 0) {
        const double sd = m->problem->bias_sd[reading->bias];
        TW_EACH_LANE(l) a->bias[reading->bias].v[l] += sd * path->factor_slope[r].v[l];
    }
    if (reading->standard)
        return;
    TW_EACH_LANE(l) g.v[l] = path->factor_slope[r].v[l] * path->slope[r].v[l];
    if (m->dries > 0 && tw_estimate_level_shows(reading->observed))
        TW_EACH_LANE(l)
        {
            g.v[l] /= 1.0 - path->read_low[r].v[l];
            a->low.v[l] += g.v[l] * path->read_at_line[r].v[l] / (1.0 - path->read_low[r].v[l]);
        }
    switch (reading->observed) {
    case TW_OBSERVED_FREE_CHLORINE: add(1.0, &g, &a->chlorine); break;
    case TW_OBSERVED_TOTAL_CHLORINE:
        add(1.0, &g, &a->chlorine);
        add(1.0, &g, &a->combined);
        break;
    case TW_OBSERVED_COMBINED_CHLORINE: add(1.0, &g, &a->combined); break;
    case TW_OBSERVED_PH: back_ph(path->ph_slope[r], &g, a); break;
    case TW_OBSERVED_ALKALINITY:
        add(1.0, &g, &a->total[TW_T_ALK]);
        add(per, &g, &a->chlorine);
        add(-1.0, &g, &a->total[TW_T_PO4]);
        break;
    case TW_OBSERVED_CALCIUM: add(1.0, &g, &a->total[TW_T_CA]); break;
    case TW_OBSERVED_HARDNESS:
        add(1.0, &g, &a->total[TW_T_CA]);
        add(1.0, &g, &a->total[TW_T_MG]);
        break;
    case TW_OBSERVED_MAGNESIUM: add(1.0, &g, &a->total[TW_T_MG]); break;
    case TW_OBSERVED_CHLORIDE:
        add(1.0, &g, &a->total[TW_T_CL]);
        add(-per, &g, &a->chlorine);
        break;
    case TW_OBSERVED_CONDUCTIVITY:
        add(ec->per_alk, &g, &a->total[TW_T_ALK]);
        add(ec->per_ca, &g, &a->total[TW_T_CA]);
        add(ec->per_mg, &g, &a->total[TW_T_MG]);
        add(ec->per_so4, &g, &a->total[TW_T_SO4]);
        add(1.0, &g, &a->fixed[TW_X_IONS]);
        TW_EACH_LANE(l) g.v[l] *= tw_estimate_salt_slope(ec->cl, path->read_cl[r].v[l]);
        add(1.0, &g, &a->total[TW_T_CL]);
        break;
    case TW_OBSERVED_CYANURATE: add(1.0, &g, &a->total[TW_T_CYA]); break;
    case TW_OBSERVED_PHOSPHATE: add(1.0, &g, &a->total[TW_T_PO4]); break;
    case TW_OBSERVED_SULFATE: add(1.0, &g, &a->total[TW_T_SO4]); break;
    case TW_OBSERVED_BORATE: add(1.0, &g, &a->total[TW_T_BORATE]); break;
    default: add(1.0, &g, &a->water); break;
    }
}

/* The state at the start is made of parameters. `hard` as at the fill; 1 for the source itself. */
static void back_start(double hard, adjoint *a)
{
    static const int ROLE[TW_T_COUNT] = {TW_X_ALKALINITY, TW_X_CARBON, TW_X_HARDNESS, TW_X_CALCIUM_SHARE,
                                         TW_X_CHLORIDE, TW_X_SULFATE, TW_X_CYANURATE, TW_X_BORATE,
                                         TW_X_PHOSPHATE};
    for (int t = 0; t < TW_T_COUNT; t++) {
        const double part = t == TW_T_CA || t == TW_T_MG ? hard : 1.0;
        TW_EACH_LANE(l) a->fixed[ROLE[t]].v[l] += part * a->total[t].v[l];
        a->total[t] = tw_lanes_of(0.0);
    }
    TW_EACH_LANE(l)
    {
        a->fixed[TW_X_WATER].v[l] += a->water.v[l];
        a->fixed[TW_X_CHLORINE0].v[l] += a->chlorine.v[l];
        a->fixed[TW_X_DEMAND0].v[l] += a->demand.v[l];
        a->fixed[TW_X_COMBINED].v[l] += a->combined.v[l];
    }
    a->water = a->chlorine = a->demand = a->combined = a->undissolved = tw_lanes_of(0.0);
}

/* The carbon that gives a pH: what is left is by the pH, for the caller. */
TW_INLINE tw_lanes back_carbon_of_ph(const tw_path *path, adjoint *a)
{
    const tw_lanes *s = path->cut_slope;
    const double per = 1.0 / TW_MG_PER_MMOL_CL2;
    tw_lanes by_ph;
    TW_EACH_LANE(l)
    {
        const double by_dic = a->total[TW_T_DIC].v[l], by_alk = by_dic * s[1].v[l];
        by_ph.v[l] = by_dic * s[0].v[l];
        a->total[TW_T_ALK].v[l] += by_alk;
        a->chlorine.v[l] += per * by_alk * (1.0 - s[2].v[l]);
        a->total[TW_T_BORATE].v[l] -= by_alk * s[3].v[l];
        a->total[TW_T_CYA].v[l] -= by_alk * s[4].v[l];
        a->total[TW_T_PO4].v[l] -= by_alk * s[5].v[l];
    }
    a->total[TW_T_DIC] = tw_lanes_of(0.0);
    return by_ph;
}

/* A tub that stood full: pH = -lg(k1*r), r log-normal. Call before back_start(). */
TW_WIDE static void back_found(const tw_model *m, const tw_path *path, adjoint *a, tw_lanes *gradient)
{
    const tw_lanes by_ph = back_carbon_of_ph(path, a);
    const double ph_by_x = -m->problem->prior[TW_X_CARBON].sd / TW_LN10;
    TW_EACH_LANE(l) gradient[TW_X_CARBON].v[l] += by_ph.v[l] * ph_by_x;
}

/* After a cut: what the water was there, and the carbon of its pH. Call before back_start(). */
TW_WIDE static void back_cut(const tw_model *m, const tw_path *path, adjoint *a, tw_lanes *gradient)
{
    static const int CUT[TW_T_COUNT] = {TW_CUT_ALKALINITY, -1, TW_CUT_CALCIUM, TW_CUT_MAGNESIUM, TW_CUT_CHLORIDE,
                                        TW_CUT_SULFATE, TW_CUT_CYANURATE, TW_CUT_BORATE, TW_CUT_PHOSPHATE};
    tw_lanes *g = &gradient[m->x_cut];
    const tw_lanes by_ph = back_carbon_of_ph(path, a);
    TW_EACH_LANE(l) g[TW_CUT_PH].v[l] = by_ph.v[l] * path->par.cut_slope[TW_CUT_PH].v[l];
    for (int t = 0; t < TW_T_COUNT; t++) {
        if (CUT[t] >= 0)
            TW_EACH_LANE(l) g[CUT[t]].v[l] = a->total[t].v[l] * path->par.cut_slope[CUT[t]].v[l];
        a->total[t] = tw_lanes_of(0.0);
    }
    if (m->problem->cut.heap)
        TW_EACH_LANE(l) g[TW_CUT_HEAP].v[l] = a->undissolved.v[l] * path->par.cut_slope[TW_CUT_HEAP].v[l];
}

/* A reading of the source water: its own little state, straight to the parameters. */
static void back_source_reading(const tw_model *m, int r, const tw_path *path, adjoint *a)
{
    adjoint *kept = a + 1; /* a second one follows the first in the caller's memory */
    kept->water = a->water;
    kept->chlorine = a->chlorine;
    kept->demand = a->demand;
    kept->combined = a->combined;
    kept->undissolved = a->undissolved;
    kept->low = a->low;
    for (int t = 0; t < TW_T_COUNT; t++) {
        kept->total[t] = a->total[t];
        a->total[t] = tw_lanes_of(0.0);
    }
    a->water = a->chlorine = a->demand = a->combined = a->undissolved = tw_lanes_of(0.0);
    back_reading(m, (size_t)r, path, a);
    back_start(1.0, a);
    a->water = kept->water;
    a->chlorine = kept->chlorine;
    a->demand = kept->demand;
    a->combined = kept->combined;
    a->undissolved = kept->undissolved;
    a->low = kept->low;
    for (int t = 0; t < TW_T_COUNT; t++)
        a->total[t] = kept->total[t];
}

TW_WIDE static void clear(const tw_model *m, adjoint *a)
{
    const tw_problem *p = m->problem;
    const tw_lanes zero = tw_lanes_of(0.0);
    a->water = a->chlorine = a->demand = a->combined = a->undissolved = a->low = a->before = zero;
    for (int t = 0; t < TW_T_COUNT; t++)
        a->total[t] = zero;
    for (size_t i = 0; i < TW_X_FIXED; i++)
        a->fixed[i] = zero;
    for (size_t i = 0; i < p->biases; i++)
        a->bias[i] = zero;
    for (size_t i = 0; i < p->products; i++)
        a->product[i] = zero;
    for (size_t i = 0; i < m->owns; i++)
        a->own[i] = zero;
    for (size_t i = 0; i < m->loss_classes; i++)
        a->loss[i] = zero;
    for (size_t i = 0; i < m->made_classes; i++)
        a->made[i] = zero;
    for (int i = 0; i < 3; i++)
        a->root[i] = zero;
}

/* From the classes of (day, temperature) to loss, activation energy, cell and the days. */
TW_WIDE static void back_classes(const tw_model *m, const tw_path *path, adjoint *a, tw_lanes *gradient)
{
    const double sd = m->problem->day_sd;
    for (size_t c = 0; c < m->loss_classes; c++) {
        const tw_loss_class *k = &m->loss_class[c];
        TW_EACH_LANE(l)
        {
            const double ln = a->loss[c].v[l] * path->loss[c].v[l];
            a->fixed[TW_X_LOSS].v[l] += ln / path->par.fixed[TW_X_LOSS].v[l];
            a->fixed[TW_X_LOSS_EA].v[l] -= ln * k->ea_factor;
            if (k->day >= 0)
                gradient[m->x_loss_day + (size_t)k->day].v[l] += sd * ln;
        }
    }
    for (size_t c = 0; c < m->made_classes; c++) {
        const tw_made_class *k = &m->made_class[c];
        TW_EACH_LANE(l)
        {
            const double ln = a->made[c].v[l] * path->made[c].v[l];
            const int whole = m->problem->part_of[k->cell] - 1;
            gradient[m->x_cell + (size_t)k->cell].v[l] += ln * path->par.cell_slope[k->cell].v[l];
            if (whole >= 0)
                gradient[m->x_cell + (size_t)whole].v[l] += ln * path->par.cell_slope[whole].v[l];
            if (k->day >= 0)
                gradient[m->x_made_day + (size_t)k->day].v[l] += sd * ln;
        }
    }
}

/* The AR(1) of the days, backwards: g holds the derivative by each day's value on the way in. */
TW_WIDE static void back_days(tw_lanes *g, size_t days)
{
    const double fresh = sqrt(1.0 - TW_DAY_RHO * TW_DAY_RHO);
    for (size_t d = days; d-- > 1;)
        TW_EACH_LANE(l)
        {
            g[d - 1].v[l] += TW_DAY_RHO * g[d].v[l];
            g[d].v[l] *= fresh;
        }
}

TW_WIDE static void finish(const tw_model *m, const tw_path *path, adjoint *a, tw_lanes *gradient)
{
    const tw_problem *p = m->problem;
    back_classes(m, path, a, gradient);
    back_days(&gradient[m->x_loss_day], m->days);
    back_days(&gradient[m->x_made_day], m->days);
    TW_EACH_LANE(l)
    {
        /* Calcium = hardness*share, magnesium = hardness*(1 - share). */
        const double ca = path->par.fixed[TW_X_HARDNESS].v[l];
        const double mg = path->par.fixed[TW_X_CALCIUM_SHARE].v[l];
        const double all = ca + mg, share = ca / all;
        const double by_ca = a->fixed[TW_X_HARDNESS].v[l], by_mg = a->fixed[TW_X_CALCIUM_SHARE].v[l];
        a->fixed[TW_X_HARDNESS].v[l] = by_ca * share + by_mg * (1.0 - share);
        a->fixed[TW_X_CALCIUM_SHARE].v[l] = all * (by_ca - by_mg);
        /* Carbon = alkalinity*(what the source's pH asks). */
        a->fixed[TW_X_ALKALINITY].v[l] +=
            a->fixed[TW_X_CARBON].v[l] * path->par.fixed[TW_X_CARBON].v[l] / path->par.fixed[TW_X_ALKALINITY].v[l];
    }
    for (size_t r = 0; r < TW_X_FIXED; r++)
        TW_EACH_LANE(l) gradient[r].v[l] += a->fixed[r].v[l] * path->par.slope[r].v[l];
    for (size_t i = 0; i < p->biases; i++)
        TW_EACH_LANE(l) gradient[m->x_bias + i].v[l] = a->bias[i].v[l] * path->par.bias_slope[i].v[l];
    for (size_t i = 0; i < p->products; i++)
        TW_EACH_LANE(l)
        gradient[m->x_product + i].v[l] =
            a->product[i].v[l] * path->par.product_slope[i].v[l];
    for (size_t i = 0; i < m->owns; i++)
        TW_EACH_LANE(l)
        gradient[m->x_own + i].v[l] = a->own[i].v[l] * path->par.own_slope[i].v[l];
}

void tw_estimate_backward(const tw_model *m, const tw_path *path, void *mem, tw_lanes *gradient)
{
    tw_arena arena = {mem, tw_estimate_adjoint_bytes()};
    adjoint *a = tw_arena_take(&arena, 2 * sizeof *a);
    clear(m, a);
    for (size_t r = 0; r < m->dims; r++)
        gradient[r] = tw_lanes_of(0.0);
    size_t dissolved = m->dissolves, dried = m->dries;
    for (size_t i = m->ops; i-- > 0;) {
        const tw_op *op = &m->op[i];
        switch (op->kind) {
        case TW_OP_STEP: back_step(m, op->index, path, a); break;
        case TW_OP_CARBON:
            if (m->ph_read || m->follows)
                back_carbon(m, op->index, path, a);
            break;
        case TW_OP_DISSOLVE:
            back_dissolve(op->amount, path->before_dissolve[--dissolved], a);
            break;
        case TW_OP_EXCHANGE: back_exchange(m, op->index, path, a); break;
        case TW_OP_DRY: back_dry(m, op->amount, path, path->dried[--dried], a); break;
        case TW_OP_DOSE: back_dose(m, op->index, path, a); break;
        case TW_OP_BATHER: back_bather(m, op->index, path, a); break;
        case TW_OP_LOOK: back_reading(m, tw_estimate_slot(m->problem, op), path, a); break;
        default:
            if (m->problem->reading[op->index].source)
                back_source_reading(m, op->index, path, a);
            else
                back_reading(m, (size_t)op->index, path, a);
        }
    }
    back_before(a);
    if (m->problem->goes_on)
        back_cut(m, path, a, gradient);
    else if (!m->problem->filled)
        back_found(m, path, a, gradient);
    back_start(1.0 - m->problem->soft_fraction, a);
    finish(m, path, a, gradient);
}
