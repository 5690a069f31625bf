/* estimate/unseen.c: see unseen.h. */
#include "estimate/unseen.h"

#include <math.h>

#include "gen/estimate_tables.h"
#include "num/elementary.h"

#define APART_H 0.05 /* readings closer than this are of one time */
#define STEP_H 0.5

static int is_chlorine(const tw_reading *r)
{
    return !r->source && !r->standard && (r->observed == TW_OBSERVED_FREE_CHLORINE || r->observed == TW_OBSERVED_TOTAL_CHLORINE);
}

void tw_estimate_unseen_gaps(const tw_problem *p, tw_unseen_gap gap[2])
{
    double last = -1.0, before = -1.0;
    for (size_t r = 0; r < p->readings; r++)
        if (is_chlorine(&p->reading[r]) && p->reading[r].at_h > last)
            last = p->reading[r].at_h;
    for (size_t r = 0; r < p->readings; r++)
        if (is_chlorine(&p->reading[r]) && p->reading[r].at_h < last - APART_H && p->reading[r].at_h > before)
            before = p->reading[r].at_h;
    gap[0].from_h = before < 0.0 ? last : before;
    gap[0].until_h = last;
    gap[1].from_h = last < 0.0 ? p->now_h : last;
    gap[1].until_h = p->now_h;
    for (int g = 0; g < 2; g++) { /* before the first chlorine nothing tells it from how the water came */
        tw_unseen_gap *is = &gap[g];
        is->from_h = is->from_h < p->film_from_h ? p->film_from_h : is->from_h;
        is->from_h = is->from_h < is->until_h ? is->from_h : is->until_h;
    }
}

/* Log-normal with mean and variance of ln of an even chance from the least to the greatest. */
double tw_estimate_unseen_size(int act, double normal)
{
    const tw_unlogged_row *row = &tw_estimate_unlogged[act];
    return sqrt(row->low * row->high) * tw_exp(tw_log(row->high / row->low) / sqrt(12.0) * normal);
}

/* One member's act, and what it changed by a given hour: chlorine and demand, mg per kg. */
typedef struct {
    int act;
    double size, chlorine, demand, loss_per_h;
} deed;

static double chance(int act, double hours) { return 1.0 - tw_exp(-tw_estimate_unlogged[act].per_day * hours / 24.0); }

static deed draw(tw_stream *stream, const tw_unseen_gap *gap)
{
    const double hours = gap->until_h - gap->from_h;
    const double used = chance(TW_UNLOGGED_CHLORINE_USED, hours), poured = chance(TW_UNLOGGED_CHLORINE_POURED, hours);
    const double u = tw_stream_uniform(stream);
    const double z = tw_stream_normal(stream);
    deed d = {TW_UNLOGGED_NONE, 0.0, 0.0, 0.0, 0.0};
    if (u >= used + poured)
        return d;
    d.act = u < used ? TW_UNLOGGED_CHLORINE_USED : TW_UNLOGGED_CHLORINE_POURED;
    d.size = tw_estimate_unseen_size(d.act, z);
    *(d.act == TW_UNLOGGED_CHLORINE_USED ? &d.demand : &d.chlorine) = d.size;
    return d;
}

/* What it changed, h hours on: beside the member's own water as it stands at the end, whose loss is k and whose chlorine
 * and demand are c and e. The level hardly moves the part that is used up in the half day that a gap is long. */
static void pass(deed *d, double h, double k, double kd, double c, double e)
{
    const double own = c > 0.0 ? c : 0.0;
    while (h > 1e-9) {
        const double step = h < STEP_H ? h : STEP_H;
        const double level = own + d->chlorine > 0.0 ? own + d->chlorine : 0.0;
        const double without = e * (1.0 - tw_exp(-kd * own * step));
        double with = (e + d->demand) * (1.0 - tw_exp(-kd * level * step));
        with = with < level ? with : level;
        d->demand -= with - without;
        d->chlorine = d->chlorine * tw_exp(-k * step) - (with - without);
        h -= step;
    }
}

/* A reading of chlorine with so much more of it in the water. */
static void shift(const tw_reading *r, tw_path *path, size_t i, int l, double more)
{
    const double by = more * path->slope[i].v[l];
    if (r->link != TW_LINK_LN)
        path->eta[i].v[l] += by;
    else
        path->eta[i].v[l] += tw_log(by > -0.999999 ? 1.0 + by : 1e-6);
}

#define MOST_LAST 8u /* readings of one time: what follows them is not asked */

static size_t last_readings(const tw_problem *p, double last_h, size_t at[MOST_LAST])
{
    size_t n = 0;
    for (size_t i = 0; i < p->readings && n < MOST_LAST; i++)
        if (is_chlorine(&p->reading[i]) && p->reading[i].at_h >= last_h - APART_H)
            at[n++] = i;
    return n;
}

/* Chlorine that was poured and is used up stays as chloride (members.c); its sodium balances the charges. */
static void done(tw_state *st, int l, const deed *d)
{
    const double was = st->chlorine.v[l];
    double now = was + d->chlorine;
    now = now > 0.0 ? now : 0.0;
    if (now < was)
        st->remnant.v[l] *= now / was;
    else
        st->remnant.v[l] += now - was;
    st->chlorine.v[l] = now;
    st->demand.v[l] = st->demand.v[l] + d->demand > 0.0 ? st->demand.v[l] + d->demand : 0.0;
    if (d->act == TW_UNLOGGED_CHLORINE_POURED)
        st->total[TW_T_CL].v[l] += 2.0 * d->size / TW_MG_PER_MMOL_CL2;
}

/* The member's act in a gap, as it stands at the gap's end. since: the share of the gap that followed it. */
static deed in_gap(const tw_sampler *s, tw_stream *stream, const tw_unseen_gap *gap, double since, int l)
{
    const tw_path *path = s->path;
    const tw_model *m = s->model;
    deed d = draw(stream, gap);
    const double film = m->now_film_h >= 0.0 ? path->par.fixed[TW_X_FILM].v[l] *
                                                   tw_exp(-m->now_film_h / path->par.fixed[TW_X_FILM_HOURS].v[l])
                                             : 0.0;
    const double k = path->loss[m->now_loss_class].v[l] + film;
    if (d.act != TW_UNLOGGED_NONE)
        pass(&d, since * (gap->until_h - gap->from_h), k, path->par.fixed[TW_X_DEMAND_RATE].v[l], path->state.chlorine.v[l],
             path->state.demand.v[l]);
    if (d.act != TW_UNLOGGED_NONE)
        d.loss_per_h = k;
    return d;
}

int tw_estimate_unseen_since(const tw_belief *b, size_t member)
{
    if (!(b->since_h > 0.0))
        return 0;
    tw_stream stream = tw_stream_make(b->seed, b->segment, TW_PURPOSE_UNSEEN, (uint32_t)member);
    (void)tw_stream_uniform(&stream); /* when: as below */
    return tw_stream_uniform(&stream) < chance(TW_UNLOGGED_CHLORINE_USED, b->since_h) + chance(TW_UNLOGGED_CHLORINE_POURED, b->since_h);
}

void tw_estimate_unseen(const tw_sampler *s, const uint32_t member[], tw_lanes *ln)
{
    const tw_problem *p = s->model->problem;
    tw_path *path = s->path;
    tw_unseen_gap gap[2];
    size_t at[MOST_LAST];
    tw_lanes eta[MOST_LAST], with;
    deed d[TW_ESTIMATE_LANES][2];
    double dice[TW_ESTIMATE_LANES];
    int any = 0;
    tw_estimate_unseen_gaps(p, gap);
    if (s->act != NULL || s->told_h >= gap[0].until_h)
        gap[0].from_h = gap[0].until_h;
    const size_t n = last_readings(p, gap[0].until_h, at);
    for (size_t i = 0; i < n; i++)
        eta[i] = path->eta[at[i]];
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_UNSEEN, member[l]);
        const double since = tw_stream_uniform(&stream);
        d[l][1] = in_gap(s, &stream, &gap[1], since, l);
        d[l][0] = in_gap(s, &stream, &gap[0], 0.5, l);
        dice[l] = tw_stream_uniform(&stream);
        any |= d[l][0].act != TW_UNLOGGED_NONE;
        for (size_t i = 0; i < n && d[l][0].act != TW_UNLOGGED_NONE; i++)
            shift(&p->reading[at[i]], path, at[i], l, d[l][0].chlorine);
    }
    if (any) {
        tw_estimate_likelihood(s->model, path, 1.0, &with);
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const double over = with.v[l] - ln->v[l];
            const int stays = over >= 0.0 || dice[l] < tw_exp(over);
            if (!stays)
                d[l][0].act = TW_UNLOGGED_NONE;
            for (size_t i = 0; i < n && !stays; i++)
                path->eta[at[i]].v[l] = eta[i].v[l];
        }
        tw_estimate_likelihood(s->model, path, 1.0, ln);
    }
    for (int l = 0; l < TW_ESTIMATE_LANES; l++)
        for (int g = 0; g < 2; g++)
            if (d[l][g].act != TW_UNLOGGED_NONE) {
                if (g == 0) /* from the reading to now */
                    pass(&d[l][g], gap[1].until_h - gap[0].until_h, d[l][g].loss_per_h, path->par.fixed[TW_X_DEMAND_RATE].v[l],
                         path->state.chlorine.v[l], path->state.demand.v[l]);
                done(&path->state, l, &d[l][g]);
            }
}
