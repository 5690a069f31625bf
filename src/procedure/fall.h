/* procedure/fall.h: chlorine over its limit falls by itself: until when, by the forecast, and when it is taken out instead. */
#ifndef TW_PROCEDURE_FALL_H
#define TW_PROCEDURE_FALL_H

#include "procedure/scene.h"

/* Bytes of working memory for a belief of n members. */
size_t tw_procedure_fall_bytes(size_t members);

/* A wait until chlorine is probably within its limit, generator off; where that is longer than a day, or than the hour that is
 * asked for (ready by), and a reducer stands in the stock list: that, as an addition. scene->belief is not NULL. */
tw_status tw_procedure_make_fall(const tw_scene *scene, tw_stage stage, tw_condition unmet, tw_act *out);

#endif
