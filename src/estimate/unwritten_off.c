/* estimate/unwritten_off.c: see unwritten_off.h. */
#include "estimate/unwritten_off.h"

#include <math.h>
#include <string.h>

#include "gen/estimate_tables.h"
#include "num/elementary.h"

#define APART_H 0.05      /* readings closer than this are of one time               */
#define LEAST_LN (-2.5)   /* ln of evidence and chance: less comes to no chains      */
#define LEAST_DOUBTED_LN (-3.0) /* where a reading contradicts, one step tells less  */
#define LEAST_RECENT_ODDS (1.0 / 24.0)
#define RECENT_H 12.0      /* so long before the last reading                        */
#define HANDLED_H 1.0     /* before a gap: who switched it on saw it run               */
#define NODES 8           /* over the gap in which it went off                       */

static int is_chlorine(const tw_reading *r)
{
    return !r->source && !r->standard && (r->observed == TW_OBSERVED_FREE_CHLORINE || r->observed == TW_OBSERVED_TOTAL_CHLORINE);
}

/* What the best point makes in each gap between readings of chlorine, as it stands at the gap's end. */
static size_t gather_gaps(const tw_sampler *s, size_t most, tw_off_gap *gap)
{
    const tw_model *m = s->model;
    const tw_path *path = s->path;
    size_t n = 0;
    double read_h = -1.0, made = 0.0, duty = m->problem->goes_on ? 1.0 : 0.0, turned_h = -2.0 * HANDLED_H;
    int cell = -1, mixed = 0;
    for (size_t i = 0; i < m->ops; i++) {
        const tw_op *op = &m->op[i];
        if (op->kind == TW_OP_STEP) {
            const tw_step *st = &m->step[op->index];
            const double film = st->film_h >= 0.0 ? path->film[op->index].v[0] : 0.0;
            const double follow = st->root >= 0 ? 1.0 + path->par.fixed[TW_X_HOCL_PART].v[0] * path->step_hocl[op->index].v[0] : 1.0;
            const double k = path->loss[st->loss_class].v[0] * follow + film, left = tw_exp(-k * st->h);
            made *= left;
            turned_h = st->duty > 0.0 && !(duty > 0.0) ? st->from_h : turned_h;
            duty = st->duty;
            if (st->made_class >= 0) {
                const double share = tw_estimate_salt_left(path, (size_t)op->index, 0);
                const double per_h = 1e3 * st->duty * share * path->made[st->made_class].v[0] / path->step_water[op->index].v[0];
                const int of = m->made_class[st->made_class].cell;
                made += per_h * (k * st->h > 1e-6 ? (1.0 - left) / k : st->h);
                mixed |= cell >= 0 && cell != of;
                cell = of;
            }
        }
        if (op->kind != TW_OP_READ || !is_chlorine(&m->problem->reading[op->index]))
            continue;
        const tw_reading *r = &m->problem->reading[op->index];
        if (read_h >= 0.0 && r->at_h < read_h + APART_H) {
            if (n > 0)
                gap[n - 1].readings++;
            continue;
        }
        if (read_h >= 0.0 && n < most && r->at_h > m->problem->film_from_h) {
            memset(&gap[n], 0, sizeof gap[n]);
            gap[n].from_h = read_h;
            gap[n].until_h = r->at_h;
            gap[n].made = made;
            gap[n].cell = mixed ? -1 : cell;
            gap[n].turned = turned_h > read_h - HANDLED_H;
            gap[n].op = i;
            gap[n++].readings = 1;
        }
        read_h = r->at_h;
        made = 0.0;
        cell = -1;
        mixed = 0;
    }
    return n;
}

/* From the last gap back: what a milligram at each gap's end does to all that is read from there on. whitened: one
 * row of the information shared with the coordinates for each gap, in the frame's coordinates. */
static void wakes(const tw_sampler *s, const tw_frame *soft, size_t n, tw_off_gap *gap, double *shared, double *whitened)
{
    const tw_model *m = s->model;
    const size_t d = m->active;
    const double loss = s->path->par.fixed[TW_X_LOSS].v[0];
    double slope = 0.0, info = 0.0, at_h = n > 0 ? gap[n - 1].until_h : 0.0;
    for (size_t i = 0; i < d; i++)
        shared[i] = 0.0;
    for (size_t g = n; g-- > 0;) {
        const double left = tw_exp(-loss * (at_h - gap[g].until_h));
        slope *= left;
        info *= left * left;
        for (size_t i = 0; i < d; i++)
            shared[i] *= left;
        at_h = gap[g].until_h;
        size_t seen = 0;
        for (size_t op = gap[g].op; op < m->ops && seen < gap[g].readings; op++) {
            if (m->op[op].kind != TW_OP_READ || !is_chlorine(&m->problem->reading[m->op[op].index]))
                continue;
            const size_t r = (size_t)m->op[op].index;
            const double by = s->path->slope[r].v[0], here = s->weight[r] * by;
            const double *row = &s->jacobian[r * d];
            slope += s->path->factor_slope[r].v[0] * by;
            gap[g].here_info += here * by;
            for (size_t i = 0; i < d; i++)
                shared[i] += here * row[i];
            gap[g].first = seen++ == 0 ? (uint32_t)r : gap[g].first;
        }
        info += gap[g].here_info;
        gap[g].slope = slope;
        gap[g].info = info;
        double *row = &whitened[g * d];
        for (size_t i = 0; i < d; i++) { /* L^-1 shared */
            double sum = shared[i];
            for (size_t k = 0; k < i; k++)
                sum -= soft->l[i * d + k] * row[k];
            row[i] = sum * soft->inverse[i];
        }
    }
}

/* Chance that it is off no longer than this: even on ln. */
static double shorter(double hours)
{
    const tw_unlogged_row *row = &tw_estimate_unlogged[TW_UNLOGGED_GENERATOR_OFF];
    if (hours <= row->low)
        return 0.0;
    return hours >= row->high ? 1.0 : tw_log(hours / row->low) / tw_log(row->high / row->low);
}

/* That it went off in the first gap and came back in the last one; where nothing was read after that, whenever it came back. */
static double chance(const tw_off_gap *first, const tw_off_gap *last, int no_more)
{
    const double step = (first->until_h - first->from_h) / NODES;
    double sum = 0.0;
    for (int i = 0; i < NODES; i++) {
        const double off_h = first->from_h + ((double)i + 0.5) * step;
        sum += (no_more ? 1.0 : shorter(last->until_h - off_h)) - (last == first ? 0.0 : shorter(last->from_h - off_h));
    }
    return tw_estimate_unlogged[TW_UNLOGGED_GENERATOR_OFF].per_day / 24.0 * step * sum;
}

/* How much likelier the readings are with it, whatever share of its making is missing, by one step of the search. */
static double evidence_of(double toward, double info, double least)
{
    const double step = (1.0 - least) / NODES;
    double sum = 0.0;
    for (int i = 0; i < NODES; i++) {
        const double share = least + ((double)i + 0.5) * step, ln = share * toward - 0.5 * share * share * info;
        sum += tw_exp(ln < 300.0 ? ln : 300.0);
    }
    return sum / NODES;
}

/* What is looked for, and found. */
typedef struct {
    const tw_sampler *s;
    const tw_off_gap *gap;
    size_t n;
    const double *whitened, *score; /* by gap; by place: in the frame's coordinates      */
    double *sum;                    /* of the gaps so far                                */
    double recent_odds;             /* against none, of all that little was read after   */
    tw_water_guess recent;          /* the likeliest of these                            */
    tw_water_guess *best;           /* the likeliest of all, falling                     */
    size_t count;
} off_search;

static void keep(off_search *o, const tw_water_guess *g)
{
    size_t at = o->count;
    while (at > 0 && o->best[at - 1].rank < g->rank)
        at--;
    if (at >= TW_MOST_OFFS)
        return;
    if (o->count < TW_MOST_OFFS)
        o->count++;
    for (size_t i = o->count - 1; i > at; i--)
        o->best[i] = o->best[i - 1];
    o->best[at] = *g;
}

static int is_recent(const off_search *o, double until_h)
{
    return until_h >= o->gap[o->n - 1].until_h - RECENT_H;
}

static void weigh_span(off_search *o, size_t a, size_t b, double toward, double info)
{
    const tw_off_gap *first = &o->gap[a], *last = &o->gap[b];
    /* Gaps between the first and the last are without it altogether. */
    const double least = b > a ? (last->from_h - first->until_h) / (last->until_h - first->from_h) : 0.0;
    const double evidence = evidence_of(toward, info, least);
    tw_water_guess g;
    memset(&g, 0, sizeof g);
    g.act = TW_UNLOGGED_GENERATOR_OFF;
    g.from_h = first->from_h;
    g.until_h = last->until_h;
    g.first_until_h = first->until_h;
    g.last_from_h = last->from_h;
    g.reading = first->first;
    g.chance = chance(first, last, b + 1 == o->n);
    if (!(g.chance > 0.0))
        return;
    g.gain = tw_log(evidence);
    g.rank = g.gain + tw_log(g.chance);
    if (is_recent(o, last->until_h)) {
        o->recent_odds += g.chance * evidence;
        if (g.rank > o->recent.rank)
            o->recent = g;
    }
    keep(o, &g);
}

/* The generator off from a gap on, to each later one. */
static void spans_from(off_search *o, size_t a)
{
    const tw_off_gap *gap = o->gap;
    const size_t d = o->s->model->active;
    const double longest = tw_estimate_unlogged[TW_UNLOGGED_GENERATOR_OFF].high;
    const double loss = o->s->path->par.fixed[TW_X_LOSS].v[0];
    double missing = 0.0, slope = 0.0, passed = 0.0;
    for (size_t i = 0; i < d; i++)
        o->sum[i] = 0.0;
    for (size_t b = a; b < o->n && !gap[b].turned && gap[b].from_h - gap[a].until_h < longest; b++) {
        if (gap[b].cell >= 0 && gap[b].cell != gap[a].cell)
            return;
        if (b > a)
            passed += gap[b - 1].here_info * missing * missing;
        missing = missing * tw_exp(-loss * (gap[b].until_h - gap[b].from_h)) + gap[b].made;
        slope += gap[b].made * gap[b].slope;
        for (size_t i = 0; i < d; i++)
            o->sum[i] += gap[b].made * o->whitened[b * d + i];
        if (gap[b].cell < 0 || !(gap[b].made > 0.0))
            continue;
        double toward = -slope, info = passed + gap[b].info * missing * missing;
        for (size_t i = 0; i < d; i++) {
            toward += o->sum[i] * o->score[i];
            info -= o->sum[i] * o->sum[i];
        }
        weigh_span(o, a, b, toward, info > 0.0 ? info : 0.0);
    }
}

/* Which are searched. Where little was read since it may have come back, nothing speaks against any of many short
 * stretches, each too unlikely by itself to share chains: the likeliest stands for all of them. */
static size_t choose(off_search *o, int doubted)
{
    const double least = doubted ? LEAST_DOUBTED_LN : LEAST_LN;
    while (o->count > 0 && o->best[o->count - 1].rank < least)
        o->count--;
    if (!(o->recent_odds > LEAST_RECENT_ODDS))
        return o->count;
    double told = 0.0;
    int among = 0;
    for (size_t i = 0; i < o->count; i++)
        among |= o->best[i].rank >= o->recent.rank && is_recent(o, o->best[i].until_h);
    if (!among)
        o->best[o->count < TW_MOST_OFFS ? o->count++ : TW_MOST_OFFS - 1] = o->recent;
    for (size_t i = 0; i < o->count; i++)
        told += is_recent(o, o->best[i].until_h) ? tw_exp(o->best[i].rank) : 0.0;
    for (size_t i = 0; i < o->count; i++)
        if (is_recent(o, o->best[i].until_h)) {
            o->best[i].chance *= o->recent_odds / told;
            o->best[i].pooled = 1;
        }
    return o->count;
}

size_t tw_estimate_off_screen(tw_sampler *s, const tw_frame *soft, int doubted, tw_off_gap *gap, tw_water_guess *out)
{
    const size_t d = s->model->active, rows = (size_t)s->options.chains * s->options.keep;
    double *score = s->weight_point;
    off_search o;
    memset(&o, 0, sizeof o);
    if (s->model->problem->cells + 2 > TW_MAX_CELLS || s->model->problem->settings + 4 > TW_MAX_SETTINGS)
        return 0;
    o.s = s;
    o.gap = gap;
    o.n = gather_gaps(s, rows < TW_MAX_READINGS ? rows : TW_MAX_READINGS, gap);
    o.whitened = s->kept;
    o.score = score;
    o.sum = s->map_spare;
    o.best = out;
    o.recent.rank = -1e300;
    wakes(s, soft, o.n, gap, o.sum, s->kept);
    for (size_t i = 0; i < d; i++) {
        double left = s->score[i];
        for (size_t k = 0; k < i; k++)
            left -= soft->l[i * d + k] * score[k];
        score[i] = left * soft->inverse[i];
    }
    for (size_t a = 0; a < o.n; a++)
        if (gap[a].cell >= 0 && gap[a].made > 0.0)
            spans_from(&o, a);
    return choose(&o, doubted);
}

size_t tw_estimate_split_setting(tw_problem *p, double at_h)
{
    size_t now = p->settings;
    double next_h = p->now_h;
    for (size_t i = 0; i < p->settings; i++) {
        if (p->setting[i].at_h <= at_h && (now == p->settings || p->setting[i].at_h >= p->setting[now].at_h))
            now = i;
        if (p->setting[i].at_h > at_h && p->setting[i].at_h < next_h)
            next_h = p->setting[i].at_h;
    }
    if (now == p->settings || p->setting[now].at_h >= at_h)
        return now;
    tw_setting_event *was = &p->setting[now], *e = &p->setting[p->settings];
    *e = *was;
    e->at_h = at_h;
    e->temp_c += (was->temp_end_c - was->temp_c) * (at_h - was->at_h) / (next_h - was->at_h);
    was->temp_end_c = e->temp_c;
    return p->settings++;
}

/* The generator runs for a share of these hours. */
static void run_a_share(tw_problem *p, double from_h, double until_h, int cell)
{
    const int part = (int)p->cells++;
    p->part_of[part] = cell + 1;
    p->part_h[part] = until_h - from_h;
    for (size_t i = 0; i < p->settings; i++)
        if (p->setting[i].at_h >= from_h && p->setting[i].at_h < until_h)
            p->setting[i].cell = part;
}

int tw_estimate_off_write(const tw_problem *written, const tw_water_guess *g, tw_problem *to)
{
    if (written->cells + 2 > TW_MAX_CELLS || written->settings + 4 > TW_MAX_SETTINGS)
        return 0;
    *to = *written;
    const size_t first = tw_estimate_split_setting(to, g->from_h);
    if (first == to->settings)
        return 0;
    const int cell = to->setting[first].cell;
    (void)tw_estimate_split_setting(to, g->until_h);
    if (g->first_until_h >= g->until_h) {
        run_a_share(to, g->from_h, g->until_h, cell);
        return 1;
    }
    (void)tw_estimate_split_setting(to, g->first_until_h);
    (void)tw_estimate_split_setting(to, g->last_from_h);
    run_a_share(to, g->from_h, g->first_until_h, cell);
    run_a_share(to, g->last_from_h, g->until_h, cell);
    to->idle_h = g->last_from_h - g->first_until_h;
    for (size_t i = 0; i < to->settings; i++)
        if (to->setting[i].at_h >= g->first_until_h && to->setting[i].at_h < g->last_from_h)
            to->setting[i].duty = 0.0;
    return 1;
}

double tw_estimate_off_hours(const tw_problem *p, const tw_parameters *par, int l)
{
    double hours = p->idle_h;
    for (size_t i = 0; i < p->cells; i++)
        if (p->part_of[i] > 0)
            hours += p->part_h[i] * (1.0 - par->cell[i].v[l] / par->cell[p->part_of[i] - 1].v[l]);
    return hours;
}
