/* procedure/spent.h: what a course has spent of its risk, reckoned anew from the entries. */
#ifndef TW_PROCEDURE_SPENT_H
#define TW_PROCEDURE_SPENT_H

#include "dose/course.h"
#include "procedure/scene.h"

/* How the instrument of a reading reads (observed: enum tw_observed): its scatter and its step. 0: it is not known. */
int tw_procedure_test_of(const tw_entry *reading, int observed, tw_course_test *out);

/* What is left of `risk` after the pours of this course. A pour spends the chance with which, by what was read before it and
 * what is now known of volume and products, it crossed a hard limit, and half of what was left at
 * most; the whole half where nothing was read before it. Chlorine is dosed to half of its limit and spends nothing.
 * Once the generator runs or the tub is in care, what follows a day without a pour is a course of its own. scene->belief is
 * not NULL. Uses scene->mem. *pours: how many of this course. */
double tw_procedure_risk_left(const tw_scene *scene, double risk, uint32_t *pours);

#endif
