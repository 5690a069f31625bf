/* dose/size.c: balances of blending, exchange and heat. */
#include "dose/size.h"

#define KWH_PER_KG_K (4.187 / 3600.0) /* heat capacity of water, kJ/(kg K), CRC, from memory */

tw_status tw_dose_blend_fraction(double hard, double soft, double target, double *fraction)
{
    *fraction = 0.0;
    if (!(hard > target))
        return TW_OK;
    if (!(soft < target))
        return TW_ERR_NO_ROOT;
    *fraction = (hard - target) / (hard - soft);
    return TW_OK;
}

double tw_dose_resin_g_caco3(double hard_mg_per_l, double soft_mg_per_l, double fraction, double volume_l)
{
    return (hard_mg_per_l - soft_mg_per_l) * fraction * volume_l * 1e-3;
}

tw_status tw_dose_swap_fraction(double now, double fill, double target, double *fraction)
{
    *fraction = 0.0;
    if (now == target)
        return TW_OK;
    const double f = now == fill ? 2.0 : 1.0 - (target - fill) / (now - fill);
    if (!(f >= 0.0 && f <= 1.0))
        return TW_ERR_NO_ROOT;
    *fraction = f;
    return TW_OK;
}

tw_status tw_dose_heat_hours(double water_kg, double rise_k, double power_kw, double efficiency,
                             double loss_kw, double *hours, double *kwh)
{
    *kwh = water_kg * rise_k * KWH_PER_KG_K;
    const double net = power_kw * efficiency - loss_kw;
    *hours = 0.0;
    if (!(rise_k > 0.0))
        return TW_OK;
    if (!(net > 0.0))
        return TW_ERR_NO_ROOT;
    *hours = *kwh / net;
    return TW_OK;
}
