/* answer/salt_rise.h: the water of a tub by the rise of its salt alone. */
#ifndef TW_ANSWER_SALT_RISE_H
#define TW_ANSWER_SALT_RISE_H

#include "answer/views.h"

/* Litres by the last rise of salt of at least 300 mg/L between two readings of one instrument: the salt poured between them over
 * what they rose, as a tracer (conductivity by the salt that would conduct as much). No water came or went between them. 0 where there
 * is none. What still lies on the floor makes it too much; the belief knows of that, this rule does not. */
double tw_answer_salt_rise_l(const tw_core *core, const tw_ask *ask, const tw_tub *tub, const tw_belief *belief);

#endif
