/* dose/substance.h: what can be poured, as totals for each gram.
 *
 * A substance is a vector of conserved totals: pH, alkalinity and every side effect follow from it
 * through the water. Rows, sources and marks: data/substances.csv; the generator checks each row
 * against its formula. */
#ifndef TW_DOSE_SUBSTANCE_H
#define TW_DOSE_SUBSTANCE_H

#include "gen/dose_tables.h" /* enum tw_effect, tw_who, tw_hazard, tw_family, tw_ageing, tw_substance_id */
#include "units/text.h"
#include "water/totals.h"

typedef struct {
    const char *id;             /* as in entries                                            */
    const char *plain;          /* as said to a person: "dry acid (sodium bisulfate, 93 %)" */
    const char *name;           /* as a chemist says it                                     */
    double assay_mass_fraction; /* g active for each g of product                           */
    double assay_sd_ln;         /* how well the strength is known, sd of its logarithm      */
    double density_kg_per_l;    /* liquids; 0 for solids                                    */
    double bulk_density_kg_per_l; /* solids, +-20 %; 0 when not known                       */
    int liquid;
    tw_effect effect;
    tw_who who;
    tw_hazard hazard;
    tw_family family;           /* for what may follow what: dose/pairs.h                   */
    tw_ageing ageing;
    double loss_per_month;      /* share of its active chlorine lost in 30 days at 20..25 C */
    double measure_step;        /* usual grid of a person: g on a scale, mL in a jug        */
    double total_mol_per_g[TW_TOTALS]; /* negative: takes away */
} tw_substance;

/* How long to wait after a substance, by its effect (data/waits.csv). */
typedef struct {
    double wait_min; /* before anything else is added       */
    double test_min; /* before a reading means something    */
} tw_dose_wait;

/* The tables; indexed by tw_substance_id and tw_effect. */
extern const tw_substance tw_dose_substances[TW_SUBSTANCES];
extern const tw_dose_wait tw_dose_waits[TW_EFFECTS];

/* Words of the families, as in the table. */
extern const char *const tw_dose_families[TW_FAMILIES];

/* The row with this id; NULL when there is none. */
const tw_substance *tw_dose_substance_find(tw_text id);

/* A copy of a row with another strength, 0..1 as the percent on the box says it: mass fraction of the substance, of
 * chlorine what is available (granules by mass, solutions g in 100 mL: "12 %" is 120 g/L); or, for chlorine
 * solutions, another available chlorine (g Cl2 per litre). Totals scale with it, and a solution's density is that of its
 * nearest row. A strength of 0 leaves the row as it is. */
tw_substance tw_dose_substance_of_strength(const tw_substance *like, double on_box);
tw_substance tw_dose_substance_of_available(const tw_substance *like, double cl2_g_per_l);

/* Strong-ion alkalinity that a gram brings, eq; negative for acids. */
double tw_dose_alk_eq_per_g(const tw_substance *substance);

/* 1: what a gram brings weighs no more than a gram (by a thousandth), and no total is not a number. A row of the table
 * holds; one scaled to a strength that no product can have does not. Totals that are taken away weigh nothing. */
int tw_dose_substance_holds(const tw_substance *substance);

/* A copy after so many months on the shelf: active chlorine becomes chloride (chlorate is not followed), and
 * the strength is known half as well as the loss is large. Months 0 or more. */
tw_substance tw_dose_substance_aged(const tw_substance *like, double months);

/* Grams of one step of the person's usual measuring: a gram on a scale, 5 mL in a jug. */
double tw_dose_measure_g(const tw_substance *substance);

#endif
