/* estimate/events.h: one stretch of a tub's life as plain data.
 *
 * This is what the sampler reads. It knows nothing of logbooks: from_book.h makes it of entries,
 * tests and benchmarks make it by hand. Times are hours from the start of the water (the fill);
 * amounts are per kg of water; analytes in mmol per kg or mg Cl2 per kg; pH as read at the
 * temperature of the tub. */
#ifndef TW_ESTIMATE_EVENTS_H
#define TW_ESTIMATE_EVENTS_H

#include <stddef.h>
#include <stdint.h>

#include "num/status.h"
#include "water/totals.h"

/* What a reading speaks of, with its unit inside this room. */
typedef enum tw_observed {
    TW_OBSERVED_FREE_CHLORINE,     /* mg Cl2 per kg                               */
    TW_OBSERVED_TOTAL_CHLORINE,    /* mg Cl2 per kg                               */
    TW_OBSERVED_COMBINED_CHLORINE, /* mg Cl2 per kg                               */
    TW_OBSERVED_PH,                /* at the temperature of the tub               */
    TW_OBSERVED_ALKALINITY,        /* as titrated, meq per kg                     */
    TW_OBSERVED_CALCIUM,           /* mmol per kg                                 */
    TW_OBSERVED_HARDNESS,          /* calcium and magnesium, mmol per kg          */
    TW_OBSERVED_MAGNESIUM,         /* mmol per kg                                 */
    TW_OBSERVED_CHLORIDE,          /* mmol per kg (salt strips read this)         */
    TW_OBSERVED_CONDUCTIVITY,      /* uS/cm at 25 C                               */
    TW_OBSERVED_CYANURATE,         /* mmol per kg                                 */
    TW_OBSERVED_PHOSPHATE,         /* mmol per kg                                 */
    TW_OBSERVED_SULFATE,           /* mmol per kg                                 */
    TW_OBSERVED_BORATE,            /* mmol per kg                                 */
    TW_OBSERVED_WATER,             /* kg of water in the tub (volume evidence)    */
    TW_OBSERVEDS
} tw_observed;

/* The scale on which a reading's error is even: the quantity itself, or ln(quantity + offset). */
typedef enum tw_link { TW_LINK_PLAIN, TW_LINK_LN } tw_link;

/* A reading says: the truth, on its scale, plus bias plus N(0, sd), lies in low..high (form
 * INTERVAL) or is `value` (form VALUE). With probability `rubbish` it says nothing at all. */
typedef enum tw_reading_form { TW_FORM_VALUE, TW_FORM_INTERVAL } tw_reading_form;

typedef struct {
    double at_h;        /* when                                                             */
    int observed;       /* enum tw_observed                                                 */
    int link;           /* enum tw_link                                                     */
    int form;           /* enum tw_reading_form                                             */
    int source;         /* 1: of the water that was let in, before any dose                 */
    int bias;           /* index of the bias that it shares with others, -1 none            */
    double offset;      /* added before the logarithm (LN only), in the quantity's unit     */
    double value;       /* VALUE: on the reading's scale                                    */
    double low, high;   /* INTERVAL: on the reading's scale; +-infinity for an open end     */
    double sd;          /* on the reading's scale                                           */
    double rubbish;     /* 0..1, usually 0.02                                               */
    double misread;     /* VALUE: share that is of something else, TW_TAIL_VOLUME_MISREAD_WIDTH times as uncertain */
    double span;        /* width of what the instrument can show, on the scale (VALUE) or
                           number of its blocks (INTERVAL): what rubbish is spread over     */
    double bleach_low;  /* INTERVAL: a bleached pad: also possible when the truth is above
                           this, on the scale; +infinity when it cannot be                  */
    double temp_c;      /* pH of source water: of the sample; 15 when not known             */
    int standard;       /* 1: of a solution of known value, which tells of the bias alone   */
    double nominal;     /* standard: that value, on the reading's scale                     */
    double own_share;   /* chance that it was read on this side of all acts; 0: surely (tw_look) */
    uint32_t entry;     /* the caller's name for it                                         */
} tw_reading;

/* A reading written down long after it was taken may be of an hour before or after an act nearby: then it is a mixture
 * of the water at its own hour (tw_reading.own_share) and at these. The shares of one reading sum to one. */
typedef struct {
    double at_h;        /* an hour on the other side of an act                              */
    double share;       /* chance that the reading was taken there                          */
    int reading;        /* whose; looks stand in the order of their readings                */
} tw_look;

/* A fill is written when it is over, often in one sitting with what was read of it: something may have gone in before that
 * nobody wrote. It is told as done in the hour before, and a fill counts as a day of such acts (assumed: who fills has
 * the products at hand). */
#define TW_FILLING_H 1.0
#define TW_FILL_COUNTS_H 24.0

/* The entry of an act that nobody wrote. */
#define TW_ENTRY_NONE UINT32_MAX

/* How the amount of a dose is uncertain. */
typedef enum tw_amount_form {
    TW_AMOUNT_MEASURED, /* amount times exp(product error) times exp(own error)             */
    TW_AMOUNT_POSSIBLE  /* an open intent: between none and all of it                       */
} tw_amount_form;

typedef struct {
    double at_h;
    double mmol[TW_TOTALS];  /* what it brings, mmol altogether, all of it dissolved        */
    double alk_meq;          /* strong-ion alkalinity that it brings, meq                   */
    double demand_mg;        /* chlorine demand that it brings, mg Cl2                      */
    int solid_salt;          /* 1: lies on the floor first and dissolves                    */
    int product;             /* index of the product whose strength it shares, -1 none      */
    int form;                /* enum tw_amount_form                                         */
    double amount_sd;        /* own error of the amount, sd of ln; 0 when weighed           */
    uint32_t entry;
} tw_dose_event;

/* What an exchange says of the level. UNSAID: in_kg (negative, pure) is missing, and nobody knows how much of it
 * evaporated and how much was splashed out with what is dissolved in it. */
typedef enum tw_level { TW_LEVEL_AS_IT_WAS, TW_LEVEL_EVAPORATED, TW_LEVEL_UNSAID } tw_level;

/* Water out and in. out_kg leaves first, then in_kg of the source (or of nothing but water). */
typedef struct {
    double at_h;
    double out_kg, in_kg;
    double soft_fraction;    /* share of what came in that went through a softener          */
    int pure;                /* 1: evaporation or rain: nothing dissolved                   */
    int level;               /* enum tw_level: what it says of the level; the next one then fills up */
    uint32_t entry;
} tw_exchange_event;

/* From at_h on, until the next one. */
typedef struct {
    double at_h;
    double duty;             /* 0..1, share of time that the generator makes chlorine       */
    double stirred;          /* 0 still, 1 circulation, 5 jets: how fast salt dissolves     */
    double still;            /* share of time at the still, covered CO2 exchange (x kLa)    */
    double jets;             /* share of time at the CO2 exchange of jets or air            */
    double dries;            /* of what open water evaporates by the formula (level.h); 0: is not reckoned */
    double temp_c;           /* water temperature at at_h                                   */
    double temp_end_c;       /* at the next one (linear between)                            */
    int cell;                /* index of the condition of the cell (a new one after a fit,
                                a clean, or a jump of the salt)                             */
} tw_setting_event;

typedef struct {
    double at_h;
    double person_h;         /* bathers times hours                                         */
    uint32_t entry;
} tw_bather_event;

/* Most of each kind that one water (from fill to fill) may have. */
#define TW_MAX_READINGS 512
#define TW_MAX_LOOKS 64
#define TW_MAX_DOSES 128
#define TW_MAX_EXCHANGES 128
#define TW_MAX_SETTINGS 512
#define TW_MAX_BATHERS 64
#define TW_MAX_BIASES 12
#define TW_MAX_PRODUCTS 8
#define TW_MAX_CELLS 6
#define TW_MAX_WRITTEN_CELLS 4 /* of them, conditions that entries tell of; the rest is for what nobody wrote */
#define TW_MAX_DAYS 28       /* innovations; a longer water has longer "days"               */

/* How a coordinate x, N(0,1) before any reading, becomes a parameter.
 *   LN     exp(middle + sd*x)
 *   PLAIN  middle + sd*x
 *   SOFT   middle * ln(1 + exp(sd*x))/ln 2: median `middle`, falls like exp(sd*x), rises like x. For
 *          what is often too small to be seen: an upper bound from readings is then no cliff in x.
 *   SHARE  1/(1 + exp(-middle - sd*x)) */
typedef enum tw_prior_kind { TW_PRIOR_LN, TW_PRIOR_PLAIN, TW_PRIOR_SOFT, TW_PRIOR_SHARE } tw_prior_kind;
typedef struct {
    double middle;
    double sd;
    int kind;
} tw_prior;

/* Coordinates that every problem has; all are N(0,1) inside and go through their prior. */
typedef enum tw_coordinate {
    TW_X_WATER,        /* ln kg                                  */
    TW_X_LOSS,         /* ln 1/h at 38 C                         */
    TW_X_LOSS_EA,      /* kJ/mol                                 */
    TW_X_FILM,         /* soft 1/h                               */
    TW_X_FILM_HOURS,   /* ln h                                   */
    TW_X_DEMAND0,      /* soft mg/kg                             */
    TW_X_DEMAND_RATE,  /* ln kg/mg/h                             */
    TW_X_INFLOW,       /* soft mg/kg/h                           */
    TW_X_CHLORINE0,    /* soft mg/kg                             */
    TW_X_COMBINED,     /* soft mg/kg                             */
    TW_X_BATHER,       /* ln g/h                                 */
    TW_X_KLA_STILL,    /* ln 1/h                                 */
    TW_X_KLA_JETS,     /* ln 1/h                                 */
    TW_X_DISSOLVE,     /* ln 1/sqrt(h)                           */
    TW_X_ALKALINITY,   /* ln meq/kg                              */
    TW_X_CARBON,       /* ln CO2 over bicarbonate: its pH        */
    TW_X_HARDNESS,     /* ln mmol/kg, calcium and magnesium      */
    TW_X_CALCIUM_SHARE, /* share of calcium in it                */
    TW_X_CHLORIDE,     /* ln mmol/kg                             */
    TW_X_SULFATE,      /* ln mmol/kg                             */
    TW_X_CYANURATE,    /* ln mmol/kg                             */
    TW_X_BORATE,       /* ln mmol/kg                             */
    TW_X_PHOSPHATE,    /* ln mmol/kg                             */
    TW_X_IONS,         /* plain uS/cm, of ions nobody measures   */
    TW_X_EVAPORATION,  /* ln, over what the formula says         */
    TW_X_HOCL_PART,    /* share of the loss that follows HOCl    */
    TW_X_SCALE_RATE,   /* soft 1/h, of what stands over the index */
    TW_X_FIXED
} tw_coordinate;

/* Conductivity as the model needs it: uS/cm at 25 C =
 * base + per_alk*Alk + per_ca*Ca + per_mg*Mg + per_so4*SO4 + (cl[0] + cl[1]*sqrt(Cl))*Cl, mmol or meq/kg,
 * and what the ions bring that nobody measures (TW_X_IONS). */
typedef struct {
    double base, per_alk, per_ca, per_mg, per_so4, cl[2];
} tw_conductivity_fit;

/* What a water is at the hour at which it is cut, as further coordinates of the stretch that goes on from there.
 * Chlorine, demand, combined chlorine, water and what is left of the film stand in their own coordinates. */
typedef enum tw_cut_coordinate {
    TW_CUT_ALKALINITY, /* ln meq/kg, less active chlorine as everywhere in the sampler */
    TW_CUT_PH,         /* plain: of the water as it stands, instead of its carbon      */
    TW_CUT_CALCIUM,    /* ln mmol/kg                                                   */
    TW_CUT_MAGNESIUM,
    TW_CUT_CHLORIDE,
    TW_CUT_SULFATE,
    TW_CUT_CYANURATE,
    TW_CUT_BORATE,
    TW_CUT_PHOSPHATE,
    TW_CUT_REMNANT,    /* share of the chlorine that came out of a bottle              */
    TW_CUT_HEAP,       /* soft g of salt that lies on the floor                        */
    TW_CUTS
} tw_cut_coordinate;

/* What a coordinate that is carried over stands for: an enum tw_coordinate, or one of these (CUT + tw_cut_coordinate). */
enum tw_carried {
    TW_CARRIED_CELL = TW_X_FIXED,
    TW_CARRIED_BIAS,
    TW_CARRIED_PRODUCT,
    TW_CARRIED_LOSS_DAY, /* the day's deviation of ln loss, and of ln output, on the first day */
    TW_CARRIED_MADE_DAY,
    TW_CARRIED_CUT
};

/* Most coordinates that one stretch of water hands on to the next: all fixed ones but borate and cyanurate of the
 * source and evaporation, a cell, two days, the water itself. */
#define TW_MAX_CARRIED (TW_X_FIXED + TW_CUTS + TW_MAX_BIASES + TW_MAX_PRODUCTS)

/* What the water before taught, as the prior of some coordinates together: a Student-t around `mean`, with
 * minus ln density (freedom + n)/2 * ln(1 + q/freedom), q = (x - mean)' precision (x - mean); freedom 0: a normal. */
typedef struct {
    size_t n;                          /* 0: nothing is carried, every coordinate is N(0,1)  */
    double freedom;
    int what[TW_MAX_CARRIED];          /* enum tw_coordinate or tw_carried                   */
    int index[TW_MAX_CARRIED];         /* of the bias, of the product; else 0                */
    double mean[TW_MAX_CARRIED];
    double sd[TW_MAX_CARRIED];         /* of each alone                                      */
    double precision[TW_MAX_CARRIED * TW_MAX_CARRIED]; /* rows of n                          */
} tw_carry;

/* A stretch that goes on where another one of the same water ended: what is known there for certain. */
typedef struct {
    double acid_temp_c, ionic_mol_per_kg; /* of the constants that the pH at the cut was reckoned with */
    int heap;                          /* 1: solid salt was poured                           */
    double low;                        /* of the water: level below the line, on the average */
    double stirred_h;                  /* stirred hours since that pour                      */
    double dose_h, any_dose_h, bathers_h; /* hours since the last chlorine, addition, bathers; 1e9 none */
    uint32_t readings, chlorine_readings; /* of this water until then                        */
} tw_cut;

/* One problem. Lists need not be sorted; equal times are taken in the order of the lists below:
 * settings, exchanges, doses, bathers, readings (a reading sees what was done at its hour); with
 * `by_entry` in the order of `entry` after the settings, as people read and pour in one minute. */
typedef struct {
    double now_h;                       /* the hour to which the belief is carried          */
    double film_from_h;                 /* film and demand begin to be used: first chlorine */
    double days_from_h;                 /* innovations start here                           */
    tw_prior prior[TW_X_FIXED];
    tw_carry carry;                     /* what the water before says of some coordinates   */
    double bias_sd[TW_MAX_BIASES];      /* on the scale of its readings                     */
    uint64_t bias_name[TW_MAX_BIASES];  /* of its bottle or instrument; 0: has no name      */
    uint64_t bias_here[TW_MAX_BIASES];  /* the same within one water, where kinds have names too */
    double product_sd[TW_MAX_PRODUCTS]; /* of ln strength                                   */
    uint64_t product_here[TW_MAX_PRODUCTS]; /* its name within one water                    */
    double plate_output_g_per_h;        /* middle of the prior of the output                */
    double output_sd;                   /* extra sd of ln output when there is no plate     */
    double plate_salt_mmol_per_kg;      /* chloride below which output falls; 0: not known  */
    double day_sd;                      /* of the AR(1) deviations of ln loss and ln output */
    double soft_fraction;               /* of the first fill                                */
    int filled;                         /* 1: hour 0 is a fill's: of the water nothing was before it */
    int goes_on;                        /* 1: from a cut, not from a fill: `cut` holds      */
    tw_cut cut;
    int by_entry;                       /* 1: equal times are taken in the order of `entry` */
    tw_conductivity_fit conductivity;
    int part_of[TW_MAX_CELLS];          /* 0: a condition of its own; 1 + a condition: that one for a share of the time */
    double part_h[TW_MAX_CELLS];        /* how long, hours; the share is a coordinate       */
    double idle_h;                      /* hours off that nobody wrote, between two such shares */
    size_t readings, looks, doses, exchanges, settings, bathers, biases, products, cells;
    tw_reading reading[TW_MAX_READINGS];
    tw_look look[TW_MAX_LOOKS];
    tw_dose_event dose[TW_MAX_DOSES];
    tw_exchange_event exchange[TW_MAX_EXCHANGES];
    tw_setting_event setting[TW_MAX_SETTINGS];
    tw_bather_event bather[TW_MAX_BATHERS];
} tw_problem;

/* What is known of a water before anything is read of it. */
typedef enum tw_estimate_water {
    TW_WATER_RUNNING, /* of a tub that is said to be in care: salted, chlorinated                */
    TW_WATER_FRESH,   /* newly filled                                                            */
    TW_WATER_FOUND    /* read before any fill was written: of a hose or of years, nobody said    */
} tw_estimate_water;

/* Fill a problem with the priors of data/priors.csv for this kind of water,
 * no events, a plate output of 0.15 g/h. */
void tw_estimate_problem_init(tw_problem *problem, tw_estimate_water water);

#endif
