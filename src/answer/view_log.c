/* answer/view_log.c: what is asked back before something is written, and what was written. */
#include "answer/odd.h"
#include "answer/views.h"
#include "logbook/line.h"

static void tell_entry_line(tw_text line, tw_sink *sink)
{
    tw_entry_room room;
    tw_entry entry;
    if (tw_logbook_line_read(line, TW_CHECK_DRAFT, &room, &entry, NULL) != TW_OK)
        return;
    tw_answer_item(sink);
    tw_answer_time(sink, TW_KEY_ENTRY_AT, entry.at);
    tw_answer_text(sink, TW_KEY_ENTRY, entry.id);
    tw_answer_string(sink, TW_KEY_KIND, tw_logbook_kind_name(entry.kind));
    const tw_said said = tw_answer_describe(&entry);
    tw_answer_words(sink, TW_KEY_SAID, &said);
    tw_answer_close(sink);
}

void tw_answer_view_check(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_said question[TW_ODD_QUESTIONS];
    const size_t n = tw_answer_odd_questions(core, tub, ask->now, ask->line, ask->lines, question);
    tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
    tw_answer_open_list(sink, TW_KEY_ASKED);
    for (size_t i = 0; i < n; i++)
        tw_answer_words(sink, TW_KEY_ASKED, &question[i]);
    tw_answer_close(sink);
    if (n > 0) {
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_ASKED_HINT);
        core->outcome = TW_ENDED_ASKED;
    }
}

void tw_answer_view_logged(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_LOGGED);
    for (size_t i = 0; i < ask->lines; i++)
        tell_entry_line(ask->line[i], sink);
    tw_answer_close(sink);
    tw_answer_view_now(core, ask, tub, sink);
}
