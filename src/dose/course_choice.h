/* dose/course_choice.h: which products a visit may have: all choices, and the few worth sizing. Advanced: dose/course.h. */
#ifndef TW_DOSE_COURSE_CHOICE_H
#define TW_DOSE_COURSE_CHOICE_H

#include "dose/course_visit.h"

#define TW_COURSE_OPTIONS 3 /* most products looked at for one quantity */

/* Grams of a product for a quantity. */
typedef struct {
    uint32_t stock;
    int serves;
    double grams;
} tw_pour;

/* One quantity that is to move, and what moves it. */
typedef struct {
    int q, way;
    size_t options;
    tw_pour option[TW_COURSE_OPTIONS]; /* grams to the target, alone; the fewest first */
    double share;                      /* of the water to be changed; 0: that does not help */
    int waits;                         /* 1: waiting brings chlorine down */
} tw_need;

/* All that is to move. */
typedef struct {
    size_t n;
    tw_need of[TW_OF_QUANTITIES];
    int way[TW_OF_QUANTITIES];
} tw_needs;

/* What is to move in these columns, with so many products for each at most. acid_first: 1 lets pH
 * go before alkalinity (see tw_dose_visit_find). */
void tw_dose_choice_look(const tw_rows *rows, const tw_columns *columns, size_t most, int acid_first, tw_needs *out);

/* Something on hand moves the quantity that way. */
int tw_dose_choice_can_move(const tw_rows *rows, int quantity, int way);

/* The visits that come nearest to the targets, grams not yet limited; how many. */
size_t tw_dose_choice_list(const tw_rows *rows, const tw_needs *needs, size_t most, tw_candidate out[TW_COURSE_SHORTLIST]);

#endif
