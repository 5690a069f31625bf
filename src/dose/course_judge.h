/* dose/course_judge.h: what the search chose, judged by other members. Advanced: dose/course.h. */
#ifndef TW_DOSE_COURSE_JUDGE_H
#define TW_DOSE_COURSE_JUDGE_H

#include "dose/course_set.h"
#include "dose/course_visit.h"

/* Index of the first of n candidates of which the judges leave something; n when there is none. Its grams become those
 * within its risk: fewer where the judges cross oftener, more (first: 1, and a limit had held it) where they cross less;
 * what they left nothing of does not go in. *doing: as it is carried out; *judged: what they found. */
size_t tw_dose_judge_first(const tw_rows *rows, tw_course_set *judge, int first, size_t n, tw_candidate found[TW_COURSE_SHORTLIST],
                           tw_course_doing *doing, tw_course_judged *judged);

#endif
