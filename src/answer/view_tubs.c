/* answer/view_tubs.c: the tubs of the logbook, one a line. */
#include "answer/views.h"

#define MOST_TUBS 64

void tw_answer_view_tubs(tw_core *core, const tw_ask *ask, const tw_tub *none, tw_sink *sink)
{
    tw_tub tub[MOST_TUBS];
    size_t count = 0;
    (void)none;
    (void)tw_logbook_book_tubs(core->book, ask->now, tub, MOST_TUBS, &count);
    tw_answer_open_list(sink, TW_KEY_TUBS);
    for (size_t i = 0; i < count && i < MOST_TUBS; i++) {
        tw_answer_item(sink);
        tw_answer_text(sink, TW_KEY_TUB_ID, tub[i].id);
        tw_answer_text(sink, TW_KEY_NAME, tub[i].name);
        if (tub[i].profile.n > 0)
            tw_answer_text(sink, TW_KEY_PROFILE, tub[i].profile);
        tw_answer_number(sink, TW_KEY_COUNT, (double)tub[i].entries);
        tw_said said = tw_units_say(TW_SAY_TUB_LINE);
        tw_units_say_text(&said, "name", tub[i].name);
        tw_units_say_number(&said, "entries", (double)tub[i].entries);
        tw_units_say_time(&said, "at", tub[i].first->at);
        tw_answer_words(sink, TW_KEY_SAID, &said);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
    if (count == 0)
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NO_TUB_YET);
}
