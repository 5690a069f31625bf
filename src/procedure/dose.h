/* procedure/dose.h: acts that pour something. */
#ifndef TW_PROCEDURE_DOSE_H
#define TW_PROCEDURE_DOSE_H

#include "procedure/scene.h"

/* Doses (verb ADD). Becomes another act (a stop with its reason, a wait) when nothing may be poured now. */
tw_status tw_procedure_make_dose(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_act *out);

#endif
