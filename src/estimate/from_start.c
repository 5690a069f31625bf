/* estimate/from_start.c: where this water began, what the plate says, what is known of the volume. */
#include <math.h>
#include <string.h>

#include "estimate/from_book.h"
#include "estimate/model.h"
#include "estimate/tails.h"
#include "num/elementary.h"
#include "water/density.h"

double tw_estimate_book_hours(const tw_from_book *f, tw_time at)
{
    return tw_units_hours_between(f->start, at);
}

double tw_estimate_water_density(double temp_c)
{
    const double t = temp_c < 0.0 ? 0.0 : (temp_c > 45.0 ? 45.0 : temp_c);
    return tw_water_pure_density_kg_per_l(t);
}

const tw_entry *tw_estimate_book_next(const tw_from_book *f, size_t *cursor)
{
    const tw_entry *e = tw_logbook_book_next(f->book, f->tub, f->now, cursor);
    return e != NULL && tw_units_time_compare(e->at, f->end) <= 0 ? e : NULL;
}

int tw_estimate_is_fill(const tw_entry *e)
{
    return e->kind == TW_KIND_EXCHANGE && tw_logbook_word(e, TW_FIELD_CAUSE) == TW_EXCHANGE_CAUSE_FILL;
}

/* The latest fill starts a water; the source it names, its temperature and softening belong to it. */
static void find_fill(tw_from_book *f)
{
    size_t cursor = 0;
    const tw_entry *e;
    f->segment = 0;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        if (!tw_estimate_is_fill(e))
            continue;
        f->segment++;
        f->start = e->at;
        f->fresh = 1;
        f->started = 1;
        f->source = tw_logbook_text(e, TW_FIELD_SOURCE);
        f->problem->soft_fraction = 0.0;
        (void)tw_logbook_si(e, TW_FIELD_SOFT_FRACTION, &f->problem->soft_fraction);
        f->fill_temp_c = 12.0;
        (void)tw_logbook_si(e, TW_FIELD_TEMPERATURE, &f->fill_temp_c);
    }
}

/* Without a fill: the first thing that was done to or read of the tub's own water. */
int tw_estimate_concerns_water(const tw_entry *e)
{
    switch ((int)e->kind) {
    case TW_KIND_ADDITION:
    case TW_KIND_EXCHANGE:
    case TW_KIND_BATHERS:
    case TW_KIND_SETTING:
    case TW_KIND_MONITOR_HOUR: return 1;
    case TW_KIND_READING:
        return tw_logbook_word(e, TW_FIELD_POINT) != TW_POINT_SOURCE &&
               !tw_logbook_has(e, TW_FIELD_SOURCE);
    default: return 0;
    }
}

/* A test that was not done, or a pad that could not be read, says nothing of the water. */
static int says_something(const tw_entry *reading)
{
    const int form = tw_logbook_word(reading, TW_FIELD_FORM);
    return form != TW_READING_FORM_NOT_DONE && form != TW_READING_FORM_UNREADABLE;
}

int tw_estimate_moves_clock(const tw_entry *e)
{
    if (e->kind == TW_KIND_READING)
        return says_something(e);
    return tw_estimate_concerns_water(e) || e->kind == TW_KIND_RESPONSE || e->kind == TW_KIND_INTENT ||
           e->kind == TW_KIND_CARE || e->kind == TW_KIND_PART || e->kind == TW_KIND_POWER_CUT;
}

static void start_without_fill(tw_from_book *f, const tw_tub *tub)
{
    size_t cursor = 0;
    const tw_entry *e;
    f->fresh = tub->start != TW_START_CARE;
    f->fill_temp_c = f->fresh ? 12.0 : 37.0;
    f->start = f->until;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL)
        if (tw_estimate_concerns_water(e)) {
            f->start = e->at;
            f->started = 1;
            return;
        }
    f->flags |= TW_BELIEF_NOT_STARTED;
}

int tw_estimate_is_event(const tw_entry *e)
{
    return tw_estimate_concerns_water(e) || e->kind == TW_KIND_CARE || e->kind == TW_KIND_RESPONSE;
}

/* From a later hour on, as a tub found running: what was read before is then not used (the volumes are), and the
 * belief says so. */
static void start_running(tw_from_book *f, tw_time from)
{
    f->start = from;
    f->fresh = 0;
    f->fill_temp_c = 37.0;
    f->source.n = 0;
    f->flags |= TW_BELIEF_TRUNCATED;
    tw_estimate_problem_init(f->problem, TW_WATER_RUNNING);
}

/* Only so many entries and so many hours of it. */
static void shorten(tw_from_book *f)
{
    size_t cursor = 0, events = 0, skip = 0;
    const tw_entry *e;
    tw_time from = f->start;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL)
        events += tw_estimate_is_event(e) && tw_units_time_compare(e->at, f->start) >= 0 && e->kind != TW_KIND_MONITOR_HOUR;
    if (events > f->most_entries) {
        skip = events - f->most_entries;
        cursor = 0;
        while (skip > 0 && (e = tw_estimate_book_next(f, &cursor)) != NULL)
            if (tw_estimate_is_event(e) && tw_units_time_compare(e->at, f->start) >= 0 && e->kind != TW_KIND_MONITOR_HOUR) {
                skip--;
                from = e->at;
            }
    }
    if (f->longest_h > 0.0 && tw_units_hours_between(from, f->until) > f->longest_h)
        from.utc_s = f->until.utc_s - (int64_t)(f->longest_h * 3600.0);
    if (tw_units_time_compare(from, f->start) > 0)
        start_running(f, from);
}

/* A water that is cut: from there on, with what was carried over, or as a tub found running. */
static void start_at_cut(tw_from_book *f)
{
    if (!f->goes_on || (f->taught != NULL && !f->taught->goes_on)) {
        start_running(f, f->cut_at);
        return;
    }
    f->start = f->cut_at;
    f->fresh = 0;
    f->source.n = 0;
    tw_estimate_problem_init(f->problem, TW_WATER_FRESH);
    f->problem->filled = 0;
    f->problem->goes_on = 1;
    if (f->taught != NULL)
        tw_estimate_go_on(f->taught, f->problem);
    f->fill_temp_c = f->taught != NULL ? f->taught->temp_c : 37.0;
}

#define USUAL_LOWEST 0.875 /* of the salt asked for: 1,750 of 2,000 mg/L, common practice (data/bands.csv) */

/* The latest word of each field wins. */
static void read_plate(tw_from_book *f)
{
    size_t cursor = 0;
    const tw_entry *e;
    double asked = 0.0, lowest = 0.0; /* mg/L of sodium chloride */
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        if (e->kind != TW_KIND_PLATE)
            continue;
        (void)tw_logbook_si(e, TW_FIELD_CELL_OUTPUT, &f->plate_output_g_per_h);
        (void)tw_logbook_si(e, TW_FIELD_SALT_TARGET, &asked);
        (void)tw_logbook_si(e, TW_FIELD_SALT_MIN, &lowest);
        (void)tw_logbook_si(e, TW_FIELD_HEATER_POWER, &f->heater_kw);
        (void)tw_logbook_si(e, TW_FIELD_JETS_STOP, &f->jets_stop_h);
        (void)tw_logbook_si(e, TW_FIELD_BLOWER_STOP, &f->blower_stop_h);
    }
    f->problem->plate_salt_mmol_per_kg = (lowest > 0.0 ? lowest : USUAL_LOWEST * asked) / TW_G_PER_MOL_NACL;
    if (f->plate_output_g_per_h > 0.0) {
        f->problem->plate_output_g_per_h = f->plate_output_g_per_h;
    } else {
        f->flags |= TW_BELIEF_NO_PLATE_OUTPUT;
        f->problem->output_sd = 0.6;
    }
}

/* sd of ln volume by the way it was got, and its bias (plates speak of the brim, not of the line). */
typedef struct {
    double sd, shift;
} volume_error;

static volume_error error_of(int method)
{
    static const volume_error BY_METHOD[TW_VOLUME_METHOD_WORDS] = {
        [TW_VOLUME_METHOD_METER] = {0.02, 0.0},    [TW_VOLUME_METHOD_CLOCK] = {0.05, 0.0},
        [TW_VOLUME_METHOD_GEOMETRY] = {0.10, 0.0}, [TW_VOLUME_METHOD_PLATE] = {0.12, -0.06},
        [TW_VOLUME_METHOD_GUESS] = {0.20, 0.0},    [TW_VOLUME_METHOD_TRACER] = {0.04, 0.0}};
    const volume_error guess = {0.20, 0.0};
    return method >= 0 && method < TW_VOLUME_METHOD_WORDS ? BY_METHOD[method] : guess;
}

typedef struct {
    double litres, sd, shift, temp_c;
    uint32_t entry;
    int there;
    int old; /* 1: the water before has weighed it already */
} volume_word;

/* Has the water before taught the volume? Then what was said before this fill is in it. */
static int volume_is_taught(const tw_from_book *f)
{
    for (size_t i = 0; f->taught != NULL && i < f->taught->n; i++)
        if (f->taught->what[i] == TW_X_WATER)
            return 1;
    return 0;
}

/* Metering a fill again is a new measurement; saying plate or guess again is not. */
static int is_old(const tw_from_book *f, const tw_entry *e, const volume_word *w, int method)
{
    if (!volume_is_taught(f))
        return 0;
    return tw_units_time_compare(e->at, f->problem->goes_on ? f->start : f->began) < 0 ||
           (w->there && method != TW_VOLUME_METHOD_METER && method != TW_VOLUME_METHOD_CLOCK);
}

static void add_volume(tw_from_book *f, const volume_word *v)
{
    tw_problem *p = f->problem;
    if (!v->there || v->old || p->readings == TW_MAX_READINGS)
        return;
    tw_reading *r = &p->reading[p->readings++];
    memset(r, 0, sizeof *r);
    r->observed = TW_OBSERVED_WATER;
    r->link = TW_LINK_LN;
    r->form = TW_FORM_VALUE;
    r->bias = -1;
    r->value = tw_log(v->litres * tw_estimate_water_density(v->temp_c)) + v->shift;
    r->low = -1e308;
    r->high = r->bleach_low = 1e308;
    r->sd = TW_VOLUME_NARROW * v->sd;
    r->rubbish = 0.02;
    r->misread = TW_TAIL_VOLUME_MISREAD;
    r->span = 4.0; /* 300 to 16,000 L */
    r->entry = v->entry;
}

/* One word for each method: typing it again is not a second measurement. */
static void read_volumes(tw_from_book *f, const tw_tub *tub)
{
    volume_word word[TW_VOLUME_METHOD_WORDS + 2];
    memset(word, 0, sizeof word);
    uint32_t told = 0; /* where the rough volume of the tub stands */
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        double litres = 0.0;
        volume_word *w = NULL;
        if (e->kind == TW_KIND_TUB && tw_logbook_has(e, TW_FIELD_VOLUME))
            told = (uint32_t)(cursor - 1);
        if (e->kind == TW_KIND_VOLUME) {
            const int method = tw_logbook_word(e, TW_FIELD_METHOD);
            const volume_error err = error_of(method);
            w = &word[method < 0 ? TW_VOLUME_METHOD_GUESS : method];
            if (tw_logbook_si(e, TW_FIELD_VOLUME, &litres) != TW_OK)
                continue;
            w->sd = err.sd;
            w->shift = err.shift;
            (void)tw_logbook_si(e, TW_FIELD_SPREAD, &w->sd);
        } else if (e->kind == TW_KIND_PLATE && tw_logbook_si(e, TW_FIELD_VOLUME, &litres) == TW_OK) {
            w = &word[TW_VOLUME_METHOD_PLATE];
            w->sd = error_of(TW_VOLUME_METHOD_PLATE).sd;
            w->shift = error_of(TW_VOLUME_METHOD_PLATE).shift;
        } else {
            continue;
        }
        w->old = is_old(f, e, w, (int)(w - word));
        w->there = litres > 0.0;
        w->litres = litres;
        w->temp_c = 15.0;
        (void)tw_logbook_si(e, TW_FIELD_TEMPERATURE, &w->temp_c);
        w->entry = (uint32_t)(cursor - 1);
    }
    if (tub->has_volume && !word[TW_VOLUME_METHOD_GUESS].there) {
        volume_word *w = &word[TW_VOLUME_METHOD_GUESS];
        w->there = 1;
        w->litres = tub->volume_l;
        w->sd = error_of(TW_VOLUME_METHOD_GUESS).sd;
        w->temp_c = 15.0;
        w->old = tub->volume_entry != NULL && is_old(f, tub->volume_entry, w, TW_VOLUME_METHOD_METER);
        w->entry = told;
    }
    /* A guess is often the plate read aloud: with anything measured it says nothing more. */
    if (word[TW_VOLUME_METHOD_METER].there || word[TW_VOLUME_METHOD_CLOCK].there ||
        word[TW_VOLUME_METHOD_GEOMETRY].there || word[TW_VOLUME_METHOD_PLATE].there)
        word[TW_VOLUME_METHOD_GUESS].there = 0;
    double best_sd = 1e9;
    int any = 0;
    for (int m = 0; m < TW_VOLUME_METHOD_WORDS; m++) {
        /* The estimator weighs the salt itself; a typed result of the same salt would count twice. */
        if (m == TW_VOLUME_METHOD_TRACER && any)
            continue;
        add_volume(f, &word[m]);
        any |= word[m].there;
        if (word[m].there && word[m].sd < best_sd) {
            best_sd = word[m].sd;
            f->volume_l = word[m].litres;
        }
    }
    if (!any)
        f->flags |= TW_BELIEF_NO_VOLUME;
}

tw_status tw_estimate_book_start(tw_from_book *f)
{
    tw_tub tub;
    const tw_status status = tw_logbook_book_tub(f->book, f->tub, f->end, &tub);
    size_t cursor = 0;
    if (status != TW_OK && tw_estimate_book_next(f, &cursor) == NULL)
        return TW_ERR_UNKNOWN;
    if (status != TW_OK) {
        memset(&tub, 0, sizeof tub);
        tub.start = -1;
    }
    tw_problem *p = f->problem;
    f->volume_l = 1250.0;
    f->plate_output_g_per_h = f->heater_kw = 0.0;
    f->jets_stop_h = f->blower_stop_h = 0.0;
    tw_estimate_problem_init(p, TW_WATER_FRESH);
    find_fill(f);
    if (!f->started) {
        const uint32_t fills = f->segment;
        start_without_fill(f, &tub);
        f->segment = fills;
        if (f->started)
            tw_estimate_problem_init(p, tub.start == TW_START_CARE ? TW_WATER_RUNNING : TW_WATER_FOUND);
    } else if (f->segment > 0) {
        f->segment--;
    }
    f->began = f->start;
    if (f->started && f->cut)
        start_at_cut(f);
    if (f->started)
        shorten(f);
    if (tub.newer)
        f->flags |= TW_BELIEF_NEWER;
    p->now_h = tw_estimate_book_hours(f, f->until);
    if (p->now_h < 0.0)
        p->now_h = 0.0;
    read_plate(f);
    read_volumes(f, &tub);
    return TW_OK;
}
