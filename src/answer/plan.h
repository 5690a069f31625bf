/* answer/plan.h: a plan as people write it, for a forecast: what is changed, poured and who bathes, by the hour.
 *
 * One item for each thing, in the order of their hours: "12h:duty=42", "12h:temperature=36", "24h:jets=on",
 * "24h:bathers=4x90" (four for 90 minutes), "36h:sodium-hypochlorite-120=49mL", "36h:sodium-sulfite=9g". */
#ifndef TW_ANSWER_PLAN_H
#define TW_ANSWER_PLAN_H

#include "estimate/forecast.h"
#include "units/text.h"

/* Take one item into a plan that begins with what is so now.
 *   TW_ERR_FORMAT    not of the form above; an hour before the item before it, or beyond 14 days
 *   TW_ERR_RANGE     a number outside its range: duty 0..100 %, temperature 0..45 Cel, 1 to 50 bathers for 1 to
 *                    600 min, a dose above nothing and up to 100 kg
 *   TW_ERR_UNKNOWN   no such setting or substance, or one that a forecast does not follow (cyanurate, borate, phosphate)
 *   TW_ERR_CAPACITY  more than TW_PLAN_STEPS changes or TW_PLAN_DOSES of a kind
 * On an error the plan is as it was. */
tw_status tw_answer_plan_item(tw_text item, tw_schedule *plan);

/* Take all items of a question, with ";" between them. The first error ends it. */
tw_status tw_answer_plan_read(tw_text items, tw_schedule *plan);

/* The hour after which nothing is planned any more; 0: nothing is planned. */
uint32_t tw_answer_plan_end(const tw_schedule *plan);

#endif
