/* dose/plan.h: how much of one substance, for water that is known only as many possibilities.
 *
 * Every limit is monotone in the dose, so each possible water has its own largest dose, exactly; the
 * dose that crosses a limit with at most a stated chance is a quantile of those thresholds. No search
 * over doses, no tangent of pH. Target and limit are two numbers. Pure; memory from the caller. */
#ifndef TW_DOSE_PLAN_H
#define TW_DOSE_PLAN_H

#include <stddef.h>
#include <stdint.h>

#include "dose/apply.h"
#include "dose/quantity.h"
#include "num/status.h"
#include "water/reduced.h"

/* Possible waters: array of n for each quantity, equally likely unless weight says otherwise. The acids are
 * frozen once, at the middle water: members should be within some kelvin and a fifth of the salt of it
 * (then pH is within 0.009 of the full solve; within 0.002 at the middle's salt and below pH 7.8). */
typedef struct {
    size_t n;
    const double *water_kg;
    const double *temp_k;
    const double *total[TW_TOTALS]; /* mol per kg; sodium balances */
    const double *weight;           /* NULL: all the same          */
    double solvent_kg_per_l;        /* to speak in mg/L            */
} tw_waters;

typedef struct {
    tw_quantity_of_water of;
    double value;
    int is_floor; /* 1: must not fall below; 0: must not rise above */
} tw_dose_limit;

/* Most limits of one plan. */
#define TW_DOSE_LIMITS 8

typedef struct {
    const tw_substance *substance;
    tw_quantity_of_water aim;   /* what the dose is for                                       */
    double target;              /* value that the middle of the possibilities shall reach     */
    double aim_quantile;        /* which of the possible waters shall reach it: 0.5 usually   */
    size_t limits;
    tw_dose_limit limit[TW_DOSE_LIMITS];
    double risk;                /* chance that may be spent on crossing any limit, 0..1       */
    int margin;                 /* 1: take 1.645*sqrt(risk*(1-risk)/ESS) off: the members chose the dose;
                                   0.011 at 5 % and 1,000, so that the share worked at is 3.9 % */
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
} tw_dose_bound; /* when the grid left less than bound, bound still says what did it */

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
    double risk_worked_at;            /* ask->risk less the margin                             */
    double members;                   /* effective number of members, ESS                      */
    double off_grid_g;                /* what rounding down to the grid took from the dose     */
} tw_dose_step;

/* Bytes of working memory for n possible waters. */
size_t tw_dose_plan_bytes(size_t n);

/* One step: the least of target, admissible dose and cap, rounded down to the grid.
 *   TW_ERR_RANGE     no waters, one that is not a number or has no mass, a risk outside 0..1, too many limits
 *   TW_ERR_UNKNOWN   the substance does not move the aim
 *   TW_ERR_NO_ROOT   no amount brings the chosen water to the target, or the middle water has no pH
 *   TW_ERR_CAPACITY  mem too small
 * A step of 0 g is TW_OK with its bound. */
tw_status tw_dose_plan(const tw_waters *waters, const tw_dose_ask *ask, void *mem, size_t bytes,
                       tw_dose_step *out);

/* One step of a plan that has so much risk left for all of its steps (5 % at its start). Spends half of
 * what is left, or all of it when the target is reached with this step; takes what was spent off *left: the
 * whole share when a limit bound, else only the chance that the smaller dose has. ask->risk is ignored.
 * Spending 5 % each step would overshoot 9.5 % of plans of two steps. Statuses as tw_dose_plan. */
tw_status tw_dose_plan_share(const tw_waters *waters, const tw_dose_ask *ask, double *left, void *mem,
                             size_t bytes, tw_dose_step *out);

/* One of the waters. A total under zero, as members of a Gaussian have it where little is there, is taken as
 * zero and the alkalinity kept by the sodium. */
tw_water tw_dose_member(const tw_waters *waters, size_t member);

/* True grams of active for each gram meant, in one of n members: strength and weighing, log-normal, one draw a
 * member by seed and number. One water alone has no spread to speak of: then it is 1. */
double tw_dose_error_of(const tw_dose_ask *ask, size_t n, size_t member);

/* Kish's effective number of the waters: (sum w)^2 / sum w^2. */
double tw_dose_effective(const tw_waters *waters);

/* Share of a risk that may be worked at with so many members: the risk less 1.645 sqrt(risk (1 - risk)/members). */
double tw_dose_worked_at(double risk, double members);

/* 5, 50, 95 % quantiles of a quantity as the waters stand. */
tw_status tw_dose_spread_of(const tw_waters *waters, tw_quantity_of_water of, void *mem, size_t bytes,
                            double out[3]);

/* The middle of the waters as one water (medians of the totals, sodium for the median alkalinity), and its
 * mass in kg. */
tw_status tw_dose_middle(const tw_waters *waters, void *mem, size_t bytes, tw_water *out, double *water_kg);

/* The same, with the acids frozen there (statuses of tw_water_speciate as well). */
tw_status tw_dose_frozen(const tw_waters *waters, void *mem, size_t bytes, tw_water *middle, double *water_kg,
                         tw_reduced *k);

#endif
