/* dose/course_size.h: how much of the products of a visit. Advanced: dose/course.h. */
#ifndef TW_DOSE_COURSE_SIZE_H
#define TW_DOSE_COURSE_SIZE_H

#include "dose/course_visit.h"

/* Grams of the candidate, whose visit holds those to the targets: within its share of the risk left, caps and marks. way: as the
 * quantities stand before. Fills all of the candidate but its visits and minutes. */
void tw_dose_visit_size(const tw_rows *rows, const int way[TW_OF_QUANTITIES], tw_search *search, double left, double members,
                        tw_candidate *candidate);

#endif
