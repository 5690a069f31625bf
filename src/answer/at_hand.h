/* answer/at_hand.h: the decision at hand, as numbers that a test can change. */
#ifndef TW_ANSWER_AT_HAND_H
#define TW_ANSWER_AT_HAND_H

#include "answer/core.h"
#include "answer/limits.h"
#include "estimate/worth.h"

/* What is being decided. */
typedef enum tw_at_hand {
    TW_AT_HAND_NOTHING,   /* nothing that a reading of the water decides                     */
    TW_AT_HAND_TA,        /* how much acid or bicarbonate                                    */
    TW_AT_HAND_CALCIUM,   /* how much calcium chloride                                       */
    TW_AT_HAND_SALT,      /* how much salt                                                   */
    TW_AT_HAND_CHLORINE,  /* how much chlorine                                               */
    TW_AT_HAND_HOLD,      /* does the residual hold                                          */
    TW_AT_HAND_CAUSE      /* it will not hold: the cell, or the demand                       */
} tw_at_hand;

/* The decision, and what a wrong one costs. */
typedef struct {
    tw_at_hand what;
    tw_worth_decision decision;
} tw_decision_at_hand;

/* Arrays of a decision, n members: four of them. */
size_t tw_answer_at_hand_bytes(size_t n);

/* Find it from where the tub stands. mem (tw_answer_at_hand_bytes) holds its arrays as long as it is used; the core's
 * working memory is overwritten. */
void tw_answer_at_hand(tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief, const tw_act *act, void *mem,
                       tw_decision_at_hand *out);

#endif
