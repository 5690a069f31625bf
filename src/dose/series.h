/* dose/series.h: the same substance in steps that shrink, with air between them.
 *
 * Alkalinity is brought down by acid, and acid makes carbon dioxide: without air between, pH falls through
 * its floor (alkalinity 235 by four equal steps of 40: 6.9, 6.5, 6.2, 5.9). Each step is as large as the
 * floor lets it be; then air takes carbon dioxide out until pH stands at a stated value, which a reading
 * ends and not the clock. Foretold without readings in between, so the steps are as careful as what is
 * known today; readings make the later ones larger. Air gives pH its room back; what nothing gives back (salt) has
 * room for one step until it is read. Pure; memory from the caller. */
#ifndef TW_DOSE_SERIES_H
#define TW_DOSE_SERIES_H

#include "dose/plan.h"

/* Floors of pH after a step of acid (common practice): heater or cell on; both off and the pump running. */
#define TW_DOSE_PH_FLOOR_ON 6.8
#define TW_DOSE_PH_FLOOR_OFF 6.5
/* pH to which air brings the water before the next step (common practice). */
#define TW_DOSE_PH_AT_REST 7.6

typedef struct {
    double grams;
    double before[3];     /* the aim before the step: 5, 50, 95 % */
    double after[3];      /* and after                            */
    double ph_after[3];   /* closed, before any air               */
    tw_dose_bound bound;
    double chance;        /* of crossing any limit at this step   */
} tw_dose_series_step;

typedef struct {
    size_t steps;
    int arrives;           /* 1: the last step reaches the target within the grid             */
    double grams;          /* of all steps                                                     */
    double chance_ever;    /* share of the members that cross any limit at any step            */
    double left;           /* of the plan's risk                                               */
} tw_dose_series_sum;

/* Bytes for n possible waters. */
size_t tw_dose_series_bytes(size_t n);

/* The steps, at most cap (1 or more). ask as for tw_dose_plan, risk ignored; `risk` is for the whole series, and is
 * shared out as in tw_dose_plan_share. ph_rest: pH to which air brings every member after each step, if
 * it stands below (NaN: no air). Statuses as tw_dose_plan; TW_OK with arrives == 0 when cap steps do not do it,
 * or a step of 0 g says that a limit or the grid stands in the way. */
tw_status tw_dose_series(const tw_waters *waters, const tw_dose_ask *ask, double risk, double ph_rest, void *mem,
                         size_t bytes, tw_dose_series_step *step, size_t cap, tw_dose_series_sum *sum);

#endif
