/* procedure/free.h: a course that does not go: what would free it, and the water that it would be changed with. */
#ifndef TW_PROCEDURE_FREE_H
#define TW_PROCEDURE_FREE_H

#include "procedure/course.h"

/* The source as it was read; *out stays where pH or alkalinity of it was not. */
void tw_procedure_source_water(const tw_scene *scene, tw_water *out);

/* A quantity (tw_quantity_of_water; TW_OF_QUANTITIES: calcium, for the saturation index) in words. */
tw_message tw_procedure_quantity_message(int quantity);

/* What stands in a course's way and the cheapest change that frees it, as a sentence. 0: nothing stands in its way. */
int tw_procedure_say_free(const tw_course_of_tub *asked, const tw_course *course, tw_said *said);

#endif
