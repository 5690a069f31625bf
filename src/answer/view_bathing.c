/* answer/view_bathing.c: which conditions of the named profile are met, not met, not known, by which
 * reading and how old. "Met" is a word about readings; who opens the tub is a person with a name.
 *
 * A condition is met when a reading is fresh, was taken after the last dose, lies within the limits itself, and what is
 * known by now lies within them with nine in ten; not met when it more likely lies outside; otherwise not known: the
 * reading is too coarse to say, or it lies outside and the rest of the logbook does not believe it. Combined chlorine is
 * what two readings of one quarter of an hour say: the estimate has one level of it for the whole water, and people
 * bring some. */
#include <math.h>

#include "answer/act.h"
#include "answer/limits.h"
#include "answer/views.h"
#include "procedure/tables.h"

#define SURE_ENOUGH 0.90
#define AFTER_DOSE_SECONDS 3600
#define TOGETHER_SECONDS 900 /* free and total chlorine read so near give the combined; common practice */
#define DIGITS_END 1e-9      /* a limit that was read is within it */

typedef enum { MET, NOT_MET, NOT_KNOWN } verdict;

typedef struct {
    int analyte;
    tw_message name;
    tw_column column;
    double scale, zero; /* shown = column * scale + zero */
    double low, high;   /* NaN: no such limit            */
    int decimals;
} condition;

/* What was found of one condition. */
typedef struct {
    verdict found;
    tw_message name;
    tw_said said;
    const tw_entry *reading; /* NULL: none   */
    double chance;           /* below 0: none */
} finding;

#define MOST_FINDINGS 8

typedef struct {
    tw_core *core;
    const tw_ask *ask;
    const tw_tub *tub;
    const tw_profile *profile;
    const tw_belief *belief;
    const tw_entry *last_dose;
    int open;        /* conditions that are not met or not known */
    size_t n;
    finding finding[MOST_FINDINGS];
} judge;

static const tw_entry *reading_until(const judge *j, int analyte, tw_time until)
{
    const tw_entry *entry = NULL;
    const tw_entry *last = NULL;
    size_t cursor = 0;
    while ((entry = tw_logbook_book_next(j->core->book, j->tub->id, until, &cursor)) != NULL) {
        const int form = tw_logbook_word(entry, TW_FIELD_FORM);
        if (entry->kind == TW_KIND_READING && tw_logbook_word(entry, TW_FIELD_ANALYTE) == analyte &&
            form != TW_READING_FORM_NOT_DONE && form != TW_READING_FORM_UNREADABLE && !tw_logbook_has(entry, TW_FIELD_SOURCE))
            last = entry;
    }
    return last;
}

static const tw_entry *last_reading(const judge *j, int analyte)
{
    return reading_until(j, analyte, j->ask->now);
}

/* The reading of a condition: of combined chlorine the total, or the combined itself, whichever is later. */
static const tw_entry *reading_of(const judge *j, const condition *c)
{
    const tw_entry *reading = last_reading(j, c->analyte);
    const tw_entry *itself = c->analyte == TW_ANALYTE_TOTAL_CHLORINE ? last_reading(j, TW_ANALYTE_COMBINED_CHLORINE) : NULL;
    return itself != NULL && (reading == NULL || tw_units_time_compare(itself->at, reading->at) >= 0) ? itself : reading;
}

/* What a reading says of its condition by itself. 0: no number of its own. */
static int as_read(const judge *j, const condition *c, const tw_entry *reading, double *out)
{
    double of_free = 0.0;
    if (tw_logbook_si(reading, TW_FIELD_VALUE, out) != TW_OK)
        return 0;
    if (c->analyte != TW_ANALYTE_TOTAL_CHLORINE || tw_logbook_word(reading, TW_FIELD_ANALYTE) != TW_ANALYTE_TOTAL_CHLORINE)
        return 1;
    tw_time until = reading->at;
    until.utc_s += TOGETHER_SECONDS;
    const tw_entry *free_chlorine = reading_until(j, TW_ANALYTE_FREE_CHLORINE, tw_units_time_compare(until, j->ask->now) < 0 ? until : j->ask->now);
    if (free_chlorine == NULL || reading->at.utc_s - free_chlorine->at.utc_s > TOGETHER_SECONDS || tw_logbook_si(free_chlorine, TW_FIELD_VALUE, &of_free) != TW_OK)
        return 0;
    *out = *out > of_free ? *out - of_free : 0.0;
    return 1;
}

/* 1: the number that was read lies outside of the limits by itself. A scale's end counts as what lies beyond it. */
static int read_outside(const condition *c, const tw_entry *reading, double value)
{
    const int form = tw_logbook_word(reading, TW_FIELD_FORM);
    const double end = form == TW_READING_FORM_ABOVE || form == TW_READING_FORM_BELOW ? -DIGITS_END : DIGITS_END;
    return (c->low == c->low && form != TW_READING_FORM_ABOVE && value < c->low - end) ||
           (c->high == c->high && form != TW_READING_FORM_BELOW && value > c->high + end);
}

/* Share of the possible waters that lie within the limits. */
static double chance_within(const judge *j, const condition *c)
{
    const double above = c->low == c->low ? tw_estimate_below(j->belief, c->column, (c->low - c->zero) / c->scale) : 0.0;
    const double under = c->high == c->high ? tw_estimate_below(j->belief, c->column, (c->high - c->zero) / c->scale) : 1.0;
    return under > above ? under - above : 0.0;
}

static void note(judge *j, const condition *c, verdict found, const tw_said *said, const tw_entry *reading, double chance)
{
    j->open += found != MET;
    j->finding[j->n++] = (finding){found, c->name, *said, reading, chance};
}

static void tell_finding(const judge *j, const finding *f, tw_sink *sink)
{
    static const tw_message LABEL[] = {TW_SAY_BATH_MET, TW_SAY_BATH_NOT_MET, TW_SAY_BATH_NOT_KNOWN};
    static const char *const WORD[] = {"met", "not-met", "not-known"};
    tw_answer_item(sink);
    tw_answer_string(sink, TW_KEY_VERDICT, WORD[f->found]);
    tw_answer_message(sink, TW_KEY_VERDICT_SAID, LABEL[f->found]);
    tw_answer_message(sink, TW_KEY_CONDITION, f->name);
    tw_answer_words(sink, TW_KEY_SAID, &f->said);
    if (f->reading != NULL) {
        tw_answer_text(sink, TW_KEY_ENTRY, f->reading->id);
        tw_answer_number(sink, TW_KEY_AGE_H, tw_units_hours_between(f->reading->at, j->ask->now));
    }
    if (f->chance >= 0.0)
        tw_answer_number(sink, TW_KEY_CHANCE, f->chance);
    tw_answer_close(sink);
}

static void say_limits(tw_said *said, const condition *c)
{
    if (c->low == c->low)
        tw_units_say_amount(said, "min", c->low, c->decimals, (tw_text){"", 0});
    if (c->high == c->high)
        tw_units_say_amount(said, "max", c->high, c->decimals, (tw_text){"", 0});
}

static void judge_reading(judge *j, const condition *c, const tw_entry *reading)
{
    double value = 0.0;
    const int outside = as_read(j, c, reading, &value) && read_outside(c, reading, value);
    const int ranged = c->low == c->low, combined = c->analyte == TW_ANALYTE_TOTAL_CHLORINE;
    const double chance = chance_within(j, c);
    verdict found = chance >= SURE_ENOUGH ? MET : chance < 0.5 ? NOT_MET : NOT_KNOWN;
    tw_message message = found == NOT_KNOWN ? (ranged ? TW_SAY_BATH_RANGE_UNSURE : TW_SAY_BATH_MOST_UNSURE)
                                            : (ranged ? TW_SAY_BATH_RANGE : TW_SAY_BATH_MOST);
    if (outside && combined) {
        found = NOT_MET;
        message = TW_SAY_BATH_MOST_READ;
    } else if (outside && found == MET) {
        found = NOT_KNOWN;
        message = ranged ? TW_SAY_BATH_RANGE_DISAGREES : TW_SAY_BATH_MOST_DISAGREES;
    }
    const tw_spread s = tw_estimate_column(j->belief, c->column);
    tw_said said = tw_units_say(message);
    tw_units_say_amount(&said, "read", value, c->decimals, (tw_text){"", 0});
    tw_units_say_amount(&said, "now", s.q50 * c->scale + c->zero, c->decimals, (tw_text){"", 0});
    tw_units_say_amount(&said, "low", s.q05 * c->scale + c->zero, c->decimals, (tw_text){"", 0});
    tw_units_say_amount(&said, "high", s.q95 * c->scale + c->zero, c->decimals, (tw_text){"", 0});
    tw_units_say_time(&said, "at", reading->at);
    say_limits(&said, c);
    note(j, c, found, &said, reading, outside ? -1.0 : chance);
}

static void judge_condition(judge *j, const condition *c)
{
    if (c->low != c->low && c->high != c->high)
        return; /* the profile says nothing about it */
    const tw_entry *reading = reading_of(j, c);
    tw_said said;
    if (reading == NULL) {
        said = tw_units_say(TW_SAY_BATH_NEVER);
        note(j, c, NOT_KNOWN, &said, NULL, -1.0);
    } else if (tw_units_hours_between(reading->at, j->ask->now) > j->profile->read_every_h) {
        said = tw_units_say(TW_SAY_BATH_OLD);
        tw_units_say_time(&said, "at", reading->at);
        tw_units_say_number(&said, "every", j->profile->read_every_h);
        note(j, c, NOT_KNOWN, &said, reading, -1.0);
    } else if (c->analyte != TW_ANALYTE_TEMPERATURE && j->last_dose != NULL && tw_units_time_compare(reading->at, j->last_dose->at) <= 0) {
        said = tw_units_say(TW_SAY_BATH_BEFORE_DOSE);
        tw_units_say_time(&said, "at", j->last_dose->at);
        note(j, c, NOT_KNOWN, &said, reading, -1.0);
    } else {
        judge_reading(j, c, reading);
    }
}

/* The floor: a depth that was read, or what somebody saw. */
static void judge_floor(judge *j)
{
    const condition the_floor = {TW_ANALYTE_CLARITY, TW_SAY_BATH_FLOOR, TW_COLUMN_PH, 1.0, 0.0, (double)NAN, (double)NAN, 0};
    const tw_entry *reading = last_reading(j, TW_ANALYTE_CLARITY);
    const tw_entry *seen = tw_logbook_book_latest(j->core->book, j->tub->id, j->ask->now, TW_KIND_SYMPTOM);
    const int word = seen != NULL ? tw_logbook_word(seen, TW_FIELD_SYMPTOM) : -1;
    const int clear_since = word == TW_SYMPTOM_CLEAR;
    const int cloudy = word == TW_SYMPTOM_CLOUDY || word == TW_SYMPTOM_MILKY || word == TW_SYMPTOM_GREEN || word == TW_SYMPTOM_BROWN ||
                       word == TW_SYMPTOM_BLACK;
    const tw_entry *last = clear_since || reading == NULL || (seen != NULL && cloudy && tw_units_time_compare(seen->at, reading->at) > 0) ? seen : reading;
    tw_said said = tw_units_say(TW_SAY_BATH_FLOOR_UNSEEN);
    if (last == NULL || (last == seen && !cloudy && !clear_since) || tw_units_hours_between(last->at, j->ask->now) > j->profile->read_every_h) {
        note(j, &the_floor, NOT_KNOWN, &said, NULL, -1.0);
        return;
    }
    const int bad = last == seen && cloudy;
    said = tw_units_say(bad ? TW_SAY_BATH_FLOOR_CLOUDY : TW_SAY_BATH_FLOOR_SEEN);
    tw_units_say_time(&said, "at", last->at);
    note(j, &the_floor, bad ? NOT_MET : MET, &said, last, -1.0);
}

/* Something that stops the tub altogether. */
static void judge_stop(judge *j)
{
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(j->core, j->tub, j->ask->now, &status);
    if (act == NULL || act->verb != TW_VERB_STOP)
        return;
    const condition stop = {-1, TW_SAY_BATH_STOP, TW_COLUMN_PH, 1.0, 0.0, (double)NAN, (double)NAN, 0};
    note(j, &stop, NOT_MET, &act->head, NULL, -1.0);
}

static const tw_entry *last_addition(const judge *j)
{
    return tw_logbook_book_latest(j->core->book, j->tub->id, j->ask->now, TW_KIND_ADDITION);
}

static void tell_end(const judge *j, tw_sink *sink)
{
    tw_said said;
    if (j->open > 0) {
        tw_time from = j->ask->now;
        if (j->last_dose != NULL && j->last_dose->at.utc_s + AFTER_DOSE_SECONDS > from.utc_s)
            from.utc_s = j->last_dose->at.utc_s + AFTER_DOSE_SECONDS;
        said = tw_units_say(from.utc_s > j->ask->now.utc_s ? TW_SAY_BATH_RETEST_AT : TW_SAY_BATH_RETEST_NOW);
        tw_units_say_time(&said, "at", from);
        tw_answer_time(sink, TW_KEY_RETEST_AT, from);
        tw_answer_words(sink, TW_KEY_RETEST, &said);
    }
    tw_answer_message(sink, TW_KEY_MET_IS, TW_SAY_MET_IS_NOT);
    tw_answer_message(sink, TW_KEY_WHO_OPENS, TW_SAY_WHO_OPENS);
}

void tw_answer_view_bathing(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    judge j = {.core = core, .ask = ask, .tub = tub, .profile = tw_answer_profile(ask, tub)};
    j.belief = tw_answer_belief(core, tub, ask->now, &status);
    if (j.belief == NULL) {
        tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
        return;
    }
    j.last_dose = last_addition(&j);
    const tw_profile *p = j.profile;
    const double none = (double)NAN;
    const double mg = j.belief->density_kg_per_l;
    const condition conditions[] = {
        {TW_ANALYTE_FREE_CHLORINE, TW_SAY_ANALYTE_FREE_CHLORINE, TW_COLUMN_CHLORINE_MG_PER_KG, mg, 0.0, p->fc_min_mg_per_l, p->fc_max_mg_per_l, 1},
        {TW_ANALYTE_PH, TW_SAY_ANALYTE_PH, TW_COLUMN_PH, 1.0, 0.0, p->ph_min, p->ph_max, 1},
        {TW_ANALYTE_TOTAL_CHLORINE, TW_SAY_ANALYTE_COMBINED_CHLORINE, TW_COLUMN_COMBINED_MG_PER_KG, mg, 0.0, none, p->cc_max_mg_per_l, 1},
        {TW_ANALYTE_TEMPERATURE, TW_SAY_ANALYTE_TEMPERATURE, TW_COLUMN_TEMP_K, 1.0, -273.15, none, p->temp_max_c, 1},
    };
    tw_said rules = tw_units_say(TW_SAY_BATH_RULES);
    tw_units_say_text(&rules, "title", tw_units_text(p->title));
    judge_stop(&j);
    for (size_t i = 0; i < sizeof conditions / sizeof conditions[0]; i++)
        judge_condition(&j, &conditions[i]);
    judge_floor(&j);
    tw_answer_words(sink, TW_KEY_RULES_NAME, &rules);
    tw_answer_text(sink, TW_KEY_PROFILE, tw_units_text(p->id));
    tw_answer_string(sink, TW_KEY_PROFILE_DATE, p->date);
    tw_answer_string(sink, TW_KEY_WEIGHT, j.open > 0 ? "closed" : "plain");
    tw_answer_message(sink, TW_KEY_VERDICT_ALL, j.open > 0 ? TW_SAY_BATH_CLOSED : TW_SAY_BATH_ALL_MET);
    tw_answer_open_list(sink, TW_KEY_CONDITIONS);
    for (size_t i = 0; i < j.n; i++)
        tell_finding(&j, &j.finding[i], sink);
    tw_answer_close(sink);
    const tw_act *act = tw_answer_act(core, tub, ask->now, &status);
    if (act != NULL && act->verb == TW_VERB_STOP) {
        tw_answer_tell_lines(sink, TW_KEY_WHY, &act->why);
        tw_answer_tell_lines(sink, TW_KEY_LIFT, &act->lift);
    }
    tell_end(&j, sink);
    if (j.open > 0)
        core->outcome = TW_ENDED_STOPPED;
}
