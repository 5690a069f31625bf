/* answer/history.c: one walk over the entries of a tub. */
#include "answer/history.h"

#include <math.h>
#include <string.h>

#include "answer/views.h"
#include "dose/substance.h"

#define SALTING_DAYS 7.0    /* from the first salt on: what is given then makes the start */
#define STRETCH_S INT64_C(3628800)  /* 42 days: what a fold reads of one water             */
#define SHORTEST_S INT64_C(604800)  /* a week: less teaches nothing of the cell            */
#define MOST_FILLS 64

/* On the way through the entries. */
typedef struct {
    tw_history *out;
    tw_time now;
    tw_time first, baseline, salted, combined_over;
    int has_first, has_salt, over;
    double solids_sum, cyanurate_sum, bathers, person_h; /* given since the baseline, the fill */
    double solids_left;                                   /* less what left with water          */
    double litres;
    double duty, temp;
    int generator, power;
    int in_use; /* handed over, or somebody has bathed */
    tw_time duty_since;
    tw_time fill[MOST_FILLS];
    size_t fills;
} walk;

static double days_between(tw_time from, tw_time to)
{
    return tw_units_hours_between(from, to) / 24.0;
}

/* Grams that stay in the water of a gram poured: ions as weighed when dried. Chlorine ends as chloride. */
static double solids_per_g(const tw_substance *s)
{
    static const double G_PER_MOL[TW_TOTALS] = {
        [TW_TOTAL_NA] = 22.990, [TW_TOTAL_K] = 39.098, [TW_TOTAL_CA] = 40.078, [TW_TOTAL_MG] = 24.305,
        [TW_TOTAL_CL] = 35.453, [TW_TOTAL_SO4] = 96.06, [TW_TOTAL_DIC] = 30.005, [TW_TOTAL_BORATE] = 61.83,
        [TW_TOTAL_CYANURATE] = 129.074, [TW_TOTAL_PHOSPHATE] = 94.971};
    double g = 0.0;
    for (int t = 0; t < TW_TOTALS; t++)
        g += s->total_mol_per_g[t] > 0.0 ? s->total_mol_per_g[t] * G_PER_MOL[t] : 0.0;
    return g;
}

static void new_water(walk *w, tw_time at)
{
    tw_drain_facts *f = &w->out->water;
    w->baseline = at;
    w->has_salt = w->over = 0;
    w->solids_sum = w->solids_left = w->cyanurate_sum = w->bathers = w->person_h = 0.0;
    f->solids_acts = f->cyanurate_acts = f->bathing_acts = 0.0;
    f->combined_mg_per_l = -1.0;
    f->oxidations = 0;
}

static void take_addition(walk *w, const tw_entry *e)
{
    tw_drain_facts *f = &w->out->water;
    const tw_substance *s = tw_dose_substance_find(tw_logbook_text(e, TW_FIELD_SUBSTANCE));
    const double g = tw_answer_addition_g(e);
    if (s == NULL || !(g > 0.0))
        return;
    if (s->effect == TW_EFFECT_SALT_UP && (!w->has_salt || days_between(w->salted, e->at) <= SALTING_DAYS)) {
        w->salted = w->has_salt ? w->salted : e->at;
        w->has_salt = 1;
        w->baseline = e->at;
        w->solids_sum = w->solids_left = w->cyanurate_sum = 0.0;
        f->solids_acts = f->cyanurate_acts = 0.0;
        return;
    }
    const double solids = g * solids_per_g(s);
    w->solids_sum += solids;
    w->solids_left += solids;
    f->solids_acts += 1.0;
    if (s->total_mol_per_g[TW_TOTAL_CYANURATE] > 0.0) {
        w->cyanurate_sum += g * s->total_mol_per_g[TW_TOTAL_CYANURATE] * 129.074;
        f->cyanurate_acts += 1.0;
    }
    if (w->over && s->effect == TW_EFFECT_FC_UP)
        f->oxidations++;
}

static void take_exchange(walk *w, const tw_entry *e)
{
    double out_l = 0.0;
    if (tw_logbook_word(e, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_FILL) {
        if (w->fills < MOST_FILLS)
            w->fill[w->fills++] = e->at;
        w->out->has_fill = 1;
        w->out->fill = e->at;
        new_water(w, e->at);
    } else if (tw_logbook_si(e, TW_FIELD_OUT, &out_l) == TW_OK && w->litres > 0.0) {
        const double left = 1.0 - out_l / w->litres;
        w->solids_left *= left > 0.0 ? left : 0.0;
    }
}

static void take_reading(walk *w, const tw_entry *e)
{
    tw_history *h = w->out;
    double value = 0.0;
    if (tw_logbook_has(e, TW_FIELD_SOURCE) || tw_logbook_word(e, TW_FIELD_FORM) != TW_READING_FORM_VALUE ||
        tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK)
        return;
    switch (tw_logbook_word(e, TW_FIELD_ANALYTE)) {
    case TW_ANALYTE_COMBINED_CHLORINE:
        h->water.combined_mg_per_l = value;
        if (value > tw_estimate_drain_rows[TW_DRAIN_COMBINED].high) {
            w->over = 1;
        } else {
            w->over = 0;
            h->water.oxidations = 0;
        }
        break;
    case TW_ANALYTE_SALT:
        h->salt_low = h->salt_high > 0.0 && h->salt_low < value ? h->salt_low : value;
        h->salt_high = value > h->salt_high ? value : h->salt_high;
        break;
    case TW_ANALYTE_TEMPERATURE:
        h->temp_low = h->temp_high > 0.0 && h->temp_low < value ? h->temp_low : value;
        h->temp_high = value > h->temp_high ? value : h->temp_high;
        break;
    default: break;
    }
}

/* Hours of production up to here. */
static void run_cell(walk *w, tw_time to)
{
    if (w->generator && w->power && w->duty > 0.0)
        w->out->cell_hours += w->duty * tw_units_hours_between(w->duty_since, to);
    w->duty_since = to;
}

static void cell_from(walk *w, tw_time at)
{
    tw_history *h = w->out;
    h->has_cell_start = 1;
    h->cell_start = at;
    h->cell_hours = h->salt_low = h->salt_high = h->temp_low = h->temp_high = 0.0;
    h->cell_seen = 0;
}

static void take_setting(walk *w, const tw_entry *e)
{
    const int what = tw_logbook_word(e, TW_FIELD_WHAT);
    double value = 0.0;
    if (what == TW_SETTING_DUTY && tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK) {
        run_cell(w, e->at);
        w->duty = value;
        w->generator = 1;
    } else if (what == TW_SETTING_GENERATOR) {
        run_cell(w, e->at);
        w->generator = tw_logbook_word(e, TW_FIELD_STATE) == TW_STATE_ON;
        w->duty = w->generator && !(w->duty > 0.0) ? 1.0 : w->duty;
    } else
        return;
    if (w->generator && w->duty > 0.0 && !w->out->has_cell_start)
        cell_from(w, e->at);
}

static void take_part(walk *w, const tw_entry *e)
{
    if (tw_logbook_word(e, TW_FIELD_PART) != TW_PART_CELL)
        return;
    run_cell(w, e->at);
    if (tw_logbook_word(e, TW_FIELD_ACT) == TW_PART_ACT_FITTED)
        cell_from(w, e->at);
    else
        w->out->cell_seen = 1;
}

static void take(walk *w, const tw_entry *e)
{
    double count = 0.0, minutes = 0.0;
    switch ((int)e->kind) {
    case TW_KIND_ADDITION: take_addition(w, e); break;
    case TW_KIND_EXCHANGE: take_exchange(w, e); break;
    case TW_KIND_READING: take_reading(w, e); break;
    case TW_KIND_SETTING: take_setting(w, e); break;
    case TW_KIND_PART: take_part(w, e); break;
    case TW_KIND_CARE:
        if (tw_logbook_word(e, TW_FIELD_JOB) == TW_CARE_JOB_HANDOVER && tw_logbook_word(e, TW_FIELD_STATE) == TW_JOB_STATE_DONE)
            w->in_use = 1;
        break;
    case TW_KIND_BATHERS:
        w->in_use = 1;
        if (tw_logbook_number(e, TW_FIELD_COUNT, &count) == TW_OK && tw_logbook_number(e, TW_FIELD_MINUTES, &minutes) == TW_OK) {
            w->bathers += count;
            w->person_h += count * minutes / 60.0;
            w->out->water.bathing_acts += 1.0;
        }
        break;
    default: break;
    }
}

static tw_time seconds_on(tw_time at, int64_t seconds)
{
    at.utc_s += seconds;
    return at;
}

/* Stretches of the cell's life that share no reading: each water cut from its end backwards; the latest are kept. */
static void cut(tw_time from, tw_time until, tw_history *h)
{
    if (h->has_cell_start && from.utc_s < h->cell_start.utc_s)
        from = h->cell_start;
    tw_stretch late[TW_CELL_LEVELS];
    size_t n = 0;
    while (n < TW_CELL_LEVELS && until.utc_s - from.utc_s >= SHORTEST_S) {
        late[n].until = until;
        late[n].from = until.utc_s - from.utc_s > STRETCH_S ? seconds_on(until, -STRETCH_S) : from;
        until = late[n++].from;
    }
    while (n > 0) {
        if (h->stretches == TW_CELL_LEVELS) {
            memmove(h->stretch, h->stretch + 1, (TW_CELL_LEVELS - 1) * sizeof *h->stretch);
            h->stretches--;
        }
        h->stretch[h->stretches++] = late[--n];
    }
}

void tw_answer_history(const tw_core *core, const tw_tub *tub, tw_time now, const tw_belief *belief, tw_history *out)
{
    walk w;
    size_t cursor = 0;
    const tw_entry *e;
    memset(out, 0, sizeof *out);
    memset(&w, 0, sizeof w);
    w.out = out;
    w.now = now;
    w.power = 1;
    w.litres = tub->has_volume ? tub->volume_l : belief != NULL ? tw_estimate_volume_l(belief).q50 : 0.0;
    out->water.combined_mg_per_l = -1.0;
    while ((e = tw_logbook_book_next(core->book, tub->id, now, &cursor)) != NULL) {
        if (!w.has_first) {
            w.has_first = 1;
            w.first = w.baseline = e->at;
        }
        take(&w, e);
    }
    if (!w.has_first)
        return;
    run_cell(&w, now);
    tw_drain_facts *f = &out->water;
    const tw_time start = out->has_fill ? out->fill : w.first;
    const double seen = days_between(w.baseline, now), age = days_between(start, now);
    f->age_days = out->has_fill ? age : -1.0;
    f->seen_days = seen > 0.0 ? seen : 0.0;
    f->solids_g = w.solids_left;
    f->solids_g_per_day = seen > 0.0 ? w.solids_sum / seen : 0.0;
    f->cyanurate_g_per_day = seen > 0.0 ? w.cyanurate_sum / seen : 0.0;
    f->bathers_per_day = f->bathing_acts > 0.0 && age > 0.0 ? w.bathers / (age > 1.0 ? age : 1.0) : -1.0;
    out->person_h_per_day = age > 0.0 ? w.person_h / (age > 1.0 ? age : 1.0) : 0.0;
    /* The week is one of guests: a start-up is older than that by the hour it is handed over. */
    f->business = (tub->use == TW_USE_LODGING || tub->use == TW_USE_PUBLIC) && (w.in_use || tub->start == TW_START_CARE);
    for (size_t i = 0; i < w.fills; i++)
        cut(w.fill[i], i + 1 < w.fills ? seconds_on(w.fill[i + 1], -1) : now, out);
    if (w.fills == 0)
        cut(w.first, now, out);
}
