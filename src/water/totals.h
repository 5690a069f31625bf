/* water/totals.h: a water is a vector of conserved totals, mol per kg of water, and a temperature.
 *
 * pH and alkalinity are derived, never stored: a dose adds its atoms, electrolysis moves chloride to
 * active chlorine, air takes inorganic carbon away, and the charge balance does the rest.
 * Reference forms: CO2, H3BO3, H3Cy (cyanuric acid), HOCl, H3PO4, all uncharged. */
#ifndef TW_WATER_TOTALS_H
#define TW_WATER_TOTALS_H

typedef enum tw_total {
    TW_TOTAL_NA,
    TW_TOTAL_K,
    TW_TOTAL_CA,
    TW_TOTAL_MG,
    TW_TOTAL_CL,              /* chloride                                           */
    TW_TOTAL_SO4,
    TW_TOTAL_OTHER,           /* anion of charge -1 that takes part in nothing      */
    TW_TOTAL_DIC,             /* inorganic carbon, ion pairs included               */
    TW_TOTAL_BORATE,          /* boron                                              */
    TW_TOTAL_CYANURATE,       /* the ring, with and without chlorine on it          */
    TW_TOTAL_ACTIVE_CHLORINE, /* HOCl + OCl- + chlorine on cyanurate, as mol of Cl2 */
    TW_TOTAL_PHOSPHATE,       /* orthophosphate                                     */
    TW_TOTALS
} tw_total;

typedef struct {
    double temp_k;                      /* 273.15 .. 318.15              */
    double total_mol_per_kg[TW_TOTALS]; /* each finite and 0 or more     */
} tw_water;

/* Charge that the strong ions leave over, mol/kg: Na + K + 2 Ca + 2 Mg - Cl - 2 SO4 - other.
 * It is the alkalinity against the reference forms above; mixing and dosing move it linearly, the
 * escape of CO2 leaves it alone. May be negative (acid left over). */
double tw_water_strong_ion_alk_mol_per_kg(const tw_water *water);

/* The same from totals that stand n apart: total[t * stride]. For arrays of waters. */
double tw_water_strong_ion_alk_of(const double *total, int stride);

/* Two waters in one: totals and temperature by mass (heat capacities taken as equal).
 * Masses in kg of water, not negative, not both zero. */
tw_water tw_water_mix(const tw_water *a, double a_kg, const tw_water *b, double b_kg);

/* Spend x mol/kg of active chlorine: each becomes one chloride (and one proton, which the charge
 * balance knows). Negative x is electrolysis. The caller keeps both totals from going below zero. */
void tw_water_spend_chlorine(tw_water *water, double x_mol_per_kg);

/* Short name of a total for messages: "sodium", ... "phosphate". Never NULL. */
const char *tw_water_total_name(tw_total total);

#endif
