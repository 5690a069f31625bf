/* answer/odd_list.h: the questions of odd.c and odd_amount.c, one list. Inside of these two. */
#ifndef TW_ANSWER_ODD_LIST_H
#define TW_ANSWER_ODD_LIST_H

#include "answer/odd.h"

/* What is asked about, and the questions so far. */
typedef struct {
    tw_core *core;
    const tw_tub *tub;
    tw_time now;
    tw_said *question; /* TW_ODD_QUESTIONS of them */
    size_t n;
} tw_odd_list;

/* One question more, to be filled in; NULL when there is no room. */
tw_said *tw_answer_odd_question(tw_odd_list *list, tw_message message);

/* The value that was probably meant: the typed digits with the point moved, when that lies between
 * likely[0] and likely[2]; else likely[1]. */
double tw_answer_odd_meant(double typed, const double likely[3]);

/* Amounts poured or announced, litres let in or out, volumes: asked about when too large or too small. */
void tw_answer_odd_amounts(tw_odd_list *list, const tw_entry *entry);

#endif
