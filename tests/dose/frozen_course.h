/* tests/dose/frozen_course.h: rows and possible waters of what ask_course.h asks, as a course begins with them. */
#ifndef TW_TESTS_FROZEN_COURSE_H
#define TW_TESTS_FROZEN_COURSE_H

#include "ask_course.h"
#include "dose/course_set.h"

/* Doubles that a set of n members takes. */
#define SET_DOUBLES(n) ((n) * (TW_TOTALS + TW_COURSE_STOCK + 2 + TW_OF_QUANTITIES))

static inline void freeze_rows(tw_rows *rows)
{
    tw_water middle;
    double kg;
    tw_reduced acids;
    assert_ok(tw_dose_frozen(&W.view, room, sizeof room, &middle, &kg, &acids));
    tw_dose_rows_init(&A, &acids, &middle, kg, rows);
}

static inline void freeze_set(tw_rows *rows, double *set_room, tw_course_set *set)
{
    freeze_rows(rows);
    tw_dose_set_init(&A, &W.view, A.seed, set_room, set);
}

#endif
