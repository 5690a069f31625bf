/* procedure/make.h: from a row of data/acts.csv and a scene to an act with its numbers. */
#ifndef TW_PROCEDURE_MAKE_H
#define TW_PROCEDURE_MAKE_H

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

/* Make an act for the stage: plain acts, doses, the hold. */
tw_status tw_procedure_make(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_condition unmet, tw_act *out);

/* Doses (verb ADD). Becomes another act (a stop with its reason) when nothing may be poured. */
tw_status tw_procedure_make_dose(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_act *out);

/* The stage "hold proof": test, wait, duty, cell or demand. */
tw_status tw_procedure_make_hold(const tw_scene *scene, tw_act *out);

#endif
