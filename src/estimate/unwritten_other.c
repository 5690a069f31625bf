/* estimate/unwritten_other.c: see unwritten_other.h. */
#include "estimate/unwritten_other.h"

#include <math.h>
#include <string.h>

#include "estimate/conductivity.h"
#include "estimate/unwritten_off.h"
#include "gen/estimate_tables.h"
#include "num/elementary.h"

#define APART_H 0.05       /* readings closer than this are of one time */
#define ROOT_TWO_PI 2.5066282746310002

/* Do two readings speak of the same, so that what lies between them is between these? */
static int family(int observed)
{
    switch (observed) {
    case TW_OBSERVED_PH: return 1;
    case TW_OBSERVED_ALKALINITY: return 2;
    case TW_OBSERVED_CHLORIDE:
    case TW_OBSERVED_CONDUCTIVITY: return 3;
    default: return 0;
    }
}

static int is_of_tub(const tw_reading *r) { return !r->source && !r->standard; }

/* The reading of the same family before (later: after) this one, not of its time; -1: none. */
static int neighbour(const tw_problem *p, size_t of, int later)
{
    int found = -1;
    const tw_reading *r = &p->reading[of];
    for (size_t i = 0; i < p->readings; i++) {
        const tw_reading *o = &p->reading[i];
        const double gap = later ? o->at_h - r->at_h : r->at_h - o->at_h;
        if (!is_of_tub(o) || family(o->observed) != family(r->observed) || gap < APART_H)
            continue;
        if (found < 0 || (later ? o->at_h < p->reading[found].at_h : o->at_h > p->reading[found].at_h))
            found = (int)i;
    }
    return found;
}

/* Does it contradict at the best point? The person's own doubt is none. */
static int is_odd(const tw_sampler *s, size_t r)
{
    return s->model->problem->reading[r].rubbish <= 0.25 && s->path->rubbish[r].v[0] > 0.5;
}

/* By how much a reading lies over what was expected, on its scale. */
static double over_expected(const tw_sampler *s, size_t r)
{
    const tw_reading *reading = &s->model->problem->reading[r];
    const double eta = s->path->eta[r].v[0];
    if (reading->form == TW_FORM_VALUE)
        return reading->value - eta;
    return eta > reading->high ? reading->high - eta : (eta < reading->low ? reading->low - eta : 0.0);
}

/* Water at the time of a reading that would bring it from what was expected to what was read, as a share, and how sharply. */
static double share_let_in(const tw_sampler *s, size_t r, double over, double *sd)
{
    const tw_reading *reading = &s->model->problem->reading[r];
    const tw_conductivity_fit *ec = &s->model->problem->conductivity;
    const tw_lanes *x = s->path->par.fixed;
    double source = x[TW_X_CHLORIDE].v[0];
    if (reading->observed == TW_OBSERVED_CONDUCTIVITY)
        source = ec->base + x[TW_X_IONS].v[0] + ec->per_alk * x[TW_X_ALKALINITY].v[0] + ec->per_ca * x[TW_X_HARDNESS].v[0] +
                 ec->per_mg * x[TW_X_CALCIUM_SHARE].v[0] + ec->per_so4 * x[TW_X_SULFATE].v[0] + tw_estimate_salt_us_per_cm(ec->cl, source);
    const double per = 1.0 / s->path->slope[r].v[0]; /* of the quantity by the scale */
    const double eta = s->path->eta[r].v[0];
    const double expected = reading->link == TW_LINK_LN ? tw_exp(eta) - reading->offset : eta;
    const double shown = reading->link == TW_LINK_LN ? tw_exp(eta + over) - reading->offset : eta + over;
    *sd = reading->sd * per / (expected - source);
    return (expected - shown) / (expected - source);
}

static double chance_in(int act, double hours)
{
    return 1.0 - tw_exp(-tw_estimate_unlogged[act].per_day * hours / 24.0);
}

static double middle_of(const tw_unlogged_row *row) { return sqrt(row->low * row->high); }

/* Readings of two kinds in the same sitting ask for the same act once. */
static int same_gap(const tw_water_guess *a, const tw_water_guess *b)
{
    return fabs(a->from_h - b->from_h) < APART_H && fabs(a->until_h - b->until_h) < APART_H;
}

/* Between two readings of a family, or between the fill and the first of them. */
typedef struct {
    double from_h, until_h;
    size_t after; /* the reading at its end */
} other_gap;

static other_gap gap_between(const tw_problem *p, int before, size_t after)
{
    return (other_gap){before < 0 ? -TW_FILLING_H : p->reading[before].at_h, p->reading[after].at_h, after};
}

static void add(const tw_sampler *s, int act, size_t r, double over, const other_gap *gap, tw_water_guess *out, size_t *count)
{
    const tw_unlogged_row *row = &tw_estimate_unlogged[act];
    tw_water_guess g;
    if (*count >= TW_MOST_OTHERS)
        return;
    memset(&g, 0, sizeof g);
    g.act = act;
    g.from_h = gap->from_h;
    g.until_h = gap->until_h;
    g.reading = (uint32_t)gap->after;
    g.nominal = s->path->par.fixed[TW_X_WATER].v[0];
    g.chance = chance_in(act, g.until_h - (g.from_h < 0.0 ? -TW_FILL_COUNTS_H : g.from_h));
    if (act == TW_UNLOGGED_AIRED) {
        g.from_h = g.from_h > 0.0 ? g.from_h : 0.0; /* what was let in stands in a hose until then */
        if (g.until_h - g.from_h < row->low)
            return;
        g.chance = chance_in(act, g.until_h - g.from_h);
        g.size = middle_of(row);
    } else if (act == TW_UNLOGGED_WATER_ADDED) {
        double sd = 0.0;
        g.size = share_let_in(s, r, over, &sd);
        if (!(g.size > row->low && g.size < row->high))
            return;
        /* Its size is no coordinate: how much of the even chance on ln lies where the reading wants it. */
        const double seen = ROOT_TWO_PI * sd / g.size / tw_log(row->high / row->low);
        g.chance *= seen < 1.0 ? seen : 1.0;
    }
    for (size_t i = 0; i < *count; i++)
        if (out[i].act == act && (out[i].reading == g.reading || same_gap(&out[i], &g)))
            return;
    out[(*count)++] = g;
}

/* What would lift (lower) what this reading speaks of, in a gap. */
static void add_acts(const tw_sampler *s, size_t r, int up, double over, other_gap gap, tw_water_guess *out, size_t *count)
{
    switch (family(s->model->problem->reading[r].observed)) {
    case 1:
        if (up)
            add(s, TW_UNLOGGED_AIRED, r, over, &gap, out, count);
        add(s, up ? TW_UNLOGGED_BASE_POURED : TW_UNLOGGED_ACID_POURED, r, over, &gap, out, count);
        break;
    case 2: add(s, up ? TW_UNLOGGED_BASE_POURED : TW_UNLOGGED_ACID_POURED, r, over, &gap, out, count); break;
    default: add(s, up ? TW_UNLOGGED_SALT_POURED : TW_UNLOGGED_WATER_ADDED, r, over, &gap, out, count);
    }
}

size_t tw_estimate_other_screen(const tw_sampler *s, tw_water_guess *out)
{
    const tw_problem *p = s->model->problem;
    size_t count = 0;
    for (size_t op = s->model->ops; op-- > 0;) {
        if (s->model->op[op].kind != TW_OP_READ)
            continue;
        const size_t r = (size_t)s->model->op[op].index;
        const tw_reading *reading = &p->reading[r];
        if (!is_of_tub(reading) || family(reading->observed) == 0 || !is_odd(s, r))
            continue;
        const double over = over_expected(s, r);
        const int before = neighbour(p, r, 0), after = neighbour(p, r, 1);
        if (after >= 0 && family(reading->observed) == 1 && !is_odd(s, (size_t)after))
            continue; /* air and acid pass: what was read of the pH since stands */
        if (before >= 0 || p->filled)
            add_acts(s, r, over > 0.0, over, gap_between(p, before, r), out, &count);
        if (after >= 0) /* it was so, and then no more */
            add_acts(s, r, over < 0.0, over, gap_between(p, (int)r, (size_t)after), out, &count);
    }
    return count;
}

static void let_air_in(tw_problem *p, double from_h, double until_h)
{
    (void)tw_estimate_split_setting(p, from_h);
    (void)tw_estimate_split_setting(p, until_h);
    for (size_t i = 0; i < p->settings; i++)
        if (p->setting[i].at_h >= from_h && p->setting[i].at_h < until_h) {
            p->setting[i].jets = 1.0;
            p->setting[i].still = 0.0;
        }
}

int tw_estimate_other_write(const tw_problem *written, const tw_water_guess *g, tw_problem *to)
{
    const tw_unlogged_row *row = &tw_estimate_unlogged[g->act];
    const double middle_h = 0.5 * (g->from_h + g->until_h), at_h = middle_h > 0.0 ? middle_h : 0.0, amount = middle_of(row) * g->nominal;
    *to = *written;
    if (g->act == TW_UNLOGGED_AIRED) {
        const double half = 0.5 * (g->size < g->until_h - g->from_h ? g->size : g->until_h - g->from_h);
        if (written->settings + 2 > TW_MAX_SETTINGS || written->settings == 0)
            return 0;
        let_air_in(to, at_h - half, at_h + half);
        return 1;
    }
    if (g->act == TW_UNLOGGED_WATER_ADDED) {
        if (written->exchanges >= TW_MAX_EXCHANGES)
            return 0;
        tw_exchange_event *e = &to->exchange[to->exchanges++];
        memset(e, 0, sizeof *e);
        e->at_h = at_h;
        e->out_kg = e->in_kg = g->size * g->nominal;
        e->soft_fraction = written->soft_fraction;
        e->entry = TW_ENTRY_NONE;
        return 1;
    }
    if (written->doses >= TW_MAX_DOSES)
        return 0;
    tw_dose_event *d = &to->dose[to->doses++];
    memset(d, 0, sizeof *d);
    d->at_h = at_h;
    d->product = -1;
    d->amount_sd = tw_log(row->high / row->low) / sqrt(12.0);
    d->entry = TW_ENTRY_NONE;
    if (g->act == TW_UNLOGGED_SALT_POURED) {
        d->mmol[TW_TOTAL_NA] = d->mmol[TW_TOTAL_CL] = amount;
    } else if (g->act == TW_UNLOGGED_ACID_POURED) {
        d->mmol[TW_TOTAL_CL] = amount;
        d->alk_meq = -amount;
    } else { /* soda ash: half a mole of carbonate an equivalent */
        d->mmol[TW_TOTAL_NA] = d->alk_meq = amount;
        d->mmol[TW_TOTAL_DIC] = 0.5 * amount;
    }
    return 1;
}
