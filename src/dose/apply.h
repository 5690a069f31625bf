/* dose/apply.h: what acts do to a water, as moves of its conserved totals.
 *
 * Nothing here mentions pH: it is solved afterwards from the charge balance, so the acid that spent
 * dichlor leaves, the rise of pH under air and the return after electrolysis follow by themselves.
 * Pure; water by value in, water by value out. Amounts that are not there are not taken: a move stops
 * at zero. */
#ifndef TW_DOSE_APPLY_H
#define TW_DOSE_APPLY_H

#include "dose/substance.h"
#include "water/totals.h"

/* The water after so many grams (0 or more) in so many kg of water, all dissolved, nothing lost to the
 * air. A substance that takes a total away (sulfite: chlorine; lanthanum: phosphate) acts only as far as
 * that total goes; the rest of the grams does nothing that this model follows. */
tw_water tw_dose_apply(tw_water water, double water_kg, const tw_substance *substance, double grams);

/* Grams of which the whole finds something to act on, in this water; 1e12 when it takes nothing away. */
double tw_dose_acting_g(const tw_water *water, double water_kg, const tw_substance *substance);

/* Chlorine spent, mol/kg: each HOCl leaves one chloride and, by the charge balance, one acid. Stops at
 * what is there. */
tw_water tw_dose_spend_chlorine(tw_water water, double mol_per_kg);

/* Chlorine made by the cell, g as Cl2 in so many kg of water: the exact reverse. Stops at the chloride. */
tw_water tw_dose_electrolyse(tw_water water, double water_kg, double cl2_g);

/* Carbon dioxide given to the air (negative: taken up), mol/kg: alkalinity stays, pH rises. */
tw_water tw_dose_lose_co2(tw_water water, double mol_per_kg);

/* A share (0..1) of the water let out, then filled up with `fill`; temperature by mass. */
tw_water tw_dose_exchange(tw_water water, const tw_water *fill, double share);

/* Filled and overflowing at once, well mixed: fill_kg run through water_kg leave exp(-fill_kg/water_kg). */
tw_water tw_dose_flow_through(tw_water water, double water_kg, const tw_water *fill, double fill_kg);

/* lost_kg (less than water_kg) gone as vapour: what is dissolved stays behind. */
tw_water tw_dose_evaporate(tw_water water, double water_kg, double lost_kg);

#endif
