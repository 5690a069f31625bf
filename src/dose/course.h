/* dose/course.h: what to pour, visit after visit, until the water stands in its bands.
 *
 * A visit is what is done between two retests: at most one exchange of water, at most three additions in a safe
 * order with the waits between them, and air. A course is the visits that the water will probably need; only its
 * first visit is to be done, for the retest after it says more than is known today. The first visit is chosen for
 * the fewest visits, the retest's likely answers counted in; then for the fewest attended minutes; then for the
 * least mass; and so that the chance that the course ever crosses a hard limit stays within the risk that is left.
 * Pure and deterministic; memory from the caller. Model: docs/dose.md.
 *
 * Stable for callers: tw_course_ask, tw_course, their parts, tw_dose_course and tw_dose_course_defaults. Members may be
 * added at the end of a struct: zero the ask by tw_dose_course_defaults and a new member means what it meant before. */
#ifndef TW_DOSE_COURSE_H
#define TW_DOSE_COURSE_H

#include "dose/apply.h"
#include "dose/pairs.h"
#include "dose/members.h"

#define TW_COURSE_STOCK 16     /* most products on hand             */
#define TW_COURSE_ADDITIONS 3  /* most additions of a visit         */
#define TW_COURSE_VISITS 12    /* most visits of a course           */
#define TW_COURSE_LIMITS 17    /* two for each quantity, and the saturation index */
#define TW_COURSE_BEFORE 8     /* most earlier additions that count */

/* ---------------------------------------------------------------------------------------------- what is asked */

/* One quantity. The band is where it shall lie, the hard limits what must never be crossed: target and limit are
 * two numbers. NaN where there is none; without a target the quantity is only limited. */
typedef struct {
    double low, target, high;
    double hard_low, hard_high;
} tw_course_band;

/* One product on hand. */
typedef struct {
    tw_substance substance; /* strength, age and tolerance as believed: dose/substance.h         */
    double left_g;          /* NaN: enough                                                       */
    double grid_g;          /* what can be measured: grams of one mark of the scale, scoop or jug; 0: any amount */
    double weighing_sd_ln;  /* of an amount, sd of its logarithm                                 */
    double single_g;        /* the label's largest single addition; 0: none said                 */
    int barred;             /* 1: not here (the profile bars it, the box is doubted)             */
} tw_course_stock;

/* How the retest reads a quantity: value + N(0, sd_abs^2 + (sd_rel value)^2), to the nearest step. Both 0: not read. */
typedef struct {
    double sd_abs, sd_rel, step;
} tw_course_test;

/* What went in before this visit and may still matter: minutes since, NaN when not known. */
typedef struct {
    tw_family family;
    double minutes_ago;
} tw_course_before;

typedef struct {
    const tw_waters *waters; /* what is believed of the water                                              */
    const tw_waters *judges; /* other members of the same belief, to judge what `waters` chose; NULL: the same
                                members with errors of strength and weighing drawn anew                    */
    tw_course_band band[TW_OF_QUANTITIES];
    double si_high;          /* calcite saturation index that a dose must not lift the water over; NaN: none.
                                Soda or calcium into hard hot water makes milk                              */
    size_t stocks;
    tw_course_stock stock[TW_COURSE_STOCK];
    tw_who pours;            /* whom the plan is for: products of a higher class are left out. Never calculator */
    double largest_change[TW_OF_QUANTITIES]; /* of one step in the quantity's unit, for rough_water_kg; 0: none.
                                                The cap that no mistake in what is believed can lift; of pH: not used */
    double rough_water_kg;   /* for those caps; 0: the middle of the members                               */

    /* Moves besides products. */
    double air_hours;        /* most hours of jets and air in a visit, cover off; 0: none                  */
    double air_to_ph;        /* air is ended by a reading of this pH (7.6 between steps of acid)           */
    double air_read_sd;      /* how well that reading tells pH                                             */
    double kla_jets_per_h;   /* exchange of carbon dioxide with jets, 1/h; its sd of the logarithm below  */
    double kla_sd_ln;
    double air_co2_atm;      /* carbon dioxide over the water; 4.2e-4 outdoors                             */
    double jets_stop_min;    /* jets stop by themselves after so long: somebody presses again; 0: they do not */
    double exchange_most;    /* largest share of the water that may be changed in a visit, 0..1            */
    tw_water source;         /* what it is refilled with                                                   */
    double exchange_l_per_min; /* draining and filling, both counted                                       */
    double loss_per_h;       /* of free chlorine, for waiting; 0: waiting is no move                       */

    double risk;             /* what is left of the course's chance to cross a hard limit; 0.05 at its start */
    double reach;            /* chance with which a quantity shall lie in its band; 0.9 usually            */
    tw_course_test test[TW_OF_QUANTITIES]; /* of the retest                                                */
    double pour_min;         /* attended minutes of one addition                                           */
    double test_min;         /* attended minutes of a retest                                               */
    double way_min;          /* attended minutes of coming at all                                          */
    size_t befores;
    tw_course_before before[TW_COURSE_BEFORE];
    double ready_by_min;     /* minutes from now to the hour at which all shall be in band; NaN: no hour   */
    double between_min;      /* least minutes from a retest to the next visit's first act; 0: the same stay */
    uint64_t seed;           /* draws of strength, weighing, air and readings                              */
    size_t visits_most;      /* tell so many visits at most: 1 saves those that are only foretold; 0: all  */
} tw_course_ask;

/* ------------------------------------------------------------------------------------------ what is answered */

/* 5, 50, 95 % of each quantity. */
typedef struct {
    double of[TW_OF_QUANTITIES][3];
} tw_course_spread;

typedef struct {
    uint32_t stock;       /* index into ask->stock                                                          */
    double grams;         /* meant, on the grid                                                             */
    double start_min;     /* after the visit begins                                                         */
    double wait_min;      /* after it, before anything else goes in                                         */
    double test_min;      /* after it, before a reading of what it moves means something                    */
    int apart;            /* 1: another place and vessel than the addition apart_from of this visit, or what went
                             in before when apart_from is TW_COURSE_ADDITIONS                               */
    uint32_t apart_from;
    tw_message why;       /* the pair's sentence; TW_MESSAGES: nothing known against it                     */
    double moved[TW_OF_QUANTITIES]; /* what it changes in the middle water, fresh; mg/L, pH closed          */
    double spent[TW_OF_QUANTITIES]; /* the same once its chlorine has been used up: acid, chloride          */
    double off_grid_g;    /* unrounded optimum less what the grid left                                      */
    double left_g;        /* on hand afterwards; NaN: enough                                                */
    tw_course_spread after;
} tw_course_addition;

/* What a visit does besides: 0 where it does not. */
typedef struct {
    double exchange_share, exchange_l;
    double air_hours;        /* by the middle water; a reading ends it                                      */
    double air_hours_slow;   /* 95 %: what the hour counts                                                  */
    double air_to_ph;
    uint32_t air_after;      /* after how many additions of the visit                                       */
    uint32_t air_presses;    /* how often somebody presses jets that stop by themselves                     */
    double wait_hours;       /* for chlorine to fall                                                        */
} tw_course_moves;

typedef struct {
    int quantity;         /* tw_quantity_of_water; TW_OF_QUANTITIES: the saturation index                   */
    int is_floor;
    double value;
    double chance;        /* of crossing it at any moment of the visit, none having been crossed in this course before */
} tw_course_limit;

/* What kept the visit from doing more. */
typedef enum tw_course_bound {
    TW_COURSE_BOUND_NOTHING, /* its aims are reached                    */
    TW_COURSE_BOUND_LIMIT,   /* limit[bound_limit]                      */
    TW_COURSE_BOUND_CAP,     /* largest change or label, of addition bound_at */
    TW_COURSE_BOUND_STOCK,   /* what is left, of addition bound_at      */
    TW_COURSE_BOUND_ROOM     /* three additions, or pairs that do not go together in one visit */
} tw_course_bound;

typedef struct {
    size_t additions;
    tw_course_addition addition[TW_COURSE_ADDITIONS];
    tw_course_moves moves;
    size_t limits;
    tw_course_limit limit[TW_COURSE_LIMITS];
    double chance_any;           /* of crossing any, by the judges, likewise                                */
    double risk_worked_at;       /* share that the visit might spend, of the course's risk less the margin  */
    double risk_spent, risk_left;/* what it takes off the course's risk, and what travels on                */
    tw_course_bound bound;
    size_t bound_limit, bound_at;
    tw_course_spread after;      /* when all is in                                                          */
    double in_band[TW_OF_QUANTITIES]; /* chance to lie in the band afterwards; NaN without one              */
    double in_band_all;
    double start_min;            /* from now, at the earliest                                               */
    double last_start_min;       /* to be ready by the hour; NaN without one                                */
    double retest_min;           /* from the visit's begin: the first hour at which readings mean something */
    double attended_min, unattended_min;
    double grams;                /* of all additions                                                        */
} tw_course_visit;

typedef enum tw_course_stands {
    TW_COURSE_IN_BAND,       /* nothing to do                                                               */
    TW_COURSE_GOES,          /* visits reach the bands                                                      */
    TW_COURSE_GOES_ON,       /* it goes, but not within TW_COURSE_VISITS or as well as `reach`              */
    TW_COURSE_NO_PRODUCT,    /* `blocked` must move and nothing on hand may move it                         */
    TW_COURSE_NO_ROOM        /* a hard limit leaves no measurable amount                                    */
} tw_course_stands;

/* The cheapest change that would free a course that does not go. */
typedef enum tw_course_freed {
    TW_COURSE_FREED_NOT,
    TW_COURSE_FREED_BY_PRODUCT,  /* of_substance, grams of it (not on hand)                                 */
    TW_COURSE_FREED_BY_EXCHANGE, /* share of the water                                                      */
    TW_COURSE_FREED_BY_STOCK,    /* grams more of stock `of_stock`                                          */
    TW_COURSE_FREED_BY_GRID,     /* a finer measure: grams, of stock `of_stock`                             */
    TW_COURSE_FREED_BY_TEST,     /* a reading of `quantity` that is as good as `sd`                         */
    TW_COURSE_FREED_BY_LIMIT,    /* the limit `limit` at `value` instead                                    */
    TW_COURSE_FREED_BY_AIR       /* so many hours of air, to pH `value`: water with less carbon dioxide than the air
                                    gives takes some up                                                     */
} tw_course_freed;

typedef struct {
    tw_course_freed by;
    uint32_t of_stock;
    tw_substance_id of_substance;
    int quantity;
    tw_course_limit limit;   /* which one stands in the way, with its chance for the least measurable amount */
    double grams, share, sd, value;
    double hours;
} tw_course_free;

/* The next best first visit that was not taken, and what it costs more. */
typedef struct {
    int is;                  /* 0: there was none                                                           */
    size_t additions;
    uint32_t stock[TW_COURSE_ADDITIONS];
    double grams[TW_COURSE_ADDITIONS];
    double exchange_share, air_hours;
    double more_visits, more_attended_min, more_grams; /* its price, in the order in which they count; later ones may
                                                          be below zero                                     */
} tw_course_other;

typedef struct {
    tw_course_stands stands;
    int blocked;                 /* quantity that stands in the way; TW_OF_QUANTITIES: none                 */
    tw_course_free free;
    size_t visits;
    tw_course_visit visit[TW_COURSE_VISITS]; /* the first to be done, the others foretold without their retests */
    double expected_visits;      /* with the retests, this one included                                     */
    double attended_min, unattended_min, grams; /* of all visits told                                       */
    double chance_ever;          /* share of the judges that cross a hard limit at any visit told, or have before */
    double risk_left;            /* after the first visit: hand it on as the next ask's risk                */
    tw_course_other other;
    double rounding_visits, rounding_grams; /* what the measures cost: expected visits and grams more than with any
                                               amount                                                       */
    double ready_min;            /* from now: all in band and read                                          */
    int cannot_be_ready;         /* 1: not by the hour asked                                                */
    double members;              /* ESS of the judges                                                       */
    size_t promised_visits;      /* no retest that was looked at needs more; 0: no such number to promise           */
} tw_course;

/* Fills an ask with what is usual: no bands, no products, risk 0.05, reach 0.9, kit-like readings, 5 min an addition. */
void tw_dose_course_defaults(tw_course_ask *ask);

/* Bytes of working memory for n possible waters and as many judges at most. */
size_t tw_dose_course_bytes(size_t n);

/* The course. TW_OK also when there is nothing to do or nothing goes: `stands` says it.
 *   TW_ERR_RANGE     no water, or one that is none (dose/members.h); a band whose edges cross; a risk outside 0..1; too many products
 *   TW_ERR_NO_ROOT   the middle water has no pH
 *   TW_ERR_CAPACITY  mem too small */
tw_status tw_dose_course(const tw_course_ask *ask, void *mem, size_t bytes, tw_course *out);

#endif
