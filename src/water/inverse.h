/* water/inverse.h: from what tests read to the totals of the water.
 *
 * All amounts mol per kg of water (water/edge.h converts from mg/L). The round trip
 * tests -> totals -> speciation gives pH and alkalinity back to 1e-10. */
#ifndef TW_WATER_INVERSE_H
#define TW_WATER_INVERSE_H

#include "water/speciate.h"

/* Which alkalinity the number is. They differ only where phosphate or chlorinated cyanurate is. */
typedef enum tw_alk_kind {
    TW_ALK_STRONG_ION, /* against CO2, H3BO3, H3Cy, HOCl, H3PO4: the charge balance        */
    TW_ALK_TITRATED    /* as a kit titrates to pH 4.5, chlorine left in the sample         */
} tw_alk_kind;

typedef struct {
    double temp_k;
    double ph;                      /* at temp_k                                             */
    double alk_mol_per_kg;          /* equivalents: CaCO3 mg/kg * 2 / 100086.9               */
    tw_alk_kind alk_kind;
    double calcium_mol_per_kg;
    double magnesium_mol_per_kg;
    double salt_mol_per_kg;         /* sodium chloride beside what balances the rest (below) */
    double sulfate_mol_per_kg;
    double potassium_mol_per_kg;
    double boron_mol_per_kg;
    double cyanurate_mol_per_kg;
    double active_chlorine_mol_per_kg;
    double phosphate_mol_per_kg;
    double other_mol_per_kg;        /* anion of charge -1                                    */
} tw_tests;

/* DIC from pH and alkalinity; sodium and chloride from salt and the charge balance: with
 * x = 2 Ca + 2 Mg + K - alk - 2 SO4 - other, Cl = salt + max(0, x) and Na = salt + max(0, -x): hardness not
 * matched by alkalinity and sulfate came in as chloride, the reverse came in with sodium.
 * *out (may be NULL) is the speciation of the water found.
 *   TW_ERR_RANGE    a test is negative, not a number, or out of range (out->fault)
 *   TW_ERR_NO_ROOT  alkalinity too low for this pH, borate and cyanurate: no carbonate left */
tw_status tw_water_from_tests(const tw_constants *at, const tw_tests *tests, tw_water *water,
                              tw_speciation *out);

/* The same when salt is not known but the conductivity at 25 C, uS/cm: salt_mol_per_kg of *tests is
 * ignored and replaced by the one found. TW_ERR_NO_ROOT with TW_WATER_FAULT_SALT when hardness and
 * alkalinity alone conduct more. `at25` are the constants at 298.15 K. */
tw_status tw_water_from_tests_with_ec25(const tw_constants *at, const tw_constants *at25,
                                        tw_tests *tests, double ec25_us_per_cm, tw_water *water,
                                        tw_speciation *out);

/* DIC that gives this pH with the strong ions and the other totals as they are (DIC of *water is ignored
 * and replaced). TW_ERR_NO_ROOT when none does. */
tw_status tw_water_dic_for_ph(const tw_constants *at, tw_water *water, double ph, tw_speciation *out);

#endif
