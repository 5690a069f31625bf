/* water/balance.c: the layout of the equations in balance.h, and the answer read off them. */
#include "water/balance.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"

/* A total below this is taken as absent: less than one part in 1e15 of the thinnest water. Its logarithm
 * would run away and the tolerance never hold. */
#define TRACE_MOL_PER_KG 1e-18

/* The logarithm of the activity of what is absent: e^-200 of it weighs nothing beside anything. */
#define LN_ABSENT (-200.0)

static const tw_total TOTAL_OF_UNKNOWN[TW_UNKNOWNS] = {[TW_U_CO3] = TW_TOTAL_DIC,
                                                       [TW_U_SO4] = TW_TOTAL_SO4,
                                                       [TW_U_PO4] = TW_TOTAL_PHOSPHATE,
                                                       [TW_U_HOCL] = TW_TOTAL_ACTIVE_CHLORINE};
static const tw_total TOTAL_OF_GROUP[TW_GROUP_CL] = {
    [TW_GROUP_NA] = TW_TOTAL_NA, [TW_GROUP_K] = TW_TOTAL_K,           [TW_GROUP_CA] = TW_TOTAL_CA,
    [TW_GROUP_MG] = TW_TOTAL_MG, [TW_GROUP_BORATE] = TW_TOTAL_BORATE, [TW_GROUP_CYANURATE] = TW_TOTAL_CYANURATE};

static bool is_there(double total)
{
    return total > TRACE_MOL_PER_KG;
}

/* What the sum of nu m shall be. H+ has no total of its own: its row is 2 DIC + 3 PO4 - alkalinity, which is the charge
 * balance in other words. Open to CO2, DIC is what it is; with calcite, calcium takes as much carbonate as it loses. */
static void find_wanted(tw_balance *b)
{
    const double *t = b->total;
    b->wanted[TW_U_H] = (b->ask == TW_ASK_OPEN ? 0.0 : 2.0 * t[TW_TOTAL_DIC]) + 3.0 * t[TW_TOTAL_PHOSPHATE] - b->alk;
    for (int k = TW_U_CO3; k < TW_UNKNOWNS; k++)
        b->wanted[k] = t[TOTAL_OF_UNKNOWN[k]];
    if (b->ask == TW_ASK_CALCITE)
        b->wanted[TW_U_CO3] -= t[TW_TOTAL_CA];
}

static void find_unknowns(tw_balance *b)
{
    const bool is_carbonate_made = b->ask == TW_ASK_OPEN || b->ask == TW_ASK_CALCITE || b->ask == TW_ASK_DIC;
    const bool is_fixed[TW_UNKNOWNS] = {[TW_U_H] = b->ask == TW_ASK_AT_PH || b->ask == TW_ASK_DIC,
                                        [TW_U_CO3] = b->ask == TW_ASK_OPEN};
    b->n = 0;
    for (int k = 0; k < TW_UNKNOWNS; k++) {
        b->present[k] = k == TW_U_H || (k == TW_U_CO3 && is_carbonate_made) || is_there(b->total[TOTAL_OF_UNKNOWN[k]]);
        b->u[k] = LN_ABSENT;
        b->have |= (unsigned)b->present[k] << k;
        if (b->present[k] && !is_fixed[k])
            b->unknown[b->n++] = k;
    }
    b->is_plain = !b->present[TW_U_PO4] && !b->present[TW_U_HOCL];
}

static void find_groups(tw_balance *b)
{
    b->groups = 0;
    for (int g = TW_GROUP_FREE; g < TW_GROUP_CL; g++) {
        const bool is_unshared = g == TW_GROUP_FREE || (g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE);
        const double total = is_unshared ? 0.0 : b->total[TOTAL_OF_GROUP[g]];
        if (is_unshared || is_there(total)) {
            b->have |= 1u << (TW_WATER_GROUP_BIT + g);
            b->to_share[b->groups] = total;
            b->group[b->groups++] = (tw_species_group)g;
        }
    }
}

static void find_blocks(tw_balance *b)
{
    b->blocks = 0;
    for (int i = 0; i < TW_WATER_LANES / TW_LANES; i++) {
        if (TW_WATER_BLOCK_WANTS[i] & b->have) {
            b->block[b->blocks++] = i * TW_LANES;
        } else { /* what is passed over holds nothing */
            memset(b->m + i * TW_LANES, 0, TW_LANES * sizeof *b->m);
            memset(b->by_i + i * TW_LANES, 0, TW_LANES * sizeof *b->by_i);
        }
    }
}

void tw_water_balance_begin(tw_balance *b, const tw_constants *at, const tw_water *water, tw_ask ask, double ph,
                      double ln_co2)
{
    b->at = at;
    b->ask = ask;
    memcpy(b->total, water->total_mol_per_kg, sizeof b->total);
    b->alk = tw_water_strong_ion_alk_mol_per_kg(water);
    b->ln_co2 = ln_co2;
    b->inert_mol_per_kg = b->total[TW_TOTAL_CL] + b->total[TW_TOTAL_OTHER];
    b->steps = b->solves_ago = 0;
    b->ln_water = b->solutes = 0.0;
    b->is_carried = b->has_slopes = false;
    b->have = 0;
    find_wanted(b);
    find_unknowns(b);
    find_groups(b);
    find_blocks(b);
    b->u[TW_U_H] = -ph * TW_LN10;
}

/* ------------------------------------------------------------------------------------------- answers */

void tw_water_balance_fail(tw_speciation *out, tw_water_fault fault, tw_total total)
{
    const double nan = TW_WATER_NAN;
    *out = (tw_speciation){.ph = nan, .ionic_strength_mol_per_kg = nan, .water_activity = nan,
                           .si_calcite = nan, .log10_pco2_atm = nan, .dic_mol_per_kg = nan,
                           .strong_ion_alk_mol_per_kg = nan, .titrated_alk_mol_per_kg = nan,
                           .sum_mol_per_kg = nan, .made_at_k = nan, .steps = 0, .fault = fault, .fault_total = total};
    for (int i = 0; i < TW_SPECIES; i++)
        out->mol_per_kg[i] = out->ln_gamma[i] = nan;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        out->ln_activity[k] = nan;
}

static inline double ln_gamma_of(const tw_balance *b, int i, double r)
{
    return b->at->ln_gamma_per_i[i] * b->ionic_strength -
           b->at->ln_gamma_z2[i] * r * (1.0 / (1.0 + b->at->ln_gamma_size[i] * r));
}

/* ln gamma of a block that was passed over, with r = sqrt(I). */
static void activities_of(const tw_balance *b, int from, double r, double *ln_gamma)
{
    double block[TW_LANES];
    for (int l = 0; l < TW_LANES; l++)
        block[l] = ln_gamma_of(b, from + l, r);
    memcpy(ln_gamma + from, block, sizeof block);
}

/* Absent ones may share a block with others; what was carried over is free of them. The last of all stand after the
 * whole blocks. */
static void report_species(const tw_balance *b, tw_speciation *out)
{
    const double r = sqrt(b->ionic_strength);
    memcpy(out->mol_per_kg, b->m, sizeof b->m);
    memcpy(out->ln_gamma, b->ln_gamma, sizeof b->ln_gamma);
    for (int from = 0; from < TW_WATER_LANES; from += TW_LANES)
        if (!(TW_WATER_BLOCK_WANTS[from / TW_LANES] & b->have))
            activities_of(b, from, r, out->ln_gamma);
        else if (b->solves_ago == 0 && (TW_WATER_BLOCK_OF[from / TW_LANES] & ~b->have) != 0)
            for (int i = from; i < from + TW_LANES; i++)
                out->mol_per_kg[i] = (TW_WATER_WANTS[i] & ~b->have) == 0 ? b->m[i] : 0.0;
    for (int i = TW_WATER_LANES; i < TW_SPECIES; i++)
        out->ln_gamma[i] = ln_gamma_of(b, i, r);
}

void tw_water_balance_report(const tw_balance *b, tw_speciation *out)
{
    const tw_constants *at = b->at;
    report_species(b, out);
    out->mol_per_kg[TW_SPECIES_CL] = b->total[TW_TOTAL_CL];
    out->mol_per_kg[TW_SPECIES_OTHER] = b->total[TW_TOTAL_OTHER];
    for (int k = 0; k < TW_UNKNOWNS; k++)
        out->ln_activity[k] = b->present[k] ? b->u[k] : -TW_WATER_INFINITY;
    out->ph = -b->u[TW_U_H] / TW_LN10;
    out->ionic_strength_mol_per_kg = b->ionic_strength;
    out->water_activity = 1.0 - TW_WATER_LESS_PER_MOL * b->here.solutes;
    out->sum_mol_per_kg = b->here.solutes;
    const double ca = out->mol_per_kg[TW_SPECIES_CA];
    const double ln_ca = ca > 0.0 ? tw_log(ca) + out->ln_gamma[TW_SPECIES_CA] : -TW_WATER_INFINITY;
    const double ln_co3 = out->ln_activity[TW_U_CO3];
    out->si_calcite = (ln_ca + ln_co3 - at->ln_ksp_calcite) / TW_LN10;
    out->log10_pco2_atm =
        (at->ln_beta[TW_SPECIES_CO2] + 2.0 * b->u[TW_U_H] + ln_co3 - b->ln_water - at->ln_henry_co2) / TW_LN10;
    out->steps = b->steps;
    out->made_at_k = at->temp_k;
    out->made_with = at->set;
    out->made_of = b->have;
    out->made_for = (int)b->ask;
    out->newton = b->newton;
    out->solves_ago = b->solves_ago;
    out->fault = TW_WATER_FAULT_NONE;
    out->fault_total = TW_TOTAL_NA;
    const double *sum = b->here.sum;
    out->dic_mol_per_kg = sum[TW_U_CO3];
    out->strong_ion_alk_mol_per_kg = 2.0 * sum[TW_U_CO3] + 3.0 * sum[TW_U_PO4] - sum[TW_U_H];
    out->titrated_alk_mol_per_kg = out->strong_ion_alk_mol_per_kg - sum[TW_U_PO4] -
                                   out->mol_per_kg[TW_SPECIES_CL2CY] - out->mol_per_kg[TW_SPECIES_HCL2CY];
}
