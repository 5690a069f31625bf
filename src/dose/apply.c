/* dose/apply.c: moves on totals. */
#include "dose/apply.h"

#include "num/elementary.h"
#include "num/pick.h"
#include "num/require.h"
#include "water/edge.h"

#define TAKES_NOTHING 1e12

double tw_dose_acting_g(const tw_water *water, double water_kg, const tw_substance *s)
{
    double most = TAKES_NOTHING;
    for (int t = 0; t < TW_TOTALS; t++) {
        const double taken = -s->total_mol_per_g[t] / water_kg;
        if (taken > 0.0 && water->total_mol_per_kg[t] / taken < most)
            most = water->total_mol_per_kg[t] / taken;
    }
    return most;
}

tw_water tw_dose_apply(tw_water water, double water_kg, const tw_substance *substance, double grams)
{
    TW_REQUIRE(water_kg > 0.0);
    const double most = tw_dose_acting_g(&water, water_kg, substance), acting = tw_min(grams, most);
    for (int t = 0; t < TW_TOTALS; t++) {
        const double moved = substance->total_mol_per_g[t] * acting / water_kg;
        water.total_mol_per_kg[t] += moved;
        /* Rounding may leave -1e-20 of what was used up; grams below 0 undo a dose and stay signed. */
        if (grams > 0.0 && moved < 0.0 && water.total_mol_per_kg[t] < 0.0)
            water.total_mol_per_kg[t] = 0.0;
    }
    return water;
}

tw_water tw_dose_spend_chlorine(tw_water water, double mol_per_kg)
{
    const double there = water.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE];
    tw_water_spend_chlorine(&water, tw_min(mol_per_kg, there));
    return water;
}

tw_water tw_dose_electrolyse(tw_water water, double water_kg, double cl2_g)
{
    TW_REQUIRE(water_kg > 0.0);
    const double made = cl2_g / tw_water_molar[TW_MOLAR_CL2].g_per_mol / water_kg, there = water.total_mol_per_kg[TW_TOTAL_CL];
    tw_water_spend_chlorine(&water, made < there ? -made : -there);
    return water;
}

tw_water tw_dose_lose_co2(tw_water water, double mol_per_kg)
{
    const double there = water.total_mol_per_kg[TW_TOTAL_DIC];
    water.total_mol_per_kg[TW_TOTAL_DIC] = mol_per_kg < there ? there - mol_per_kg : 0.0;
    return water;
}

tw_water tw_dose_exchange(tw_water water, const tw_water *fill, double share)
{
    TW_REQUIRE(share >= 0.0 && share <= 1.0);
    return tw_water_mix(&water, 1.0 - share, fill, share);
}

tw_water tw_dose_flow_through(tw_water water, double water_kg, const tw_water *fill, double fill_kg)
{
    TW_REQUIRE(water_kg > 0.0 && fill_kg >= 0.0);
    return tw_dose_exchange(water, fill, -tw_expm1(-fill_kg / water_kg));
}

tw_water tw_dose_evaporate(tw_water water, double water_kg, double lost_kg)
{
    TW_REQUIRE(lost_kg >= 0.0 && lost_kg < water_kg);
    for (int t = 0; t < TW_TOTALS; t++)
        water.total_mol_per_kg[t] *= water_kg / (water_kg - lost_kg);
    return water;
}
