/* answer/odd.c: times ahead of the clock, values that would be doubted once entered,
 * amounts that no tub is given, the same dose twice, a second announcement. */
#include "answer/odd_list.h"

#include <math.h>
#include <string.h>

#include "answer/views.h"
#include "estimate/from_entry.h"
#include "logbook/line.h"

#define AHEAD_SECONDS 120
#define SAME_DOSE_SECONDS 900

tw_said *tw_answer_odd_question(tw_odd_list *list, tw_message message)
{
    if (list->n == TW_ODD_QUESTIONS)
        return NULL;
    list->question[list->n] = tw_units_say(message);
    return &list->question[list->n++];
}

/* The typed digits with the point moved, when that is likely. 0: no such shift. */
static int moved(double typed, const double likely[3], double *out)
{
    static const double SHIFT[] = {0.1, 10.0, 0.01, 100.0, 0.001, 1000.0};
    for (size_t i = 0; i < sizeof SHIFT / sizeof SHIFT[0]; i++)
        if (typed * SHIFT[i] >= likely[0] && typed * SHIFT[i] <= likely[2]) {
            *out = typed * SHIFT[i];
            return 1;
        }
    return 0;
}

double tw_answer_odd_meant(double typed, const double likely[3])
{
    double out = likely[1];
    (void)moved(typed, likely, &out);
    return out;
}

static tw_message analyte_name(const tw_entry *entry)
{
    char id[64] = "analyte-";
    const tw_text word = tw_logbook_text(entry, TW_FIELD_ANALYTE);
    if (word.n + 8 > sizeof id)
        return TW_SAY_ENTRY_NEWER;
    memcpy(id + 8, word.at, word.n);
    const tw_message found = tw_units_message_find((tw_text){id, word.n + 8});
    return found == TW_MESSAGES ? TW_SAY_ENTRY_NEWER : found;
}

/* A belief that can tell what a reading would show; NULL when there is none. */
static const tw_belief *belief_of(const tw_odd_list *list)
{
    tw_status status = TW_OK;
    const tw_belief *belief = tw_answer_belief(list->core, list->tub, list->now, &status);
    return belief == NULL || (belief->flags & TW_BELIEF_NOT_STARTED) || belief->readings == 0 ? NULL : belief;
}

/* What a reading of an analyte may show without being doubted, in its unit inside. 0: nothing can be said. */
static int expected(const tw_belief *belief, int analyte, const tw_written_reading *like, double likely[3])
{
    if (belief == NULL)
        return 0;
    tw_estimate_plausible(belief, like, likely);
    for (int i = 0; i < 3; i++)
        likely[i] /= analyte == TW_ANALYTE_CHLORIDE ? TW_NACL_PER_CHLORIDE : 1.0;
    return likely[0] <= likely[2];
}

/* 1 when a typed reading would be doubted once it is entered; likely: what would not. */
static int doubted(const tw_odd_list *list, const tw_entry *entry, double likely[3])
{
    double block[TW_MAX_BLOCKS];
    tw_written_reading w;
    const tw_belief *belief = belief_of(list);
    if (belief == NULL ||
        tw_estimate_written(list->core->book, entry, list->now, belief->density_kg_per_l, block, &w) != TW_OK)
        return 0;
    w.doubtful = 0; /* a person's own doubt makes a reading count less, not the value likelier */
    return tw_estimate_doubt(belief, &w) >= TW_DOUBTFUL && expected(belief, tw_logbook_word(entry, TW_FIELD_ANALYTE), &w, likely);
}

/* Water cools and heats by a few degrees an hour: what the last reading of this water leaves possible. */
static int expected_temperature(tw_odd_list *list, tw_time at, double likely[3])
{
    const tw_entry *e = NULL, *last = NULL;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(list->core->book, list->tub->id, list->now, &cursor)) != NULL) {
        if (e->kind == TW_KIND_EXCHANGE)
            last = NULL;
        if (e->kind == TW_KIND_READING && tw_logbook_word(e, TW_FIELD_ANALYTE) == TW_ANALYTE_TEMPERATURE &&
            tw_logbook_word(e, TW_FIELD_FORM) == TW_READING_FORM_VALUE && !tw_logbook_has(e, TW_FIELD_SOURCE) &&
            e->at.utc_s <= at.utc_s)
            last = e;
    }
    if (last == NULL || tw_logbook_si(last, TW_FIELD_VALUE, &likely[1]) != TW_OK)
        return 0;
    const double wide = 8.0 + 5.0 * (double)(at.utc_s - last->at.utc_s) / 3600.0;
    likely[0] = likely[1] > wide ? likely[1] - wide : 0.0;
    likely[2] = likely[1] + wide;
    return 1;
}

/* An end as it is shown, rounded towards the middle: what is shown as expected is taken. */
static double inwards(double end, int decimals, double middle)
{
    static const double UNITS[] = {1.0, 10.0, 100.0, 1000.0};
    const double per = UNITS[decimals < 3 ? decimals : 3], shown = (end < middle ? ceil(end * per) : floor(end * per)) / per;
    return (end < middle) == (shown <= middle) ? shown : end; /* narrower than a digit: as it is */
}

static void look_at_reading(tw_odd_list *list, const tw_entry *entry)
{
    double typed = 0.0;
    double likely[3];
    const int analyte = tw_logbook_word(entry, TW_FIELD_ANALYTE);
    if (tw_logbook_word(entry, TW_FIELD_FORM) != TW_READING_FORM_VALUE || tw_logbook_has(entry, TW_FIELD_SOURCE) ||
        tw_logbook_si(entry, TW_FIELD_VALUE, &typed) != TW_OK)
        return;
    const int odd = analyte == TW_ANALYTE_TEMPERATURE
                        ? expected_temperature(list, entry->at, likely) && (typed < likely[0] || typed > likely[2])
                        : doubted(list, entry, likely);
    if (!odd)
        return;
    /* Only a point that was moved is offered: the middle of what is expected is no reading. */
    double instead = 0.0;
    const int shifted = moved(typed, likely, &instead);
    tw_said *said = tw_answer_odd_question(list, shifted ? TW_SAY_ODD_VALUE : TW_SAY_ODD_UNEXPECTED);
    if (said == NULL)
        return;
    const int own = tw_logbook_decimals(entry, TW_FIELD_VALUE), usual = tw_logbook_analyte(analyte)->decimals;
    tw_units_say_message(said, "what", analyte_name(entry));
    tw_units_say_amount(said, "value", typed, usual > own ? usual : own, (tw_text){"", 0});
    tw_units_say_amount(said, "low", inwards(likely[0], usual, likely[1]), usual, (tw_text){"", 0});
    tw_units_say_amount(said, "high", inwards(likely[2], usual, likely[1]), usual, (tw_text){"", 0});
    if (shifted)
        tw_units_say_amount(said, "likely", instead, usual, (tw_text){"", 0});
}

int tw_answer_odd_instead(tw_core *core, const tw_tub *tub, tw_time now, tw_text analyte, double typed, double *instead)
{
    tw_odd_list list = {.core = core, .tub = tub, .now = now, .question = NULL, .n = 0};
    double likely[3];
    const int which = tw_logbook_find_word(TW_SET_ANALYTE, analyte);
    tw_written_reading like = {.instrument = TW_TOOL_UNKNOWN};
    like.observed = which < 0 ? -1 : tw_estimate_observed_of(which, TW_TOOL_UNKNOWN);
    const int known = which == TW_ANALYTE_TEMPERATURE ? expected_temperature(&list, now, likely)
                                                      : like.observed >= 0 && expected(belief_of(&list), which, &like, likely);
    /* Of a tub that was never read, pH alone is known to within a factor of ten. */
    static const double ANY_PH[3] = {6.0, 7.5, 9.0};
    if (!known && which == TW_ANALYTE_PH)
        return moved(typed, ANY_PH, instead);
    return known && moved(typed, likely, instead);
}

static void look_at_time(tw_odd_list *list, const tw_entry *entry)
{
    if (entry->at.utc_s - list->now.utc_s <= AHEAD_SECONDS)
        return;
    tw_said *said = tw_answer_odd_question(list, TW_SAY_ODD_AHEAD);
    if (said == NULL)
        return;
    tw_units_say_time(said, "at", entry->at);
    tw_units_say_time(said, "now", list->now);
}

static int same_dose(const tw_entry *a, const tw_entry *b)
{
    double x = 0.0;
    double y = 0.0;
    const int64_t gap = a->at.utc_s - b->at.utc_s;
    return tw_units_text_equal(tw_logbook_text(a, TW_FIELD_SUBSTANCE), tw_logbook_text(b, TW_FIELD_SUBSTANCE)) &&
           gap < SAME_DOSE_SECONDS && gap > -SAME_DOSE_SECONDS && tw_logbook_si(a, TW_FIELD_AMOUNT, &x) == TW_OK &&
           tw_logbook_si(b, TW_FIELD_AMOUNT, &y) == TW_OK && fabs(x - y) <= 0.05 * (x + y) / 2.0;
}

static void look_for_same_dose(tw_odd_list *list, const tw_entry *entry)
{
    const tw_entry *other = NULL;
    size_t cursor = 0;
    while ((other = tw_logbook_book_next(list->core->book, list->tub->id, list->now, &cursor)) != NULL) {
        if (other->kind != TW_KIND_ADDITION || !same_dose(entry, other))
            continue;
        tw_said *said = tw_answer_odd_question(list, TW_SAY_ODD_SAME_DOSE);
        if (said == NULL)
            return;
        tw_units_say_time(said, "at", other->at);
        tw_units_say_text(said, "what", tw_answer_substance_name(other));
        return;
    }
}

/* A dose is announced or written while another is still open. Of the same substance it is probably that one. */
static void look_at_intent(tw_odd_list *list, const tw_entry *entry)
{
    const tw_entry *open[1];
    size_t count = 0;
    (void)tw_logbook_book_open_intents(list->core->book, list->tub->id, list->now, open, 1, &count);
    if (count == 0)
        return;
    const int that_one = entry->kind == TW_KIND_ADDITION &&
                         tw_units_text_equal(tw_logbook_text(entry, TW_FIELD_SUBSTANCE), tw_logbook_text(open[0], TW_FIELD_SUBSTANCE));
    tw_said *said = tw_answer_odd_question(list, that_one ? TW_SAY_ODD_ANNOUNCED : TW_SAY_ODD_OPEN_INTENT);
    if (said == NULL)
        return;
    tw_units_say_time(said, "at", open[0]->at);
    tw_units_say_text(said, "what", tw_answer_substance_name(open[0]));
}

size_t tw_answer_odd_questions(tw_core *core, const tw_tub *tub, tw_time now, const tw_text *draft, size_t drafts,
                               tw_said question[TW_ODD_QUESTIONS])
{
    tw_odd_list list = {.core = core, .tub = tub, .now = now, .question = question, .n = 0};
    int ahead = 0;
    for (size_t i = 0; i < drafts; i++) {
        tw_entry_room room;
        tw_entry entry;
        if (tw_logbook_line_read(draft[i], TW_CHECK_DRAFT, &room, &entry, NULL) != TW_OK)
            continue; /* composing has said so already */
        if (!ahead)
            look_at_time(&list, &entry);
        ahead = list.n > 0;
        if (entry.kind == TW_KIND_READING)
            look_at_reading(&list, &entry);
        if (entry.kind == TW_KIND_ADDITION) {
            if (!tw_logbook_has(&entry, TW_FIELD_INTENT)) {
                look_at_intent(&list, &entry);
                look_for_same_dose(&list, &entry);
            }
        }
        if (entry.kind == TW_KIND_INTENT)
            look_at_intent(&list, &entry);
        tw_answer_odd_amounts(&list, &entry);
    }
    return list.n;
}
