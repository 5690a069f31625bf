/* dose/plan.h: how much of one substance, for water that is known only as many possibilities.
 *
 * Every limit is monotone in the dose, so each possible water has its own largest dose, exactly; the
 * dose that crosses a limit with at most a stated chance is a quantile of those thresholds. No search
 * over doses, no tangent of pH. Target and limit are two numbers. Pure; memory from the caller. */
#ifndef TW_DOSE_PLAN_H
#define TW_DOSE_PLAN_H

#include <stddef.h>
#include <stdint.h>

#include "dose/substance.h"
#include "num/status.h"

/* Possible waters: array of n for each quantity, equally likely unless weight says otherwise. */
typedef struct {
    size_t n;
    const double *water_kg;
    const double *temp_k;
    const double *total[TW_TOTALS]; /* mol per kg; sodium balances */
    const double *weight;           /* NULL: all the same          */
    double solvent_kg_per_l;        /* to speak in mg/L            */
} tw_waters;

/* What is limited or aimed at, in the trade's units. */
typedef enum tw_quantity_of_water {
    TW_OF_PH,
    TW_OF_ALKALINITY, /* mg/L as CaCO3, strong-ion                       */
    TW_OF_CALCIUM,    /* mg/L as CaCO3                                   */
    TW_OF_SALT,       /* mg/L: all chloride counted as NaCl              */
    TW_OF_CHLORINE,   /* free chlorine, mg/L as Cl2                      */
    TW_OF_CYANURATE,  /* mg/L                                            */
    TW_OF_SULFATE,    /* mg/L                                            */
    TW_OF_PHOSPHATE,  /* mg/L as PO4                                     */
    TW_OF_QUANTITIES
} tw_quantity_of_water;

typedef struct {
    tw_quantity_of_water of;
    double value;
    int is_floor; /* 1: must not fall below; 0: must not rise above */
} tw_dose_limit;

#define TW_DOSE_LIMITS 8

typedef struct {
    const tw_substance *substance;
    tw_quantity_of_water aim;   /* what the dose is for                                       */
    double target;              /* value that the middle of the possibilities shall reach     */
    double aim_quantile;        /* which of the possible waters shall reach it: 0.5 usually   */
    size_t limits;
    tw_dose_limit limit[TW_DOSE_LIMITS];
    double risk;                /* chance that may be spent on crossing any limit, 0..1       */
    int margin;                 /* 1: take 1.645*sqrt(0.05*0.95/n) off for the number of members */
    double cap_g;               /* never more, whatever the possibilities say; 0: none        */
    double grid_g;              /* amounts that can be measured; 0: any                       */
    double weighing_sd_ln;      /* of the amount                                              */
    uint64_t seed;              /* draws of strength and weighing                             */
} tw_dose_ask;

/* What kept the dose from being larger. */
typedef enum tw_dose_bound {
    TW_BOUND_TARGET, /* nothing: the target is reached */
    TW_BOUND_LIMIT,  /* ask->limit[bound_limit]        */
    TW_BOUND_CAP,
    TW_BOUND_NONE_NEEDED /* the target is reached already */
} tw_dose_bound;

typedef struct {
    double grams;                     /* on the grid, rounded down; 0: nothing                 */
    double to_target_g;               /* what the target alone would take                      */
    double admissible_g;              /* largest dose within the risk                          */
    tw_dose_bound bound;
    size_t bound_limit;
    double chance[TW_DOSE_LIMITS];    /* of crossing each limit with `grams`                    */
    double chance_any;
    double chance_single[TW_DOSE_LIMITS]; /* the same if the whole of to_target_g went in at once */
    double after[TW_OF_QUANTITIES][3];/* 5, 50, 95 % after the dose, nothing lost to the air   */
    double single_ph;                 /* median pH if the whole of to_target_g went in at once */
    uint32_t steps;                   /* this one and those expected after it                  */
} tw_dose_step;

/* Bytes of working memory for n possible waters. */
size_t tw_dose_plan_bytes(size_t n);

/* One step.
 *   TW_ERR_RANGE     no waters, a risk outside 0..1, or the substance does not move the aim
 *   TW_ERR_CAPACITY  mem too small
 *   TW_ERR_NO_ROOT   the middle water cannot be speciated
 * A step of 0 g is TW_OK with its bound. */
tw_status tw_dose_plan(const tw_waters *waters, const tw_dose_ask *ask, void *mem, size_t bytes,
                       tw_dose_step *out);

/* Chance that a quantity is below a value, and its 5, 50, 95 % quantiles, as the waters stand. */
tw_status tw_dose_spread_of(const tw_waters *waters, tw_quantity_of_water of, void *mem, size_t bytes,
                            double out[3]);

/* The middle of the waters as one water (component-wise medians), and its mass in kg. */
tw_status tw_dose_middle(const tw_waters *waters, void *mem, size_t bytes, tw_water *out, double *water_kg);

#endif
