/* dose/threshold.h: the grams at which one possible water meets a limit. Advanced: plan.h uses it.
 *
 * For one substance every quantity but pH is a straight line in the grams. A pH limit is one too: at a
 * fixed pH the alkalinity that the acids of a water hold is linear in the totals, so "alkalinity = what
 * this pH needs" is solved in closed form. Only chlorine together with cyanurate bends that line; then
 * the root is enclosed and halved. No tangent of pH is used anywhere: after 150 umol/kg of acid at
 * alkalinity 80 and pH 7.5 it is wrong by 0.27. Pure. */
#ifndef TW_DOSE_THRESHOLD_H
#define TW_DOSE_THRESHOLD_H

#include "dose/apply.h"
#include "dose/quantity.h"
#include "water/reduced.h"

#define TW_DOSE_NEVER 1e12 /* grams: this substance never brings this water there */

/* How much a pH limit is taken on the side away from harm, for what the reduced form may be off against the
 * full solve after a dose (water/reduced.h): 0.003 up to pH 7.8, rising to 0.03 at 8.8. Targets stay. */
double tw_dose_ph_gap(double ph);

typedef struct {
    const tw_reduced *k;       /* acids, frozen near this water    */
    const tw_substance *substance;
    double solvent_kg_per_l;
} tw_dose_frame;

/* Grams at which the water crosses a limit: 0 when it stands at or beyond it and the substance moves it
 * further; TW_DOSE_NEVER when the substance moves it back, not at all, or never so far. */
double tw_dose_threshold_limit(const tw_dose_frame *frame, const tw_water *water, double water_kg,
                               tw_quantity_of_water of, double limit, int is_floor);

/* Grams at which the water reaches a target: 0 when it is there or past it (past: on the side to which the
 * substance moves it); TW_DOSE_NEVER when it never gets there. falls: 1 when the quantity is to fall. */
double tw_dose_threshold_target(const tw_dose_frame *frame, const tw_water *water, double water_kg,
                                tw_quantity_of_water of, double target, int falls);

/* The quantity as the water stands; pH by the reduced form. */
double tw_dose_value(const tw_dose_frame *frame, tw_quantity_of_water of, const tw_water *water);

#endif
