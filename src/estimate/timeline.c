/* estimate/timeline.c: a problem's events in order, cut into stretches of constant settings, with
 * every choice made once (frozen), so that the density of the coordinates has no steps. */
#include <math.h>
#include <string.h>

#include "estimate/model.h"
#include "estimate/carbonate.h"
#include "estimate/carry.h"
#include "estimate/level.h"
#include "estimate/output.h"
#include "estimate/timeline.h"
#include "num/elementary.h"
#include "num/sort.h"

/* Events of one time are taken in this order. */
enum { RANK_SETTING, RANK_EXCHANGE, RANK_DOSE, RANK_BATHER, RANK_READING, RANK_LOOK, RANK_NOW };

typedef struct {
    double at_h;
    int rank, index;
    int64_t turn; /* of events of one time, before the rank */
} point;

#define MAX_POINTS                                                                        \
    (TW_MAX_SLOTS + TW_MAX_DOSES + TW_MAX_EXCHANGES + TW_MAX_SETTINGS + TW_MAX_BATHERS + 1)

typedef struct {
    point point[MAX_POINTS];
    uint32_t order[MAX_POINTS];
    size_t n;
} agenda;

size_t tw_estimate_timeline_bytes(void) { return sizeof(agenda); }

static int earlier(uint32_t a, uint32_t b, const void *context)
{
    const point *p = context;
    if (p[a].at_h < p[b].at_h || p[a].at_h > p[b].at_h)
        return p[a].at_h < p[b].at_h;
    if (p[a].turn != p[b].turn)
        return p[a].turn < p[b].turn;
    if (p[a].rank != p[b].rank)
        return p[a].rank < p[b].rank;
    return p[a].index < p[b].index;
}

/* Settings come first and now comes last; between them the order of the entries, where it counts: what nobody wrote was
 * done before what was read in its minute. */
static void add_point(agenda *g, const tw_problem *p, double at_h, int rank, size_t index, uint32_t entry)
{
    const int64_t order = entry == TW_ENTRY_NONE ? 0 : (int64_t)entry;
    double t = at_h < 0.0 ? 0.0 : at_h;
    if (t > p->now_h)
        t = p->now_h;
    g->point[g->n].turn = rank == RANK_SETTING ? -1 : rank == RANK_NOW ? INT64_MAX : p->by_entry ? order : 0;
    g->point[g->n].at_h = t;
    g->point[g->n].rank = rank;
    g->point[g->n].index = (int)index;
    g->n++;
}

static void gather(const tw_problem *p, agenda *g)
{
    g->n = 0;
    for (size_t i = 0; i < p->settings; i++)
        add_point(g, p, p->setting[i].at_h, RANK_SETTING, i, 0);
    for (size_t i = 0; i < p->exchanges; i++)
        add_point(g, p, p->exchange[i].at_h, RANK_EXCHANGE, i, p->exchange[i].entry);
    for (size_t i = 0; i < p->doses; i++)
        add_point(g, p, p->dose[i].at_h, RANK_DOSE, i, p->dose[i].entry);
    for (size_t i = 0; i < p->bathers; i++)
        add_point(g, p, p->bather[i].at_h, RANK_BATHER, i, p->bather[i].entry);
    for (size_t i = 0; i < p->readings; i++)
        add_point(g, p, p->reading[i].at_h, RANK_READING, i, p->reading[i].entry);
    for (size_t i = 0; i < p->looks; i++)
        add_point(g, p, p->look[i].at_h, RANK_LOOK, i, p->reading[p->look[i].reading].entry);
    add_point(g, p, p->now_h, RANK_NOW, 0, 0);
    tw_sort_index_by(earlier, g->point, g->n, g->order);
}

/* What is true while the clock runs. */
typedef struct {
    tw_model *m;
    const tw_setting_event *set;
    double set_from_h, set_to_h;     /* of the present setting, for the temperature          */
    double still_h, jets_h;          /* exposure since the last carbonate step               */
    double carbon_temp_h;            /* temperature times hours since then                   */
    double carbon_hours;
    double dried;                    /* share of the water by the formula, since the last stretch of it */
    double now_h;
    double stirred_h, stirred_done_h; /* since the last pour of salt; at the last dissolving step */
    int heap;                        /* 1 once solid salt was poured                         */
    double water_kg, ionic;          /* nominal: for the constants of the acids only         */
    tw_status status;
} clock_state;

static double temp_at(const clock_state *k, double t)
{
    if (k->set == NULL)
        return 20.0;
    const double span = k->set_to_h - k->set_from_h;
    if (span <= 0.0)
        return k->set->temp_c;
    double u = (t - k->set_from_h) / span;
    u = u < 0.0 ? 0.0 : (u > 1.0 ? 1.0 : u);
    return k->set->temp_c + u * (k->set->temp_end_c - k->set->temp_c);
}

static int acid_at(clock_state *k, double temp_c)
{
    tw_model *m = k->m;
    const double whole = floor(temp_c + 0.5);
    const double ionic = 0.005 * floor(k->ionic / 0.005 + 0.5);
    for (size_t i = 0; i < m->acids; i++)
        if (fabs(m->acid_temp_c[i] - whole) < 0.25 && fabs(m->acid_ionic[i] - ionic) < 1e-9)
            return (int)i;
    if (m->acids == TW_MAX_ACIDS) {
        k->status = TW_ERR_CAPACITY;
        return 0;
    }
    m->acid_temp_c[m->acids] = whole;
    m->acid_ionic[m->acids] = ionic;
    tw_estimate_acid_constants(whole, ionic, &m->acid[m->acids]);
    return (int)m->acids++;
}

/* Source water keeps the ionic strength it came with. */
static int source_acid(clock_state *k, double temp_c)
{
    const double now = k->ionic;
    k->ionic = 0.005;
    const int acid = acid_at(k, temp_c);
    k->ionic = now;
    return acid;
}

static int loss_class_at(clock_state *k, int day, double temp_c)
{
    tw_model *m = k->m;
    const double temp_k = floor(temp_c + 0.5) + 273.15;
    const double factor = (1.0 / temp_k - 1.0 / 311.15) / 8.31446e-3;
    for (size_t i = 0; i < m->loss_classes; i++)
        if (m->loss_class[i].day == day && fabs(m->loss_class[i].ea_factor - factor) < 1e-9)
            return (int)i;
    if (m->loss_classes == TW_MAX_CLASSES) {
        k->status = TW_ERR_CAPACITY;
        return 0;
    }
    m->loss_class[m->loss_classes].day = day;
    m->loss_class[m->loss_classes].ea_factor = factor;
    return (int)m->loss_classes++;
}

static int made_class_at(clock_state *k, int cell, int day)
{
    tw_model *m = k->m;
    for (size_t i = 0; i < m->made_classes; i++)
        if (m->made_class[i].day == day && m->made_class[i].cell == cell)
            return (int)i;
    if (m->made_classes == TW_MAX_MADE) {
        k->status = TW_ERR_CAPACITY;
        return 0;
    }
    m->made_class[m->made_classes].cell = cell;
    m->made_class[m->made_classes].day = day;
    return (int)m->made_classes++;
}

static void add_op(clock_state *k, int kind, int index, double amount)
{
    if (k->m->ops == TW_MAX_OPS) {
        k->status = TW_ERR_CAPACITY;
        return;
    }
    tw_op *op = &k->m->op[k->m->ops++];
    op->kind = kind;
    op->index = index;
    op->acid = 0;
    op->newton = TW_NEWTON_STEPS;
    op->amount = amount;
}

static int day_of(const tw_model *m, double t)
{
    if (m->days == 0 || t < m->problem->days_from_h)
        return -1;
    const double d = floor((t - m->problem->days_from_h) / m->day_h);
    const int day = d > (double)(m->days - 1) ? (int)(m->days - 1) : (int)d;
    return day;
}

/* Equal pieces. Where scale may form it falls at one or two hours between them (Strang's splitting): in the middle, or at one and at
 * three quarters. */
#define SCALE_LONG_H 12.0

static void cut_carbon(tw_carbon *c, int parts, int scales)
{
    const int twice = c->hours > SCALE_LONG_H;
    if (scales)
        parts = twice ? (parts < 4 ? 3 : 4) : (parts > 2 ? 4 : 2);
    c->parts = parts;
    for (int i = 0; i < parts; i++)
        c->share[i] = 1.0 / (double)parts;
    if (!scales || !twice) {
        c->scale_h[parts / 2] = c->hours;
        return;
    }
    c->scale_h[1] = c->scale_h[parts - 1] = 0.5 * c->hours;
    if (parts == 3) {
        c->share[0] = c->share[2] = 0.25;
        c->share[1] = 0.5;
    }
}

static void flush_carbon(clock_state *k)
{
    tw_model *m = k->m;
    if (k->carbon_hours <= 0.0)
        return;
    if (m->carbons == TW_MAX_CARBON) {
        k->status = TW_ERR_CAPACITY;
        return;
    }
    /* About one exchange a piece at the middle of the prior, at most four: what is faster is nearly
     * in balance at the end anyway. */
    const double exposure = 0.03 * k->still_h + 2.0 * k->jets_h;
    double parts = ceil(exposure / 1.2);
    parts = parts < 1.0 ? 1.0 : (parts > TW_CARBON_PARTS ? TW_CARBON_PARTS : parts);
    tw_carbon *c = &m->carbon[m->carbons];
    c->hours = k->carbon_hours;
    c->at_h = k->now_h;
    c->still_h = k->still_h;
    c->jets_h = k->jets_h;
    cut_carbon(c, (int)parts, m->scales);
    c->newton = TW_NEWTON_STEPS;
    for (int i = 0; i < c->parts; i++)
        c->stretch[i] = i == 0 ? 0.9 : 0.4; /* until the first members say it */
    c->first_part = (int)m->parts;
    c->acid = acid_at(k, k->carbon_temp_h / k->carbon_hours);
    m->parts += (size_t)c->parts;
    if (m->parts > TW_MAX_PARTS) {
        k->status = TW_ERR_CAPACITY;
        return;
    }
    add_op(k, TW_OP_CARBON, (int)m->carbons++, 0.0);
    k->still_h = k->jets_h = k->carbon_temp_h = k->carbon_hours = 0.0;
}

/* The pH after an act, for the loss that follows it: an exchange of no length. */
static void root_here(clock_state *k, double temp_c)
{
    tw_model *m = k->m;
    if (!m->follows || m->carbons >= TW_MAX_CARBON / 2 || m->parts >= TW_MAX_PARTS / 2)
        return; /* a crowded water keeps the pH of its last exchange until the next */
    tw_carbon *c = &m->carbon[m->carbons];
    c->at_h = k->now_h;
    c->parts = 1;
    c->share[0] = 1.0;
    c->newton = TW_NEWTON_STEPS;
    c->stretch[0] = 0.9;
    c->first_part = (int)m->parts++;
    c->acid = acid_at(k, temp_c);
    add_op(k, TW_OP_CARBON, (int)m->carbons++, 0.0);
}

/* A heap goes fast at first and slowly at the end: exp(-value*sqrt(stirred hours since the pour)). */
static void flush_dissolve(clock_state *k)
{
    if (k->heap && k->stirred_h > k->stirred_done_h) {
        if (k->m->dissolves == TW_MAX_DISSOLVES) {
            k->status = TW_ERR_CAPACITY;
            return;
        }
        k->m->dissolves++;
        add_op(k, TW_OP_DISSOLVE, 0, sqrt(k->stirred_h) - sqrt(k->stirred_done_h));
    }
    k->stirred_done_h = k->stirred_h;
}

/* Does what dissolves count in the output by now? Less and less often, and rather too little than more than there is room for. */
#define SALT_ROOT_H 0.3 /* gain of the root of the stirred hours */

static int salt_moves(const clock_state *k)
{
    return k->heap && k->m->dissolves < TW_MAX_DISSOLVES / 2 && sqrt(k->stirred_h) - sqrt(k->stirred_done_h) > SALT_ROOT_H;
}

/* Evaporation matters where something is read that it concentrates, and where the level is filled up. */
static void flush_dry(clock_state *k)
{
    if (k->dried > 0.0 && k->m->dries < TW_MAX_DRIES) {
        k->m->dries++;
        add_op(k, TW_OP_DRY, 0, k->dried);
        k->dried = 0.0;
    }
}

/* One stretch without a change: where does it end at the latest? */
static double stretch_end(const tw_model *m, double t, double until)
{
    const tw_problem *p = m->problem;
    double end = until;
    if (t < p->film_from_h && p->film_from_h < end)
        end = p->film_from_h;
    const double age = t - p->film_from_h;
    const double longest = age >= 0.0 && age < 72.0 ? 6.0 : 12.0;
    if (end - t > longest + 1e-9)
        end = t + longest;
    if (m->days > 0 && t >= p->days_from_h) {
        const double next =
            p->days_from_h + (floor((t - p->days_from_h) / m->day_h + 1e-9) + 1.0) * m->day_h;
        if (next < end && next > t)
            end = next;
    } else if (m->days > 0 && p->days_from_h < end && p->days_from_h > t) {
        end = p->days_from_h;
    }
    return end;
}

static void run_clock(clock_state *k, double from, double until)
{
    tw_model *m = k->m;
    const tw_problem *p = m->problem;
    double t = from;
    while (t < until - 1e-12 && k->status == TW_OK) {
        const double end = stretch_end(m, t, until);
        const double h = end - t, mid = 0.5 * (t + end);
        const double temp_c = temp_at(k, mid);
        if (m->steps == TW_MAX_STEPS) {
            k->status = TW_ERR_CAPACITY;
            return;
        }
        tw_step *s = &m->step[m->steps];
        const int day = day_of(m, mid);
        s->from_h = t;
        s->h = h;
        s->duty = k->set ? k->set->duty * tw_estimate_cold_share(temp_c) : 0.0;
        s->loss_class = loss_class_at(k, day, temp_c);
        s->made_class = s->duty > 0.0 ? made_class_at(k, k->set->cell, day) : -1;
        s->root = m->follows ? (int)m->carbons - 1 : -1;
        s->drift = 1.0;
        s->before = 0.5;
        s->film_h = mid >= p->film_from_h ? mid - p->film_from_h : -1.0;
        const double stirred_h = 0.5 * (k->set ? k->set->stirred : 1.0) * h * tw_exp(0.03 * (temp_c - 38.0));
        k->stirred_h += stirred_h;
        if (s->made_class >= 0 && m->plate_salt_mmol_per_kg > 0.0 && salt_moves(k))
            flush_dissolve(k);
        add_op(k, TW_OP_STEP, (int)m->steps++, 0.0);
        const double still = k->set ? k->set->still : 1.0, jets = k->set ? k->set->jets : 0.0;
        k->still_h += still * h * tw_estimate_gas_factor(temp_c);
        k->jets_h += jets * h * tw_estimate_gas_factor(temp_c);
        k->carbon_temp_h += temp_c * h;
        k->carbon_hours += h;
        k->now_h = end;
        k->stirred_h += stirred_h;
        if (k->set && k->set->dries > 0.0)
            k->dried += k->set->dries * tw_estimate_open_evaporation_per_h(temp_c) * h;
        if (k->carbon_hours >= 24.0)
            flush_carbon(k);
        t = end;
    }
}

static void take_setting(clock_state *k, const agenda *g, size_t at)
{
    const tw_problem *p = k->m->problem;
    const tw_setting_event *next = &p->setting[g->point[g->order[at]].index];
    if (k->set == NULL || fabs(next->jets - k->set->jets) > 1e-12 ||
        fabs(next->still - k->set->still) > 1e-12 || fabs(next->temp_c - temp_at(k, g->point[g->order[at]].at_h)) > 3.0)
        flush_carbon(k);
    k->set = next;
    k->set_from_h = g->point[g->order[at]].at_h;
    k->set_to_h = p->now_h;
    for (size_t j = at + 1; j < g->n; j++)
        if (g->point[g->order[j]].rank == RANK_SETTING) {
            k->set_to_h = g->point[g->order[j]].at_h;
            break;
        }
}

static double first_temp(const tw_problem *p, const agenda *g)
{
    for (size_t i = 0; i < g->n; i++)
        if (g->point[g->order[i]].rank == RANK_SETTING)
            return p->setting[g->point[g->order[i]].index].temp_c;
    return 20.0;
}

/* The ionic strength is a ledger of nominal amounts: it chooses constants, which must be frozen. */
static void begin_ionic(clock_state *k)
{
    const tw_problem *p = k->m->problem;
    k->water_kg = tw_exp(p->prior[TW_X_WATER].middle + p->prior[TW_X_WATER].sd * tw_estimate_carry_mean(k->m, TW_X_WATER));
    for (size_t i = 0; i < p->readings; i++)
        if (p->reading[i].observed == TW_OBSERVED_WATER && p->reading[i].link == TW_LINK_LN) {
            const double kg = tw_exp(p->reading[i].value);
            if (kg > 100.0 && kg < 30000.0)
                k->water_kg = kg;
            break;
        }
    if (p->goes_on) {
        k->ionic = p->cut.ionic_mol_per_kg;
        k->heap = p->cut.heap;
        k->stirred_h = k->stirred_done_h = p->cut.stirred_h;
        k->m->cut_acid = acid_at(k, p->cut.acid_temp_c);
        return;
    }
    const double bicarbonate = tw_exp(p->prior[TW_X_ALKALINITY].middle);
    k->ionic = 1e-3 * (1.5 * bicarbonate + tw_exp(p->prior[TW_X_CHLORIDE].middle));
}

static void pour_ionic(clock_state *k, const tw_dose_event *d)
{
    const double *n = d->mmol;
    if (d->form == TW_AMOUNT_POSSIBLE)
        return;
    const double sum = n[TW_TOTAL_NA] + n[TW_TOTAL_K] + n[TW_TOTAL_CL] +
                       4.0 * (n[TW_TOTAL_CA] + n[TW_TOTAL_MG] + n[TW_TOTAL_SO4]);
    k->ionic += 0.5e-3 * sum / k->water_kg;
    if (k->ionic < 0.0)
        k->ionic = 0.0;
}

/* Read the tub's water, or look at it for a reading of another hour. */
static void take_reading(clock_state *k, const tw_reading *r, int kind, const point *e)
{
    const int of_tub = !r->source && !r->standard;
    if (of_tub && r->observed == TW_OBSERVED_PH)
        flush_carbon(k);
    if (of_tub && (r->observed == TW_OBSERVED_CHLORIDE || r->observed == TW_OBSERVED_CONDUCTIVITY))
        flush_dissolve(k);
    if (of_tub && tw_estimate_level_shows(r->observed))
        flush_dry(k);
    add_op(k, kind, e->index, 0.0);
    if (k->status == TW_OK && r->observed == TW_OBSERVED_PH)
        k->m->op[k->m->ops - 1].acid = r->source ? source_acid(k, r->temp_c) : acid_at(k, temp_at(k, e->at_h));
}

/* Acid, base or carbon; hypochlorite's own lye is little. */
static int moves_ph(const tw_dose_event *d)
{
    const double active = d->mmol[TW_TOTAL_ACTIVE_CHLORINE];
    return fabs(d->alk_meq - active) > 0.25 * fabs(active) + 1e-9 || fabs(d->mmol[TW_TOTAL_DIC]) > 0.0;
}

static void take_point(clock_state *k, const agenda *g, size_t at)
{
    const tw_problem *p = k->m->problem;
    const point *e = &g->point[g->order[at]];
    switch (e->rank) {
    case RANK_SETTING:
        take_setting(k, g, at);
        break;
    case RANK_EXCHANGE:
        flush_dissolve(k);
        flush_carbon(k);
        flush_dry(k);
        add_op(k, TW_OP_EXCHANGE, e->index, 0.0);
        root_here(k, temp_at(k, e->at_h));
        break;
    case RANK_DOSE:
        if (p->dose[e->index].solid_salt) {
            flush_dissolve(k);
            k->heap = 1;
            k->stirred_h = k->stirred_done_h = 0.0; /* the heap's clock starts with its last pour */
        } else if (fabs(p->dose[e->index].alk_meq) > 0.0 ||
                   fabs(p->dose[e->index].mmol[TW_TOTAL_DIC]) > 0.0) {
            flush_carbon(k);
        }
        add_op(k, TW_OP_DOSE, e->index, 0.0);
        pour_ionic(k, &p->dose[e->index]);
        if (moves_ph(&p->dose[e->index]))
            root_here(k, temp_at(k, e->at_h));
        break;
    case RANK_BATHER:
        add_op(k, TW_OP_BATHER, e->index, 0.0);
        break;
    case RANK_READING:
        take_reading(k, &p->reading[e->index], TW_OP_READ, e);
        break;
    case RANK_LOOK:
        take_reading(k, &p->reading[p->look[e->index].reading], TW_OP_LOOK, e);
        break;
    default:
        flush_dissolve(k);
        flush_carbon(k);
        flush_dry(k);
        break;
    }
}

tw_status tw_estimate_timeline(tw_model *m, void *mem)
{
    agenda *g = mem;
    const tw_problem *p = m->problem;
    m->ops = m->steps = m->carbons = m->loss_classes = m->made_classes = m->acids = m->parts = 0;
    gather(p, g);
    clock_state k;
    memset(&k, 0, sizeof k);
    k.m = m;
    k.status = TW_OK;
    begin_ionic(&k);
    if (p->goes_on || p->film_from_h <= 0.0) /* else no chlorine to speak of before the first exchange with the air */
        root_here(&k, first_temp(p, g));
    double t = 0.0;
    for (size_t i = 0; i < g->n && k.status == TW_OK; i++) {
        const double at = g->point[g->order[i]].at_h;
        if (at > t)
            run_clock(&k, t, at);
        t = at > t ? at : t;
        take_point(&k, g, i);
    }
    m->now_temp_c = temp_at(&k, p->now_h);
    m->now_duty = k.set ? k.set->duty : 0.0;
    m->now_cell = k.set ? k.set->cell : 0;
    m->now_day = day_of(m, p->now_h);
    m->now_ionic = k.ionic;
    m->now_stirred_h = k.stirred_h;
    m->now_acid = acid_at(&k, m->now_temp_c);
    m->now_loss_class = loss_class_at(&k, m->now_day, m->now_temp_c);
    m->now_film_h = p->now_h - p->film_from_h;
    m->now_heap = k.heap;
    return k.status;
}
