/* procedure/make.h: the act of a condition that is not met. */
#ifndef TW_PROCEDURE_MAKE_H
#define TW_PROCEDURE_MAKE_H

#include "procedure/scene.h"

/* Make an act for the stage: a pour, the hold, or a plain act. unmet: the condition that asks for it. */
tw_status tw_procedure_make(const tw_scene *scene, tw_act_id id, tw_stage stage, tw_condition unmet, tw_act *out);

#endif
