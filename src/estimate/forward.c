/* estimate/forward.c: what the water does along a timeline, for one group of lanes.
 *
 * Strang's splitting (1968): the linear part (loss, generator, continuing demand) is exact over half
 * a substep, the demand part (k_d * chlorine * demand) exact over the whole, the linear part again;
 * neighbouring halves are joined. Only the commutator of the two is an error (numerics in
 * docs/estimate.md): what appears by itself goes in before and after the demand part in shares that freeze.c has found.
 * Both parts keep chlorine and demand positive. */
#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/conductivity.h"
#include "estimate/hocl.h"
#include "estimate/level.h"
#include "estimate/model.h"
#include "estimate/output.h"
#include "estimate/scale.h"
#include "num/elementary.h"

#define RATE (path->par.fixed[TW_X_DEMAND_RATE])

/* Positive part with a rounded corner of width 0.02 mg/kg: sulfite cannot take more than there is. */
TW_INLINE tw_lanes soft_positive(tw_lanes x, tw_lanes *slope)
{
    tw_lanes r;
    TW_EACH_LANE(l)
    {
        const double root = sqrt(x.v[l] * x.v[l] + 4e-4);
        r.v[l] = 0.5 * (x.v[l] + root);
        slope->v[l] = 0.5 * (1.0 + x.v[l] / root);
    }
    return r;
}

/* Exponentials that many stretches share. */
TW_WIDE static void prepare(const tw_model *m, tw_path *path)
{
    const tw_parameters *par = &path->par;
    for (size_t c = 0; c < m->loss_classes; c++) {
        const tw_loss_class *k = &m->loss_class[c];
        tw_lanes x;
        TW_EACH_LANE(l) x.v[l] = -par->fixed[TW_X_LOSS_EA].v[l] * k->ea_factor;
        if (k->day >= 0)
            TW_EACH_LANE(l) x.v[l] += m->problem->day_sd * par->loss_day[k->day].v[l];
        x = tw_lanes_exp(x);
        TW_EACH_LANE(l) path->loss[c].v[l] = par->fixed[TW_X_LOSS].v[l] * x.v[l];
    }
    for (size_t c = 0; c < m->made_classes; c++) {
        const tw_made_class *k = &m->made_class[c];
        tw_lanes x = tw_lanes_of(1.0);
        if (k->day >= 0) {
            TW_EACH_LANE(l) x.v[l] = m->problem->day_sd * par->made_day[k->day].v[l];
            x = tw_lanes_exp(x);
        }
        TW_EACH_LANE(l)
        path->made[c].v[l] = m->problem->plate_output_g_per_h * par->cell[k->cell].v[l] * x.v[l];
    }
    for (size_t i = 0; i < m->steps; i++) {
        if (m->step[i].film_h < 0.0)
            continue;
        tw_lanes x;
        TW_EACH_LANE(l) x.v[l] = -m->step[i].film_h / par->fixed[TW_X_FILM_HOURS].v[l];
        x = tw_lanes_exp(x);
        TW_EACH_LANE(l) path->film[i].v[l] = par->fixed[TW_X_FILM].v[l] * x.v[l];
    }
}

static const tw_acid_constants *start_acid(const tw_model *m)
{
    return &m->acid[m->carbons > 0 ? m->carbon[0].acid : m->now_acid];
}

/* The water that is let in. */
static void start_source(const tw_model *m, tw_path *path)
{
    const tw_parameters *par = &path->par;
    tw_state *s = &path->state;
    const tw_acid_constants *k = start_acid(m);
    const double hard = 1.0 - m->problem->soft_fraction;
    s->water_kg = par->fixed[TW_X_WATER];
    s->chlorine = par->fixed[TW_X_CHLORINE0];
    s->remnant = s->chlorine;
    s->demand = par->fixed[TW_X_DEMAND0];
    s->combined = par->fixed[TW_X_COMBINED];
    s->undissolved_g = tw_lanes_of(0.0);
    s->made_g = tw_lanes_of(0.0);
    s->low = tw_lanes_of(0.0);
    tw_estimate_acid_guess(&m->acid[m->now_acid], &s->guess);
    s->total[TW_T_ALK] = par->fixed[TW_X_ALKALINITY];
    s->total[TW_T_DIC] = par->fixed[TW_X_CARBON];
    TW_EACH_LANE(l)
    {
        s->total[TW_T_CA].v[l] = hard * par->fixed[TW_X_HARDNESS].v[l];
        s->total[TW_T_MG].v[l] = hard * par->fixed[TW_X_CALCIUM_SHARE].v[l];
    }
    s->total[TW_T_CL] = par->fixed[TW_X_CHLORIDE];
    s->total[TW_T_SO4] = par->fixed[TW_X_SULFATE];
    s->total[TW_T_CYA] = par->fixed[TW_X_CYANURATE];
    s->total[TW_T_BORATE] = par->fixed[TW_X_BORATE];
    s->total[TW_T_PO4] = par->fixed[TW_X_PHOSPHATE];
    tw_lanes co2, above;
    TW_EACH_LANE(l)
    {
        const double r = par->co2_part.v[l];
        s->h.v[l] = k->k1 * r;
        co2.v[l] = par->fixed[TW_X_ALKALINITY].v[l] * r / (1.0 + 2.0 * k->k2 / s->h.v[l]);
    }
    (void)tw_estimate_scale_near(k, &s->total[TW_T_CA], &s->h, &co2, &s->near_scale, &above);
    s->formed = tw_lanes_of(0.0);
    s->before = s->chlorine;
}

static void acids_of(const tw_state *s, tw_acids *a, tw_lanes *alk)
{
    TW_EACH_LANE(l)
    {
        a->active.v[l] = s->chlorine.v[l] * (1.0 / TW_MG_PER_MMOL_CL2);
        alk->v[l] = s->total[TW_T_ALK].v[l] + a->active.v[l];
    }
    a->borate = s->total[TW_T_BORATE];
    a->cyanurate = s->total[TW_T_CYA];
    a->phosphate = s->total[TW_T_PO4];
}

/* The carbon that gives this pH, by the equation of tw_estimate_acid_solve() read the other way round. */
TW_WIDE static void carbon_of_ph(const tw_acid_constants *k, tw_lanes h, tw_path *path)
{
    tw_state *s = &path->state;
    tw_acids a;
    tw_acid_at at;
    tw_lanes alk, co2, above;
    acids_of(s, &a, &alk);
    tw_estimate_acid_at(k, &h, &alk, &a, &at);
    TW_EACH_LANE(l)
    {
        const double x = h.v[l], iq = at.iq.v[l], bicarbonate = k->k1 * x, k12 = k->k1 * k->k2;
        const double s_b = (x * x + bicarbonate + k12) * iq, b2_b = (bicarbonate + 4.0 * k12) * iq;
        const double carbon = at.alk_c.v[l] * s_b;
        const int none = !(carbon > 1e-4); /* other acids hold all of it */
        s->total[TW_T_DIC].v[l] = none ? 1e-4 : carbon;
        path->cut_slope[0].v[l] = none ? 0.0 : -TW_LN10 * (at.w.v[l] * s_b + at.alk_c.v[l] * (s_b * b2_b - 1.0));
        path->cut_slope[1].v[l] = none ? 0.0 : s_b;
        co2.v[l] = s->total[TW_T_DIC].v[l] * x * x / (x * x + bicarbonate + k12);
    }
    s->h = h;
    (void)tw_estimate_scale_near(k, &s->total[TW_T_CA], &h, &co2, &s->near_scale, &above);
    path->cut_slope[2] = at.ocl;
    path->cut_slope[3] = at.b;
    path->cut_slope[4] = at.cy;
    TW_EACH_LANE(l) path->cut_slope[5].v[l] = 1.0 + at.p2.v[l];
}

/* A tub that stood full: its carbon dioxide beside its alkalinity says the pH as it does of a source, and what cyanurate, borate
 * and phosphate hold of the alkalinity is not carbonate. */
static void start_found(const tw_model *m, tw_path *path)
{
    start_source(m, path);
    carbon_of_ph(start_acid(m), path->state.h, path);
}

/* A stretch that goes on: the water as it was at the cut. */
static void start_from_cut(const tw_model *m, tw_path *path)
{
    static const int CUT[TW_T_COUNT] = {TW_CUT_ALKALINITY, -1, TW_CUT_CALCIUM, TW_CUT_MAGNESIUM, TW_CUT_CHLORIDE,
                                        TW_CUT_SULFATE, TW_CUT_CYANURATE, TW_CUT_BORATE, TW_CUT_PHOSPHATE};
    tw_state *s = &path->state;
    start_source(m, path); /* chlorine, demand, combined and water stand in their usual coordinates */
    for (int t = 0; t < TW_T_COUNT; t++)
        if (CUT[t] >= 0)
            s->total[t] = path->par.cut[CUT[t]];
    TW_EACH_LANE(l) s->remnant.v[l] = s->chlorine.v[l] * path->par.cut[TW_CUT_REMNANT].v[l];
    if (m->problem->cut.heap)
        s->undissolved_g = path->par.cut[TW_CUT_HEAP];
    s->low = tw_lanes_of(m->problem->cut.low);
    tw_lanes h;
    TW_EACH_LANE(l) h.v[l] = -TW_LN10 * path->par.cut[TW_CUT_PH].v[l];
    carbon_of_ph(&m->acid[m->cut_acid], tw_lanes_exp(h), path);
}

/* One linear part: chlorine over h with loss and make, demand with its inflow. */
TW_INLINE void linear_part(tw_state *s, const tw_lanes *e, const tw_lanes *gain,
                               const tw_lanes *demand_gain, int tagged)
{
    TW_EACH_LANE(l)
    {
        s->chlorine.v[l] = s->chlorine.v[l] * e->v[l] + gain->v[l];
        s->demand.v[l] += demand_gain->v[l];
    }
    if (tagged)
        TW_EACH_LANE(l) s->remnant.v[l] *= e->v[l];
}

TW_INLINE void demand_part(tw_state *s, const tw_lanes *rate, double h, int tagged, tw_lanes kept[4])
{
    tw_lanes z;
    TW_EACH_LANE(l) z.v[l] = rate->v[l] * h * (s->chlorine.v[l] - s->demand.v[l]);
    tw_lanes_decay(z, &kept[0], &kept[1], &kept[2]);
    TW_EACH_LANE(l)
    {
        const double g = 1.0 / (1.0 + s->demand.v[l] * (rate->v[l] * h) * kept[1].v[l]);
        kept[3].v[l] = g;
        s->chlorine.v[l] *= g;
        s->demand.v[l] *= kept[0].v[l] * g;
    }
    if (tagged)
        TW_EACH_LANE(l) s->remnant.v[l] *= kept[3].v[l];
}

TW_INLINE unsigned char salt_is_short(const tw_model *m, const tw_state *s)
{
    int below = 0;
    TW_EACH_LANE(l) below |= s->total[TW_T_CL].v[l] < m->plate_salt_mmol_per_kg;
    return (unsigned char)below;
}

/* By how much the loss is more or less than at the reference, by the member's own pH, chlorine and rings. */
TW_INLINE tw_lanes follow_of(const tw_model *m, int index, tw_path *path)
{
    const tw_step *st = &m->step[index];
    const tw_lanes *root = path->root[st->root], part = path->par.fixed[TW_X_HOCL_PART];
    const double per = st->drift / TW_HOCL_SHARE_REF;
    tw_lanes over = root[TW_ROOT_SHARE], follow, c;
    TW_EACH_LANE(l) over.v[l] *= per;
    if (m->rings) {
        tw_lanes *left = path->step_left[index];
        TW_EACH_LANE(l) c.v[l] = path->state.chlorine.v[l] * (1.0 / TW_MG_PER_MMOL_CL2);
        tw_estimate_hocl_left(root, &c, &path->state.total[TW_T_CYA], left, left + 1);
        TW_EACH_LANE(l) over.v[l] *= left->v[l];
    }
    TW_EACH_LANE(l)
    {
        over.v[l] -= 1.0;
        follow.v[l] = 1.0 + part.v[l] * over.v[l];
    }
    path->step_hocl[index] = over;
    return follow;
}

TW_WIDE static void run_step(const tw_model *m, int index, tw_path *path, int tagged)
{
    const tw_step *st = &m->step[index];
    tw_state *s = &path->state;
    const double h = st->h / (double)st->substeps, half = 0.5 * h, first_h = st->before * h;
    tw_lanes k, p, b, e_half, e_full, gain_half, gain_full, d_first, d_full, d_last, f;
    tw_lanes *decay = path->step_decay[index];
    path->step_water[index] = s->water_kg;
    const tw_lanes zero = tw_lanes_of(0.0);
    const tw_lanes loss = path->loss[st->loss_class];
    const tw_lanes film = st->film_h >= 0.0 ? path->film[index] : zero;
    const tw_lanes made = st->made_class >= 0 ? path->made[st->made_class] : zero;
    const tw_lanes inflow = st->film_h >= 0.0 ? path->par.fixed[TW_X_INFLOW] : zero;
    const double duty = st->duty * 1000.0;
    const tw_lanes follow = st->root >= 0 ? follow_of(m, index, path) : tw_lanes_of(1.0);
    TW_EACH_LANE(l)
    {
        k.v[l] = loss.v[l] * follow.v[l] + film.v[l];
        p.v[l] = made.v[l] * duty / s->water_kg.v[l];
        b.v[l] = inflow.v[l];
    }
    path->step_short[index] = st->made_class >= 0 && salt_is_short(m, s);
    if (path->step_short[index]) {
        tw_estimate_salt_share(&s->total[TW_T_CL], m->plate_salt_mmol_per_kg, &path->step_salt[index][0],
                               &path->step_salt[index][1]);
        TW_EACH_LANE(l) p.v[l] *= path->step_salt[index][0].v[l];
    }
    TW_EACH_LANE(l) f.v[l] = k.v[l] * half;
    tw_lanes_decay(f, &decay[0], &decay[1], &decay[2]);
    e_half = decay[0];
    TW_EACH_LANE(l)
    {
        e_full.v[l] = e_half.v[l] * e_half.v[l];
        gain_half.v[l] = decay[1].v[l] * (p.v[l] * half);
        gain_full.v[l] = gain_half.v[l] * (1.0 + e_half.v[l]);
        d_first.v[l] = b.v[l] * first_h;
        d_full.v[l] = b.v[l] * h;
        d_last.v[l] = b.v[l] * (h - first_h);
    }
    if (tagged)
        TW_EACH_LANE(l) s->made_g.v[l] += p.v[l] * s->water_kg.v[l] * st->h * 1e-3;
    tw_lanes *after = &path->after[st->first_substep + index];
    linear_part(s, &e_half, &gain_half, &d_first, tagged);
    after[0] = s->chlorine;
    for (int i = 0; i < st->substeps; i++) {
        path->c[st->first_substep + i] = s->chlorine;
        path->d[st->first_substep + i] = s->demand;
        demand_part(s, &RATE, h, tagged, path->demand_decay[st->first_substep + i]);
        const int last = i + 1 == st->substeps;
        linear_part(s, last ? &e_half : &e_full, last ? &gain_half : &gain_full,
                    last ? &d_last : &d_full, tagged);
        after[i + 1] = s->chlorine;
    }
}

/* CO2 before a piece and the carbon, from which freeze.c learns how CO2 falls with carbon. */
static void note_fall(const tw_acid_constants *k, const tw_lanes *alk, const tw_acids *a, tw_state *s, tw_lanes fall[2])
{
    tw_acid_root r;
    tw_acid_guess guess = s->guess;
    tw_estimate_acid_solve(k, *alk, s->total[TW_T_DIC], tw_lanes_of(0.0), a, TW_NEWTON_MOST, &guess, &r, NULL);
    fall[0] = r.co2;
    fall[1] = s->total[TW_T_DIC];
}

/* What falls out before a piece of an exchange with the air (Strang's splitting). */
static void run_scale(const tw_model *m, const tw_carbon *c, int piece, tw_path *path)
{
    tw_state *s = &path->state;
    tw_lanes *total = s->total, gone, alk;
    tw_acids a;
    acids_of(s, &a, &alk);
    tw_estimate_scale(&m->acid[c->acid], c->scale_h[piece], &path->par.fixed[TW_X_SCALE_RATE], &total[TW_T_CA], &alk, &total[TW_T_DIC], &a,
                      &s->near_scale, &s->h, &gone, &path->scale_slope[c->first_part + piece]);
    TW_EACH_LANE(l)
    {
        s->formed.v[l] = gone.v[l] > 0.0 ? 1.0 : 0.0;
        total[TW_T_CA].v[l] -= gone.v[l];
        total[TW_T_ALK].v[l] -= 2.0 * gone.v[l];
        total[TW_T_DIC].v[l] -= gone.v[l];
    }
}

/* Where the water stands to the index of scale at a root: over it, or near enough to come there before the next one. */
TW_INLINE void note_index(const tw_acid_constants *k, const tw_acid_root *r, int here, tw_state *s)
{
    tw_lanes near, above;
    (void)tw_estimate_scale_near(k, &s->total[TW_T_CA], &r->h, &r->co2, &near, &above);
    s->near_scale = here ? above : near;
    TW_EACH_LANE(l) s->h.v[l] = s->formed.v[l] > 0.0 ? s->h.v[l] : r->h.v[l];
}

static unsigned char some(const tw_lanes *x)
{
    int any = 0;
    TW_EACH_LANE(l) any |= x->v[l] > 0.0;
    return (unsigned char)any;
}

/* What a piece of an exchange, z = stretch*E, keeps of base that is held at its begin and not at its end, (e^z - 1 - z)/z; its slope in z. */
TW_INLINE void held_by(const tw_lanes *z, const tw_lanes *grown, tw_lanes *keeps, tw_lanes *slope)
{
    TW_EACH_LANE(l)
    {
        const double at = z->v[l], i = at > 1e-3 ? 1.0 / at : 0.0, q = at > 1e-3 ? grown->v[l] * i - 1.0 : at * (0.5 + at * (1.0 / 6.0));
        keeps->v[l] = q;
        slope->v[l] = at > 1e-3 ? (grown->v[l] - q) * i : 0.5 + at * (1.0 / 3.0);
    }
}

/* Exchange of CO2 with the air over an exposure E = kLa*hours: an implicit step whose E is stretched so that it is
 * exact where CO2 falls by `stretch` mmol with each mmol of carbon: 0.95 at pH 7.5, a half at 8.2, a fifth at 8.5.
 * The acids are those of its end. Chlorine that fell meanwhile held more base before, by HOCl's share at the root before, and
 * each mmol of it kept CO2 lower by `stretch`: on a straight line that is exact too (held_by). */
TW_WIDE static void run_carbon(const tw_model *m, int index, tw_path *path)
{
    const tw_carbon *c = &m->carbon[index];
    const tw_acid_constants *k = &m->acid[c->acid];
    tw_state *s = &path->state;
    tw_acids a;
    tw_acid_root r;
    tw_lanes alk, x, e, held = tw_lanes_of(0.0);
    const int steps = path->measuring ? TW_NEWTON_MOST : c->newton;
    double later = 1.0; /* share of the time that is still to come */
    acids_of(s, &a, &alk);
    TW_EACH_LANE(l) path->carbon_fell[index].v[l] = (s->before.v[l] - s->chlorine.v[l]) * (1.0 / TW_MG_PER_MMOL_CL2);
    if (m->follows && index > 0)
        TW_EACH_LANE(l) held.v[l] = path->carbon_fell[index].v[l] * path->root[index - 1][TW_ROOT_SHARE].v[l];
    s->before = s->chlorine;
    TW_EACH_LANE(l)
    {
        x.v[l] = (path->par.fixed[TW_X_KLA_STILL].v[l] * c->still_h +
                  path->par.fixed[TW_X_KLA_JETS].v[l] * c->jets_h);
        x.v[l] = x.v[l] > 12.0 * c->parts ? 12.0 * c->parts : x.v[l];
    }
    for (int i = 0; i < c->parts; i++) {
        const int piece = c->first_part + i;
        const double stretch = c->stretch[i], inverse = 1.0 / stretch, part = c->share[i];
        tw_lanes rhs, z, grown, keeps, by_e;
        tw_lanes *fall = path->part_fall[piece], *slope = path->part_slope[piece];
        path->scales[piece] = 0;
        later -= part;
        if (m->ph_read && c->scale_h[i] > 0.0) {
            if (i > 0)
                note_index(k, &r, 1, s);
            path->scales[piece] = some(&s->near_scale);
            s->formed = tw_lanes_of(0.0);
            if (path->scales[piece]) {
                run_scale(m, c, i, path);
                acids_of(s, &a, &alk);
            }
        }
        if (path->measuring)
            note_fall(k, &alk, &a, s, fall);
        TW_EACH_LANE(l) z.v[l] = (stretch * part) * x.v[l];
        e = tw_lanes_exp(z);
        TW_EACH_LANE(l) grown.v[l] = e.v[l] - 1.0;
        held_by(&z, &grown, &keeps, &by_e);
        TW_EACH_LANE(l)
        {
            by_e.v[l] = part * (k->co2_eq * e.v[l] + held.v[l] * stretch * (part * by_e.v[l] + later * e.v[l]));
            e.v[l] = grown.v[l] * inverse;
            slope[7].v[l] = part * keeps.v[l] + later * grown.v[l];
            rhs.v[l] = s->total[TW_T_DIC].v[l] + e.v[l] * k->co2_eq + slope[7].v[l] * held.v[l];
        }
        tw_estimate_acid_solve(k, alk, rhs, e, &a, steps, &s->guess, &r,
                               path->measuring ? &path->part_need[piece] : NULL);
        TW_EACH_LANE(l)
        {
            const double iu = 1.0 / r.slope.v[l];
            by_e.v[l] -= part * r.co2.v[l] * (grown.v[l] + 1.0);
            s->total[TW_T_DIC].v[l] = rhs.v[l] - e.v[l] * r.co2.v[l];
            slope[0].v[l] =
                -e.v[l] * (r.inverse_b.v[l] - r.co2_by_lnh.v[l] * r.by_alk.v[l] * iu);
            slope[1].v[l] = 1.0 - e.v[l] * r.co2_by_lnh.v[l] * iu;
            slope[2].v[l] = by_e.v[l] * slope[1].v[l];
        }
        if (path->measuring)
            TW_EACH_LANE(l)
            {
                fall[0].v[l] -= r.co2.v[l];
                fall[1].v[l] -= s->total[TW_T_DIC].v[l];
            }
        slope[3] = r.share_ocl;
        slope[4] = r.share_b;
        slope[5] = r.share_cy;
        slope[6] = r.share_p;
        if (m->follows && i + 1 == c->parts) {
            tw_lanes *by = path->root_slope[index];
            tw_estimate_hocl_root(k, &r.h, &r.share_ocl, m->rings, path->root[index]);
            TW_EACH_LANE(l)
            {
                const double iu = 1.0 / r.slope.v[l];
                by[0].v[l] = -r.by_alk.v[l] * iu;
                by[1].v[l] = iu;
                by[2].v[l] = by_e.v[l] * iu;
            }
        }
    }
    if (m->ph_read)
        note_index(k, &r, 0, s);
}

TW_WIDE static void run_dissolve(double hours, tw_path *path, size_t *count)
{
    tw_state *s = &path->state;
    tw_lanes x;
    tw_lanes *keep = path->before_dissolve[*count];
    TW_EACH_LANE(l) x.v[l] = -path->par.fixed[TW_X_DISSOLVE].v[l] * hours;
    x = tw_lanes_exp(x);
    keep[0] = s->undissolved_g;
    keep[1] = x;
    keep[2] = s->water_kg;
    TW_EACH_LANE(l)
    {
        const double gone = s->undissolved_g.v[l] * (1.0 - x.v[l]);
        s->total[TW_T_CL].v[l] += gone * (1000.0 / TW_G_PER_MOL_NACL) / s->water_kg.v[l];
        s->undissolved_g.v[l] -= gone;
    }
    (*count)++;
}

const int tw_estimate_source_role[TW_T_COUNT] = {TW_X_ALKALINITY, TW_X_CARBON, TW_X_HARDNESS, TW_X_CALCIUM_SHARE,
                                                 TW_X_CHLORIDE, TW_X_SULFATE, -1, -1, TW_X_PHOSPHATE};

/* What the water that comes in holds of a total. */
static tw_lanes incoming(const tw_parameters *par, const tw_exchange_event *x, int t)
{
    tw_lanes r = tw_lanes_of(0.0);
    const double hard = 1.0 - x->soft_fraction;
    if (x->pure || tw_estimate_source_role[t] < 0)
        return r;
    r = par->fixed[tw_estimate_source_role[t]];
    if (t == TW_T_CA || t == TW_T_MG)
        TW_EACH_LANE(l) r.v[l] *= hard;
    return r;
}

/* Evaporation: the level falls, and what people fill up without writing it brings what the source holds. */
TW_WIDE static void run_dry(const tw_model *m, double exposure, tw_path *path, tw_lanes kept[2])
{
    const tw_lanes *source = path->par.fixed;
    tw_state *s = &path->state;
    tw_lanes refill, low = s->low;
    tw_estimate_level_dry(exposure, &source[TW_X_EVAPORATION], &low, &refill, kept);
    s->low = low;
    for (int t = 0; t < TW_T_COUNT; t++) {
        const double part = t == TW_T_CA || t == TW_T_MG ? 1.0 - m->problem->soft_fraction : 1.0;
        const int role = tw_estimate_source_role[t];
        if (role >= 0)
            TW_EACH_LANE(l) s->total[t].v[l] += refill.v[l] * part * source[role].v[l];
    }
}

TW_WIDE static void run_exchange(const tw_model *m, int index, tw_path *path, int tagged)
{
    const tw_exchange_event *x = &m->problem->exchange[index];
    tw_state *s = &path->state;
    tw_lanes *before = path->before_exchange[index];
    before[TW_T_COUNT] = s->water_kg;
    before[TW_T_COUNT + 1] = s->chlorine;
    before[TW_T_COUNT + 2] = s->demand;
    before[TW_T_COUNT + 3] = s->combined;
    before[TW_T_COUNT + 4] = s->low;
    tw_lanes keep, splashed = tw_lanes_of(0.0), slope;
    if (x->level == TW_LEVEL_UNSAID) {
        splashed = tw_estimate_level_share(&s->low, &s->water_kg, -x->in_kg, &slope);
        TW_EACH_LANE(l) splashed.v[l] = -x->in_kg * (1.0 - splashed.v[l]);
    }
    if (x->level != TW_LEVEL_AS_IT_WAS)
        s->low = tw_lanes_of(0.0);
    TW_EACH_LANE(l)
    {
        /* Something always stays behind: a tub emptied further than this is a new water. */
        double left = s->water_kg.v[l] - x->out_kg - splashed.v[l];
        const double least = 0.05 * s->water_kg.v[l], in = x->in_kg + splashed.v[l];
        left = left < least ? least : left;
        keep.v[l] = left / (left + in);
        s->water_kg.v[l] = left + in;
    }
    for (int t = 0; t < TW_T_COUNT; t++) {
        const tw_lanes in = incoming(&path->par, x, t);
        before[t] = s->total[t];
        TW_EACH_LANE(l)
        s->total[t].v[l] = keep.v[l] * s->total[t].v[l] + (1.0 - keep.v[l]) * in.v[l];
    }
    TW_EACH_LANE(l)
    {
        s->chlorine.v[l] *= keep.v[l];
        s->demand.v[l] *= keep.v[l];
        s->combined.v[l] *= keep.v[l];
        if (tagged)
            s->remnant.v[l] *= keep.v[l];
    }
    s->before = s->chlorine;
}

tw_lanes tw_estimate_dose_factor(const tw_model *m, int index, const tw_parameters *par)
{
    const tw_dose_event *d = &m->problem->dose[index];
    const int own = m->own_of_dose[index];
    tw_lanes a = own >= 0 ? par->own[own] : tw_lanes_of(1.0);
    if (d->product >= 0)
        TW_EACH_LANE(l) a.v[l] *= par->product[d->product].v[l];
    return a;
}

/* mmol of each linear total in a dose. Active chlorine is counted as already spent. */
void tw_estimate_dose_totals(const tw_dose_event *d, double out[TW_T_COUNT])
{
    const double active = d->mmol[TW_TOTAL_ACTIVE_CHLORINE];
    out[TW_T_ALK] = d->alk_meq - active;
    out[TW_T_DIC] = d->mmol[TW_TOTAL_DIC];
    out[TW_T_CA] = d->mmol[TW_TOTAL_CA];
    out[TW_T_MG] = d->mmol[TW_TOTAL_MG];
    out[TW_T_CL] = d->solid_salt ? 0.0 : d->mmol[TW_TOTAL_CL] + active;
    out[TW_T_SO4] = d->mmol[TW_TOTAL_SO4];
    out[TW_T_CYA] = d->mmol[TW_TOTAL_CYANURATE];
    out[TW_T_BORATE] = d->mmol[TW_TOTAL_BORATE];
    out[TW_T_PO4] = d->mmol[TW_TOTAL_PHOSPHATE];
}

TW_WIDE static void run_dose(const tw_model *m, int index, tw_path *path, int tagged)
{
    const tw_dose_event *d = &m->problem->dose[index];
    tw_state *s = &path->state;
    double add[TW_T_COUNT];
    tw_estimate_dose_totals(d, add);
    path->before_dose[index][0] = s->water_kg;
    path->before_dose[index][1] = s->chlorine;
    const tw_lanes a = tw_estimate_dose_factor(m, index, &path->par);
    tw_lanes per_kg;
    TW_EACH_LANE(l) per_kg.v[l] = a.v[l] / s->water_kg.v[l];
    path->before_dose[index][2] = s->total[TW_T_PO4];
    for (int t = 0; t < TW_T_COUNT; t++)
        if (add[t] < 0.0 || add[t] > 0.0)
            TW_EACH_LANE(l) s->total[t].v[l] += add[t] * per_kg.v[l];
    if (add[TW_T_PO4] < 0.0) /* lanthanum takes what is there, no more */
        TW_EACH_LANE(l)
        {
            const double x = s->total[TW_T_PO4].v[l];
            s->total[TW_T_PO4].v[l] = 0.5 * (x + sqrt(x * x + 1e-8));
        }
    if (d->solid_salt) {
        const double g = d->mmol[TW_TOTAL_CL] * 1e-3 * TW_G_PER_MOL_NACL;
        TW_EACH_LANE(l) s->undissolved_g.v[l] += g * a.v[l];
    }
    const double chlorine = d->mmol[TW_TOTAL_ACTIVE_CHLORINE] * TW_MG_PER_MMOL_CL2;
    TW_EACH_LANE(l) s->demand.v[l] += d->demand_mg * per_kg.v[l];
    if (chlorine > 0.0) {
        TW_EACH_LANE(l) s->chlorine.v[l] += chlorine * per_kg.v[l];
        if (tagged)
            TW_EACH_LANE(l) s->remnant.v[l] += chlorine * per_kg.v[l];
    } else if (chlorine < 0.0) {
        tw_lanes x, slope;
        TW_EACH_LANE(l) x.v[l] = s->chlorine.v[l] + chlorine * per_kg.v[l];
        x = soft_positive(x, &slope);
        if (tagged)
            TW_EACH_LANE(l) s->remnant.v[l] *= x.v[l] / (s->chlorine.v[l] + 1e-12);
        s->chlorine = x;
    }
    s->before = s->chlorine;
}

static void run_bather(const tw_model *m, int index, tw_path *path)
{
    const double person_h = m->problem->bather[index].person_h;
    tw_state *s = &path->state;
    path->bather_water[index] = s->water_kg;
    TW_EACH_LANE(l)
    s->demand.v[l] +=
        person_h * 1000.0 * path->par.fixed[TW_X_BATHER].v[l] / s->water_kg.v[l];
}

TW_WIDE static void read_ph(const tw_model *m, const tw_op *op, tw_path *path, tw_lanes *ph)
{
    const size_t r = tw_estimate_slot(m->problem, op);
    const int steps = path->measuring ? TW_NEWTON_MOST : op->newton;
    tw_acids a;
    tw_lanes alk;
    tw_acid_root root;
    acids_of(&path->state, &a, &alk);
    const tw_lanes zero = tw_lanes_of(0.0);
    tw_estimate_acid_solve(&m->acid[op->acid], alk, path->state.total[TW_T_DIC], zero, &a, steps,
                           &path->state.guess, &root,
                           path->measuring ? &path->ph_need[r] : NULL);
    tw_lanes ln = tw_lanes_log(root.h);
    const double per = 1.0 / TW_LN10;
    TW_EACH_LANE(l)
    {
        ph->v[l] = -ln.v[l] * per;
        const double iu = per / root.slope.v[l];
        path->ph_slope[r][0].v[l] = root.by_alk.v[l] * iu;
        path->ph_slope[r][1].v[l] = -iu;
    }
    path->ph_slope[r][2] = root.share_ocl;
    path->ph_slope[r][3] = root.share_b;
    path->ph_slope[r][4] = root.share_cy;
    path->ph_slope[r][5] = root.share_p;
}

TW_WIDE static tw_lanes quantity(const tw_model *m, const tw_op *op, tw_path *path)
{
    const tw_reading *reading = &m->problem->reading[tw_estimate_reading_of(m->problem, tw_estimate_slot(m->problem, op))];
    const tw_state *s = &path->state;
    const tw_conductivity_fit *ec = &m->problem->conductivity;
    const double per = 1.0 / TW_MG_PER_MMOL_CL2;
    tw_lanes q = tw_lanes_of(0.0);
    switch (reading->observed) {
    case TW_OBSERVED_FREE_CHLORINE: q = s->chlorine; break;
    case TW_OBSERVED_TOTAL_CHLORINE:
        TW_EACH_LANE(l) q.v[l] = s->chlorine.v[l] + s->combined.v[l];
        break;
    case TW_OBSERVED_COMBINED_CHLORINE: q = s->combined; break;
    case TW_OBSERVED_PH: read_ph(m, op, path, &q); break;
    case TW_OBSERVED_ALKALINITY:
        TW_EACH_LANE(l)
        q.v[l] = s->total[TW_T_ALK].v[l] + per * s->chlorine.v[l] - s->total[TW_T_PO4].v[l];
        break;
    case TW_OBSERVED_CALCIUM: q = s->total[TW_T_CA]; break;
    case TW_OBSERVED_HARDNESS:
        TW_EACH_LANE(l) q.v[l] = s->total[TW_T_CA].v[l] + s->total[TW_T_MG].v[l];
        break;
    case TW_OBSERVED_MAGNESIUM: q = s->total[TW_T_MG]; break;
    case TW_OBSERVED_CHLORIDE:
        TW_EACH_LANE(l) q.v[l] = s->total[TW_T_CL].v[l] - per * s->chlorine.v[l];
        break;
    case TW_OBSERVED_CONDUCTIVITY:
        TW_EACH_LANE(l)
        {
            const double cl = s->total[TW_T_CL].v[l];
            q.v[l] = ec->base + path->par.fixed[TW_X_IONS].v[l] + ec->per_alk * s->total[TW_T_ALK].v[l] +
                     ec->per_ca * s->total[TW_T_CA].v[l] + ec->per_mg * s->total[TW_T_MG].v[l] +
                     ec->per_so4 * s->total[TW_T_SO4].v[l] + tw_estimate_salt_us_per_cm(ec->cl, cl);
        }
        break;
    case TW_OBSERVED_CYANURATE: q = s->total[TW_T_CYA]; break;
    case TW_OBSERVED_PHOSPHATE: q = s->total[TW_T_PO4]; break;
    case TW_OBSERVED_SULFATE: q = s->total[TW_T_SO4]; break;
    case TW_OBSERVED_BORATE: q = s->total[TW_T_BORATE]; break;
    default: q = s->water_kg; break;
    }
    return q;
}

TW_WIDE static void run_reading(const tw_model *m, const tw_op *op, tw_path *path)
{
    const size_t r = tw_estimate_slot(m->problem, op);
    const tw_reading *reading = &m->problem->reading[tw_estimate_reading_of(m->problem, r)];
    tw_lanes q = reading->standard ? tw_lanes_of(reading->nominal) : quantity(m, op, path);
    path->read_water[r] = path->state.water_kg;
    path->read_cl[r] = path->state.total[TW_T_CL];
    if (m->dries > 0 && !reading->standard && tw_estimate_level_shows(reading->observed)) {
        path->read_low[r] = path->state.low;
        path->read_at_line[r] = q;
        TW_EACH_LANE(l) q.v[l] /= 1.0 - path->state.low.v[l];
    }
    if (reading->standard) {
        path->eta[r] = q;
        path->slope[r] = tw_lanes_of(0.0);
    } else if (reading->link == TW_LINK_LN) {
        tw_lanes shifted;
        TW_EACH_LANE(l)
        {
            double x = q.v[l] + reading->offset;
            x = x < 1e-9 ? 1e-9 : x;
            shifted.v[l] = x;
            path->slope[r].v[l] = 1.0 / x;
        }
        path->eta[r] = tw_lanes_log(shifted);
    } else {
        path->eta[r] = q;
        path->slope[r] = tw_lanes_of(1.0);
    }
    if (reading->bias >= 0) {
        const double sd = m->problem->bias_sd[reading->bias];
        TW_EACH_LANE(l) path->eta[r].v[l] += sd * path->par.bias[reading->bias].v[l];
    }
}

/* Parameters, and the water as it was first. */
static void begin(const tw_model *m, const tw_lanes *x, tw_path *path)
{
    tw_estimate_parameters(m, x, &path->par);
    prepare(m, path);
    if (m->problem->goes_on)
        start_from_cut(m, path);
    else if (m->problem->filled)
        start_source(m, path);
    else
        start_found(m, path);
}

/* The operations up to one of them. */
static void run(const tw_model *m, size_t until, tw_path *path, int tagged, tw_way *way)
{
    /* Readings of the source see the water before any softener: the start without it. */
    for (; way->op < until; way->op++) {
        const tw_op *op = &m->op[way->op];
        switch (op->kind) {
        case TW_OP_STEP: run_step(m, op->index, path, tagged); break;
        case TW_OP_CARBON:
            if (tagged || m->ph_read || m->follows)
                run_carbon(m, op->index, path);
            way->carbons = (size_t)op->index + 1;
            break;
        case TW_OP_DISSOLVE: run_dissolve(op->amount, path, &way->dissolved); break;
        case TW_OP_EXCHANGE: run_exchange(m, op->index, path, tagged); break;
        case TW_OP_DRY: run_dry(m, op->amount, path, path->dried[way->dried++]); break;
        case TW_OP_DOSE: run_dose(m, op->index, path, tagged); break;
        case TW_OP_BATHER: run_bather(m, op->index, path); break;
        case TW_OP_LOOK: run_reading(m, op, path); break;
        default: {
            const tw_reading *r = &m->problem->reading[op->index];
            if (!r->source) {
                run_reading(m, op, path);
            } else {
                const tw_state kept = path->state;
                start_source(m, path);
                path->state.total[TW_T_CA] = path->par.fixed[TW_X_HARDNESS];
                path->state.total[TW_T_MG] = path->par.fixed[TW_X_CALCIUM_SHARE];
                run_reading(m, op, path);
                path->state = kept;
            }
        }
        }
    }
}

tw_lanes tw_estimate_follow_now(const tw_model *m, const tw_path *path)
{
    if (!m->follows || m->carbons == 0) /* no time has gone by: nothing was lost yet */
        return tw_lanes_of(1.0);
    return tw_estimate_hocl_follow(path->root[m->carbons - 1], &path->par.fixed[TW_X_HOCL_PART], &path->state.chlorine,
                                   &path->state.total[TW_T_CYA], m->rings);
}

/* Where chlorine is much or the rate fast, demand stands at inflow over what uses it up, and the shares of inflow before and after
 * each stretch, the same for all members, put every member where the average one stands. So what each stretch should have left of
 * its inflow, less what it did, is put right, used up like all demand since. Before the last day: what is fast is gone, what is slow was right. */
#define SETTLED_H 24.0

TW_WIDE static void settle_demand(const tw_model *m, tw_path *path)
{
    tw_lanes since = tw_lanes_of(1.0), *demand = &path->state.demand;
    const tw_lanes inflow = path->par.fixed[TW_X_INFLOW];
    for (size_t index = m->steps; index-- > 0;) {
        const tw_step *st = &m->step[index];
        if (st->film_h < 0.0 || st->from_h + st->h < m->problem->now_h - SETTLED_H)
            break;
        const double h = st->h / (double)st->substeps;
        for (int i = st->substeps; i-- > 0;) {
            const tw_lanes *kept = path->demand_decay[st->first_substep + i];
            tw_lanes left, ln;
            TW_EACH_LANE(l) left.v[l] = kept[0].v[l] * kept[3].v[l];
            TW_EACH_LANE(l) ln.v[l] = left.v[l] < 0.999 ? (left.v[l] > 1e-300 ? left.v[l] : 1e-300) : 0.999;
            ln = tw_lanes_log(ln);
            TW_EACH_LANE(l)
            {
                const double gone = 1.0 - left.v[l], should = left.v[l] < 0.999 ? -gone / ln.v[l] : 1.0 - 0.5 * gone;
                demand->v[l] += since.v[l] * inflow.v[l] * h * (should - (1.0 - st->before * gone));
                since.v[l] *= left.v[l];
            }
        }
    }
    TW_EACH_LANE(l) demand->v[l] = demand->v[l] > 0.0 ? demand->v[l] : 0.0;
}

void tw_estimate_forward(const tw_model *m, const tw_lanes *x, tw_path *path) { tw_estimate_forward_marking(m, x, path, NULL, 0); }

void tw_estimate_forward_tagged(const tw_model *m, const tw_lanes *x, tw_path *path)
{
    tw_way way = {0};
    begin(m, x, path);
    run(m, m->ops, path, 1, &way);
    settle_demand(m, path);
}

void tw_estimate_forward_marking(const tw_model *m, const tw_lanes *x, tw_path *path, tw_mark *mark, size_t marks)
{
    tw_way way = {0};
    begin(m, x, path);
    for (size_t i = 0; i < marks; i++) {
        run(m, mark[i].way.op, path, 0, &way);
        mark[i].way = way;
        mark[i].state = path->state;
        if (way.carbons > 0)
            memcpy(mark[i].root, path->root[way.carbons - 1], sizeof mark[i].root);
    }
    run(m, m->ops, path, 0, &way);
}

/* One lane of `from` in all lanes of `to`; both are tw_lanes throughout. */
static void spread(const void *from, size_t bytes, int lane, void *to)
{
    const tw_lanes *was = from;
    tw_lanes *is = to;
    for (size_t i = 0; i < bytes / sizeof *is; i++)
        is[i] = tw_lanes_of(was[i].v[lane]);
}

void tw_estimate_forward_from(const tw_model *m, const tw_lanes *x, tw_path *path, const tw_mark *mark, int lane)
{
    tw_way way = mark->way;
    tw_estimate_parameters(m, x, &path->par);
    prepare(m, path);
    spread(&mark->state, sizeof mark->state, lane, &path->state);
    if (way.carbons > 0)
        spread(mark->root, sizeof mark->root, lane, path->root[way.carbons - 1]);
    run(m, m->ops, path, 0, &way);
}
