/* dose/course_free.h: a course that does not go: what stands in the way, and the least that would free it. Advanced. */
#ifndef TW_DOSE_COURSE_FREE_H
#define TW_DOSE_COURSE_FREE_H

#include "dose/course_set.h"
#include "dose/course_visit.h"

/* For columns on which no visit was found, or whose last visit ran out of stock. Fills stands (no product, no room),
 * blocked and free. TW_COURSE_IN_BAND in stands when nothing is to move. */
void tw_dose_course_free(const tw_rows *rows, tw_search *search, double left, double members, tw_course *out);

#endif
