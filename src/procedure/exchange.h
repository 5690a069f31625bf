/* procedure/exchange.h: part of the water changed, where nothing on a shelf takes out what is over its band. */
#ifndef TW_PROCEDURE_EXCHANGE_H
#define TW_PROCEDURE_EXCHANGE_H

#include "procedure/scene.h"

/* The act of the condition that asks for it: the share that the tub's course takes (dose/course.h). Becomes a wait while
 * somebody bathes, a stop where the course finds no share that keeps the limits. scene->belief is not NULL. */
tw_status tw_procedure_make_exchange(const tw_scene *scene, tw_stage stage, tw_condition unmet, tw_act *out);

#endif
