/* water/density.h: mass of a litre. */
#ifndef TW_WATER_DENSITY_H
#define TW_WATER_DENSITY_H

#include "water/speciate.h"

/* Pure water at 1 atm, kg/L, 0..100 C: Kell 1975. */
double tw_water_pure_density_kg_per_l(double temp_c);

/* The water with its salts, kg of solution a litre, from partial molar volumes at 25 C (Millero
 * 1972); ion pairs counted as their ions. Within 0.0003 of a general-purpose code. */
double tw_water_density_kg_per_l(const tw_constants *at, const tw_speciation *sp);

/* Dissolved solids, mg per kg of water: all species' own mass (as weighed in solution, so carbonate
 * counts as HCO3-, not as what stays after drying). */
double tw_water_tds_mg_per_kg(const tw_speciation *sp);

/* kg of water (solvent) in one litre of the water: density / (1 + TDS). What turns mg/L into mg/kg. */
double tw_water_solvent_kg_per_l(const tw_constants *at, const tw_speciation *sp);

#endif
