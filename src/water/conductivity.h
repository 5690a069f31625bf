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

/* What a conductivity meter that shows "ppm" has done to the conductivity at 25 C. Three scales are common and none
 * of them is printed on the meter's face; they differ by two fifths, so a "salt" reading needs its scale. */
typedef enum tw_ppm_scale {
    TW_PPM_NACL, /* mg/L of a pure sodium chloride solution that conducts as much                    */
    TW_PPM_HALF, /* 0.5 mg/L for each uS/cm ("500 scale")                                            */
    TW_PPM_0_64, /* 0.64 ("640 scale")                                                               */
    TW_PPM_0_7,  /* 0.7 ("700 scale")                                                                */
    TW_PPM_SCALES
} tw_ppm_scale;

/* Conductivity at 25 C, uS/cm, behind a shown ppm, and the ppm that would be shown. The constant factors are common
 * practice; the scale of sodium chloride is this room's own conductivity, at25 its constants at 298.15 K. NaN for a
 * negative or non-finite value, an unknown scale, or beyond 60,000 mg/L. */
double tw_water_ec25_from_ppm(const tw_constants *at25, tw_ppm_scale scale, double ppm);
double tw_water_ppm_from_ec25(const tw_constants *at25, tw_ppm_scale scale, double us_per_cm);

/* Short name of a scale: "NaCl", "0.5", ... Never NULL. */
const char *tw_water_ppm_scale_name(tw_ppm_scale scale);

/* Sodium chloride to add (negative: to take) so that the conductivity at 25 C is this one; the other
 * totals stay. TW_ERR_NO_ROOT when no amount of salt does it. mol/kg. */
tw_status tw_water_salt_from_ec25(const tw_constants *at25, const tw_water *water,
                                  double ec25_us_per_cm, double *salt_mol_per_kg);

#endif
