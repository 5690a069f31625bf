/* water/conductivity.h: what a conductivity meter reads, and salt from it. */
#ifndef TW_WATER_CONDUCTIVITY_H
#define TW_WATER_CONDUCTIVITY_H

#include "water/speciate.h"

/* Specific conductance at the water's own temperature, uS/cm: Appelo's form (2017) of the Debye-
 * Hueckel-Onsager law with ion pairs as species. NaN when *sp is not a TW_OK result. */
double tw_water_conductivity_us_per_cm(const tw_constants *at, const tw_speciation *sp);

/* Specific conductance of the same closed water at 25 C, uS/cm (a meter with ideal compensation):
 * the totals are speciated again with `at25`, the constants at 298.15 K. */
tw_status tw_water_conductivity_25_us_per_cm(const tw_constants *at25, const tw_water *water,
                                             double *us_per_cm);

/* Sodium chloride to add (negative: to take) so that the conductivity at 25 C is this one; the other
 * totals stay. TW_ERR_NO_ROOT when no amount of salt does it. mol/kg. */
tw_status tw_water_salt_from_ec25(const tw_constants *at25, const tw_water *water,
                                  double ec25_us_per_cm, double *salt_mol_per_kg);

#endif
