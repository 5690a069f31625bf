/* dose/size.h: sizes of acts in one known water: grams to a target by the full solver, blending, exchange,
 * resin, pads, heat. Exact balances; no factor of the trade. For water that is not known exactly: course.h. */
#ifndef TW_DOSE_SIZE_H
#define TW_DOSE_SIZE_H

#include "dose/apply.h"
#include "dose/quantity.h"
#include "num/status.h"

/* Grams of a substance that bring this water from where it is to the target. pH by the full solver (closed,
 * nothing lost to the air); the rest is a straight line. 0 when it is there or past it.
 *   TW_ERR_UNKNOWN  the substance does not move the quantity
 *   TW_ERR_NO_ROOT  no amount (up to 20 g/kg, or as far as what it takes away lasts) gets there
 *   others          as tw_water_speciate */
tw_status tw_dose_grams_to(const tw_water *water, double water_kg, const tw_substance *substance,
                           tw_quantity_of_water of, double target, double solvent_kg_per_l, double *grams);

/* Grams that move a quantity (not pH) by so much, e.g. the largest change a step of a label; 0 when the
 * substance does not move it. */
double tw_dose_grams_for_change(double water_kg, const tw_substance *substance, tw_quantity_of_water of,
                                double change, double solvent_kg_per_l);

/* Lanthanum in practice: this many times what the phosphate takes, because carbonate competes (common
 * practice 1.2 to 2; after alkalinity is final). Hypochlorite, sulfite and salt need no such factor. */
#define TW_DOSE_LANTHANUM_PRACTICE 1.5

/* Share of the fill that must come through the softener so that hardness lands on the target:
 * (hard - target)/(hard - soft), 0..1; 0 when the hard water is below the target already.
 * TW_ERR_NO_ROOT when even the soft water is above the target. Any one unit. */
tw_status tw_dose_blend_fraction(double hard, double soft, double target, double *fraction);

/* Grams of hardness (as CaCO3) that the softener must take up for that share of so many litres. */
double tw_dose_resin_g_caco3(double hard_mg_per_l, double soft_mg_per_l, double fraction, double volume_l);

/* Hours that a calcium pad in the flow takes from `now` to `target` when it works towards `end` with a time
 * constant (fitted from two readings): now -> end + (now - end) exp(-t/tau). TW_ERR_NO_ROOT when the end is
 * not below the target. *grams_caco3: what it takes up, against its capacity. */
tw_status tw_dose_pad_hours(double now_mg_per_l, double end_mg_per_l, double target_mg_per_l, double tau_h,
                            double volume_l, double *hours, double *grams_caco3);

/* Grams of CaCO3 in so many grains of hardness (a grain is 64.79891 mg, exactly). */
double tw_dose_g_from_grains(double grains);

/* Share of the water to let out and replace at once: 1 - (target - fill)/(now - fill).
 * TW_ERR_NO_ROOT when the fill water cannot bring it there. */
tw_status tw_dose_swap_fraction(double now, double fill, double target, double *fraction);

/* Hours to heat so many kg of water by so many kelvin with a heater of power_kw, of which efficiency
 * reaches the water, against a steady loss of loss_kw. Water holds 4.187 kJ/(kg K) (common practice:
 * 1.163 Wh/(L K)). TW_ERR_NO_ROOT when the loss is not less than the heat. */
tw_status tw_dose_heat_hours(double water_kg, double rise_k, double power_kw, double efficiency,
                             double loss_kw, double *hours, double *kwh);

#endif
