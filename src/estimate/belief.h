/* estimate/belief.h: what is known of one tub at one hour, as equally likely possibilities.
 *
 * A belief is n members. Each member is one complete possible tub: its water, its plumbing, its
 * cell. Every member is as likely as every other; whatever is asked is asked of all of them
 * (a probability is a share of members, an interval is two quantiles). Arrays are one after another
 * for each quantity, member i at index i of every array. Model and sources: docs/estimate.md. */
#ifndef TW_ESTIMATE_BELIEF_H
#define TW_ESTIMATE_BELIEF_H

#include <stddef.h>
#include <stdint.h>

#include "water/totals.h"

/* What every member says beside its totals. Concentrations per kg of water, times in hours. */
typedef enum tw_column {
    TW_COLUMN_WATER_KG,            /* water in the tub                                          */
    TW_COLUMN_TEMP_K,              /* temperature of the water                                  */
    TW_COLUMN_CHLORINE_MG_PER_KG,  /* free chlorine as Cl2 (also in total[TW_TOTAL_ACTIVE_...]) */
    TW_COLUMN_REMNANT_MG_PER_KG,   /* the part of it that came out of a bottle, box or hose     */
    TW_COLUMN_MADE_MG_PER_KG,      /* the part that the generator made; the two add up          */
    TW_COLUMN_DEMAND_MG_PER_KG,    /* chlorine that what is in the water can still use up       */
    TW_COLUMN_COMBINED_MG_PER_KG,  /* combined chlorine as Cl2                                  */
    TW_COLUMN_UNDISSOLVED_G,       /* salt that lies on the floor                               */
    TW_COLUMN_PH,                  /* pH of this member's water now                             */
    TW_COLUMN_LOSS_38_PER_H,       /* first-order loss at 38 C, pH 7.5, no cyanurate; without film and day's chance */
    TW_COLUMN_LOSS_NOW_PER_H,      /* first-order loss now: temperature, HOCl, film and day included */
    TW_COLUMN_LOSS_EA_KJ_PER_MOL,  /* activation energy of the loss                             */
    TW_COLUMN_LOSS_DAY,            /* today's deviation of ln loss, in its standard deviations  */
    TW_COLUMN_FILM_PER_H,          /* what is left of the loss to the film on the pipes         */
    TW_COLUMN_FILM_HOURS,          /* time in which the film's part falls to 1/e                */
    TW_COLUMN_DEMAND_RATE,         /* k_d, kg per mg and hour                                   */
    TW_COLUMN_DEMAND_INFLOW,       /* demand that appears by itself, mg per kg and hour         */
    TW_COLUMN_BATHER_G_PER_H,      /* chlorine that one bather uses up in an hour of bathing    */
    TW_COLUMN_OUTPUT_G_PER_H,      /* chlorine made at full duty, with today's deviation        */
    TW_COLUMN_CELL_FACTOR,         /* output over the plate's output, without the day's chance  */
    TW_COLUMN_OUTPUT_DAY,          /* today's deviation of ln output, in standard deviations    */
    TW_COLUMN_KLA_STILL_PER_H,     /* CO2 exchange, covered, circulation only, at 20 C          */
    TW_COLUMN_KLA_JETS_PER_H,      /* CO2 exchange, jets or blower with the cover off, at 20 C  */
    TW_COLUMN_LOG_LIKELIHOOD,      /* of all readings, for calibration                          */
    TW_COLUMN_DISSOLVE_PER_H,      /* lying salt: exp(-this*sqrt(pumped hours at 38 C)) is left */
    TW_COLUMN_IONS_US_PER_CM,      /* conductivity of ions that are no total here: nitrate, ... */
    TW_COLUMN_HOCL_PART,           /* part of the loss that follows HOCl; 0 where no pH was read */
    TW_COLUMN_SCALE_PER_H,         /* share of what stands over the index of scale that forms in an hour */
    TW_COLUMNS
} tw_column;

/* Named numbers for tw_estimate_known and for the learned shares. */
typedef enum tw_known {
    TW_KNOWN_WATER,      /* kg of water (the volume)                                   */
    TW_KNOWN_LOSS,       /* loss at 38 C                                               */
    TW_KNOWN_LOSS_EA,    /* how the loss depends on temperature                        */
    TW_KNOWN_FILM,       /* film on the pipes                                          */
    TW_KNOWN_DEMAND0,    /* demand at the start of this water                          */
    TW_KNOWN_DEMAND_RATE,
    TW_KNOWN_INFLOW,     /* continuing demand                                          */
    TW_KNOWN_CELL,       /* cell factor of the present cell condition                  */
    TW_KNOWN_KLA_STILL,
    TW_KNOWN_KLA_JETS,
    TW_KNOWN_ALKALINITY, /* alkalinity of the water that was let in                    */
    TW_KNOWN_CARBON,     /* its carbon beside its alkalinity                           */
    TW_KNOWN_HARDNESS,
    TW_KNOWN_CHLORIDE,
    TW_KNOWN_CYANURATE,
    TW_KNOWN_PHOSPHATE,
    TW_KNOWN_DISSOLVE,   /* how fast lying salt dissolves                              */
    TW_KNOWNS
} tw_known;

/* Flags of a belief; 0 is the plain case. */
enum {
    TW_BELIEF_NO_VOLUME = 1u,       /* nobody has said anything about the volume               */
    TW_BELIEF_NO_PLATE_OUTPUT = 2u, /* the plate's output is not known: wide prior             */
    TW_BELIEF_NO_CELL = 4u,         /* no generator is entered                                 */
    TW_BELIEF_OPEN_INTENT = 8u,     /* an announced dose may or may not be in the water        */
    TW_BELIEF_PRIOR_FRAME = 16u,    /* the search for the best point failed: prior as frame    */
    TW_BELIEF_REPEATED = 32u,       /* chains moved badly once and were run again, finer       */
    TW_BELIEF_STILL_BAD = 64u,      /* and moved badly again: intervals may be too narrow      */
    TW_BELIEF_NEWER = 128u,         /* an entry of a newer version was left out                */
    TW_BELIEF_TRUNCATED = 256u,     /* a long or crowded water: only its latest part was used  */
    TW_BELIEF_NOT_STARTED = 512u,   /* no fill and no reading of tub water yet: prior only     */
    TW_BELIEF_DOSE_UNKNOWN = 1024u  /* an addition could not be read as a substance            */
};

/* A reading that the rest of the logbook makes hard to believe. */
typedef struct {
    uint32_t entry;      /* index of the entry in the book that was folded            */
    double probability;  /* that it is rubbish: 0.5 and above are listed              */
    double expected[3];  /* what was to be expected by who does not take it: 5, 50, 95 %, in the unit of estimate/events.h */
    int observed;        /* enum tw_observed of estimate/events.h                     */
} tw_contradiction;

/* Most contradictory readings that are listed. */
#define TW_CONTRADICTIONS 16

/* Five quantiles of a quantity. */
typedef struct {
    double q05, q25, q50, q75, q95;
} tw_spread;

/* By how much the readings of one bottle, kit or meter are off together. */
typedef struct {
    uint32_t entry;      /* of its first reading: names the bottle or the instrument          */
    int observed;        /* enum tw_observed                                                  */
    int by_factor;       /* 1: shift is of ln (reads high by a factor), 0: in the unit inside */
    double sd;           /* of the shift before any reading                                   */
    tw_spread shift;
} tw_shared_bias;

#define TW_SHARED_BIASES 12 /* of one water */

/* What the water before taught, as it stood when this one began: 5, 50, 95 %; zeros where nothing is carried. */
typedef struct {
    uint32_t waters;        /* how many waters taught it; 0: this is the first that is known */
    double water_kg[3];
    double loss_per_h[3];   /* at 38 C                       */
    double cell[3];         /* factor of the plate's output  */
} tw_before;

/* An act that nobody wrote down, in which some of the members believe. */
typedef struct {
    int act;                /* enum tw_unlogged of estimate/explain.h                            */
    double probability;     /* that it was done; the members share it in eighths (fewer chains: quarters) */
    double from_h, until_h; /* the readings between which it was done, hours before now           */
    uint32_t entry;         /* index of the first reading that shows it                           */
    tw_spread size;         /* mg of free chlorine, or of what used it up, per kg of water; generator off: hours */
} tw_unwritten;

#define TW_UNWRITTENS 8 /* most acts that members believe in at once */

typedef struct {
    size_t n;                          /* members                                               */
    int64_t at_utc_s;                  /* the hour it speaks of                                 */
    double *column[TW_COLUMNS];        /* n values each                                         */
    double *total[TW_TOTALS];          /* n values each, mol per kg; Na is what balances        */
    double *block;                     /* all of them, contiguous: (TW_COLUMNS+TW_TOTALS)*n     */
    double *scratch;                   /* 2 n values that questions may overwrite               */
    double learned[TW_KNOWNS];         /* 1 - var(posterior)/var(prior), 0..1; under 0.2 say
                                          "assumed, not learned"                                */
    double density_kg_per_l;           /* of the water now: mg/L = mg/kg * density              */
    double plate_output_g_per_h;       /* 0 when unknown                                        */
    double plate_salt_mmol_per_kg;     /* chloride below which output falls; 0 when unknown     */
    double duty;                       /* share of time the generator now makes chlorine, 0..1  */
    double hours_since_dose;           /* since the last chlorine product; 1e9 when none        */
    double hours_since_any_dose;       /* since the last addition of anything                   */
    double hours_since_bathers;        /* since the last bathers left                           */
    double film_age_h;                 /* since the film began to be used up; < 0 not yet       */
    double temp_set_c;                 /* set-point or last temperature                         */
    double day_sd, day_h, day_left_h;  /* day-to-day chance: sd of ln, length, rest of this one */
    double stirred_h;                  /* salt on the floor: stirred hours since its last pour  */
    double ionic_mol_per_kg;           /* nominal, for the constants of the acids               */
    double ec_fit[7];                  /* conductivity of the totals, see estimate/events.h; the
                                          column of other ions comes on top                     */
    uint32_t readings;                 /* how many readings informed it                         */
    uint32_t chlorine_readings;        /* of free chlorine                                      */
    uint32_t flags;                    /* TW_BELIEF_...                                         */
    uint32_t contradictions;           /* how many of the list below are used                   */
    tw_contradiction contradiction[TW_CONTRADICTIONS];
    uint32_t biases;                   /* how many of the list below are used                   */
    tw_shared_bias bias[TW_SHARED_BIASES];
    tw_before before;
    uint32_t unwrittens;               /* how many of the list below are used, likeliest first;
                                          they exclude each other                               */
    tw_unwritten unwritten[TW_UNWRITTENS];
    uint32_t chains, written_chains;   /* member i is of chain i % chains; the first written_chains
                                          of them take the logbook as it is written. 0, 0: all  */
    double log_evidence_floor;         /* mean log-likelihood of the members, for tests         */
    double acceptance;                 /* of the chains, 0..1                                   */
    double lag1;                       /* correlation from one kept state to the next           */
    uint64_t seed;                     /* of the tub; the forecast draws from it too            */
    uint32_t segment;                  /* number of this water, counted from 0                  */
    uint32_t days_drawn;               /* of the forecast's stream: days that have come since the last entry */
    uint32_t most_entries;             /* of its water that were used at most                   */
    double since_h, unread_h;          /* from the last reading of chlorine to the last entry, and since: so long members may have
                                          done what nobody wrote (unseen.h, later.h); the second is not kept */
    uint8_t digest[32];                /* names everything above: print.h of the members        */
} tw_belief;

/* Quantiles of n values (n >= 1, no NaN). scratch: n values, overwritten. */
tw_spread tw_estimate_spread(const double *value, size_t n, double *scratch);

/* Quantiles of one column of a belief, and of free chlorine etc. in mg per litre of water. */
tw_spread tw_estimate_column(const tw_belief *belief, tw_column column);
tw_spread tw_estimate_column_mg_per_l(const tw_belief *belief, tw_column column);

/* Quantiles of the volume in litres at the present temperature. */
tw_spread tw_estimate_volume_l(const tw_belief *belief);

/* Share of the members whose column is below a limit. */
double tw_estimate_below(const tw_belief *belief, tw_column column, double limit);

/* Quantiles of what a perfect instrument would read now, in the units of estimate/events.h turned
 * to the trade's: mg/L (as Cl2, as CaCO3, as NaCl, as H3Cy, as PO4, as SO4, as B), pH, uS/cm.
 * observed: enum tw_observed. */
tw_spread tw_estimate_now(const tw_belief *belief, int observed);

/* One member's value of it in the units of estimate/events.h. */
double tw_estimate_inside(const tw_belief *belief, int observed, size_t member);

/* What was to be expected of a contradiction, units as tw_estimate_now; water in litres. q25 and q75 stay at the middle. */
tw_spread tw_estimate_expected(const tw_belief *belief, const tw_contradiction *contradiction);

/* The chance that a reading, written so, would be called rubbish once it is entered: TW_DOUBTFUL and above
 * is listed as a contradiction, and asked back before. -1 when the instrument has no model for it. */
#define TW_DOUBTFUL 0.5
struct tw_written_reading;
double tw_estimate_doubt(const tw_belief *belief, const struct tw_written_reading *written);

/* The least and the greatest value that would not be doubted of a reading by this instrument and scale
 * (the value of `like` only tells the size of its drops), and the middle of what is believed. Units as
 * tw_estimate_now. likely[0] low, [1] middle, [2] high. */
void tw_estimate_plausible(const tw_belief *belief, const struct tw_written_reading *like, double likely[3]);

/* Digest of every number of the belief (little-endian doubles); fills belief->digest. */
void tw_estimate_seal(tw_belief *belief);

#endif
