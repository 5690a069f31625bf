/* procedure/sentence.h: the sentences of an act, filled with the facts that they ask for. */
#ifndef TW_PROCEDURE_SENTENCE_H
#define TW_PROCEDURE_SENTENCE_H

#include "procedure/scene.h"

/* The numbers and names that the sentences of an act may use; NaN and empty where there is none. */
typedef struct {
    double now, after, low, high, ph, phlow, phhigh, ta, chance, wait_h, duty, made, fraction, litres, resin;
    tw_text name;
    tw_time done;
    int has_amount;
} tw_facts;

/* Facts with nothing in them. */
tw_facts tw_procedure_no_facts(void);

/* Start an act: head, lists and tests of its row, times from `now`. */
void tw_procedure_begin(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_stands stands, tw_act *out);

/* Fill the sentences of the row with facts; call last. */
void tw_procedure_finish(const tw_scene *scene, const tw_facts *facts, tw_act *act);

/* Add a message with the same facts to a list (nothing when it is full). */
void tw_procedure_line(tw_lines *lines, tw_message message);

#endif
