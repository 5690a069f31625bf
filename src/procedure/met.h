/* procedure/met.h: is a condition met? */
#ifndef TW_PROCEDURE_MET_H
#define TW_PROCEDURE_MET_H

#include "procedure/scene.h"

/* 1: met, set aside, or not applicable here. 0: not met; *act is the act that lifts it: the row's
 * own, or a better one (air before acid, a retest before a dose). */
int tw_procedure_condition_met(const tw_scene *scene, tw_condition condition, tw_act_id *act);

/* 1: two readings of salt since the last pour, half an hour apart, agree: nothing lies on the floor, the meter stands
 * in mixed water. Before that a low one asks for stirring, never for salt. 1 as well without a pour. */
int tw_procedure_salt_agrees(const tw_scene *scene);

/* 1: free chlorine was last read as 0.5 mg/L or less by a colour that fades in much of it, and not thinned. */
int tw_procedure_may_be_bleached(const tw_scene *scene);

/* 1: free chlorine was read and is over the limit of bathing with one in four or more: nothing is turned up that adds to it. */
int tw_procedure_chlorine_near(const tw_scene *scene);

/* The edge of the band of pH (high: 0 or 1) as it counts now: the start-up's, the guidance's once the water is made. */
double tw_procedure_ph_limit(const tw_scene *scene, int high);

/* Analytes of the source that have no reading and no "not done" yet; writes at most 8, returns how many. */
uint32_t tw_procedure_source_missing(const tw_scene *scene, int out[8]);

#endif
