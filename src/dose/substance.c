/* dose/substance.c: rows of the table and their scaling. */
#include "dose/substance.h"

#include <math.h>

#include "num/elementary.h"
#include "water/edge.h"

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

/* 1: the same in another dilution, as all acids of one formula are: no total of either is out of proportion. */
static int is_dilution(const tw_substance *a, const tw_substance *b)
{
    double more = 0.0, less = 0.0;
    for (int t = 0; t < TW_TOTALS; t++) {
        more += fabs(a->total_mol_per_g[t]);
        less += fabs(b->total_mol_per_g[t]);
    }
    for (int t = 0; t < TW_TOTALS; t++)
        if (fabs(a->total_mol_per_g[t] / more - b->total_mol_per_g[t] / less) > 1e-3)
            return 0;
    return a->liquid == b->liquid;
}

/* Density of a solution of that strength: of the row of the same substance that comes nearest. */
static double density_at(const tw_substance *like, double mass_fraction)
{
    double nearest = fabs(like->assay_mass_fraction - mass_fraction), density = like->density_kg_per_l;
    for (int i = 0; i < TW_SUBSTANCES; i++) {
        const tw_substance *row = &tw_dose_substances[i];
        const double off = fabs(row->assay_mass_fraction - mass_fraction);
        if (off < nearest && is_dilution(row, like)) {
            nearest = off;
            density = row->density_kg_per_l;
        }
    }
    return density;
}

/* Mass fraction behind the percent on a box, which of chlorine is what is available (CP): by mass in granules, g in 100 mL in
 * solutions. No stabilised granules hold more than 64.5 % (pure dichlor without water): more than that is their substance. */
static double mass_fraction_of(const tw_substance *like, double on_box)
{
    const double available = like->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] * tw_water_molar[TW_MOLAR_CL2].g_per_mol;
    if (!(available > 0.0) || (like->total_mol_per_g[TW_TOTAL_CYANURATE] > 0.0 && on_box > 0.65))
        return on_box;
    return on_box * like->assay_mass_fraction / (available * (like->liquid ? like->density_kg_per_l : 1.0));
}

tw_substance tw_dose_substance_of_strength(const tw_substance *like, double on_box)
{
    if (!(on_box > 0.0) || !(like->assay_mass_fraction > 0.0))
        return *like;
    const double fraction = mass_fraction_of(like, on_box), density = like->liquid ? density_at(like, fraction) : 0.0;
    const int by_volume = like->liquid && like->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] > 0.0;
    tw_substance out = scaled(like, fraction / like->assay_mass_fraction * (by_volume ? like->density_kg_per_l / density : 1.0));
    out.density_kg_per_l = density;
    return out;
}

tw_substance tw_dose_substance_of_available(const tw_substance *like, double cl2_g_per_l)
{
    const double now = like->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE];
    if (!(cl2_g_per_l > 0.0) || !(now > 0.0) || !(like->density_kg_per_l > 0.0))
        return *like;
    return scaled(like, cl2_g_per_l / tw_water_molar[TW_MOLAR_CL2].g_per_mol / (like->density_kg_per_l * 1e3) / now);
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
