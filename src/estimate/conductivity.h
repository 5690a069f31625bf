/* estimate/conductivity.h: the water model's conductivity as the few numbers the sampler needs. Internal. */
#ifndef TW_ESTIMATE_CONDUCTIVITY_H
#define TW_ESTIMATE_CONDUCTIVITY_H

#include <math.h>

#include "estimate/events.h"

/* Fit around a salt tub's water at 25 C (docs/estimate.md); leaves the closed form that stands there
 * when the water model gives no answer. */
void tw_estimate_fit_conductivity(tw_conductivity_fit *fit);

/* What chloride and its sodium conduct, uS/cm at 25 C: cl[0]*c + cl[1]*c^1.5, c in mmol/kg (Kohlrausch's law, which a
 * parabola misses by 3 % of a rise from thin water). */
static inline double tw_estimate_salt_us_per_cm(const double cl[2], double mmol_per_kg)
{
    const double c = mmol_per_kg > 0.0 ? mmol_per_kg : 0.0;
    return (cl[0] + cl[1] * sqrt(c)) * c;
}

/* The other way round: the chloride that conducts us_per_cm (0 or more). Each turn leaves a twelfth of the error at 6,000 uS/cm. */
static inline double tw_estimate_salt_mmol_per_kg(const double cl[2], double us_per_cm)
{
    double c = us_per_cm / cl[0];
    for (int i = 0; i < 8; i++)
        c = us_per_cm / (cl[0] + cl[1] * sqrt(c));
    return c;
}

/* Its slope, uS/cm for each mmol/kg. */
static inline double tw_estimate_salt_slope(const double cl[2], double mmol_per_kg)
{
    return cl[0] + 1.5 * cl[1] * sqrt(mmol_per_kg > 0.0 ? mmol_per_kg : 0.0);
}

#endif
