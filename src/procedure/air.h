/* procedure/air.h: how long air is needed, by the forecast of the tub's own gas exchange. */
#ifndef TW_PROCEDURE_AIR_H
#define TW_PROCEDURE_AIR_H

#include "procedure/scene.h"

/* Bytes of working memory for a belief of n members. */
size_t tw_procedure_air_bytes(size_t members);

/* pH to which air should bring this water: at rest before the next acid, or the target when no acid follows. */
double tw_procedure_air_aim(const tw_scene *scene);

/* Hours of jets and air with the cover off until the middle of the possibilities stands at pH `aim`, in quarters,
 * 0.25 to 4. alk_meq: alkalinity that a pour brings first (acid: negative). 2 h when nothing is known. A reading ends
 * the air, not this number. */
double tw_procedure_air_hours(const tw_scene *scene, double aim, double alk_meq);

#endif
