/* procedure/refuse.h: reasons not to pour that rest on what is going on, not on the water's numbers. */
#ifndef TW_PROCEDURE_REFUSE_H
#define TW_PROCEDURE_REFUSE_H

#include "procedure/act.h"
#include "procedure/scene.h"

/* 1: by the entries somebody is in the water now; *left_h until the time that was written is over. */
int tw_procedure_bathing(const tw_scene *scene, double *left_h);

/* The last addition of this effect that was taken back, may have gone in all the same, and after which nothing has been
 * read of what it moves: an edited entry is no reason for a second dose. NULL: none. One that was written anew, within an
 * hour of the first and of the same substance, is no longer in question: the new entry has its own wait and reading. */
const tw_entry *tw_procedure_taken_back(const tw_scene *scene, tw_effect effect);

/* 1: the water was last read over 20 C, where it is never left without chlorine. */
int tw_procedure_is_warm(const tw_scene *scene);

/* 1: soda into water that is hot and hard: milk where it goes in, long before the whole water is too full. Bicarbonate
 * brings the same alkalinity without. Hot: over 30 C; hard: over the usual band of calcium (data/bands.csv). */
int tw_procedure_makes_milk(const tw_scene *scene, const tw_substance *substance);

/* What is read to see whether it went in: TW_ANALYTE_... in `analyte`, their number. */
int tw_procedure_tests_of(tw_effect effect, int analyte[2]);

/* A test that an act asks for, behind those it asks for already; each is asked once. */
void tw_procedure_ask_test(int analyte, tw_act *act);

/* The tests of an effect, likewise. */
void tw_procedure_ask_tests(tw_effect effect, tw_act *act);

#endif
