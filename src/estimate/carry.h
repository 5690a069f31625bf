/* estimate/carry.h: the prior that the water before left, as a density of the coordinates. Internal.
 *
 * A problem without a carry passes through here untouched, to the bit. */
#ifndef TW_ESTIMATE_CARRY_H
#define TW_ESTIMATE_CARRY_H

#include "estimate/model.h"

/* Where lanes stand to that prior. */
typedef struct {
    tw_lanes by[TW_MAX_CARRIED]; /* precision times distance, by place in the carry */
    tw_lanes square;             /* distance times that                             */
} tw_carry_pull;

/* Add sign times minus ln density of the carried coordinates to *sum; fills *pull. x: by role. */
void tw_estimate_carry_add(const tw_model *model, const tw_lanes *x, double sign, tw_carry_pull *pull, tw_lanes *sum);

/* Add the gradient of its ln density, at the x that gave *pull, to a gradient by role. */
void tw_estimate_carry_gradient(const tw_model *model, const tw_carry_pull *pull, tw_lanes *gradient);

/* What the precision is worth where one lane stands: less the further out. */
double tw_estimate_carry_weight(const tw_model *model, const tw_carry_pull *pull, int lane);

/* Middle and standard deviation of a coordinate's prior, by role: 0 and 1 where nothing is carried. */
double tw_estimate_carry_mean(const tw_model *model, int role);
double tw_estimate_carry_sd(const tw_model *model, int role);

#endif
