/* answer/view_ahead.c: what comes due: the day on which this water has to go by each rule, and what becomes of the cell. */
#include <math.h>
#include <string.h>

#include "answer/history.h"
#include "answer/views.h"

#define VARIED 1.1 /* greatest over least: under this a covariate was not varied */
#define VARIED_K 3.0

typedef struct {
    tw_core *core;
    const tw_ask *ask;
    const tw_tub *tub;
    const tw_belief *belief;
    tw_history history;
    tw_sink *sink;
} view;

static const tw_message RULE[TW_DRAIN_RULES] = {TW_SAY_DRAIN_SOLIDS, TW_SAY_DRAIN_CYANURATE, TW_SAY_DRAIN_COMBINED,
                                                TW_SAY_DRAIN_AGE, TW_SAY_DRAIN_BATHERS, TW_SAY_DRAIN_BUSINESS};
static const char *const RULE_ID[TW_DRAIN_RULES] = {"solids", "cyanurate", "combined", "age", "bathers", "business"};

static tw_time days_on(tw_time now, double days)
{
    now.utc_s += (int64_t)floor(days * 86400.0 + 0.5);
    return now;
}

static void say_days(tw_said *said, tw_time now, const tw_spread *days)
{
    tw_units_say_time(said, "at", days_on(now, days->q50));
    tw_units_say_time(said, "low", days_on(now, days->q05));
    tw_units_say_time(said, "high", days_on(now, days->q95));
}

/* What a rule lacks to have a date. */
static tw_message need_of(const view *v, int rule)
{
    const tw_drain_facts *f = &v->history.water;
    if (rule == TW_DRAIN_SOLIDS)
        return TW_SAY_DRAIN_NEEDS_DAYS;
    if (rule == TW_DRAIN_CYANURATE)
        return f->cyanurate_g_per_day > 0.0 && f->seen_days < TW_DRAIN_SEEN_LEAST_DAYS ? TW_SAY_DRAIN_NEEDS_DAYS : TW_SAY_DRAIN_NEEDS_CYANURATE;
    if (rule == TW_DRAIN_COMBINED)
        return f->combined_mg_per_l < 0.0 ? TW_SAY_DRAIN_NEEDS_COMBINED : TW_SAY_DRAIN_NEEDS_OXIDATION;
    return rule == TW_DRAIN_BATHERS && f->age_days >= 0.0 ? TW_SAY_DRAIN_NEEDS_BATHERS : TW_SAY_DRAIN_NEEDS_FILL;
}

static tw_said rule_said(const view *v, int rule, const tw_drain_date *d)
{
    static const char *const STATE[] = {"dated", "due", "not-seen", "not-known", "not-asked"};
    tw_said said = tw_units_say(TW_SAY_DRAIN_RULE_NOT_SEEN);
    switch (d->state) {
    case TW_DRAIN_DATED:
        said = tw_units_say(d->days.q50 >= TW_DRAIN_HORIZON_DAYS  ? TW_SAY_DRAIN_RULE_PERHAPS
                            : d->days.q95 >= TW_DRAIN_HORIZON_DAYS ? TW_SAY_DRAIN_RULE_OPEN
                                                                   : TW_SAY_DRAIN_RULE_DATED);
        break;
    case TW_DRAIN_DUE: said = tw_units_say(TW_SAY_DRAIN_RULE_DUE); break;
    case TW_DRAIN_NOT_KNOWN: said = tw_units_say(TW_SAY_DRAIN_RULE_NOT_KNOWN); break;
    default:
        if (rule == TW_DRAIN_COMBINED)
            said = tw_units_say(TW_SAY_DRAIN_RULE_NOT_OVER);
        break;
    }
    tw_answer_string(v->sink, TW_KEY_DRAIN_STATE, STATE[d->state]);
    tw_units_say_message(&said, "what", RULE[rule]);
    if (d->state == TW_DRAIN_NOT_KNOWN)
        tw_units_say_message(&said, "needs", need_of(v, rule));
    say_days(&said, v->ask->now, &d->days);
    return said;
}

static void tell_drain(const view *v)
{
    tw_drain drain;
    if (tw_estimate_drain(v->belief, &v->history.water, v->core->work, v->core->work_bytes, &drain) != TW_OK)
        return;
    const int now = drain.first >= 0 && drain.days.q50 <= 0.0;
    const int far = drain.days.q50 >= TW_DRAIN_HORIZON_DAYS;
    tw_said said = tw_units_say(drain.first < 0 || far ? TW_SAY_DRAIN_NONE : now ? TW_SAY_DRAIN_NOW : TW_SAY_DRAIN_FIRST);
    if (drain.first >= 0) {
        tw_units_say_message(&said, "what", RULE[drain.first]);
        say_days(&said, v->ask->now, &drain.days);
        tw_units_say_number(&said, "p", drain.rule[drain.first].p_first);
    }
    tw_answer_words(v->sink, TW_KEY_DRAIN_SAID, &said);
    if (drain.first >= 0)
        tw_answer_spread(v->sink, TW_KEY_DRAIN_FIRST_DAYS, drain.days.q05, drain.days.q50, drain.days.q95);
    tw_answer_open_list(v->sink, TW_KEY_DRAIN_RULES);
    for (int r = 0; r < TW_DRAIN_RULES; r++) {
        const tw_drain_date *d = &drain.rule[r];
        if (d->state == TW_DRAIN_NOT_ASKED)
            continue;
        tw_answer_item(v->sink);
        tw_answer_string(v->sink, TW_KEY_DRAIN_RULE, RULE_ID[r]);
        tw_answer_number(v->sink, TW_KEY_DRAIN_LIMIT, tw_estimate_drain_rows[r].high);
        said = rule_said(v, r, d);
        if (d->state == TW_DRAIN_DATED || d->state == TW_DRAIN_DUE)
            tw_answer_spread(v->sink, TW_KEY_DRAIN_DAYS, d->days.q05, d->days.q50, d->days.q95);
        tw_answer_number(v->sink, TW_KEY_DRAIN_P_FIRST, d->p_first);
        tw_answer_words(v->sink, TW_KEY_DRAIN_RULE_SAID, &said);
        tw_said from = tw_units_say(TW_SAY_DRAIN_RULE_FROM);
        tw_units_say_text(&from, "source", tw_units_text(tw_estimate_drain_rows[r].source));
        tw_units_say_text(&from, "mark", tw_units_text(tw_estimate_drain_rows[r].mark));
        tw_answer_words(v->sink, TW_KEY_DRAIN_RULE_FROM, &from);
        tw_answer_close(v->sink);
    }
    tw_answer_close(v->sink);
}

/* The output that a stretch shows by itself. 0: it teaches nothing of it. */
static int level_of(const view *v, const tw_stretch *stretch, tw_cell_level *out)
{
    tw_estimate_options quick = tw_estimate_options_quick();
    quick.crew = v->core->crew;
    tw_belief alone;
    if (tw_estimate_fold_alone(v->core->book, v->tub->id, v->ask->now, stretch->until, &quick, v->core->fold_mem, v->core->fold_bytes,
                               &alone) != TW_OK ||
        alone.learned[TW_KNOWN_CELL] < TW_CELL_LEARNED)
        return 0;
    const tw_spread factor = tw_estimate_column(&alone, TW_COLUMN_CELL_FACTOR);
    const double middle = 0.5 * tw_units_hours_between(stretch->from, stretch->until);
    out->day = -(tw_units_hours_between(stretch->until, v->ask->now) + middle) / 24.0;
    out->g_per_h = factor.q50 * alone.plate_output_g_per_h;
    out->sd_g_per_h = (factor.q95 - factor.q05) / 3.29 * alone.plate_output_g_per_h;
    return 1;
}

/* Of all stretches: before the belief of now is made, since one memory serves both. One stretch has no trend. */
static size_t levels_of(view *v, tw_cell_level *level)
{
    size_t n = 0;
    const tw_history *h = &v->history;
    if (h->stretches < 2)
        return 0;
    v->core->has_belief = 0;
    for (size_t i = 0; i < h->stretches; i++)
        n += (size_t)level_of(v, &h->stretch[i], &level[n]);
    return n;
}

static void tell_varied(const view *v)
{
    const tw_history *h = &v->history;
    tw_answer_open_list(v->sink, TW_KEY_CELL_NOT_VARIED);
    if (!(h->salt_high > VARIED * h->salt_low))
        tw_answer_message(v->sink, TW_KEY_CELL_NOT_VARIED, TW_SAY_CELL_SALT);
    if (!(h->temp_high - h->temp_low >= VARIED_K))
        tw_answer_message(v->sink, TW_KEY_CELL_NOT_VARIED, TW_SAY_CELL_TEMPERATURE);
    if (!h->cell_seen)
        tw_answer_message(v->sink, TW_KEY_CELL_NOT_VARIED, TW_SAY_CELL_SCALE);
    tw_answer_close(v->sink);
}

/* How it falls, and when it no longer does. */
static void tell_fall(const view *v, const tw_cell *cell)
{
    const tw_time now = v->ask->now;
    const int learned = cell->levels >= 2 && cell->fall_learned >= TW_CELL_LEARNED;
    tw_said said = tw_units_say(learned ? TW_SAY_CELL_FALL : TW_SAY_CELL_FALL_UNKNOWN);
    tw_units_say_number(&said, "pct", cell->fall_pct_per_week);
    tw_units_say_number(&said, "low", cell->fall_pct_per_week - 1.645 * cell->fall_sd_pct_per_week);
    tw_units_say_number(&said, "high", cell->fall_pct_per_week + 1.645 * cell->fall_sd_pct_per_week);
    const tw_time since = v->history.has_fill ? v->history.fill : now;
    const tw_time first = days_on(since, 49.0); /* a stretch of 42 days and a week */
    tw_units_say_time(&said, "at", first.utc_s > now.utc_s ? first : days_on(now, 7.0));
    tw_answer_words(v->sink, TW_KEY_CELL_FALL_SAID, &said);
    if (cell->p_enough >= 0.5 && (!learned || cell->days.q05 >= TW_CELL_HORIZON_DAYS))
        return;
    said = tw_units_say(cell->p_enough <= TW_CELL_SHORT ? TW_SAY_CELL_SHORT : cell->p_enough < 0.5 ? TW_SAY_CELL_SHORT_PERHAPS : cell->days.q50 < TW_CELL_HORIZON_DAYS ? TW_SAY_CELL_UNTIL : TW_SAY_CELL_UNTIL_LATE);
    say_days(&said, now, &cell->days);
    tw_units_say_number(&said, "p", 1.0 - cell->p_enough);
    tw_answer_words(v->sink, TW_KEY_CELL_UNTIL_SAID, &said);
    if (cell->flagged && v->belief->learned[TW_KNOWN_CELL] >= TW_CELL_LEARNED)
        tw_answer_message(v->sink, TW_KEY_CELL_ORDER, TW_SAY_CELL_ORDER);
}

static void tell_cell(const view *v, const tw_cell_level *level, size_t levels)
{
    tw_answer_limits limits;
    tw_answer_limits_of(v->ask, v->tub, &limits);
    const tw_history *h = &v->history;
    const tw_cell_need need = {h->person_h_per_day, limits.floor_mg_per_l};
    tw_cell cell;
    tw_answer_message(v->sink, TW_KEY_CELL_HEADING, TW_SAY_CELL_HEADING);
    if (tw_answer_tell_withheld(v->core, v->ask, v->tub, v->belief, v->sink))
        return;
    if (v->belief->flags & (TW_BELIEF_NO_CELL | TW_BELIEF_NO_PLATE_OUTPUT) ||
        tw_estimate_cell(v->belief, level, levels, &need, v->core->work, v->core->work_bytes, &cell) != TW_OK) {
        tw_answer_message(v->sink, TW_KEY_CELL_UNTIL_SAID, TW_SAY_CELL_NO_PLATE);
        return;
    }
    if (v->belief->learned[TW_KNOWN_CELL] < TW_CELL_LEARNED)
        tw_answer_message(v->sink, TW_KEY_CELL_ASSUMED, TW_SAY_CELL_ASSUMED);
    const double bathing = cell.beyond_plate ? 0.0 : need.person_h_per_day;
    tw_said said = tw_units_say(bathing > 0.0 ? TW_SAY_CELL_NOW : TW_SAY_CELL_NOW_IDLE);
    tw_units_say_number(&said, "now", cell.output_g_per_h.q50);
    tw_units_say_number(&said, "low", cell.output_g_per_h.q05);
    tw_units_say_number(&said, "high", cell.output_g_per_h.q95);
    tw_units_say_number(&said, "plate", v->belief->plate_output_g_per_h);
    tw_units_say_number(&said, "need", cell.need_q90_g_per_h);
    tw_units_say_number(&said, "floor", limits.floor_mg_per_l);
    tw_units_say_number(&said, "bathing", bathing);
    tw_units_say_number(&said, "p", cell.p_enough);
    tw_answer_words(v->sink, TW_KEY_CELL_NOW_SAID, &said);
    if (cell.beyond_plate) {
        said = tw_units_say(TW_SAY_CELL_BEYOND_PLATE);
        tw_units_say_number(&said, "bathing", need.person_h_per_day);
        tw_units_say_number(&said, "need", cell.booked_q90_g_per_h);
        tw_answer_words(v->sink, TW_KEY_CELL_BEYOND_SAID, &said);
    }
    tell_fall(v, &cell);
    tell_varied(v);
    tw_answer_open(v->sink, TW_KEY_CELL);
    tw_answer_spread(v->sink, TW_KEY_CELL_OUTPUT, cell.output_g_per_h.q05, cell.output_g_per_h.q50, cell.output_g_per_h.q95);
    tw_answer_spread(v->sink, TW_KEY_CELL_NEED, cell.need_g_per_h.q05, cell.need_g_per_h.q50, cell.need_g_per_h.q95);
    tw_answer_number(v->sink, TW_KEY_CELL_NEED_Q90, cell.need_q90_g_per_h);
    tw_answer_number(v->sink, TW_KEY_CELL_BOOKED_Q90, cell.booked_q90_g_per_h);
    tw_answer_number(v->sink, TW_KEY_CELL_ENOUGH, cell.p_enough);
    tw_answer_number(v->sink, TW_KEY_CELL_FALL, cell.fall_pct_per_week);
    tw_answer_number(v->sink, TW_KEY_CELL_FALL_LEARNED, cell.fall_learned);
    tw_answer_number(v->sink, TW_KEY_CELL_STRETCHES, (double)cell.levels);
    tw_answer_spread(v->sink, TW_KEY_CELL_DAYS, cell.days.q05, cell.days.q50, cell.days.q95);
    tw_answer_flag(v->sink, TW_KEY_CELL_FLAGGED, cell.flagged);
    tw_answer_number(v->sink, TW_KEY_CELL_HOURS, h->has_cell_start ? h->cell_hours : (double)NAN);
    tw_answer_close(v->sink);
    if (h->has_cell_start) {
        said = tw_units_say(TW_SAY_CELL_HOURS);
        tw_units_say_number(&said, "hours", h->cell_hours);
        tw_units_say_time(&said, "since", h->cell_start);
        tw_units_say_time(&said, "at", days_on(h->cell_start, tw_estimate_drain_rows[TW_DRAIN_CELL].high));
        tw_answer_words(v->sink, TW_KEY_CELL_HOURS_SAID, &said);
    }
}

void tw_answer_view_ahead(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    view v = {.core = core, .ask = ask, .tub = tub, .sink = sink};
    tw_cell_level level[TW_CELL_LEVELS];
    tw_answer_history(core, tub, ask->now, NULL, &v.history);
    const size_t levels = levels_of(&v, level);
    v.belief = tw_answer_tell_belief(core, ask, tub, sink);
    if (v.belief == NULL)
        return;
    tw_answer_history(core, tub, ask->now, v.belief, &v.history);
    if (ask->bathers_a_day > 0.0) {
        v.history.water.bathers_per_day = ask->bathers_a_day;
        v.history.water.bathing_acts = 0.0;
        v.history.person_h_per_day = ask->bathers_a_day * ask->bather_minutes / 60.0;
    }
    tell_drain(&v);
    tell_cell(&v, level, levels);
    tw_answer_digest(sink, TW_KEY_BELIEF, v.belief->digest);
}
