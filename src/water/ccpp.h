/* water/ccpp.h: how much calcium carbonate would fall out or dissolve. */
#ifndef TW_WATER_CCPP_H
#define TW_WATER_CCPP_H

#include "water/speciate.h"

typedef struct {
    double ccpp_mol_per_kg;     /* calcite that falls out of 1 kg of water (before); negative dissolves */
    double water_kg;            /* mass of water afterwards for 1 kg before                             */
    tw_water water;             /* totals afterwards, per kg of water afterwards                        */
    tw_speciation at_calcite;   /* its species: SI 0                                                    */
} tw_ccpp;

/* Bring the water into balance with calcite, closed to air, calcite without limit, at the temperature
 * of the constants (those of a heater's skin for the potential there). One convex solve, no root search
 * around it: at saturation a_CO3 is Ksp / a_Ca, which takes calcium's place among the unknowns.
 * Statuses and faults as tw_water_speciate; on an error every number of *out is NaN. */
tw_status tw_water_ccpp(const tw_constants *at, const tw_water *water, tw_ccpp *out);

#endif
