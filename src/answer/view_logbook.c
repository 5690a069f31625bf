/* answer/view_logbook.c: the logbook as it was written. Nothing is hidden: what was taken back stays
 * in its place with when and why, what was written later says so, doubts stand at the end. */
#include <string.h>

#include "answer/views.h"
#include "num/require.h"

#define LATE_SECONDS 600 /* written down ten minutes or more after it was measured */
#define MOST_DOUBTS 32

static void mark_void(const tw_core *core, const tw_ask *ask, size_t index, tw_sink *sink)
{
    const size_t by = tw_logbook_book_voided_by(core->book, index, ask->now);
    if (by == SIZE_MAX)
        return;
    const tw_entry *entry = tw_logbook_book_at(core->book, by);
    const int has_reason = tw_logbook_has(entry, TW_FIELD_REASON);
    tw_said said = tw_units_say(has_reason ? TW_SAY_MARK_VOIDED_REASON : TW_SAY_MARK_VOIDED);
    tw_units_say_time(&said, "at", entry->at);
    tw_units_say_text(&said, "reason", tw_logbook_text(entry, TW_FIELD_REASON));
    tw_answer_words(sink, TW_KEY_MARK, &said);
}

static void mark_late(const tw_entry *entry, tw_sink *sink)
{
    if (entry->entered.utc_s - entry->at.utc_s < LATE_SECONDS)
        return;
    tw_said said = tw_units_say(TW_SAY_MARK_LATE);
    tw_units_say_time(&said, "at", entry->entered);
    tw_answer_words(sink, TW_KEY_WRITTEN_LATER, &said);
}

static void mark_doubt(const tw_entry *entry, tw_sink *sink)
{
    const int word = tw_logbook_word(entry, TW_FIELD_DOUBT);
    if (word < 0)
        return;
    tw_said said = tw_units_say(TW_SAY_MARK_DOUBT);
    tw_units_say_text(&said, "why", tw_units_text(tw_logbook_word_name(TW_SET_DOUBT, word)));
    tw_answer_words(sink, TW_KEY_DOUBTED, &said);
}

static int same_day(tw_time a, tw_time b)
{
    tw_civil x;
    tw_civil y;
    if (tw_units_time_civil(a, &x) != TW_OK || tw_units_time_civil(b, &y) != TW_OK)
        return 0;
    return x.year == y.year && x.month == y.month && x.day == y.day;
}

static void tell_entry(const tw_core *core, const tw_ask *ask, size_t index, const tw_time *before, tw_sink *sink)
{
    const tw_entry *entry = tw_logbook_book_at(core->book, index);
    tw_answer_item(sink);
    if (before == NULL || !same_day(*before, entry->at)) {
        tw_said day = tw_units_say(TW_SAY_DAY);
        tw_units_say_time(&day, "at", entry->at);
        tw_answer_words(sink, TW_KEY_DAY, &day);
    }
    tw_answer_time(sink, TW_KEY_ENTRY_AT, entry->at);
    tw_answer_text(sink, TW_KEY_ENTRY, entry->id);
    tw_answer_string(sink, TW_KEY_KIND, tw_logbook_kind_name(entry->kind) == NULL ? "newer" : tw_logbook_kind_name(entry->kind));
    /* The flag first: what was taken back stands between brackets. */
    tw_answer_flag(sink, TW_KEY_VOIDED, tw_logbook_book_voided_by(core->book, index, ask->now) != SIZE_MAX);
    const tw_said said = tw_answer_describe(entry);
    tw_answer_words(sink, TW_KEY_SAID, &said);
    mark_void(core, ask, index, sink);
    mark_late(entry, sink);
    mark_doubt(entry, sink);
    tw_answer_flag(sink, TW_KEY_AHEAD, tw_units_time_compare(entry->at, ask->now) > 0);
    if (tw_logbook_has(entry, TW_FIELD_BY))
        tw_answer_text(sink, TW_KEY_BY, tw_logbook_text(entry, TW_FIELD_BY));
    if (tw_logbook_has(entry, TW_FIELD_REMARK))
        tw_answer_text(sink, TW_KEY_REMARK, tw_logbook_text(entry, TW_FIELD_REMARK));
    tw_answer_close(sink);
}

void tw_answer_tell_doubts(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    static const tw_message DOUBT[TW_DOUBTS] = {
        [TW_DOUBT_UNKNOWN_TUB] = TW_SAY_DOUBT_UNKNOWN_TUB,
        [TW_DOUBT_AHEAD_OF_NOW] = TW_SAY_DOUBT_AHEAD_OF_NOW,
        [TW_DOUBT_AHEAD_OF_ENTRY] = TW_SAY_DOUBT_AHEAD_OF_ENTRY,
        [TW_DOUBT_VOID_MISSING] = TW_SAY_DOUBT_VOID_MISSING,
        [TW_DOUBT_VOID_OF_VOID] = TW_SAY_DOUBT_VOID_OF_VOID,
        [TW_DOUBT_VOID_ELSEWHERE] = TW_SAY_DOUBT_VOID_ELSEWHERE,
        [TW_DOUBT_SAME_ID] = TW_SAY_DOUBT_SAME_ID,
        [TW_DOUBT_SAME_DOSE] = TW_SAY_DOUBT_SAME_DOSE,
        [TW_DOUBT_NEWER] = TW_SAY_DOUBT_NEWER,
    };
    tw_doubt doubt[MOST_DOUBTS];
    size_t count = 0;
    (void)tw_logbook_book_doubts(core->book, tub->id, ask->now, doubt, MOST_DOUBTS, &count);
    tw_answer_open_list(sink, TW_KEY_DOUBTS);
    for (size_t i = 0; i < count && i < MOST_DOUBTS; i++) {
        tw_answer_item(sink);
        tw_answer_time(sink, TW_KEY_ENTRY_AT, doubt[i].entry->at);
        tw_answer_text(sink, TW_KEY_ENTRY, doubt[i].entry->id);
        tw_answer_message(sink, TW_KEY_DOUBT, DOUBT[doubt[i].kind]);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

void tw_answer_view_logbook(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    const size_t count = tw_logbook_book_count(core->book);
    size_t mine = 0;
    size_t told = 0;
    for (size_t i = 0; i < count; i++)
        mine += (size_t)tw_units_text_equal(tw_logbook_book_at(core->book, i)->tub, tub->id);
    const size_t skip = ask->last > 0 && ask->last < mine ? mine - ask->last : 0;
    const tw_time *before = NULL;
    tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
    tw_answer_open_list(sink, TW_KEY_ENTRIES);
    for (size_t i = 0; i < count; i++) {
        const tw_entry *entry = tw_logbook_book_at(core->book, i);
        if (!tw_units_text_equal(entry->tub, tub->id) || told++ < skip)
            continue;
        tell_entry(core, ask, i, before, sink);
        before = &entry->at;
    }
    tw_answer_close(sink);
    tw_answer_tell_doubts(core, ask, tub, sink);
    tw_status status = TW_OK;
    const tw_belief *belief = tw_answer_belief(core, tub, ask->now, &status);
    if (belief != NULL)
        tw_answer_tell_reads_off(core, ask, tub, belief, sink);
}
