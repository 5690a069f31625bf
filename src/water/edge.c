/* water/edge.c: see edge.h. */
#include "water/edge.h"

#include "num/require.h"
#include "water/density.h"

double tw_water_g_per_mol(tw_molar as)
{
    TW_REQUIRE(as < TW_MOLARS);
    return tw_water_molar[as].g_per_mol;
}

double tw_water_mol_per_kg_from_mg_per_l(tw_molar as, double mg_per_l, double solvent_kg_per_l)
{
    return mg_per_l * 1e-3 / tw_water_g_per_mol(as) / solvent_kg_per_l;
}

double tw_water_mg_per_l_from_mol_per_kg(tw_molar as, double mol_per_kg, double solvent_kg_per_l)
{
    return mol_per_kg * 1e3 * tw_water_g_per_mol(as) * solvent_kg_per_l;
}

double tw_water_alk_mol_per_kg_from_mg_per_l_caco3(double alk_mg_per_l_caco3, double solvent_kg_per_l)
{
    return 2.0 * tw_water_mol_per_kg_from_mg_per_l(TW_MOLAR_CACO3, alk_mg_per_l_caco3, solvent_kg_per_l);
}

double tw_water_alk_mg_per_l_caco3_from_mol_per_kg(double alk_mol_per_kg, double solvent_kg_per_l)
{
    return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CACO3, alk_mol_per_kg, solvent_kg_per_l) / 2.0;
}

/* 16.6 cm3/mol is the volume of NaCl (Millero 1972): 1 mg/L takes 0.284e-6 L of a litre from the water. */
double tw_water_solvent_kg_per_l_about(double temp_c, double salt_mg_per_l)
{
    const double taken = salt_mg_per_l * 1e-6 * 16.62 / 58.4428;
    return tw_water_pure_density_kg_per_l(temp_c) * (1.0 - taken);
}
