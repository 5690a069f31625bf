/* procedure/met.h: is a condition met? */
#ifndef TW_PROCEDURE_MET_H
#define TW_PROCEDURE_MET_H

#include "procedure/scene.h"

/* 1: met, set aside, or not applicable here. 0: not met; *act is the act that lifts it: the row's
 * own, or a better one (air before acid, a retest before a dose). */
int tw_procedure_condition_met(const tw_scene *scene, tw_condition condition, tw_act_id *act);

/* Analytes of the source that have no reading and no "not done" yet; writes at most 8, returns how many. */
uint32_t tw_procedure_source_missing(const tw_scene *scene, int out[8]);

#endif
