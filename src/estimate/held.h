/* estimate/held.h: does the residual hold on the generator alone?
 *
 * Our rule: at the duty to be handed over, P(chlorine made by the generator, remnant of any dose
 * left out, is at or over the floor at every hour of the next 7 days without bathers) >= 0.95, and
 * P(free chlorine now >= floor) >= 0.95, and P(the generator's chlorine stays at or under the ceiling)
 * >= 0.95 where there is one, and no chlorine product for 24 h. What a dose left over the ceiling
 * passes by itself and says nothing about the generator. The trade's rule and the rule of the small
 * remnant stand beside it, so that people see the difference. Pure. */
#ifndef TW_ESTIMATE_HELD_H
#define TW_ESTIMATE_HELD_H

#include <stddef.h>

#include "estimate/belief.h"
#include "num/status.h"

/* How sure, for how many days: the rule for "held". */
#define TW_HELD_PROBABILITY 0.95
#define TW_HELD_DAYS 7
#define TW_HELD_HORIZON_H 336.0 /* an hour of hold beyond this is "not within 14 days" */

typedef struct {
    double duty;               /* to be handed over, 0..1; negative: the present one */
    double floor_mg_per_l;     /* of free chlorine                                   */
    double ceiling_mg_per_l;   /* 0 when the profile has none                        */
    int seven_days;            /* 1: the verdict alone. Nothing is followed further than its 7 days; hours_* , p_hold_ever and
                                  remnant_hours_q95 are 0                            */
} tw_held_ask;

typedef struct {
    double duty;                 /* the duty that was asked about                               */
    double p_floor_7d;           /* generator's part >= floor at every hour of 7 days           */
    double p_now;                /* free chlorine now >= floor                                  */
    double p_ceiling;            /* generator's part <= ceiling in those 7 days; 1 if no ceiling */
    int no_product_24h;          /* 1 when no chlorine product was written down for 24 h        */
    double p_unwritten_24h;      /* one may have gone in since that nobody wrote down           */
    int held;                    /* 1: our rule is met                                          */
    tw_spread chlorine_mg_per_l; /* now                                                         */
    tw_spread made_mg_per_l;     /* the generator's part now                                    */
    tw_spread remnant_mg_per_l;  /* of doses, now                                               */
    int trade_rule;              /* 1: last dose 24 h ago or more and P(free chlorine >= 3) >= 0.5
                                    (what a person with a strip would say)                      */
    double trade_p;              /* P(free chlorine >= 3 mg/L now)                              */
    int remnant_rule;            /* 1: trade's reading and P(remnant < 1 mg/L) >= 0.95, P(free
                                    chlorine >= floor) >= 0.95                                  */
    double remnant_p;            /* P(remnant < 1 mg/L)                                         */
    double remnant_hours_q95;    /* hours until P(remnant < 1) reaches 0.95                     */
    double hours_q05, hours_q50, hours_q95; /* hours from now until the generator's part is and
                                    stays >= floor: quantiles over the members; TW_HELD_HORIZON_H
                                    means not within it                                         */
    double p_hold_ever;          /* share of the members that get there within the horizon      */
    double p_weak;               /* P(cell factor < 0.5): production                            */
    double p_demand;             /* P(loss or continuing demand is high): demand                */
} tw_held;

/* Bytes of working memory for the questions below, n members. */
size_t tw_estimate_held_bytes(size_t n);

/* The verdict. "Not held" is TW_OK with held == 0. TW_ERR_CAPACITY: mem too small. */
tw_status tw_estimate_held(const tw_belief *belief, const tw_held_ask *ask, void *mem, size_t bytes,
                           tw_held *out);

/* Where it is so: holds[i] = 1 in the members whose generator's part keeps to floor and ceiling for the 7 days of the
 * rule and that stand over the floor now, else 0. n values; memory and statuses as above. */
tw_status tw_estimate_holds(const tw_belief *belief, const tw_held_ask *ask, void *mem, size_t bytes, double *holds);

/* Duty by the balance, for handing over. */
typedef struct {
    tw_spread for_target;   /* duty at which the level settles on the target: 0..; > 1: never   */
    double lowest;          /* lowest duty whose settled level is >= floor with 0.95, days and
                               nights of chance included; > 1: none                             */
    double highest;         /* highest duty whose level is <= ceiling with 0.95; 1 if no ceiling */
    double best;            /* duty with the greatest chance of staying between both             */
    double p_best;          /* that chance, settled, over 7 days                                 */
    tw_spread level_full;   /* settled free chlorine at full duty, mg/L                          */
} tw_duty;

/* target, floor, ceiling in mg/L (ceiling 0: none). temp_c: of the water then. */
tw_status tw_estimate_duty(const tw_belief *belief, double target_mg_per_l, double floor_mg_per_l,
                           double ceiling_mg_per_l, double temp_c, void *mem, size_t bytes,
                           tw_duty *out);

/* Hours until free chlorine falls to `level` with no power (no generator, water as warm as now). */
tw_spread tw_estimate_hours_to(const tw_belief *belief, double level_mg_per_l);

#endif
