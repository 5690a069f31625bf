/* estimate/unwritten.c: see unwritten.h. */
#include "estimate/unwritten.h"

#include <math.h>
#include <string.h>

#include "estimate/unseen.h"
#include "estimate/unwritten_off.h"
#include "estimate/unwritten_other.h"
#include "gen/estimate_tables.h"
#include "num/elementary.h"

#define FAR_BETTER 6.0  /* gain of ln probability by the screen that calls for a search */
#define LIKELY_ODDS 0.25 /* before the last reading, where members are told the odds: so much does too */
#define APART_H 0.05    /* readings closer than this are of one time                    */
#define LEAST_SHARE (1.0 / 16.0)
#define LEAST_POOLED_SHARE (1.0 / 32.0)
#define LEAST_OTHER_SHARE (1.0 / 8.0)
#define GROUP 8u        /* chains, whatever the width of the lanes */

static int is_chlorine(const tw_reading *r)
{
    return !r->source && !r->standard && (r->observed == TW_OBSERVED_FREE_CHLORINE || r->observed == TW_OBSERVED_TOTAL_CHLORINE);
}

/* Does a reading of chlorine contradict at the best point? The person's own doubt is none. */
static int contradicts(const tw_sampler *s)
{
    const tw_problem *p = s->model->problem;
    for (size_t r = 0; r < p->readings; r++)
        if (is_chlorine(&p->reading[r]) && p->reading[r].rubbish < 0.25 && s->path->rubbish[r].v[0] > 0.5)
            return 1;
    return 0;
}

/* Sums over the readings that follow an act, of what a milligram there does to them: the slope of ln probability,
 * the information, and the information that it shares with each coordinate. */
typedef struct {
    double at_h, slope, info;
    uint32_t first;
    double *shared; /* by place */
} wake;

static void wake_back(wake *w, double at_h, double loss_per_h, size_t n)
{
    const double left = tw_exp(-loss_per_h * (w->at_h - at_h));
    w->slope *= left;
    w->info *= left * left;
    for (size_t i = 0; i < n; i++)
        w->shared[i] *= left;
    w->at_h = at_h;
}

static void wake_add(wake *w, const tw_sampler *s, size_t r)
{
    const size_t n = s->model->active;
    const double by = s->path->slope[r].v[0], info = s->weight[r] * by;
    const double *row = &s->jacobian[r * n];
    w->slope += s->path->factor_slope[r].v[0] * by;
    w->info += info * by;
    for (size_t i = 0; i < n; i++)
        w->shared[i] += info * row[i];
    w->first = (uint32_t)r;
}

/* What the act gains in one step of the search, all coordinates moving with it (less spare[] by a mg); *size: mg per kg.
 * Of an act before the last reading members are told. */
static double gain_of(const wake *w, tw_sampler *s, const tw_frame *soft, int is_last, double *spare, double *size)
{
    const size_t n = s->model->active;
    double slope = w->slope, info = w->info;
    tw_estimate_frame_solve(soft, w->shared, spare);
    for (size_t i = 0; i < n; i++) {
        slope -= spare[i] * s->score[i];
        info -= spare[i] * w->shared[i];
    }
    if (is_last) {
        for (size_t i = 0; i < n; i++)
            s->last.shift[i] = -spare[i];
        tw_estimate_unseen_screened(s, slope, info > 0.0 ? info : 0.0);
    }
    *size = info > 1e-9 ? slope / info : 0.0;
    return info > 1e-9 ? 0.5 * slope * slope / info : 0.0;
}

/* The likeliest by the screen, falling; ties keep their order. */
static void keep_best(tw_guesses *out, size_t *count, const tw_water_guess *g)
{
    size_t at = *count;
    while (at > 1 && out->guess[at - 1].gain < g->gain)
        at--;
    if (at > TW_MOST_POURS)
        return;
    if (*count <= TW_MOST_POURS)
        ++*count;
    for (size_t i = *count - 1; i > at; i--)
        out->guess[i] = out->guess[i - 1];
    out->guess[at] = *g;
}

/* Time of the last reading of chlorine before an operation; -1: there is none. */
static double read_before(const tw_model *m, size_t op)
{
    while (op-- > 0)
        if (m->op[op].kind == TW_OP_READ && is_chlorine(&m->problem->reading[m->op[op].index]))
            return m->problem->reading[m->op[op].index].at_h;
    return -1.0;
}

/* Every gap between two readings of chlorine, from the last one back: what a little more or less there would gain.
 * One pass: a milligram decays by the loss of the best point, which is enough to choose where to search. */
static size_t screen(tw_sampler *s, const tw_frame *soft, int doubted, tw_guesses *out)
{
    const tw_model *m = s->model;
    const size_t n = m->active;
    const double loss = s->path->par.fixed[TW_X_LOSS].v[0];
    wake w = {m->problem->now_h, 0.0, 0.0, 0, s->weight_point};
    const int from_fill = m->problem->filled && doubted; /* what was read cannot have come with the water */
    size_t count = 1;
    int is_last = 1;
    for (size_t i = 0; i < n; i++)
        w.shared[i] = 0.0;
    for (size_t op = m->ops; op-- > 0;) {
        const int is_read = m->op[op].kind == TW_OP_READ;
        const tw_reading *r = is_read ? &m->problem->reading[m->op[op].index] : NULL;
        if (r == NULL || !is_chlorine(r))
            continue;
        wake_back(&w, r->at_h, loss, n);
        wake_add(&w, s, (size_t)m->op[op].index);
        const double before = read_before(m, op);
        if (before >= r->at_h - APART_H)
            continue; /* more readings of this time come */
        const int first = before < 0.0;
        if (!from_fill && (first || r->at_h <= m->problem->film_from_h))
            break; /* before the first reading nothing tells an act from how the water came */
        if (!first && r->at_h <= m->problem->film_from_h)
            continue;
        double size = 0.0;
        tw_water_guess g;
        memset(&g, 0, sizeof g);
        is_last &= !first;
        g.gain = gain_of(&w, s, soft, is_last, s->map_spare, &size);
        if (is_last && s->last.act[size > 0.0].odds > LIKELY_ODDS && g.gain < FAR_BETTER)
            g.gain = FAR_BETTER;
        is_last = 0;
        if (first && !(size > 0.0))
            break;
        g.act = size > 0.0 ? TW_UNLOGGED_CHLORINE_POURED : TW_UNLOGGED_CHLORINE_USED;
        g.from_h = first ? -TW_FILLING_H : before;
        g.until_h = r->at_h;
        g.reading = w.first;
        g.nominal = s->path->par.fixed[TW_X_WATER].v[0];
        g.chance = 1.0 - tw_exp(-tw_estimate_unlogged[g.act].per_day * (g.until_h - (first ? -TW_FILL_COUNTS_H : g.from_h)) / 24.0);
        keep_best(out, &count, &g);
        if (first)
            break;
    }
    return count;
}

/* Of its size in a member, where that is a coordinate: the last dose, by what it brings. */
static double dose_size(const tw_sampler *s, int act, int l)
{
    const tw_problem *p = s->model->problem;
    const size_t last = p->doses - 1;
    const tw_dose_event *d = &p->dose[last];
    double nominal = d->mmol[TW_TOTAL_CL];
    switch (act) {
    case TW_UNLOGGED_CHLORINE_POURED: nominal = d->mmol[TW_TOTAL_ACTIVE_CHLORINE] * TW_MG_PER_MMOL_CL2; break;
    case TW_UNLOGGED_CHLORINE_USED: nominal = d->demand_mg; break;
    case TW_UNLOGGED_ACID_POURED:
    case TW_UNLOGGED_BASE_POURED: nominal = fabs(d->alk_meq); break;
    default: break;
    }
    return nominal * tw_estimate_dose_factor(s->model, (int)last, &s->path->par).v[l] / s->path->before_dose[last][0].v[l];
}

double tw_estimate_guess_size(const tw_sampler *s, const tw_water_guess *g, int l)
{
    if (g->act == TW_UNLOGGED_GENERATOR_OFF)
        return tw_estimate_off_hours(s->model->problem, &s->path->par, l);
    return g->size > 0.0 ? g->size : dose_size(s, g->act, l);
}

static double middle_of(const tw_unlogged_row *row) { return sqrt(row->low * row->high); }

/* sd of ln size: that of an even chance from the least to the greatest. */
static double size_sd(const tw_unlogged_row *row) { return tw_log(row->high / row->low) / sqrt(12.0); }

/* The water as written, with the act in the middle of its gap. Chlorine comes as hypochlorite; what was used up
 * by what nobody wrote (bathers, dirt) comes as demand. */
static void write_act(const tw_problem *written, const tw_water_guess *g, tw_problem *to)
{
    const tw_unlogged_row *row = &tw_estimate_unlogged[g->act];
    const double mg = middle_of(row) * g->nominal;
    *to = *written;
    tw_dose_event *d = &to->dose[to->doses++];
    memset(d, 0, sizeof *d);
    d->at_h = 0.5 * (g->from_h + g->until_h);
    if (g->from_h < 0.0) { /* with the fill: the first chlorine */
        d->at_h = d->at_h > 0.0 ? d->at_h : 0.0;
        to->film_from_h = to->film_from_h < d->at_h ? to->film_from_h : d->at_h;
    }
    d->at_h = d->at_h > to->film_from_h ? d->at_h : to->film_from_h;
    d->product = -1;
    d->amount_sd = size_sd(row);
    d->entry = TW_ENTRY_NONE;
    if (g->act == TW_UNLOGGED_CHLORINE_POURED) {
        const double mmol = mg / TW_MG_PER_MMOL_CL2;
        d->mmol[TW_TOTAL_ACTIVE_CHLORINE] = d->mmol[TW_TOTAL_CL] = d->alk_meq = mmol;
        d->mmol[TW_TOTAL_NA] = 2.0 * mmol;
    } else {
        d->demand_mg = mg;
    }
}

static int write_guess(const tw_problem *written, const tw_water_guess *g, tw_problem *to)
{
    switch (g->act) {
    case TW_UNLOGGED_CHLORINE_POURED:
    case TW_UNLOGGED_CHLORINE_USED:
        write_act(written, g, to);
        return 1;
    case TW_UNLOGGED_GENERATOR_OFF: return tw_estimate_off_write(written, g, to);
    default: return tw_estimate_other_write(written, g, to);
    }
}

/* The model of a guess. 0: it does not fit. */
static int set_water(tw_sampler *s, const tw_problem *written, tw_guesses *guesses, size_t index)
{
    const tw_problem *p = written;
    if (index > 0) {
        const tw_water_guess *g = &guesses->guess[index];
        if (!write_guess(written, g, &guesses->problem))
            return 0;
        p = &guesses->problem;
    }
    if (tw_estimate_model_make(p, s->model, s->timeline) != TW_OK)
        return 0;
    s->frame.n = s->model->active;
    return index == 0 || p->doses == written->doses || s->model->own_of_dose[p->doses - 1] >= 0;
}

static void keep_map(const tw_sampler *s, tw_water_guess *g)
{
    memcpy(g->map, s->map, s->model->active * sizeof *g->map);
}

int tw_estimate_guess_take(tw_sampler *s, const tw_problem *written, tw_guesses *guesses, size_t index)
{
    if (!set_water(s, written, guesses, index))
        return 0;
    memcpy(s->map, guesses->guess[index].map, s->model->active * sizeof *s->map);
    return tw_estimate_map_here(s);
}

/* Search each guess and weigh it against the water as written. */
static void weigh(tw_sampler *s, const tw_problem *written, tw_guesses *out, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        tw_water_guess *g = &out->guess[i];
        g->weight = -1e300;
        if (!set_water(s, written, out, i) || tw_estimate_map(s) != 0)
            continue;
        keep_map(s, g);
        g->weight = s->mass + tw_log(g->chance);
    }
    double top = out->guess[0].weight, sum = 0.0;
    for (size_t i = 1; i < count; i++)
        top = out->guess[i].weight > top ? out->guess[i].weight : top;
    for (size_t i = 0; i < count; i++) {
        out->guess[i].weight = tw_exp(out->guess[i].weight - top);
        sum += out->guess[i].weight;
    }
    for (size_t i = 0; i < count; i++)
        out->guess[i].weight /= sum;
}

int tw_estimate_is_a_pour(int act) { return act == TW_UNLOGGED_CHLORINE_POURED || act == TW_UNLOGGED_CHLORINE_USED; }

/* Is the act one that chlorine shows? */
static int is_of_chlorine(int act) { return tw_estimate_is_a_pour(act) || act == TW_UNLOGGED_GENERATOR_OFF; }

/* What is told of a guess at all. */
static double share_of(const tw_water_guess *g, size_t index)
{
    const double least = g->pooled ? LEAST_POOLED_SHARE : (is_of_chlorine(g->act) ? LEAST_SHARE : LEAST_OTHER_SHARE);
    return index == 0 || g->weight >= least ? g->weight : 0.0;
}

/* Chains in groups: each guess the whole groups that its weight is worth, what is left by the largest rest. What no
 * reading could have told has a group before that: rather too wide than wrong. */
static void share_out(tw_guesses *out, size_t count, uint32_t chains)
{
    const uint32_t groups = chains / GROUP;
    double rest[1 + TW_MOST_GUESSES], told = 0.0;
    uint32_t given = 0;
    for (size_t i = 0; i < count; i++)
        told += share_of(&out->guess[i], i);
    for (size_t i = 0; i < count; i++) {
        const double w = share_of(&out->guess[i], i) / told;
        const uint32_t whole = (uint32_t)(w * (double)groups);
        rest[i] = w * (double)groups - (double)whole;
        out->guess[i].chains = whole * GROUP;
        given += whole;
    }
    for (size_t i = 1; i < count && given < groups; i++)
        if (out->guess[i].pooled && out->guess[i].chains == 0 && rest[i] > 0.0) {
            out->guess[i].chains = GROUP;
            rest[i] = 0.0;
            given++;
        }
    for (; given < groups; given++) {
        size_t most = 0;
        for (size_t i = 1; i < count; i++)
            most = rest[i] > rest[most] ? i : most;
        out->guess[most].chains += GROUP;
        rest[most] -= 1.0;
    }
}

size_t tw_estimate_guess(tw_sampler *s, const tw_problem *written, tw_guesses *out)
{
    const int doubted = contradicts(s);
    const size_t others = tw_estimate_other_screen(s, out->other);
    tw_frame soft = {s->model->active, s->spare_l, s->spare_lt, s->spare_inverse};
    memset(&out->guess[0], 0, sizeof out->guess[0]);
    out->guess[0].act = TW_UNLOGGED_NONE;
    out->guess[0].weight = s->mass;
    out->guess[0].chains = s->options.chains;
    if (written->doses >= TW_MAX_DOSES || !tw_estimate_soft_frame(s, &soft))
        return 1;
    size_t count = screen(s, &soft, doubted, out);
    while (count > 1 && !doubted && out->guess[count - 1].gain < FAR_BETTER)
        count--;
    count += tw_estimate_off_screen(s, &soft, doubted, out->gap, &out->guess[count]);
    for (size_t i = 0; i < others; i++)
        out->guess[count++] = out->other[i];
    if (count == 1)
        return 1;
    keep_map(s, &out->guess[0]);
    weigh(s, written, out, count);
    share_out(out, count, s->options.chains);
    if (out->guess[0].chains < s->options.chains)
        return count;
    (void)tw_estimate_guess_take(s, written, out, 0); /* it did before */
    return 1;
}
