/* water/speciate.h: the pH and the species of one water.
 *
 * Pure: no I/O, no allocation, no state that outlives the call. Amounts are mol per kg of water.
 * Model and sources: docs/water.md. For many waters at one temperature make the constants once. */
#ifndef TW_WATER_SPECIATE_H
#define TW_WATER_SPECIATE_H

#include "water/constants.h"
#include "water/totals.h"

/* Where a pH is sought, and how salty the water may be. */
#define TW_WATER_PH_MIN 2.0
#define TW_WATER_PH_MAX 12.0
#define TW_WATER_IONIC_STRENGTH_MAX 0.5 /* mol/kg; checked against other codes up to 0.2 */

/* What cannot be, beside a status that is not TW_OK. */
typedef enum tw_water_fault {
    TW_WATER_FAULT_NONE,
    TW_WATER_FAULT_TEMPERATURE,    /* outside 0..45 C or not that of the constants              */
    TW_WATER_FAULT_TOTAL,          /* a total is negative, NaN or infinite: see total           */
    TW_WATER_FAULT_IONIC_STRENGTH, /* more salt than the activity law holds for                 */
    TW_WATER_FAULT_TOO_ACID,       /* the charges balance only below pH 2                       */
    TW_WATER_FAULT_TOO_ALKALINE,   /* the charges balance only above pH 12                      */
    TW_WATER_FAULT_ALKALINITY,     /* borate, cyanurate, ... and hydroxide alone make more alkalinity
                                      at this pH than the water has: no carbonate can be there   */
    TW_WATER_FAULT_SALT,           /* hardness and alkalinity ask for more sodium or chloride than
                                      the salt or conductivity allows                            */
    TW_WATER_FAULT_PH,             /* a pH that was given is not in 2..12                        */
    TW_WATER_FAULT_CO2_PRESSURE,   /* a CO2 pressure that was given is not above 0 and up to 10 atm */
    TW_WATER_FAULT_NOT_SETTLED,    /* TW_ERR_NO_CONVERGENCE; no known input leads here           */
    TW_WATER_FAULTS
} tw_water_fault;

/* Newton's matrix where it was last made, of the unknowns that a question has: a warm start takes its first step by it. */
typedef struct {
    double row[5][5];                          /* d balance/d ln activity as its inverse or factors        */
    double by_i[5];                            /* row^-1 of d balance/dI                                    */
    double strength_by_u[5], solutes_by_u[5], solutes_by_i;
    double strength_by_gap;                    /* dI/d(strength - I) along the balances, as good as it is known */
} tw_newton;

typedef struct {
    double ph;                        /* -log10 of the activity of H+                          */
    double ionic_strength_mol_per_kg;
    double water_activity;
    double mol_per_kg[TW_SPECIES];    /* molality of each species (TW_SPECIES_HCO3, ...)       */
    double ln_gamma[TW_SPECIES];      /* natural log of its activity coefficient               */
    double si_calcite;                /* log10(a_Ca a_CO3 / Ksp); -inf without Ca or carbonate */
    double log10_pco2_atm;            /* of the CO2 pressure in balance; -inf without carbonate */
    double dic_mol_per_kg;            /* sum over the carbon species                           */
    double strong_ion_alk_mol_per_kg; /* protons taken against CO2, H3BO3, H3Cy, HOCl, H3PO4   */
    double titrated_alk_mol_per_kg;   /* as a kit reads it: to pH 4.5, where phosphate is H2PO4- and
                                         doubly chlorinated cyanurate keeps its charge; chlorine
                                         left in the sample                                    */
    double sum_mol_per_kg;            /* of all solutes                                        */
    double ln_activity[5];            /* of H+, CO3, SO4, PO4, HOCl: what a warm start needs   */
    double made_at_k;                 /* and with which constants, of what, how many solves     */
    tw_cyanurate_set made_with;       /* ago the molalities were last made from nothing         */
    unsigned made_of;
    int made_for;                     /* which question                                        */
    int solves_ago;
    tw_newton newton;
    int steps;                        /* Newton steps taken                                    */
    tw_water_fault fault;             /* why not, when the status is not TW_OK                 */
    tw_total fault_total;             /* the total meant by TW_WATER_FAULT_TOTAL               */
} tw_speciation;

/* Find the pH at which the charges balance, with the constants of this temperature.
 *   TW_OK                  *out is filled
 *   TW_ERR_RANGE           temperature, a total or the ionic strength is outside what is covered
 *   TW_ERR_NO_ROOT         no pH in 2..12 balances
 *   TW_ERR_NO_CONVERGENCE  did not settle (no known input)
 * Otherwise every number of *out is NaN and fault says what cannot be. */
tw_status tw_water_speciate(const tw_constants *at, const tw_water *water, tw_speciation *out);

/* The same, started from a solution of a water nearby (any TW_OK result; other temperatures are
 * fine). Same answer within 1e-10, about a third of the time. start may be out itself. */
tw_status tw_water_speciate_from(const tw_constants *at, const tw_water *water,
                                 const tw_speciation *start, tw_speciation *out);

/* The water in balance with CO2 at a stated pressure, 10^log10_pco2_atm atm, without limit of gas and
 * nothing precipitating: DIC of *water is ignored and replaced by the one found; the strong ions stay. */
tw_status tw_water_equilibrate_co2(const tw_constants *at, tw_water *water, double log10_pco2_atm,
                                   tw_speciation *out);

/* Species at a stated pH; the charge is not balanced by the totals but by strong ions that are not
 * named: out->strong_ion_alk_mol_per_kg says how much of them there must be. What base or acid would
 * it take: the difference to tw_water_strong_ion_alk_mol_per_kg(water). */
tw_status tw_water_at_ph(const tw_constants *at, const tw_water *water, double ph, tw_speciation *out);

/* d alkalinity / d pH at constant totals but sodium, mol/kg per pH unit, by two solves at
 * pH +- 0.001 with sodium balancing (so that ionic strength follows, as in the tables). */
tw_status tw_water_buffer_intensity(const tw_constants *at, const tw_water *water,
                                    double *mol_per_kg_per_ph);

/* One English sentence part for a fault, for messages of developers and `solve`. Never NULL. */
const char *tw_water_fault_text(tw_water_fault fault);

/* log10 of the activity coefficient of a species. */
double tw_water_log10_gamma(const tw_speciation *sp, tw_species species);

/* Mol of water that the species of 1 kg hold bound against their parts (OH- holds one, CO2 has given
 * one up): water mass after a change = before + 18.0153e-3 * (bound before - bound after + brought). */
double tw_water_bound_mol_per_kg(const tw_speciation *sp);

#endif
