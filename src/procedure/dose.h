/* procedure/dose.h: acts that pour something. */
#ifndef TW_PROCEDURE_DOSE_H
#define TW_PROCEDURE_DOSE_H

#include "procedure/course.h"

/* Doses (verb ADD). Becomes another act (a stop with its reason, a wait) when nothing may be poured now. */
tw_status tw_procedure_make_dose(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_act *out);

/* The same for one job, and with it whatever of these others the same visit can do. */
tw_status tw_procedure_make_visit(const tw_scene *scene, int job, tw_job_set jobs, tw_stage stage, tw_act *out);

/* What follows in the visit, and the hour before which it must not go in. */
void tw_procedure_tell_following(const tw_substance *row, tw_time at, tw_act *out);

/* A limit by its quantity (tw_quantity_of_water) in words; TW_MESSAGES: it has none. */
tw_message tw_procedure_limit_message(int quantity, int is_floor);

#endif
