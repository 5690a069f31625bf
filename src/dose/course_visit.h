/* dose/course_visit.h: the best next visit for waters given as columns. Advanced: dose/course.h.
 *
 * Which products: each quantity that is to move is served by one product or move that moves it that way, or by none;
 * all such choices with at most three products are looked at. How much: grams that bring the median to its target; if
 * that crosses a limit too often, the largest factor of them that does not, then steps of the measure up, down and
 * against each other while the water comes nearer to its targets. What is best: course_recourse.h counts the visits. */
#ifndef TW_DOSE_COURSE_VISIT_H
#define TW_DOSE_COURSE_VISIT_H

#include "dose/course_rows.h"

#define TW_COURSE_SHORTLIST 6  /* candidates whose retests are looked at */
#define TW_COURSE_SHARE 0.5    /* of the risk that is left, for a visit that something follows */
#define TW_COURSE_SWAP_FINEST 0.05 /* of the water: less is not worth a hose */

typedef struct {
    tw_visit visit;
    double wanted[TW_COURSE_ADDITIONS];  /* grams to the targets                      */
    double unrounded[TW_COURSE_ADDITIONS];
    tw_course_bound bound;
    size_t bound_limit, bound_at;
    double risk;                  /* that it may spend, the margin taken off           */
    int arrives;                  /* 1: nothing is to move afterwards, or can be        */
    double open, others_open;     /* quantities still to move afterwards that something moves; those but chlorine */
    int open_of[TW_OF_QUANTITIES]; /* which they are                                     */
    double distance;              /* in half bands                                     */
    double others_in;             /* chance that all but chlorine lie in their bands   */
    int small;                    /* 1: less than a twentieth of the way of anything   */
    double attended_min, minutes; /* of the visit; with the pours that it leaves       */
    double grams;
    double visits;                /* expected, this one included                       */
    size_t most_visits;           /* no retest looked at needs more; 0: not to be said  */
} tw_candidate;

/* Room for the search. */
typedef struct {
    tw_columns full, thin, post, trial; /* all members; some; those after a visit; those of one retest */
    double *value;                      /* full.n */
    uint32_t *order;
} tw_search;

/* 1 when a product may be used in a visit at all. */
int tw_dose_visit_may(const tw_course_ask *ask, size_t stock);

/* The way in which a product of an effect is meant to move a quantity: +1, -1, or 0. */
int tw_dose_visit_meant(tw_effect effect, int quantity);

/* Index of the product on hand of which the fewest grams move a quantity that way (+1, -1); -1: none. any: 1 looks at
 * those too that may not be used. */
int tw_dose_visit_plainest(const tw_rows *rows, int quantity, int way, int any);

/* Where an addition stands in the safe order of a visit: smaller goes first. After is 1 for what goes in after air. */
int tw_dose_visit_rank(tw_effect effect, int *after);

/* How many additions of a visit go in before its air; the others (chlorine) at the pH that it leaves. */
size_t tw_dose_visit_before_air(const tw_rows *rows, const tw_visit *visit);

/* Most grams of a product in one visit: largest change of what it is for, label, stock; which of them: 0 nothing. */
double tw_dose_visit_cap(const tw_rows *rows, size_t stock, int serves, tw_course_bound *by);

/* Grams of one product that bring the middle water to the target of what it serves. */
double tw_dose_visit_whole(const tw_rows *rows, uint32_t stock, int serves);

/* A share of the water one mark smaller; 0 when there is none. */
double tw_dose_visit_less_water(double share);

/* Leave out the additions that are not kept. */
void tw_dose_visit_keep(tw_candidate *candidate, const int keep[TW_COURSE_ADDITIONS]);

/* Does air belong to the visit, and to which row: when the row would stand below its pH afterwards. */
int tw_dose_visit_air(const tw_rows *rows, const double after[TW_ROWS], const int way[TW_OF_QUANTITIES]);

/* Candidates for the columns `search->full`, best first; left: of the course's risk. all: 1 looks at every choice, 0
 * at the plainest for each quantity, for visits that are only foretold. acid_first: where bicarbonate has no room under the
 * ceiling of pH, 1 lets acid make it: pH goes down first, to its target, and the retest stands between the two. Returns how
 * many (0: nothing goes). */
size_t tw_dose_visit_find(const tw_rows *rows, tw_search *search, double left, double members, int all, int acid_first,
                          tw_candidate out[TW_COURSE_SHORTLIST]);

/* Expected visits of a candidate that is sized, its retest counted in; sets most_visits. */
double tw_dose_visit_worth(const tw_rows *rows, tw_search *search, double left, double members, uint32_t retests,
                           tw_candidate *candidate);

/* The same products sized again with the measures that rows->ask has now: 0 for any amount. */
void tw_dose_visit_unrounded(const tw_rows *rows, tw_search *search, double left, double members, tw_candidate *candidate);

/* Retests looked at for the first visit, and for one that is only foretold. */
#define TW_COURSE_RETESTS 16
#define TW_COURSE_RETESTS_LATER 4

/* Expected visits from here on when the visit is done now, so many likely answers of the retest counted in. left: of
 * the risk after it, before the margin for so many members. *most: what none of them exceeds; 0 when that is more than
 * is counted. */
double tw_dose_recourse(const tw_rows *rows, const tw_visit *visit, double left, double members, uint32_t retests,
                        tw_search *search, size_t *most);

#endif
