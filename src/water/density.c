/* water/density.c: see density.h. */
#include "water/density.h"

/* The denominator's 16.879850e-3 is often misprinted 16.897850e-3, which gives 996.73 at 25 C. */
double tw_water_pure_density_kg_per_l(double t)
{
    const double up = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12))));
    return up / (1.0 + 16.879850e-3 * t) / 1000.0;
}

double tw_water_tds_mg_per_kg(const tw_speciation *sp)
{
    double g = 0.0;
    for (int i = 0; i < TW_SPECIES; i++)
        g += sp->mol_per_kg[i] * tw_water_species[i].g_per_mol;
    return 1e3 * g;
}

/* Volume in cm3 of what is dissolved in 1 kg of water. */
static double solute_volume_cm3(const tw_speciation *sp)
{
    double v = 0.0;
    for (int i = 0; i < TW_SPECIES; i++)
        v += sp->mol_per_kg[i] * tw_water_species[i].volume_cm3_per_mol;
    return v;
}

double tw_water_density_kg_per_l(const tw_constants *at, const tw_speciation *sp)
{
    return (1000.0 + tw_water_tds_mg_per_kg(sp) / 1e3) / (1000.0 / at->pure_density_kg_per_l + solute_volume_cm3(sp));
}

double tw_water_solvent_kg_per_l(const tw_constants *at, const tw_speciation *sp)
{
    return 1000.0 / (1000.0 / at->pure_density_kg_per_l + solute_volume_cm3(sp));
}
