/* estimate/level.c: see level.h. */
#include "estimate/level.h"

#include "num/elementary.h"

/* Saturated vapour over water, kPa: Magnus' formula with the constants of Sonntag 1990, -45..60 C. */
static double vapour_kpa(double temp_c)
{
    return 0.6112 * tw_exp(17.62 * temp_c / (243.12 + temp_c));
}

/* Latent heat, kJ/kg: 2501 - 2.36 t (steam tables, linear). A kilogram on a square metre is a millimetre of depth. */
double tw_estimate_open_evaporation_per_h(double temp_c)
{
    const double over_kpa = vapour_kpa(temp_c) - TW_EVAPORATION_AIR_KPA;
    if (!(over_kpa > 0.0))
        return 0.0;
    const double mm_per_h = 3600.0 * TW_EVAPORATION_STILL_AIR * over_kpa / (2501.0 - 2.36 * temp_c);
    return mm_per_h * 1e-3 / TW_EVAPORATION_DEPTH;
}
