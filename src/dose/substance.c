/* dose/substance.c: rows of the table and their scaling. */
#include "dose/substance.h"

#include <math.h>

#include "num/elementary.h"

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

/* g for each mol of what stands behind a total in a product, at the least: bicarbonate's carbon with its oxygen, borate as
 * B2O3's half, the ring of cyanuric acid less what chlorine replaces, chlorine by itself, phosphate as PO4 (IUPAC weights). */
int tw_dose_substance_holds(const tw_substance *substance)
{
    static const double G_PER_MOL[TW_TOTALS] = {
        [TW_TOTAL_NA] = 22.99, [TW_TOTAL_K] = 39.10, [TW_TOTAL_CA] = 40.08, [TW_TOTAL_MG] = 24.30, [TW_TOTAL_CL] = 35.45,
        [TW_TOTAL_SO4] = 96.06, [TW_TOTAL_OTHER] = 0.0, [TW_TOTAL_DIC] = 44.01, [TW_TOTAL_BORATE] = 34.81,
        [TW_TOTAL_CYANURATE] = 126.05, [TW_TOTAL_ACTIVE_CHLORINE] = 35.45, [TW_TOTAL_PHOSPHATE] = 94.97};
    double g = 0.0, taken = 0.0;
    for (int t = 0; t < TW_TOTALS; t++) {
        const double mol = substance->total_mol_per_g[t];
        if (!(mol - mol == 0.0))
            return 0;
        g += mol > 0.0 ? mol * G_PER_MOL[t] : 0.0;
        taken += mol < 0.0 ? 1.0 : 0.0;
    }
    return taken > 0.0 ? substance->assay_mass_fraction <= 1.001 : g <= 1.001;
}

tw_substance tw_dose_substance_aged(const tw_substance *like, double months)
{
    tw_substance out = *like;
    if (!(months > 0.0))
        return out;
    const double ln_left = months * tw_log1p(-like->loss_per_month), left = tw_exp(ln_left);
    const double lost = like->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] * (1.0 - left);
    out.total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] -= lost;
    out.total_mol_per_g[TW_TOTAL_CL] += lost;
    out.assay_mass_fraction *= left;
    out.assay_sd_ln = sqrt(like->assay_sd_ln * like->assay_sd_ln + 0.25 * ln_left * ln_left);
    return out;
}

double tw_dose_measure_g(const tw_substance *substance)
{
    return substance->liquid ? substance->measure_step * substance->density_kg_per_l : substance->measure_step;
}
