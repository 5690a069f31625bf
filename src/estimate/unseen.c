/* estimate/unseen.c: see unseen.h. */
#include "estimate/unseen.h"

#include <math.h>

#include "gen/estimate_tables.h"
#include "num/elementary.h"
#include "num/normal.h"

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

static const int ACT[2] = {TW_UNLOGGED_CHLORINE_USED, TW_UNLOGGED_CHLORINE_POURED};

static double chance(int act, double hours) { return 1.0 - tw_exp(-tw_estimate_unlogged[act].per_day * hours / 24.0); }

static tw_deed deed_of(int act, double size)
{
    tw_deed d = {act, size, 0.0, 0.0, 0.0};
    *(act == TW_UNLOGGED_CHLORINE_USED ? &d.demand : &d.chlorine) = size;
    return d;
}

static const tw_deed NOTHING = {TW_UNLOGGED_NONE, 0.0, 0.0, 0.0, 0.0};

/* What it changed, h hours on: beside the member's own water as it stands at the end, whose loss is k and whose chlorine
 * and demand are c and e. The level hardly moves the part that is used up in the half day that a gap is long. */
static void pass(tw_deed *d, double h, double k, double kd, double c, double e)
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
static void done(tw_state *st, int l, const tw_deed *d)
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

/* As the act stands h hours on, beside the water of one lane. */
static void pass_in(const tw_sampler *s, tw_deed *d, double h, int l)
{
    const tw_path *path = s->path;
    const tw_model *m = s->model;
    const double film = m->now_film_h >= 0.0 ? path->par.fixed[TW_X_FILM].v[l] *
                                                   tw_exp(-m->now_film_h / path->par.fixed[TW_X_FILM_HOURS].v[l])
                                             : 0.0;
    d->loss_per_h = path->loss[m->now_loss_class].v[l] * tw_estimate_follow_now(m, path).v[l] + film;
    pass(d, h, d->loss_per_h, path->par.fixed[TW_X_DEMAND_RATE].v[l], path->state.chlorine.v[l], path->state.demand.v[l]);
}

void tw_estimate_unseen_begin(tw_sampler *s)
{
    for (size_t i = 0; i < s->model->active; i++)
        s->last.shift[i] = 0.0;
    tw_estimate_unseen_screened(s, 0.0, 0.0);
}

/* The middle of a size's cell: cells are equally likely before any reading. */
static double middle_z(int cell) { return tw_normal_quantile(((double)cell + 0.5) / TW_LAST_SIZES); }

#define MOST_LN 20.0

void tw_estimate_unseen_screened(tw_sampler *s, double slope, double info)
{
    tw_unseen_gap gap[2];
    tw_estimate_unseen_gaps(s->model->problem, gap);
    const double hours = gap[0].until_h - gap[0].from_h;
    const int blank = !(slope < 0.0) && !(slope > 0.0);
    for (int a = 0; a < 2; a++) {
        tw_last_act *to = &s->last.act[a];
        double sum = 0.0;
        for (int i = 0; i < TW_LAST_SIZES; i++) {
            tw_deed d = deed_of(ACT[a], tw_estimate_unseen_size(ACT[a], middle_z(i)));
            if (!blank)
                pass_in(s, &d, 0.5 * hours, 0);
            to->move[i] = blank ? 0.0 : d.chlorine;
            const double ln = to->move[i] * (slope - 0.5 * info * to->move[i]);
            to->ln[i] = ln < MOST_LN ? ln : MOST_LN;
            sum += tw_exp(to->ln[i]) / TW_LAST_SIZES;
            to->up_to[i] = sum;
        }
        to->odds = chance(ACT[a], hours) * sum;
    }
}

/* So many times their odds are tried, that more may keep their act than the screen foresaw. */
#define ROOM 2.0

static tw_deed draw_before(const tw_sampler *s, tw_stream *stream, tw_unseen *out, int l)
{
    const tw_last_act *act = s->last.act;
    const double u = tw_stream_uniform(stream), v = tw_stream_uniform(stream), w = tw_stream_uniform(stream);
    out->move.v[l] = out->foreseen.v[l] = 0.0;
    out->dice[l] = tw_stream_uniform(stream);
    const double at = u * (1.0 / ROOM + act[0].odds + act[1].odds) - 1.0 / ROOM;
    if (at < 0.0 || !(out->gap[0].until_h > out->gap[0].from_h))
        return NOTHING;
    const int a = at < act[0].odds ? 0 : 1;
    int i = 0;
    while (i + 1 < TW_LAST_SIZES && act[a].up_to[i] < v * act[a].up_to[TW_LAST_SIZES - 1])
        i++;
    out->move.v[l] = act[a].move[i];
    out->foreseen.v[l] = act[a].ln[i];
    return deed_of(ACT[a], tw_estimate_unseen_size(ACT[a], tw_normal_quantile(((double)i + w) / TW_LAST_SIZES)));
}

static tw_deed draw_since(tw_stream *stream, const tw_unseen_gap *gap)
{
    const double hours = gap->until_h - gap->from_h;
    const double used = chance(TW_UNLOGGED_CHLORINE_USED, hours), poured = chance(TW_UNLOGGED_CHLORINE_POURED, hours);
    const double u = tw_stream_uniform(stream);
    const double z = tw_stream_normal(stream);
    if (u >= used + poured)
        return NOTHING;
    const int act = u < used ? TW_UNLOGGED_CHLORINE_USED : TW_UNLOGGED_CHLORINE_POURED;
    return deed_of(act, tw_estimate_unseen_size(act, z));
}

int tw_estimate_unseen_since(const tw_belief *b, size_t member)
{
    if (!(b->since_h > 0.0))
        return 0;
    tw_stream stream = tw_stream_make(b->seed, b->segment, TW_PURPOSE_UNSEEN, (uint32_t)member);
    (void)tw_stream_uniform(&stream); /* when: as below */
    return tw_stream_uniform(&stream) < chance(TW_UNLOGGED_CHLORINE_USED, b->since_h) + chance(TW_UNLOGGED_CHLORINE_POURED, b->since_h);
}

void tw_estimate_unseen_draw(const tw_sampler *s, const uint32_t member[], tw_unseen *out)
{
    tw_estimate_unseen_gaps(s->model->problem, out->gap);
    if (s->act != NULL || s->told_h >= out->gap[0].until_h)
        out->gap[0].from_h = out->gap[0].until_h;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_UNSEEN, member[l]);
        out->part[l] = tw_stream_uniform(&stream);
        out->since[l] = draw_since(&stream, &out->gap[1]);
        out->before[l] = draw_before(s, &stream, out, l);
    }
}

void tw_estimate_unseen_show(const tw_sampler *s, tw_unseen *u)
{
    const tw_problem *p = s->model->problem;
    size_t at[MOST_LAST];
    const size_t n = last_readings(p, u->gap[0].until_h, at);
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        if (u->before[l].act == TW_UNLOGGED_NONE)
            continue;
        u->before[l] = deed_of(u->before[l].act, u->before[l].size);
        pass_in(s, &u->before[l], 0.5 * (u->gap[0].until_h - u->gap[0].from_h), l);
        for (size_t i = 0; i < n; i++)
            shift(&p->reading[at[i]], s->path, at[i], l, u->before[l].chlorine);
    }
}

void tw_estimate_unseen_keep(const tw_sampler *s, tw_unseen *u, const tw_lanes *over)
{
    const double odds = s->last.act[0].odds + s->last.act[1].odds;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        const double more = over->v[l] - u->foreseen.v[l];
        const double likelier = tw_exp(more < MOST_LN ? (more > -MOST_LN ? more : -MOST_LN) : MOST_LN);
        /* odds/(1 + odds) as they are, over the share of those that tried */
        if (u->before[l].act == TW_UNLOGGED_NONE || u->dice[l] < likelier * (1.0 / ROOM + odds) / (1.0 + likelier * odds))
            continue;
        u->before[l] = NOTHING;
        u->move.v[l] = 0.0;
    }
}

void tw_estimate_unseen_do(const tw_sampler *s, tw_unseen *u, int with_before)
{
    tw_path *path = s->path;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        tw_deed *before = &u->before[l], *since = &u->since[l];
        const double hours = u->gap[1].until_h - u->gap[1].from_h;
        if (since->act != TW_UNLOGGED_NONE)
            pass_in(s, since, u->part[l] * hours, l);
        if (with_before && before->act != TW_UNLOGGED_NONE) {
            pass_in(s, before, u->gap[1].until_h - u->gap[0].until_h, l);
            done(&path->state, l, before);
        }
        if (since->act != TW_UNLOGGED_NONE)
            done(&path->state, l, since);
    }
}
