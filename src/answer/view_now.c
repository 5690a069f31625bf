/* answer/view_now.c: the card "Now": one act, or the reason for none.
 *
 * Order, always: tub and clock, stage and state, the act, BECAUSE, FIRST, HOW, THEN, NEXT, WHY, SURE,
 * what lifts a stop, how to answer. A stop has the double rule and no amount above it. */
#include <math.h>

#include "answer/views.h"
#include "answer/act.h"
#include "answer/done.h"
#include "procedure/tables.h"

void tw_answer_tell_lines(tw_sink *sink, tw_key key, const tw_lines *lines)
{
    if (lines->n == 0)
        return;
    tw_answer_open_list(sink, key);
    for (uint32_t i = 0; i < lines->n; i++)
        tw_answer_words(sink, key, &lines->line[i]);
    tw_answer_close(sink);
}

static void tell_predicted(tw_sink *sink, tw_key key, const double q[3])
{
    if (q[1] == q[1])
        tw_answer_spread(sink, key, q[0], q[1], q[2]);
}

static const char *verb_name(tw_verb verb)
{
    static const char *const NAMES[TW_VERBS] = {"add", "air", "test", "wait", "set", "ask", "do", "stop", "none"};
    return (unsigned)verb < TW_VERBS ? NAMES[verb] : "none";
}

static const char *weight_of(const tw_act *act)
{
    if (act->verb == TW_VERB_STOP || act->state == TW_STANDS_STOPPED)
        return "stop";
    if (act->state == TW_STANDS_CLOSED)
        return "closed";
    return act->state == TW_STANDS_DOUBTFUL || act->state == TW_STANDS_NOT_PROVEN ? "doubtful" : "plain";
}

/* The questions that replies answer: what must be gone first is asked all at once. */
static void tell_questions(const tw_act *act, tw_sink *sink)
{
    if (act->verb != TW_VERB_ASK || (unsigned)act->unmet >= TW_CONDITIONS)
        return;
    const tw_predicate asked = tw_procedure_conditions[act->unmet].predicate;
    if (asked != TW_PREDICATE_CONFIRMED && asked != TW_PREDICATE_GONE)
        return;
    tw_answer_open_list(sink, TW_KEY_QUESTIONS);
    for (int c = 0; c < TW_CONDITIONS; c++) {
        const tw_condition_row *row = &tw_procedure_conditions[c];
        if (row->predicate != asked || (asked == TW_PREDICATE_CONFIRMED && c != (int)act->unmet))
            continue;
        tw_answer_item(sink);
        tw_answer_string(sink, TW_KEY_REPLY_TO, row->subject);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* What a program may want beside the sentences. */
static void tell_fields(const tw_act *act, const tw_done *done, tw_sink *sink)
{
    tw_answer_open(sink, TW_KEY_ACT);
    tw_answer_string(sink, TW_KEY_VERB, verb_name(act->verb));
    tw_answer_string(sink, TW_KEY_ACT_ID, tw_answer_act_name(act));
    if (act->substance >= 0)
        tw_answer_string(sink, TW_KEY_SUBSTANCE, tw_answer_act_substance(act));
    if (act->substance >= 0 || act->id == TW_ACT_EXCHANGE) {
        tw_answer_number(sink, TW_KEY_AMOUNT, act->amount);
        tw_answer_string(sink, TW_KEY_AMOUNT_UNIT, act->amount_unit);
        tw_answer_number(sink, TW_KEY_AMOUNT_G, act->amount_g);
        if (act->label_amount > 0.0)
            tw_answer_number(sink, TW_KEY_LABEL_AMOUNT, act->label_amount);
    }
    if (act->setting >= 0) {
        tw_answer_string(sink, TW_KEY_SETTING, tw_logbook_word_name(TW_SET_SETTING, act->setting));
        tw_answer_number(sink, TW_KEY_SETTING_VALUE, act->setting_value);
    }
    tw_answer_open_list(sink, TW_KEY_TESTS);
    for (uint32_t i = 0; i < act->tests; i++) {
        tw_answer_item(sink);
        tw_answer_string(sink, TW_KEY_ANALYTE, tw_logbook_word_name(TW_SET_ANALYTE, act->test[i]));
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
    tw_answer_time(sink, TW_KEY_NEXT_AT, act->next);
    tw_answer_time(sink, TW_KEY_UNTIL, act->until);
    tw_answer_time(sink, TW_KEY_GOOD_UNTIL, act->good_until);
    if (act->chance >= 0.0)
        tw_answer_number(sink, TW_KEY_CHANCE, act->chance);
    tell_predicted(sink, TW_KEY_PREDICTED_PH, act->predicted_ph);
    tell_predicted(sink, TW_KEY_PREDICTED_ALKALINITY, act->predicted_ta);
    tell_predicted(sink, TW_KEY_PREDICTED_SALT, act->predicted_salt);
    tell_predicted(sink, TW_KEY_PREDICTED_CHLORINE, act->predicted_chlorine);
    tw_answer_digest(sink, TW_KEY_ADVICE, act->digest);
    tell_questions(act, sink);
    tw_answer_tell_done(done, sink);
    tw_answer_close(sink);
}

/* "step 2 of 4", or how the stage stands. */
static void tell_state(const tw_act *act, tw_sink *sink)
{
    tw_answer_message(sink, TW_KEY_STAGE, tw_procedure_stage_message(act->stage));
    if (act->steps > 1 && act->state == TW_STANDS_TO_DO) {
        tw_said said = tw_units_say(TW_SAY_STATE_STEP);
        tw_units_say_number(&said, "step", (double)act->step);
        tw_units_say_number(&said, "steps", (double)act->steps);
        tw_answer_words(sink, TW_KEY_STATE, &said);
        return;
    }
    tw_answer_message(sink, TW_KEY_STATE, tw_procedure_state_message(act->state));
}

/* A question that yes, no and unknown answer; for others HOW says the words. */
static void tell_question(const tw_act *act, tw_sink *sink)
{
    if ((unsigned)act->unmet >= TW_CONDITIONS)
        return;
    const tw_condition_row *row = &tw_procedure_conditions[act->unmet];
    if (row->predicate != TW_PREDICATE_CONFIRMED && row->predicate != TW_PREDICATE_GONE)
        return;
    tw_said said = tw_units_say(TW_SAY_ANSWERS_ASK);
    tw_units_say_text(&said, "question", tw_units_text(row->subject));
    tw_answer_words(sink, TW_KEY_ANSWERS, &said);
}

/* The words of log that answer this act. */
static void tell_answers(const tw_act *act, tw_sink *sink)
{
    const int na = tw_procedure_may_be_set_aside(act->id);
    switch (act->verb) {
    case TW_VERB_ADD: tw_answer_message(sink, TW_KEY_ANSWERS, na ? TW_SAY_ANSWERS_ADD : TW_SAY_ANSWERS_ADD_ONLY); break;
    case TW_VERB_TEST: tw_answer_message(sink, TW_KEY_ANSWERS, TW_SAY_ANSWERS_TEST); break;
    case TW_VERB_ASK: tell_question(act, sink); break;
    case TW_VERB_WAIT: tw_answer_message(sink, TW_KEY_ANSWERS, TW_SAY_ANSWERS_WAIT); break;
    case TW_VERB_STOP: tw_answer_message(sink, TW_KEY_ANSWERS, TW_SAY_ANSWERS_STOP); break;
    case TW_VERB_AIR: case TW_VERB_SET: case TW_VERB_DO:
        tw_answer_message(sink, TW_KEY_ANSWERS, na ? TW_SAY_ANSWERS_DO : TW_SAY_ANSWERS_DO_ONLY);
        break;
    case TW_VERB_NONE: case TW_VERBS: break;
    }
}

static void tell_card(const tw_act *act, const tw_done *done, tw_sink *sink)
{
    tell_state(act, sink);
    tw_answer_string(sink, TW_KEY_WEIGHT, weight_of(act));
    tw_answer_words(sink, TW_KEY_HEAD, &act->head);
    tw_answer_tell_lines(sink, act->state == TW_STANDS_NOT_PROVEN ? TW_KEY_NOT_PROVEN_BECAUSE : TW_KEY_BECAUSE, &act->because);
    tw_answer_tell_lines(sink, TW_KEY_FIRST, &act->first);
    tw_answer_tell_lines(sink, TW_KEY_HOW, &act->how);
    tw_answer_tell_lines(sink, TW_KEY_THEN, &act->then_);
    tw_answer_tell_lines(sink, TW_KEY_NEXT, &act->next_lines);
    tw_answer_tell_lines(sink, TW_KEY_WHY, &act->why);
    tw_answer_tell_lines(sink, TW_KEY_SURE, &act->sure);
    tw_answer_tell_lines(sink, TW_KEY_LIFT, &act->lift);
    tw_answer_tell_lines(sink, TW_KEY_CAUTIONS, &act->cautions);
    tw_answer_tell_lines(sink, TW_KEY_MEANWHILE, &act->meanwhile);
    tell_answers(act, sink);
    tell_fields(act, done, sink);
}

int tw_answer_tell_stop(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(core, tub, ask->now, &status);
    if (act == NULL || act->verb != TW_VERB_STOP)
        return 0;
    tw_answer_string(sink, TW_KEY_WEIGHT, weight_of(act));
    tw_answer_words(sink, TW_KEY_HEAD, &act->head);
    tw_answer_tell_lines(sink, TW_KEY_WHY, &act->why);
    tw_answer_tell_lines(sink, TW_KEY_LIFT, &act->lift);
    core->outcome = tub->newer ? TW_ENDED_NEWER : TW_ENDED_STOPPED;
    return 1;
}

void tw_answer_view_now(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(core, tub, ask->now, &status);
    if (act == NULL) {
        tw_answer_string(sink, TW_KEY_WEIGHT, "plain");
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
        return;
    }
    tw_done done;
    tw_answer_done(core, tub, ask->now, act, &done);
    tell_card(act, &done, sink);
    const tw_belief *belief = tw_answer_belief(core, tub, ask->now, &status);
    const int stopped = act->verb == TW_VERB_STOP;
    if (belief != NULL && !stopped)
        tw_answer_tell_unwritten(core, ask, tub, belief, sink);
    if (belief != NULL && (stopped || !tw_answer_tell_withheld(core, ask, tub, belief, sink))) /* from the generator's stage on the card speaks of it */
        tw_answer_tell_forecast(belief, NULL, TW_ANSWER_FAN_HOURS, act->stage >= TW_STAGE_GENERATOR, sink);
    if (tub->newer)
        core->outcome = TW_ENDED_NEWER;
    else if (act->verb == TW_VERB_STOP || act->state == TW_STANDS_STOPPED || act->state == TW_STANDS_CLOSED)
        core->outcome = TW_ENDED_STOPPED;
}
