/* water/totals.c: see totals.h. */
#include "water/totals.h"

#include "num/require.h"

double tw_water_strong_ion_alk_of(const double *total, int stride)
{
    const double cations = total[TW_TOTAL_NA * stride] + total[TW_TOTAL_K * stride] +
                           2.0 * (total[TW_TOTAL_CA * stride] + total[TW_TOTAL_MG * stride]);
    const double anions = total[TW_TOTAL_CL * stride] + 2.0 * total[TW_TOTAL_SO4 * stride] +
                          total[TW_TOTAL_OTHER * stride];
    return cations - anions;
}

double tw_water_strong_ion_alk_mol_per_kg(const tw_water *water)
{
    return tw_water_strong_ion_alk_of(water->total_mol_per_kg, 1);
}

tw_water tw_water_mix(const tw_water *a, double a_kg, const tw_water *b, double b_kg)
{
    const double sum_kg = a_kg + b_kg;
    TW_REQUIRE(a_kg >= 0.0 && b_kg >= 0.0 && sum_kg > 0.0);
    const double share = a_kg / sum_kg, rest = b_kg / sum_kg;
    tw_water out;
    out.temp_k = share * a->temp_k + rest * b->temp_k;
    for (int i = 0; i < TW_TOTALS; i++)
        out.total_mol_per_kg[i] = share * a->total_mol_per_kg[i] + rest * b->total_mol_per_kg[i];
    return out;
}

void tw_water_spend_chlorine(tw_water *water, double x_mol_per_kg)
{
    water->total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] -= x_mol_per_kg;
    water->total_mol_per_kg[TW_TOTAL_CL] += x_mol_per_kg;
}

const char *tw_water_total_name(tw_total total)
{
    static const char *const names[TW_TOTALS] = {
        "sodium", "potassium", "calcium", "magnesium", "chloride", "sulfate", "other anion",
        "inorganic carbon", "borate", "cyanurate", "active chlorine", "phosphate"};
    return (int)total >= 0 && total < TW_TOTALS ? names[total] : "unknown total";
}
