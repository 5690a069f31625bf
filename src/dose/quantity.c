/* dose/quantity.c: see quantity.h. */
#include "dose/quantity.h"

#include "water/edge.h"
#include "num/pick.h"

double tw_dose_quantity(tw_quantity_of_water of, const double total[TW_TOTALS], double solvent_kg_per_l)
{
    const double kg = solvent_kg_per_l;
    switch (of) {
    case TW_OF_ALKALINITY:
        return tw_water_alk_mg_per_l_caco3_from_mol_per_kg(tw_water_strong_ion_alk_of(total, 1), kg);
    case TW_OF_CALCIUM:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CACO3, total[TW_TOTAL_CA], kg);
    case TW_OF_SALT:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, total[TW_TOTAL_CL], kg);
    case TW_OF_CHLORINE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, total[TW_TOTAL_ACTIVE_CHLORINE], kg);
    case TW_OF_CYANURATE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CYA, total[TW_TOTAL_CYANURATE], kg);
    case TW_OF_SULFATE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_SO4, total[TW_TOTAL_SO4], kg);
    case TW_OF_PHOSPHATE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_PO4, total[TW_TOTAL_PHOSPHATE], kg);
    case TW_OF_PH:
    case TW_OF_QUANTITIES:
        break;
    }
    return 0.0;
}

double tw_dose_value(const tw_reduced *acids, tw_quantity_of_water of, const tw_water *water, double solvent_kg_per_l)
{
    if (of != TW_OF_PH)
        return tw_dose_quantity(of, water->total_mol_per_kg, solvent_kg_per_l);
    const tw_reduced_water q = tw_water_reduced_acids(water->total_mol_per_kg);
    tw_reduced_answer a;
    tw_water_reduced_solve(acids, &q, &a);
    return a.ph;
}

double tw_dose_ph_gap(double ph)
{
    return 0.003 + 0.027 * tw_clamp(ph - 7.8, 0.0, 1.0);
}
