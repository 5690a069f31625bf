/* dose/size.h: sizes of acts that are not a pour: blending, exchange, heat. Exact balances. */
#ifndef TW_DOSE_SIZE_H
#define TW_DOSE_SIZE_H

#include "num/status.h"

/* Share of the fill that must come through the softener so that hardness lands on the target:
 * (hard - target)/(hard - soft), 0..1; 0 when the hard water is below the target already.
 * TW_ERR_NO_ROOT when even the soft water is above the target. Any one unit. */
tw_status tw_dose_blend_fraction(double hard, double soft, double target, double *fraction);

/* Grams of hardness (as CaCO3) that the softener must take up for that share of so many litres. */
double tw_dose_resin_g_caco3(double hard_mg_per_l, double soft_mg_per_l, double fraction, double volume_l);

/* Share of the water to let out and replace at once: 1 - (target - fill)/(now - fill).
 * TW_ERR_NO_ROOT when the fill water cannot bring it there. */
tw_status tw_dose_swap_fraction(double now, double fill, double target, double *fraction);

/* Hours to heat so many kg of water by so many kelvin with a heater of power_kw, of which efficiency
 * reaches the water, against a steady loss of loss_kw. Water holds 4.187 kJ/(kg K) (common practice:
 * 1.163 Wh/(L K)). TW_ERR_NO_ROOT when the loss is not less than the heat. */
tw_status tw_dose_heat_hours(double water_kg, double rise_k, double power_kw, double efficiency,
                             double loss_kw, double *hours, double *kwh);

#endif
