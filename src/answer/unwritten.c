/* answer/unwritten.c: acts that nobody wrote down, as the members believe them, and what settles them. */
#include "answer/views.h"
#include "estimate/explain.h"
#include "estimate/from_book.h"
#include "procedure/tables.h"

#define SETTLED 0.95  /* from here on another reading adds nothing: the person is asked */
#define FRESH_H 24.0  /* a later retest would be of another water                       */

static tw_time ago(tw_time now, double hours)
{
    now.utc_s -= (int64_t)(hours * 3600.0 + 0.5);
    return now;
}

/* Was the same read again after this entry of a reading? */
static int read_since(const tw_core *core, const tw_tub *tub, tw_time now, uint32_t entry)
{
    size_t cursor = 0;
    const tw_entry *e, *shown = tw_logbook_book_at(core->book, entry);
    const int analyte = tw_logbook_word(shown, TW_FIELD_ANALYTE);
    while ((e = tw_logbook_book_next(core->book, tub->id, now, &cursor)) != NULL)
        if (e->kind == TW_KIND_READING && tw_logbook_word(e, TW_FIELD_ANALYTE) == analyte && e->at.utc_s > shown->at.utc_s)
            return 1;
    return 0;
}

/* How each act is told, and what its size is of: an enum tw_observed that says the unit. */
static const struct {
    const char *word;
    tw_message said;
    int of;
} ACT[TW_UNLOGGED_ACTS] = {
    [TW_UNLOGGED_CHLORINE_POURED] = {"chlorine-poured", TW_SAY_UNWRITTEN_POURED, TW_OBSERVED_FREE_CHLORINE},
    [TW_UNLOGGED_CHLORINE_USED] = {"chlorine-used", TW_SAY_UNWRITTEN_USED, TW_OBSERVED_FREE_CHLORINE},
    [TW_UNLOGGED_GENERATOR_OFF] = {"generator-off", TW_SAY_UNWRITTEN_OFF, -1},
    [TW_UNLOGGED_ACID_POURED] = {"acid-poured", TW_SAY_UNWRITTEN_ACID, TW_OBSERVED_ALKALINITY},
    [TW_UNLOGGED_BASE_POURED] = {"base-poured", TW_SAY_UNWRITTEN_BASE, TW_OBSERVED_ALKALINITY},
    [TW_UNLOGGED_AIRED] = {"aired", TW_SAY_UNWRITTEN_AIRED, -1},
    [TW_UNLOGGED_WATER_ADDED] = {"water-added", TW_SAY_UNWRITTEN_WATER, -1},
    [TW_UNLOGGED_SALT_POURED] = {"salt-poured", TW_SAY_UNWRITTEN_SALT, TW_OBSERVED_CHLORIDE},
};

static int is_of_chlorine(int act) { return act == TW_UNLOGGED_CHLORINE_POURED || act == TW_UNLOGGED_CHLORINE_USED; }

/* The fill with which it was done; NULL: with none. What went in then and is written before its hour would be of the water before. */
static const tw_entry *fill_of(const tw_core *core, const tw_tub *tub, tw_time now, const tw_unwritten *u)
{
    const tw_entry *found = NULL, *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(core->book, tub->id, now, &cursor)) != NULL)
        if (tw_estimate_is_fill(e) && e->at.utc_s > ago(now, u->from_h).utc_s && e->at.utc_s <= ago(now, u->until_h).utc_s)
            found = e;
    return found;
}

static void tell_settle(const tw_core *core, const tw_tub *tub, tw_time now, const tw_unwritten *u, double all, tw_sink *sink)
{
    if (u->act == TW_UNLOGGED_GENERATOR_OFF) { /* no reading tells that from chlorine used up: an hour meter does, or who was there */
        tw_said ask = tw_units_say(TW_SAY_UNWRITTEN_ASK_OFF);
        tw_units_say_time(&ask, "from", ago(now, u->from_h));
        tw_units_say_time(&ask, "until", ago(now, u->until_h));
        tw_answer_words(sink, TW_KEY_UNWRITTEN_SETTLE, &ask);
        return;
    }
    const tw_entry *fill = fill_of(core, tub, now, u);
    const int retest = all < SETTLED && is_of_chlorine(u->act) && u->until_h < FRESH_H && !read_since(core, tub, now, u->entry);
    tw_said settle = tw_units_say(retest ? TW_SAY_UNWRITTEN_READ : fill != NULL ? TW_SAY_UNWRITTEN_ASK_FILL : TW_SAY_UNWRITTEN_ASK);
    if (retest)
        tw_units_say_message(&settle, "what", TW_SAY_ANALYTE_FREE_CHLORINE);
    else
        tw_units_say_time(&settle, "until", fill != NULL ? fill->at : ago(now, u->until_h));
    if (retest || fill == NULL)
        tw_units_say_time(&settle, "from", ago(now, u->from_h));
    tw_answer_words(sink, TW_KEY_UNWRITTEN_SETTLE, &settle);
}

void tw_answer_tell_unwritten(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *b, tw_sink *sink)
{
    double all = 0.0;
    for (uint32_t i = 0; i < b->unwrittens; i++)
        all += b->unwritten[i].probability;
    if (b->unwrittens == 0)
        return;
    tw_answer_open_list(sink, TW_KEY_UNWRITTEN);
    for (uint32_t i = 0; i < b->unwrittens; i++) {
        const tw_unwritten *u = &b->unwritten[i];
        tw_said said = tw_units_say(ACT[u->act].said);
        const double by = ACT[u->act].of < 0 ? 1.0 : 1.0 / tw_estimate_inside_factor(ACT[u->act].of, b->density_kg_per_l);
        tw_answer_item(sink);
        tw_answer_string(sink, TW_KEY_UNWRITTEN_ACT, ACT[u->act].word);
        tw_answer_number(sink, TW_KEY_UNWRITTEN_P, u->probability);
        tw_answer_time(sink, TW_KEY_UNWRITTEN_FROM, ago(ask->now, u->from_h));
        tw_answer_time(sink, TW_KEY_UNWRITTEN_UNTIL, ago(ask->now, u->until_h));
        if (u->act == TW_UNLOGGED_GENERATOR_OFF)
            tw_answer_spread(sink, TW_KEY_UNWRITTEN_HOURS, u->size.q05, u->size.q50, u->size.q95);
        else if (u->act == TW_UNLOGGED_WATER_ADDED)
            tw_answer_number(sink, TW_KEY_UNWRITTEN_SHARE, 100.0 * u->size.q50);
        else if (ACT[u->act].of >= 0)
            tw_answer_spread(sink, TW_KEY_UNWRITTEN_AMOUNT, by * u->size.q05, by * u->size.q50, by * u->size.q95);
        tw_units_say_number(&said, "p", u->probability);
        tw_units_say_number(&said, "size", by * u->size.q50);
        tw_units_say_number(&said, "low", by * u->size.q05);
        tw_units_say_number(&said, "high", by * u->size.q95);
        tw_units_say_time(&said, "from", ago(ask->now, u->from_h));
        tw_units_say_time(&said, "until", ago(ask->now, u->until_h));
        tw_answer_words(sink, TW_KEY_UNWRITTEN_SAID, &said);
        if (i == 0)
            tell_settle(core, tub, ask->now, u, all, sink);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* Do members share an act that would explain this reading? */
static int is_shared(const tw_core *core, const tw_belief *b, uint32_t entry, tw_time now)
{
    const int64_t at = tw_logbook_book_at(core->book, entry)->at.utc_s;
    for (uint32_t i = 0; i < b->unwrittens; i++) {
        const tw_unwritten *u = &b->unwritten[i];
        const int off = u->act == TW_UNLOGGED_GENERATOR_OFF && at >= ago(now, u->from_h).utc_s && at <= ago(now, u->until_h).utc_s;
        if (off || (is_of_chlorine(u->act) && tw_logbook_book_at(core->book, u->entry)->at.utc_s == at))
            return 1;
    }
    return 0;
}

/* Forecasts stand where doubted readings lie between believed ones, and where members share what was not written. With the last word
 * of the logbook in doubt four of seven simulated tubs in which something had been done were covered at 24 h (docs/estimate.md). */
static const tw_contradiction *standing(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *b)
{
    for (uint32_t i = 0; i < b->contradictions; i++) {
        const tw_contradiction *c = &b->contradiction[i];
        if ((c->observed == TW_OBSERVED_FREE_CHLORINE || c->observed == TW_OBSERVED_TOTAL_CHLORINE) &&
            tw_units_hours_between(tw_logbook_book_at(core->book, c->entry)->at, ask->now) <= FRESH_H &&
            !read_since(core, tub, ask->now, c->entry) && !is_shared(core, b, c->entry, ask->now))
            return c;
    }
    return NULL;
}

int tw_answer_tell_withheld(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *b, tw_sink *sink)
{
    const tw_contradiction *c = standing(core, ask, tub, b);
    if (c == NULL)
        return 0;
    tw_said said = tw_units_say(TW_SAY_FORECAST_WITHHELD);
    tw_units_say_message(&said, "what",
                         c->observed == TW_OBSERVED_FREE_CHLORINE ? TW_SAY_ANALYTE_FREE_CHLORINE : TW_SAY_ANALYTE_TOTAL_CHLORINE);
    tw_units_say_time(&said, "at", tw_logbook_book_at(core->book, c->entry)->at);
    tw_units_say_number(&said, "p", c->probability);
    tw_answer_words(sink, TW_KEY_WITHHELD, &said);
    tw_answer_number(sink, TW_KEY_SHOWN_H, 0.0);
    return 1;
}
