/* procedure/dose.h: acts that pour something. */
#ifndef TW_PROCEDURE_DOSE_H
#define TW_PROCEDURE_DOSE_H

#include "procedure/course.h"

/* Doses (verb ADD). Becomes another act (a stop with its reason, a wait) when nothing may be poured now. */
tw_status tw_procedure_make_dose(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_act *out);

/* The same for one job, and with it whatever of these others the same visit can do. */
tw_status tw_procedure_make_visit(const tw_scene *scene, int job, tw_job_set jobs, tw_stage stage, tw_act *out);

/* A stop: nothing may be poured, or no water changed. course: with what was asked, of one that does not go; NULL: none was
 * planned. What would free it is said first. */
tw_status tw_procedure_stop_course(const tw_scene *scene, tw_act_id id, tw_effect wanted, const tw_course_of_tub *asked,
                                   const tw_course *course, tw_stage stage, tw_act *out);

/* A wait until those who bathe are out, so many hours by the entries. */
tw_status tw_procedure_wait_for_bathers(const tw_scene *scene, double left_h, tw_stage stage, tw_act *out);

/* What the water will probably be after an act. */
void tw_procedure_predict(const tw_course_spread *after, tw_act *out);

/* What follows in the visit, and the hour before which it must not go in. */
void tw_procedure_tell_following(const tw_substance *row, tw_time at, tw_act *out);

/* A limit by its quantity (tw_quantity_of_water) in words; TW_MESSAGES: it has none. */
tw_message tw_procedure_limit_message(int quantity, int is_floor);

#endif
