/* estimate/freeze.c: how finely each stretch is cut and how many steps each carbonate root takes,
 * decided once from the first members and then left alone, and by how much each exchange with the air is stretched: the
 * density has no steps, gradients tell the truth. */
#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/hocl.h"
#include "estimate/sampler.h"
#include "num/elementary.h"

#define CUT_MEMBERS 32
#define LAST_CUT 12
#define NEWTON_LEAST 1

void tw_estimate_load(const double *from, size_t n, size_t first, size_t count, tw_lanes *to)
{
    for (size_t i = 0; i < n; i++)
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const size_t k = first + (size_t)l < count ? first + (size_t)l : count - 1;
            to[i].v[l] = from[k * n + i];
        }
}

/* How many substeps each stretch needs, by the third-largest need among 32 start members. Only the
 * commutator of the two parts counts: the parts themselves are exact. Errors in mg/kg a stretch. */
#define COMMUTATOR_NEAR 0.005
#define TAKEN 2 /* of the largest needs, counted from 0 */

static double need_of(const tw_model *m, const tw_path *path, size_t i, int lane)
{
    const tw_step *st = &m->step[i];
    if (st->film_h < 0.0)
        return 1.0;
    const double c = path->c[st->first_substep].v[lane], d = path->d[st->first_substep].v[lane];
    const double k = path->loss[st->loss_class].v[lane] + path->film[i].v[lane];
    const double kd = path->par.fixed[TW_X_DEMAND_RATE].v[lane];
    const double share = tw_estimate_salt_left(path, i, lane);
    const double p = st->made_class >= 0 ? path->made[st->made_class].v[lane] * share * st->duty * 1000.0 /
                                               path->step_water[i].v[lane]
                                         : 0.0;
    const double h = st->h;
    const double stiff = h * (k + kd * (c + d)) / 0.25;
    const double commutator =
        sqrt(h * h * h * kd * d * (fabs(p - k * c) + 0.02) * kd * (c + d) / (24.0 * COMMUTATOR_NEAR));
    double need = stiff < commutator ? stiff : commutator;
    need = need >= 1.0 ? ceil(need) : 1.0;
    return need <= 40.0 ? need : 40.0; /* NaN compares false: 40 */
}

/* Newton steps of the carbonate roots: as many as any of the start members needs, at least two. */
static int more_steps(int steps, const tw_lanes *needed)
{
    double most = (double)steps;
    TW_EACH_LANE(l) most = needed->v[l] > most ? needed->v[l] : most;
    return most < TW_NEWTON_MOST ? (int)most : TW_NEWTON_MOST;
}

/* Is the carbonate on the way to some reading? */
static int carbonate_counts(const tw_model *m)
{
    return m->ph_read || m->follows;
}

static void gather_newton(tw_model *m, const tw_path *path)
{
    for (size_t i = 0; carbonate_counts(m) && i < m->carbons; i++)
        for (int k = 0; k < m->carbon[i].parts; k++)
            m->carbon[i].newton = more_steps(m->carbon[i].newton, &path->part_need[m->carbon[i].first_part + k]);
    for (size_t i = 0; i < m->ops; i++)
        if (m->op[i].kind == TW_OP_READ || m->op[i].kind == TW_OP_LOOK) {
            const size_t slot = tw_estimate_slot(m->problem, &m->op[i]);
            if (m->problem->reading[tw_estimate_reading_of(m->problem, slot)].observed == TW_OBSERVED_PH)
                m->op[i].newton = more_steps(m->op[i].newton, &path->ph_need[slot]);
        }
}

/* Each piece of an exchange with the air: by how much CO2 fell with its carbon, over all members seen so far. Next to
 * nothing says nothing: then the piece keeps what it had. */
#define FALL_LEAST 1e-6 /* mmol/kg, squared: of all members */
#define STRETCH_LEAST 0.02
#define STRETCH_GROUP 8u /* members, whatever the width of the lanes */

typedef struct {
    double co2, carbon; /* sums of dCO2*dDIC and of dDIC^2 */
} piece_fall;

static void gather_fall(const tw_model *m, const tw_path *path, piece_fall *sum)
{
    for (size_t i = 0; carbonate_counts(m) && i < m->parts; i++) {
        const tw_lanes *fall = path->part_fall[i];
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const double co2 = fall[0].v[l] * fall[1].v[l], carbon = fall[1].v[l] * fall[1].v[l];
            if (!(carbon < 1e6) || !(fabs(co2) < 1e6)) /* NaN: says nothing */
                continue;
            sum[i].co2 += co2;
            sum[i].carbon += carbon;
        }
    }
}

static void set_stretch(tw_model *m, const piece_fall *sum)
{
    for (size_t i = 0; carbonate_counts(m) && i < m->carbons; i++)
        for (int k = 0; k < m->carbon[i].parts; k++) {
            const piece_fall *at = &sum[m->carbon[i].first_part + k];
            if (at->carbon < FALL_LEAST)
                continue;
            const double stretch = at->co2 / at->carbon;
            m->carbon[i].stretch[k] = stretch < STRETCH_LEAST ? STRETCH_LEAST : (stretch < 1.0 ? stretch : 1.0);
        }
}

/* Between two roots of the carbonate HOCl over OCl-, like H+, goes from one to the other as CO2 goes towards its balance with the air,
 * by e^-x in all; a stretch takes the mean, for all members as it is on average. */
typedef struct {
    double at_mid, at_root; /* sums over members */
} share_drift;

/* How far it has gone, 0..1, as a mean over the part from..to of the time. */
static double gone_by(double x, double from, double to)
{
    if (x < 1e-3 || !(to > from))
        return 0.5 * (from + to);
    return (1.0 - (tw_exp(-x * from) - tw_exp(-x * to)) / (x * (to - from))) / -tw_expm1(-x);
}

/* x of an exchange with the air. */
static double exchanged(const tw_carbon *c, const tw_path *path, int lane)
{
    double x = 0.0;
    for (int i = 0; i < c->parts; i++)
        x += c->stretch[i] * c->share[i];
    return x * (path->par.fixed[TW_X_KLA_STILL].v[lane] * c->still_h + path->par.fixed[TW_X_KLA_JETS].v[lane] * c->jets_h);
}

static double within(double u) { return u < 0.0 ? 0.0 : (u > 1.0 ? 1.0 : u); }

static void gather_drift(const tw_model *m, const tw_path *path, share_drift *sum)
{
    for (size_t i = 0; i < m->steps; i++) {
        const tw_step *st = &m->step[i];
        if (st->root < 0 || (size_t)st->root + 1 >= m->carbons)
            continue;
        const tw_carbon *next = &m->carbon[st->root + 1];
        const double since = m->carbon[st->root].at_h, hours = next->at_h - since;
        const double from = hours > 0.0 ? within((st->from_h - since) / hours) : 0.0;
        const double to = hours > 0.0 ? within((st->from_h + st->h - since) / hours) : 0.0;
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const double was = path->root[st->root][TW_ROOT_SHARE].v[l], is = path->root[st->root + 1][TW_ROOT_SHARE].v[l];
            const double odds = was / (1.0 - was), u = gone_by(exchanged(next, path, l), from, to);
            const double mean = odds + u * (is / (1.0 - is) - odds);
            if (!(was >= 0.0) || !(mean >= 0.0) || !(mean < 1e9)) /* NaN: says nothing */
                continue;
            sum[i].at_mid += mean / (1.0 + mean);
            sum[i].at_root += was;
        }
    }
}

static void set_drift(tw_model *m, const share_drift *sum)
{
    for (size_t i = 0; i < m->steps; i++)
        m->step[i].drift = sum[i].at_root > 0.0 ? sum[i].at_mid / sum[i].at_root : 1.0;
}

/* What appears by itself during a part of a stretch goes in before and after the demand part, in the shares that fit the members
 * as they do on average. x is the part of demand that chlorine would use up in the whole stretch. */
typedef struct {
    double ln; /* sum of ln(1 + x) over members */
    size_t n;
} demand_used;

static void gather_used(const tw_model *m, const tw_path *path, demand_used *sum)
{
    for (size_t i = 0; i < m->steps; i++)
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const double x = path->par.fixed[TW_X_DEMAND_RATE].v[l] * m->step[i].h * path->c[m->step[i].first_substep].v[l];
            if (!(x >= 0.0) || !(x < 1e6)) /* NaN: says nothing */
                continue;
            sum[i].ln += tw_log1p(x);
            sum[i].n++;
        }
}

/* Once the stretches are cut. */
static void set_before(tw_model *m, const demand_used *sum)
{
    for (size_t i = 0; i < m->steps; i++)
        m->step[i].before = sum[i].n > 0 ? tw_share_before(tw_expm1(sum[i].ln / (double)sum[i].n) / (double)m->step[i].substeps) : 0.5;
}

static void begin_measuring(tw_model *m, tw_path *path)
{
    path->measuring = 1;
    for (size_t i = 0; carbonate_counts(m) && i < m->carbons; i++)
        m->carbon[i].newton = NEWTON_LEAST;
    for (size_t i = 0; i < m->ops; i++)
        m->op[i].newton = NEWTON_LEAST;
}

void tw_estimate_freeze(tw_sampler *s)
{
    tw_model *m = s->model;
    const size_t n = m->active;
    double *top = s->jacobian; /* four for each step, the largest first; free at this moment */
    int cut[TW_MAX_STEPS];
    for (size_t i = 0; i < 4 * m->steps; i++)
        top[i] = 1.0;
    piece_fall fall[TW_MAX_PARTS];
    for (size_t i = 0; i < m->parts; i++)
        fall[i].co2 = fall[i].carbon = 0.0;
    share_drift drift[TW_MAX_STEPS];
    memset(drift, 0, sizeof drift);
    demand_used used[TW_MAX_STEPS];
    memset(used, 0, sizeof used);
    begin_measuring(m, s->path);
    for (size_t first = 0; first < CUT_MEMBERS; first += TW_ESTIMATE_LANES) {
        tw_lanes u;
        tw_estimate_load(s->start_y, n, first, s->starts, s->y);
        tw_estimate_potential(s, s->y, 0, &u);
        gather_newton(m, s->path);
        gather_fall(m, s->path, fall);
        gather_drift(m, s->path, drift);
        gather_used(m, s->path, used);
        if ((first + TW_ESTIMATE_LANES) % STRETCH_GROUP == 0) /* what is stretched changes where the next ones go */
            set_stretch(m, fall);
        for (size_t i = 0; i < m->steps; i++)
            for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
                double need = need_of(m, s->path, i, l);
                for (size_t j = 4 * i; j < 4 * i + 4; j++)
                    if (need > top[j]) {
                        const double other = top[j];
                        top[j] = need;
                        need = other;
                    }
            }
    }
    set_drift(m, drift);
    for (size_t i = 0; i < m->steps; i++)
        cut[i] = (int)top[4 * i + TAKEN];
    /* The demand now is an answer: its last stretch is cut finely. */
    if (m->steps > 0 && cut[m->steps - 1] < LAST_CUT)
        cut[m->steps - 1] = LAST_CUT;
    tw_estimate_model_cut(m, cut);
    set_before(m, used);
    s->path->measuring = 0;
}

void tw_estimate_freeze_roots(tw_sampler *s)
{
    tw_model *m = s->model;
    begin_measuring(m, s->path);
    for (size_t first = 0; first < CUT_MEMBERS; first += TW_ESTIMATE_LANES) {
        tw_lanes u;
        tw_estimate_load(s->chain_y, m->active, first, s->options.chains, s->y);
        tw_estimate_potential(s, s->y, 0, &u);
        gather_newton(m, s->path);
    }
    s->path->measuring = 0;
}

void tw_estimate_freeze_for(tw_model *m, const tw_lanes *x, tw_path *path)
{
    int cut[TW_MAX_STEPS];
    begin_measuring(m, path);
    for (int turn = 0; turn < 3; turn++) { /* what is stretched changes where it goes */
        piece_fall fall[TW_MAX_PARTS];
        for (size_t i = 0; i < m->parts; i++)
            fall[i].co2 = fall[i].carbon = 0.0;
        share_drift drift[TW_MAX_STEPS];
        memset(drift, 0, sizeof drift);
        demand_used used[TW_MAX_STEPS];
        memset(used, 0, sizeof used);
        tw_estimate_forward(m, x, path);
        gather_newton(m, path);
        gather_fall(m, path, fall);
        set_stretch(m, fall);
        gather_drift(m, path, drift);
        set_drift(m, drift);
        gather_used(m, path, used);
        for (size_t i = 0; i < m->steps; i++)
            cut[i] = (int)need_of(m, path, i, 0);
        tw_estimate_model_cut(m, cut);
        set_before(m, used);
    }
    path->measuring = 0;
}
