/* estimate/bend.h: the coordinates in which the chains walk. Internal.
 *
 * A coordinate x is N(0,1) before any reading. Three ridges are bent in x: readings know the sum of the
 * loss, as HOCl makes it at the usual pH, and the film's share of it; the logarithm of the cell's output, whose prior has a long left
 * tail; and the conductivity of the water let in, a sum of ions of which nobody measures all. Two walls are
 * steep in x: of chlorine in the water let in and of demand that appears readings know the amount, where x
 * counts its logarithm. Chains follow a straight ridge and stall on a bent one, and a wall makes every step
 * short, so they walk in z, x = bend(z): a change of variables with its exact Jacobian, which leaves the
 * posterior as it is. */
#ifndef TW_ESTIMATE_BEND_H
#define TW_ESTIMATE_BEND_H

#include "estimate/model.h"

/* Roles whose ions are measured together with the unmeasured ones. */
#define TW_BEND_IONS 5
extern const int tw_estimate_bend_ion[TW_BEND_IONS];

/* Roles of which readings know the amount. */
#define TW_BEND_AMOUNTS 2
extern const int tw_estimate_bend_amount[TW_BEND_AMOUNTS];

/* The loss, and what is seen together with it. */
#define TW_BEND_LOSSES 4
extern const int tw_estimate_bend_losses[TW_BEND_LOSSES];

/* What the way back needs. */
typedef struct {
    int loss;                                /* 1: the loss is bent                       */
    tw_lanes loss_by[TW_BEND_LOSSES];        /* dx_loss/d z of tw_estimate_bend_losses[]  */
    tw_lanes ln_by[TW_BEND_LOSSES];          /* d ln Jacobian / d the same                */
    int ions;                                /* 1: the unmeasured ions are bent           */
    tw_lanes ions_by[TW_BEND_IONS];          /* dx_ions/d z of tw_estimate_bend_ion[], Jacobian 1  */
    int amount[TW_BEND_AMOUNTS];             /* 1: that amount is bent                    */
    tw_lanes amount_by[TW_BEND_AMOUNTS], amount_ln_by[TW_BEND_AMOUNTS];
    tw_lanes cell_by[TW_MAX_CELLS], cell_ln_by[TW_MAX_CELLS];
    tw_lanes ln_jacobian;                    /* of all together                           */
} tw_bend;

/* From z to x in place, both by role; fills `out`. */
void tw_estimate_bend(const tw_model *model, tw_lanes *x, tw_bend *out);

/* Turn a gradient of ln density by x (by role, in place) into one by z, the Jacobian included. */
void tw_estimate_bend_gradient(const tw_model *model, const tw_bend *bend, tw_lanes *gradient);

#endif
