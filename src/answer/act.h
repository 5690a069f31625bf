/* answer/act.h: the next act of a question, made once. */
#ifndef TW_ANSWER_ACT_H
#define TW_ANSWER_ACT_H

#include "answer/core.h"
#include "answer/odd.h"
#include "procedure/act.h"

/* The next act of a tub at the time of the question. NULL when it cannot be found (*status). */
const tw_act *tw_answer_act(tw_core *core, const tw_tub *tub, tw_time now, tw_status *status);

/* The ids of an act and of its substance, as they stand in entries. Never NULL. */
const char *tw_answer_act_name(const tw_act *act);
const char *tw_answer_act_substance(const tw_act *act);

/* Part of an answer: one list of an act (nothing when it is empty). */
void tw_answer_tell_lines(tw_sink *sink, tw_key key, const tw_lines *lines);

/* The amount of the act reduced to its terms; nothing where there is none, or the stock has a strength of its own. */
void tw_answer_tell_terms(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_act *act, const tw_belief *belief, tw_sink *sink);

#endif
