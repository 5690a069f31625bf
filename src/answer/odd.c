/* answer/odd.c: times ahead of the clock, values outside what 999 of 1,000 such readings would show,
 * amounts that no tub is given, the same dose twice, a second announcement. */
#include "answer/odd.h"

#include <math.h>
#include <string.h>

#include "answer/views.h"
#include "estimate/instrument.h"
#include "logbook/line.h"

#define AHEAD_SECONDS 120
#define SAME_DOSE_SECONDS 900

typedef struct {
    tw_core *core;
    const tw_tub *tub;
    tw_time now;
    tw_said *question;
    size_t n;
} odd_list;

static tw_said *next_question(odd_list *list, tw_message message)
{
    if (list->n == TW_ODD_QUESTIONS)
        return NULL;
    list->question[list->n] = tw_units_say(message);
    return &list->question[list->n++];
}

/* What a reading speaks of, and from its unit inside to the unit of the estimate. */
static int observed_of(int analyte, double *factor)
{
    *factor = 1.0;
    switch (analyte) {
    case TW_ANALYTE_PH: return TW_OBSERVED_PH;
    case TW_ANALYTE_TOTAL_ALKALINITY: return TW_OBSERVED_ALKALINITY;
    case TW_ANALYTE_CALCIUM_HARDNESS: return TW_OBSERVED_CALCIUM;
    case TW_ANALYTE_TOTAL_HARDNESS: return TW_OBSERVED_HARDNESS;
    case TW_ANALYTE_FREE_CHLORINE: return TW_OBSERVED_FREE_CHLORINE;
    case TW_ANALYTE_TOTAL_CHLORINE: return TW_OBSERVED_TOTAL_CHLORINE;
    case TW_ANALYTE_CYANURIC_ACID: return TW_OBSERVED_CYANURATE;
    case TW_ANALYTE_SALT: return TW_OBSERVED_CHLORIDE;
    case TW_ANALYTE_CHLORIDE: *factor = 58.44 / 35.45; return TW_OBSERVED_CHLORIDE;
    case TW_ANALYTE_CONDUCTIVITY: return TW_OBSERVED_CONDUCTIVITY;
    case TW_ANALYTE_PHOSPHATE: return TW_OBSERVED_PHOSPHATE;
    default: return -1;
    }
}

/* The value that was probably meant: the typed digits with the point moved, when that fits. */
static double meant(double typed, const double likely[3])
{
    static const double SHIFT[] = {0.1, 10.0, 0.01, 100.0, 0.001, 1000.0};
    for (size_t i = 0; i < sizeof SHIFT / sizeof SHIFT[0]; i++)
        if (typed * SHIFT[i] >= likely[0] && typed * SHIFT[i] <= likely[2])
            return typed * SHIFT[i];
    return likely[1];
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

static void look_at_reading(odd_list *list, const tw_entry *entry)
{
    tw_status status = TW_OK;
    double factor = 1.0;
    double typed = 0.0;
    double likely[3];
    const int analyte = tw_logbook_word(entry, TW_FIELD_ANALYTE);
    const int form = tw_logbook_word(entry, TW_FIELD_FORM);
    const int observed = observed_of(analyte, &factor);
    const int tool = tw_logbook_word(entry, TW_FIELD_INSTRUMENT);
    if (observed < 0 || form != TW_READING_FORM_VALUE || tw_logbook_has(entry, TW_FIELD_SOURCE) ||
        tw_logbook_si(entry, TW_FIELD_VALUE, &typed) != TW_OK)
        return;
    const tw_belief *belief = tw_answer_belief(list->core, list->tub, list->now, &status);
    if (belief == NULL || (belief->flags & TW_BELIEF_NOT_STARTED) || belief->readings == 0)
        return;
    tw_estimate_plausible(belief, observed, tool < 0 ? (int)TW_TOOL_UNKNOWN : tool, likely);
    typed *= factor;
    if (!(likely[0] <= likely[2]) || (typed >= likely[0] && typed <= likely[2]))
        return;
    tw_said *said = next_question(list, TW_SAY_ODD_VALUE);
    if (said == NULL)
        return;
    const int decimals = tw_logbook_analyte(analyte)->decimals;
    tw_units_say_message(said, "what", analyte_name(entry));
    tw_units_say_amount(said, "value", typed / factor, decimals > tw_logbook_decimals(entry, TW_FIELD_VALUE) ? decimals : tw_logbook_decimals(entry, TW_FIELD_VALUE), (tw_text){"", 0});
    tw_units_say_amount(said, "low", likely[0] / factor, decimals, (tw_text){"", 0});
    tw_units_say_amount(said, "high", likely[2] / factor, decimals, (tw_text){"", 0});
    tw_units_say_amount(said, "likely", meant(typed, likely) / factor, decimals, (tw_text){"", 0});
}

static void look_at_time(odd_list *list, const tw_entry *entry)
{
    if (entry->at.utc_s - list->now.utc_s <= AHEAD_SECONDS)
        return;
    tw_said *said = next_question(list, TW_SAY_ODD_AHEAD);
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

static void look_for_same_dose(odd_list *list, const tw_entry *entry)
{
    const tw_entry *other = NULL;
    size_t cursor = 0;
    while ((other = tw_logbook_book_next(list->core->book, list->tub->id, list->now, &cursor)) != NULL) {
        if (other->kind != TW_KIND_ADDITION || !same_dose(entry, other))
            continue;
        tw_said *said = next_question(list, TW_SAY_ODD_SAME_DOSE);
        if (said == NULL)
            return;
        tw_units_say_time(said, "at", other->at);
        tw_units_say_text(said, "what", tw_answer_substance_name(other));
        return;
    }
}

/* More than half a gram in a litre of the tub is no single dose of anything but salt (5 g). */
static void look_at_amount(odd_list *list, const tw_entry *entry)
{
    tw_status status = TW_OK;
    const double amount = tw_answer_addition_g(entry);
    if (!(amount > 0.0))
        return;
    const tw_belief *belief = tw_answer_belief(list->core, list->tub, list->now, &status);
    const double volume_l = belief != NULL ? tw_estimate_volume_l(belief).q50 : list->tub->has_volume ? list->tub->volume_l : 1500.0;
    const int salt = tw_units_text_starts(tw_logbook_text(entry, TW_FIELD_SUBSTANCE), "sodium-chloride");
    const double most = salt ? 5.0 * volume_l : 0.5 * volume_l;
    if (!(amount > most))
        return;
    tw_said *said = next_question(list, TW_SAY_ODD_AMOUNT);
    if (said == NULL)
        return;
    tw_units_say_amount(said, "amount", amount, 0, tw_units_text("g"));
    tw_units_say_text(said, "what", tw_answer_substance_name(entry));
    tw_units_say_amount(said, "likely", amount / 10.0, amount < 100.0 ? 1 : 0, tw_units_text("g"));
}

static double least(double a, double b)
{
    return a < b ? a : b;
}

static void look_at_volume(odd_list *list, const tw_entry *entry)
{
    tw_status status = TW_OK;
    double volume_l = 0.0;
    if (tw_logbook_si(entry, TW_FIELD_VOLUME, &volume_l) != TW_OK)
        return;
    const tw_belief *belief = tw_answer_belief(list->core, list->tub, list->now, &status);
    if (belief == NULL || (belief->flags & TW_BELIEF_NO_VOLUME))
        return;
    const tw_spread known = tw_estimate_volume_l(belief);
    /* Twice the width on both sides, at least half and double: a guess may be far off. */
    const double low = least(known.q05 * 0.5, known.q50 - 4.0 * (known.q50 - known.q05));
    const double high = -least(-known.q95 * 2.0, -known.q50 - 4.0 * (known.q95 - known.q50));
    if (volume_l >= low && volume_l <= high)
        return;
    tw_said *said = next_question(list, TW_SAY_ODD_VOLUME);
    if (said == NULL)
        return;
    tw_units_say_number(said, "volume", volume_l);
    tw_units_say_number(said, "low", known.q05);
    tw_units_say_number(said, "high", known.q95);
}

/* A dose is announced while another is still open. */
static void look_at_intent(odd_list *list)
{
    const tw_entry *open[1];
    size_t count = 0;
    (void)tw_logbook_book_open_intents(list->core->book, list->tub->id, list->now, open, 1, &count);
    if (count == 0)
        return;
    tw_said *said = next_question(list, TW_SAY_ODD_OPEN_INTENT);
    if (said != NULL)
        tw_units_say_time(said, "at", open[0]->at);
}

size_t tw_answer_odd_questions(tw_core *core, const tw_tub *tub, tw_time now, const tw_text *draft, size_t drafts,
                               tw_said question[TW_ODD_QUESTIONS])
{
    odd_list list = {.core = core, .tub = tub, .now = now, .question = question, .n = 0};
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
            if (!tw_logbook_has(&entry, TW_FIELD_INTENT))
                look_for_same_dose(&list, &entry);
            look_at_amount(&list, &entry);
        }
        if (entry.kind == TW_KIND_INTENT) {
            look_at_intent(&list);
            look_at_amount(&list, &entry);
        }
        if (entry.kind == TW_KIND_VOLUME)
            look_at_volume(&list, &entry);
    }
    return list.n;
}

int tw_answer_odd(tw_core *core, const tw_tub *tub, tw_time now, const tw_text *draft, size_t drafts)
{
    tw_said question[TW_ODD_QUESTIONS];
    return tw_answer_odd_questions(core, tub, now, draft, drafts, question) > 0;
}
