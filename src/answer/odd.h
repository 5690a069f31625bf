/* answer/odd.h: what is odd about entries that are about to be written, and is asked back. Odd is not
 * wrong: a person may insist, and what is imported is kept. */
#ifndef TW_ANSWER_ODD_H
#define TW_ANSWER_ODD_H

#include "answer/core.h"

/* Most questions about one line of drafts. */
#define TW_ODD_QUESTIONS 32

/* The questions about drafts (lines without writer, n and prev), in order; returns how many. */
size_t tw_answer_odd_questions(tw_core *core, const tw_tub *tub, tw_time now, const tw_text *draft, size_t drafts,
                               tw_said question[TW_ODD_QUESTIONS]);

/* The value that was probably meant by one that no reading of the analyte can have ("74" for pH): its digits with
 * the point moved to where they are to be expected of this water. 0: none fits. analyte by its word. */
int tw_answer_odd_instead(tw_core *core, const tw_tub *tub, tw_time now, tw_text analyte, double typed, double *instead);

#endif
