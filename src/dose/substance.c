/* dose/substance.c: rows of the table and their scaling. */
#include "dose/substance.h"

#include <string.h>

#define CL2_G_PER_MOL 70.906 /* IUPAC atomic weights */

const tw_substance *tw_dose_substance_find(tw_text id)
{
    for (int i = 0; i < TW_SUBSTANCES; i++)
        if (tw_units_text_equal(id, tw_units_text(tw_dose_substances[i].id)))
            return &tw_dose_substances[i];
    return NULL;
}

static tw_substance scaled(const tw_substance *like, double factor)
{
    tw_substance out = *like;
    for (int t = 0; t < TW_TOTALS; t++)
        out.total_mol_per_g[t] *= factor;
    out.assay_mass_fraction *= factor;
    return out;
}

tw_substance tw_dose_substance_of_strength(const tw_substance *like, double mass_fraction)
{
    if (!(mass_fraction > 0.0) || !(like->assay_mass_fraction > 0.0))
        return *like;
    return scaled(like, mass_fraction / like->assay_mass_fraction);
}

tw_substance tw_dose_substance_of_available(const tw_substance *like, double cl2_g_per_l)
{
    const double now = like->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE];
    if (!(cl2_g_per_l > 0.0) || !(now > 0.0) || !(like->density_kg_per_l > 0.0))
        return *like;
    return scaled(like, cl2_g_per_l / CL2_G_PER_MOL / (like->density_kg_per_l * 1e3) / now);
}

double tw_dose_alk_eq_per_g(const tw_substance *substance)
{
    return tw_water_strong_ion_alk_of(substance->total_mol_per_g, 1);
}

/* Share of the grams that finds something to act on: a substance that takes a total away stops when
 * that total is used up (sulfite without chlorine does nothing that this model follows). */
static double acting_share(const tw_water *water, double water_kg, const tw_substance *s, double grams)
{
    double share = 1.0;
    for (int t = 0; t < TW_TOTALS; t++) {
        const double taken = -s->total_mol_per_g[t] * grams / water_kg;
        if (taken > water->total_mol_per_kg[t] && taken > 0.0) {
            const double most = water->total_mol_per_kg[t] / taken;
            share = most < share ? most : share;
        }
    }
    return share;
}

tw_water tw_dose_apply(tw_water water, double water_kg, const tw_substance *substance, double grams)
{
    const double share = acting_share(&water, water_kg, substance, grams);
    for (int t = 0; t < TW_TOTALS; t++)
        water.total_mol_per_kg[t] += substance->total_mol_per_g[t] * grams * share / water_kg;
    return water;
}
