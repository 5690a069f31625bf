/* dose/course_set.h: possible waters that a course moves along, each followed exactly. Advanced: dose/course.h.
 *
 * The search tries visits on straight rows (course_rows.h); this carries out what it chose on every member with its
 * own errors of strength and weighing, and counts who crosses a limit at any moment. */
#ifndef TW_DOSE_COURSE_SET_H
#define TW_DOSE_COURSE_SET_H

#include "dose/course_rows.h"

typedef struct {
    tw_waters view;                   /* the waters as they are now                       */
    double *total[TW_TOTALS];
    double *error[TW_COURSE_STOCK];   /* true grams of active for each gram meant         */
    double *crossed;                  /* 1: has crossed a limit at some visit, or before  */
    double *looked, *value;           /* room for weights and quantities of those looked at */
    double weights;                   /* their sum                                        */
} tw_course_set;

/* What a visit did to a set: shares of the members that cross, and had crossed none in this course before. */
typedef struct {
    double chance[TW_COURSE_LIMITS + 1]; /* of each limit of the rows; the last used one: saturation */
    double chance_any;
} tw_course_judged;

/* Doubles of room for n members and so many products. */
size_t tw_dose_set_doubles(size_t n, size_t stocks);

/* Copy the waters into `room`; draw errors by the seed. One water alone has none. */
void tw_dose_set_init(const tw_course_ask *ask, const tw_waters *waters, uint64_t seed, double *room, tw_course_set *out);

/* A visit as it is carried out: the acids of each of its moments (tw_dose_rows_acids), the pH that its air reaches
 * after the first `before_air` additions. */
typedef struct {
    tw_visit visit;
    size_t before_air;
    tw_reduced acids[TW_COURSE_ADDITIONS + 1];
    double air_to_ph;
} tw_course_doing;

/* Carry out a visit on a scratch copy of each member and count. commit: 1 also moves the set and marks who crossed. */
void tw_dose_set_judge(const tw_rows *rows, const tw_course_doing *doing, int commit, tw_course_set *set,
                       tw_course_judged *out);

/* 5, 50, 95 % of every quantity after the first `additions` of the visit (more than it has: after all of it), by
 * every stride-th member. order: room for n indices. */
void tw_dose_set_spread(const tw_rows *rows, const tw_course_doing *doing, size_t additions, size_t stride, tw_course_set *set,
                        uint32_t *order, tw_course_spread *out);

/* Calcite saturation index of a water beside the rows' middle water. */
double tw_dose_set_si(const tw_rows *rows, double middle_si, const tw_water *water);

/* Columns of the set, and of every stride-th of them from the first on; arrays of *out are the caller's. */
void tw_dose_set_columns(const tw_rows *rows, const tw_course_set *set, tw_columns *out);
void tw_dose_set_thinned(const tw_rows *rows, const tw_columns *full, size_t stride, tw_columns *out);

#endif
