/* estimate/from_settings.c: how the tub was run and how warm it was, as settings by the hour. */
#include <math.h>
#include <string.h>

#include "estimate/from_book.h"
#include "gen/evaporation_tables.h"
#include "num/elementary.h"
#include "num/sort.h"

#define MAX_CHANGES 384
#define AIR_HOURS 2.0 /* "air done" without a start: that long before */

enum change_what { SET_DUTY, SET_GENERATOR, SET_TEMPERATURE, SET_HEATER, SET_JETS, SET_BLOWER,
                   SET_COVER, SET_CIRCULATION, SET_POWER, SET_AIR, SET_CELL };

typedef struct {
    double at_h, value;
    int what;
} change;

typedef struct {
    double at_h, temp_c;
} knot;

typedef struct {
    change list[MAX_CHANGES];
    uint32_t order[MAX_CHANGES];
    size_t n;
    knot knot[64];
    size_t knots;
    int lost; /* 1: more than the room holds */
} changes;

/* State of the tub's switches; what nobody said is as it usually is. */
typedef struct {
    double duty, set_c;
    int generator;                 /* -1 not said */
    int heater, jets, blower, open, circulation, power, air, cell, duty_said;
} switches;

static void add(changes *c, double at_h, int what, double value)
{
    /* Of what was set before the fill the last word holds. */
    for (size_t i = 0; at_h <= 0.0 && what != SET_CELL && i < c->n; i++)
        if (c->list[i].what == what && !(c->list[i].at_h > 0.0)) {
            c->list[i].value = value;
            return;
        }
    if (c->n == MAX_CHANGES) {
        c->lost = 1;
        return;
    }
    c->list[c->n].at_h = at_h < 0.0 ? 0.0 : at_h;
    c->list[c->n].what = what;
    c->list[c->n].value = value;
    c->n++;
}

static int change_less(uint32_t a, uint32_t b, const void *context)
{
    const change *list = context;
    return list[a].at_h < list[b].at_h;
}

static void add_setting(const tw_from_book *f, const tw_entry *e, changes *c)
{
    const double at = tw_estimate_book_hours(f, e->at);
    const int what = tw_logbook_word(e, TW_FIELD_WHAT), state = tw_logbook_word(e, TW_FIELD_STATE);
    const double on = state == TW_STATE_ON || state == TW_STATE_OPEN ? 1.0 : 0.0;
    double value = 0.0;
    const int has_value = tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK;
    switch (what) {
    case TW_SETTING_DUTY:
        if (has_value)
            add(c, at, SET_DUTY, value < 0.0 ? 0.0 : (value > 1.0 ? 1.0 : value));
        break;
    case TW_SETTING_GENERATOR: add(c, at, SET_GENERATOR, on); break;
    case TW_SETTING_TEMPERATURE:
        if (has_value)
            add(c, at, SET_TEMPERATURE, value);
        break;
    case TW_SETTING_HEATER: add(c, at, SET_HEATER, on); break;
    case TW_SETTING_JETS:
        add(c, at, SET_JETS, on);
        if (on > 0.0)
            add(c, at + (f->jets_stop_h > 0.0 ? f->jets_stop_h : 4.0), SET_JETS, 0.0);
        break;
    case TW_SETTING_BLOWER:
        add(c, at, SET_BLOWER, on);
        if (on > 0.0)
            add(c, at + (f->blower_stop_h > 0.0 ? f->blower_stop_h : 4.0), SET_BLOWER, 0.0);
        break;
    case TW_SETTING_COVER: add(c, at, SET_COVER, on); break;
    case TW_SETTING_CIRCULATION: add(c, at, SET_CIRCULATION, on); break;
    default: break;
    }
}

static void add_air(const tw_from_book *f, const tw_entry *e, changes *c, double *started_h)
{
    const double at = tw_estimate_book_hours(f, e->at);
    if (tw_logbook_word(e, TW_FIELD_STATE) == TW_JOB_STATE_STARTED) {
        *started_h = at;
        add(c, at, SET_AIR, 1.0);
        return;
    }
    if (*started_h < 0.0)
        add(c, at - AIR_HOURS, SET_AIR, 1.0);
    add(c, at, SET_AIR, 0.0);
    *started_h = -1.0;
}

/* The temperature that was read, in order. */
static void add_knot(changes *c, double at_h, double temp_c)
{
    if (c->knots < sizeof c->knot / sizeof *c->knot && temp_c > -2.0 && temp_c < 50.0) {
        c->knot[c->knots].at_h = at_h < 0.0 ? 0.0 : at_h;
        c->knot[c->knots].temp_c = temp_c;
        c->knots++;
    }
}

static int reads_tub_temperature(const tw_entry *e)
{
    return e->kind == TW_KIND_READING && tw_logbook_word(e, TW_FIELD_ANALYTE) == TW_ANALYTE_TEMPERATURE &&
           tw_logbook_word(e, TW_FIELD_FORM) == TW_READING_FORM_VALUE &&
           tw_logbook_word(e, TW_FIELD_POINT) != TW_POINT_SOURCE && !tw_logbook_has(e, TW_FIELD_SOURCE);
}

static void collect(tw_from_book *f, changes *c)
{
    size_t cursor = 0;
    const tw_entry *e;
    double air_h = -1.0, value = 0.0;
    add_knot(c, 0.0, f->fill_temp_c);
    while ((e = tw_estimate_book_next(f, &cursor)) != NULL) {
        const double at = tw_estimate_book_hours(f, e->at);
        if (e->kind == TW_KIND_SETTING)
            add_setting(f, e, c); /* what was set before the fill still holds */
        tw_time back;
        if (e->kind == TW_KIND_POWER_CUT && at < 0.0 && tw_logbook_time(e, TW_FIELD_UNTIL, &back) == TW_OK &&
            tw_estimate_book_hours(f, back) > 0.0) { /* still without power when this stretch begins */
            add(c, 0.0, SET_POWER, 0.0);
            add(c, tw_estimate_book_hours(f, back), SET_POWER, 1.0);
        }
        if (at < 0.0)
            continue;
        if (reads_tub_temperature(e) && tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK)
            add_knot(c, at, value);
        if (e->kind == TW_KIND_CARE && tw_logbook_word(e, TW_FIELD_JOB) == TW_CARE_JOB_AERATE)
            add_air(f, e, c, &air_h);
        if (e->kind == TW_KIND_PART && tw_logbook_word(e, TW_FIELD_PART) == TW_PART_CELL &&
            tw_logbook_word(e, TW_FIELD_ACT) != TW_PART_ACT_SEEN)
            add(c, at, SET_CELL, 1.0);
        if (e->kind == TW_KIND_POWER_CUT) {
            tw_time until;
            add(c, at, SET_POWER, 0.0);
            if (tw_logbook_time(e, TW_FIELD_UNTIL, &until) == TW_OK)
                add(c, tw_estimate_book_hours(f, until), SET_POWER, 1.0);
        }
    }
}

static void apply(switches *s, const change *c)
{
    const int on = c->value > 0.0;
    switch (c->what) {
    case SET_DUTY:
        s->duty = c->value;
        s->duty_said = 1;
        break;
    case SET_GENERATOR: s->generator = on; break;
    case SET_TEMPERATURE: s->set_c = c->value; break;
    case SET_HEATER: s->heater = on; break;
    case SET_JETS: s->jets = on; break;
    case SET_BLOWER: s->blower = on; break;
    case SET_COVER: s->open = on; break;
    case SET_CIRCULATION: s->circulation = on; break;
    case SET_POWER: s->power = on; break;
    case SET_AIR: s->air = on; break;
    default: s->cell++; break;
    }
}

static double duty_of(const switches *s)
{
    if (!s->power || !s->circulation || s->generator == 0)
        return 0.0;
    if (s->generator < 0)
        return s->duty_said ? s->duty : 0.0;
    return s->duty_said ? s->duty : 1.0;
}

/* Temperature at an hour: between readings on the straight line; after the last one towards the
 * set-point at the heater's power, or off it slowly without power (250 W lost at 30 K). */
static double temperature(const tw_from_book *f, const changes *c, const switches *s, double at_h,
                          double last_c, double last_h)
{
    size_t next = c->knots;
    for (size_t i = 0; i < c->knots; i++)
        if (c->knot[i].at_h > at_h) {
            next = i;
            break;
        }
    if (next < c->knots && next > 0) {
        const knot *a = &c->knot[next - 1], *b = &c->knot[next];
        return a->temp_c + (b->temp_c - a->temp_c) * (at_h - a->at_h) / (b->at_h - a->at_h);
    }
    const double gone = at_h - last_h;
    const double kw = f->heater_kw > 0.0 ? f->heater_kw : 2.0;
    const double rate = kw * 0.92 / (f->volume_l * 1.163e-3);
    /* Without heat: 8 W/K through shell and cover to air of 10 C. */
    if (!s->power || !s->heater)
        return 10.0 + (last_c - 10.0) * tw_exp(-8e-3 * gone / (f->volume_l * 1.163e-3));
    if (s->set_c <= 0.0)
        return last_c;
    if (last_c < s->set_c)
        return last_c + rate * gone > s->set_c ? s->set_c : last_c + rate * gone;
    return last_c - 0.3 * gone < s->set_c ? s->set_c : last_c - 0.3 * gone;
}

static void emit(tw_from_book *f, const switches *s, double at_h, double temp_c)
{
    tw_problem *p = f->problem;
    if (p->settings == TW_MAX_SETTINGS) {
        f->flags |= TW_BELIEF_TRUNCATED;
        return;
    }
    tw_setting_event *e = &p->setting[p->settings++];
    memset(e, 0, sizeof *e);
    const int moving = s->power && s->circulation, jets = s->power && (s->jets || s->blower);
    e->at_h = at_h;
    e->duty = duty_of(s);
    e->stirred = jets || s->air ? 5.0 : (moving ? 1.0 : 0.1);
    /* Jets under a closed cover breathe the air under it. "Air" is jets and blower, cover off, with
     * the pauses that the tub's own clock makes. */
    e->jets = s->air ? 0.9 : (jets ? (s->open ? 0.9 : 0.3) : 0.0);
    e->still = 1.0 - e->jets;
    e->dries = s->air || (s->open && jets) ? TW_EVAPORATION_STIRRED : (s->open ? TW_EVAPORATION_UNDISTURBED : TW_EVAPORATION_COVERED);
    e->temp_c = e->temp_end_c = temp_c;
    e->cell = s->cell < TW_MAX_WRITTEN_CELLS ? s->cell : TW_MAX_WRITTEN_CELLS - 1;
}

static void end_temperatures(tw_problem *p)
{
    for (size_t i = 0; i + 1 < p->settings; i++)
        p->setting[i].temp_end_c = p->setting[i + 1].temp_c;
}

/* When the heater reaches the set-point after the last reading: a corner of the temperature. */
static double corner_hour(const tw_from_book *f, const switches *s, double last_c, double last_h)
{
    if (s->set_c <= 0.0 || !s->power || !s->heater)
        return 1e9;
    const double kw = f->heater_kw > 0.0 ? f->heater_kw : 2.0;
    const double rate = last_c < s->set_c ? kw * 0.92 / (f->volume_l * 1.163e-3) : 0.3;
    return last_h + fabs(s->set_c - last_c) / rate;
}

static void walk(tw_from_book *f, changes *c)
{
    switches s = {0.0, 0.0, -1, 1, 0, 0, 0, 1, 1, 0, 0, 0};
    tw_problem *p = f->problem;
    tw_sort_index_by(change_less, c->list, c->n, c->order);
    size_t k = 0, knot_at = 0;
    double t = 0.0, last_c = c->knot[0].temp_c, last_h = 0.0;
    for (;;) {
        while (k < c->n && c->list[c->order[k]].at_h <= t + 1e-9)
            apply(&s, &c->list[c->order[k++]]);
        while (knot_at < c->knots && c->knot[knot_at].at_h <= t + 1e-9) {
            last_c = c->knot[knot_at].temp_c;
            last_h = c->knot[knot_at].at_h;
            knot_at++;
        }
        const double temp_c = temperature(f, c, &s, t, last_c, last_h);
        emit(f, &s, t, temp_c);
        if (knot_at >= c->knots) { /* beyond the readings the path itself carries the temperature */
            last_c = temp_c;
            last_h = t;
        }
        double next = p->now_h;
        if (k < c->n && c->list[c->order[k]].at_h < next)
            next = c->list[c->order[k]].at_h;
        if (knot_at < c->knots && c->knot[knot_at].at_h < next)
            next = c->knot[knot_at].at_h;
        if (knot_at >= c->knots) {
            const double corner = corner_hour(f, &s, last_c, last_h);
            if (corner > t + 0.01 && corner < next)
                next = corner;
        }
        if (next <= t + 1e-9)
            break;
        t = next;
    }
    emit(f, &s, p->now_h, temperature(f, c, &s, p->now_h, last_c, last_h));
    end_temperatures(p);
}

double tw_estimate_book_temp_c(const tw_from_book *f, double at_h)
{
    const tw_problem *p = f->problem;
    for (size_t i = p->settings; i-- > 0;)
        if (p->setting[i].at_h <= at_h) {
            const double to = i + 1 < p->settings ? p->setting[i + 1].at_h : p->now_h;
            const double span = to - p->setting[i].at_h;
            const double u = span > 0.0 ? (at_h - p->setting[i].at_h) / span : 0.0;
            return p->setting[i].temp_c + (u > 1.0 ? 1.0 : u) * (p->setting[i].temp_end_c - p->setting[i].temp_c);
        }
    return f->fill_temp_c;
}

void tw_estimate_book_settings(tw_from_book *f)
{
    tw_problem *p = f->problem;
    changes c;
    memset(&c, 0, sizeof c);
    collect(f, &c);
    if (c.lost)
        f->flags |= TW_BELIEF_TRUNCATED;
    walk(f, &c);
    int cells = 0, makes = 0;
    double first_made = 1e9;
    for (size_t i = 0; i < p->settings; i++) {
        cells = p->setting[i].cell > cells ? p->setting[i].cell : cells;
        if (p->setting[i].duty > 0.0 && p->setting[i].at_h < first_made)
            first_made = p->setting[i].at_h;
        makes |= p->setting[i].duty > 0.0;
    }
    p->cells = (size_t)cells + 1;
    if (!makes && !(f->plate_output_g_per_h > 0.0))
        f->flags |= TW_BELIEF_NO_CELL;
    /* Film and demand begin to be used with the first chlorine; a tub found running is in use. */
    double first = first_made;
    for (size_t i = 0; i < p->doses; i++)
        if (p->dose[i].mmol[TW_TOTAL_ACTIVE_CHLORINE] > 0.0 && p->dose[i].at_h < first)
            first = p->dose[i].at_h;
    const int begun = p->goes_on ? f->taught == NULL || f->taught->film_begun : !f->fresh;
    p->film_from_h = p->days_from_h = begun ? 0.0 : (first < 1e8 ? first : p->now_h + 1e6);
}
