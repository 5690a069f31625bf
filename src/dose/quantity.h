/* dose/quantity.h: what is limited or aimed at, in the trade's units.
 *
 * Every quantity but pH is a sum over the totals of the water, so that a dose moves it in a straight
 * line; pH follows from the charge balance. Pure. */
#ifndef TW_DOSE_QUANTITY_H
#define TW_DOSE_QUANTITY_H

#include "water/reduced.h"

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

/* The quantity of these totals (mol per kg; or mol, then the result is for each kg less), mg/L, with
 * solvent_kg_per_l kg of water in a litre. Linear in the totals. pH is no such sum: 0. */
double tw_dose_quantity(tw_quantity_of_water of, const double total[TW_TOTALS], double solvent_kg_per_l);

/* The same of a water, pH by acids that are frozen near it. */
double tw_dose_value(const tw_reduced *acids, tw_quantity_of_water of, const tw_water *water, double solvent_kg_per_l);

/* How much a pH limit is taken on the side away from harm, for what the reduced form may be off against the
 * full solve after a dose (water/reduced.h): 0.003 up to pH 7.8, rising to 0.03 at 8.8. Targets stay. */
double tw_dose_ph_gap(double ph);

#endif
