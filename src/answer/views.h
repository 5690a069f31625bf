/* answer/views.h: the answers, each described once by a function that speaks to a sink. */
#ifndef TW_ANSWER_VIEWS_H
#define TW_ANSWER_VIEWS_H

#include "answer/core.h"
#include "answer/limits.h"

/* What an entry says, as one sentence. Its texts point into the entry and into tables. */
tw_said tw_answer_describe(const tw_entry *entry);

/* Grams of an addition or an intent, liquids by the density of the table; NaN when it cannot be said (counted
 * in scoops, or a substance of the user's own by volume). */
double tw_answer_addition_g(const tw_entry *entry);

/* Its substance as said to a person; the id itself for one of the user's own. */
tw_text tw_answer_substance_name(const tw_entry *entry);

/* Each writes the inside of an answer; the head is there already. tub is NULL for words that speak
 * of the whole logbook. Sets core->outcome when it is not "answered". */
void tw_answer_view_logbook(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_water(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_forecast(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_ahead(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_worth(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_plan(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_now(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_check(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_logged(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_tub(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_sheet(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_why(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_bathing(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_view_tubs(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);

/* The head of an answer that speaks of the water: a stop where there is one. NULL, and a hint told: no belief. */
const tw_belief *tw_answer_tell_belief(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);

/* A stop, its reason and what lifts it, at the head of an answer that speaks of something else; the outcome
 * becomes "stopped". 0 when nothing stops the tub: then nothing is told, not even the weight of the rule. */
int tw_answer_tell_stop(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);

/* Parts that more than one answer has: the verdict "held", acts that nobody wrote (nothing where there is none), the digest of the forecast for people. */
void tw_answer_tell_held(const tw_held *held, tw_time now, tw_sink *sink);
void tw_answer_tell_unwritten(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink);

/* 1 and why, told: the latest reading of chlorine is doubted and nothing explains it, so no forecast is shown. */
int tw_answer_tell_withheld(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink);
/* What was read and done in the hours before, for a drawing of free chlorine. */
void tw_answer_tell_lately(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink);
void tw_answer_tell_described(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_tell_doubts(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink);
void tw_answer_tell_reads_off(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink);
void tw_answer_tell_bands(tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, tw_sink *sink);
void tw_answer_tell_digest(const uint8_t digest[32], tw_sink *sink);

#endif
