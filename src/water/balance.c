/* water/balance.c: the layout of the equations in balance.h, and the answer read off them. */
#include "water/balance.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/elementary_inline.h" /* TW_LANES */

/* A total below this is taken as absent: less than one part in 1e15 of the thinnest water. Its logarithm
 * would run away and the tolerance never hold. */
#define TRACE_MOL_PER_KG 1e-18

static const int TOTAL_OF_UNKNOWN[TW_UNKNOWNS] = {-1, TW_TOTAL_DIC, TW_TOTAL_SO4, TW_TOTAL_PHOSPHATE,
                                                  TW_TOTAL_ACTIVE_CHLORINE};
static const int TOTAL_OF_GROUP[TW_GROUPS] = TW_BALANCE_TOTAL_OF_GROUP;

static int is_there(double total)
{
    return total > TRACE_MOL_PER_KG;
}

static void find_present(tw_balance *b)
{
    b->present[TW_U_H] = 1;
    for (int k = TW_U_CO3; k < TW_UNKNOWNS; k++)
        b->present[k] = is_there(b->total[TOTAL_OF_UNKNOWN[k]]);
    if (b->ask == TW_ASK_OPEN || b->ask == TW_ASK_CALCITE || b->ask == TW_ASK_DIC)
        b->present[TW_U_CO3] = 1;
}

/* Put species s at the end of the packed ones. Open to CO2, ln a_CO3 is ln a_CO2 - ln beta - 2 u_h + ln a_w;
 * with calcite, ln a_Ca is ln Ksp - u_co3: both only change the exponents. */
static void pack(tw_balance *b, int s)
{
    const tw_species_row *row = &tw_water_species[s];
    const tw_constants *at = b->at;
    const int i = b->n++;
    b->which[i] = (unsigned char)s;
    b->base[i] = at->ln_beta[s];
    b->z2[i] = row->z2;
    b->law_z2[i] = at->ln_gamma_z2[s];
    b->law_size[i] = at->ln_gamma_size[s];
    b->law_per_i[i] = at->ln_gamma_per_i[s];
    b->water[i] = row->water;
    b->count[i] = row->count;
    if (row->count > 1)
        b->twice = i;
    b->nu[TW_U_H][i] = row->nu[TW_U_H]; /* written out: a loop costs more than it does */
    b->nu[TW_U_CO3][i] = row->nu[TW_U_CO3];
    b->nu[TW_U_SO4][i] = row->nu[TW_U_SO4];
    b->nu[TW_U_PO4][i] = row->nu[TW_U_PO4];
    b->nu[TW_U_HOCL][i] = row->nu[TW_U_HOCL];
    if (b->ask == TW_ASK_OPEN && row->of[TW_U_CO3] != 0) {
        const double co3 = row->of[TW_U_CO3];
        b->base[i] += co3 * (b->ln_co2 - at->ln_beta[TW_SPECIES_CO2]);
        b->water[i] += co3;
        b->nu[TW_U_H][i] -= 2.0 * co3;
        b->nu[TW_U_CO3][i] = 0.0;
    } else if (b->ask == TW_ASK_CALCITE && row->group == TW_GROUP_CA) {
        b->base[i] += at->ln_ksp_calcite;
        b->nu[TW_U_CO3][i] -= 1.0;
    }
}

static void pack_all(tw_balance *b)
{
    unsigned lacking = 0; /* bit of each unknown that is not part of the water */
    for (int k = 0; k < TW_UNKNOWNS; k++)
        lacking |= b->present[k] ? 0u : 1u << k;
    b->n = 0;
    b->twice = -1;
    for (int g = 0; g < TW_GROUP_CL; g++) {
        b->begin[g] = b->n;
        const int there = g == TW_GROUP_FREE || is_there(b->total[TOTAL_OF_GROUP[g]]) ||
                          (g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE);
        for (int s = tw_water_group_begin[g]; there && s < tw_water_group_begin[g + 1]; s++)
            if ((tw_water_species[s].needs & lacking) == 0)
                pack(b, s);
    }
    for (int g = TW_GROUP_CL; g <= TW_GROUPS; g++)
        b->begin[g] = b->n;
    for (int i = b->n; i < TW_BALANCE_SPECIES && i % TW_LANES != 0; i++) {
        b->base[i] = b->law_z2[i] = b->law_size[i] = b->law_per_i[i] = b->water[i] = 0.0;
        for (int k = 0; k < TW_UNKNOWNS; k++)
            b->nu[k][i] = 0.0;
    }
}

void tw_water_balance_begin(tw_balance *b, const tw_constants *at, const tw_water *water, tw_ask ask, double ph,
                      double ln_co2)
{
    b->at = at;
    b->ask = ask;
    memcpy(b->total, water->total_mol_per_kg, sizeof b->total);
    b->alk = tw_water_strong_ion_alk_mol_per_kg(water);
    b->titrated = 0;
    b->ln_co2 = ln_co2;
    b->inert_mol_per_kg = b->total[TW_TOTAL_CL] + b->total[TW_TOTAL_OTHER];
    b->u[TW_U_H] = -ph * TW_LN10;
    b->steps = 0;
    find_present(b);
    pack_all(b);
    if (ask == TW_ASK_OPEN)
        b->present[TW_U_CO3] = 0;
}

/* ------------------------------------------------------------------------------------------- answers */

void tw_water_balance_fail(tw_speciation *out, tw_water_fault fault, tw_total total)
{
    const double nan = TW_WATER_NAN;
    *out = (tw_speciation){.ph = nan, .ionic_strength_mol_per_kg = nan, .water_activity = nan,
                           .si_calcite = nan, .log10_pco2_atm = nan, .dic_mol_per_kg = nan,
                           .strong_ion_alk_mol_per_kg = nan, .titrated_alk_mol_per_kg = nan,
                           .sum_mol_per_kg = nan, .steps = 0, .fault = fault, .fault_total = total};
    for (int i = 0; i < TW_SPECIES; i++)
        out->mol_per_kg[i] = out->ln_gamma[i] = nan;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        out->ln_activity[k] = nan;
}

static void sums_of_species(const tw_balance *b, tw_speciation *out)
{
    double dic = 0.0, alk = 0.0, phosphate = 0.0;
    for (int i = 0; i < b->n; i++) {
        const tw_species_row *row = &tw_water_species[b->which[i]];
        dic += row->nu[TW_U_CO3] * b->m[i];
        phosphate += row->nu[TW_U_PO4] * b->m[i];
        alk += row->alk * b->m[i];
    }
    out->dic_mol_per_kg = dic;
    out->strong_ion_alk_mol_per_kg = alk;
    out->titrated_alk_mol_per_kg =
        alk - phosphate - out->mol_per_kg[TW_SPECIES_CL2CY] - out->mol_per_kg[TW_SPECIES_HCL2CY];
}

void tw_water_balance_report(const tw_balance *b, tw_speciation *out)
{
    const tw_constants *at = b->at;
    const double r = sqrt(b->ionic_strength);
    for (int i = 0; i < TW_SPECIES; i++) {
        out->mol_per_kg[i] = 0.0;
        out->ln_gamma[i] = at->ln_gamma_per_i[i] * b->ionic_strength -
                           at->ln_gamma_z2[i] * r * (1.0 / (1.0 + at->ln_gamma_size[i] * r));
    }
    for (int i = 0; i < b->n; i++)
        out->mol_per_kg[b->which[i]] = b->m[i];
    out->mol_per_kg[TW_SPECIES_CL] = b->total[TW_TOTAL_CL];
    out->mol_per_kg[TW_SPECIES_OTHER] = b->total[TW_TOTAL_OTHER];
    for (int k = 0; k < TW_UNKNOWNS; k++)
        out->ln_activity[k] = b->present[k] ? b->u[k] : -TW_WATER_INFINITY;
    if (b->ask == TW_ASK_OPEN)
        out->ln_activity[TW_U_CO3] =
            b->ln_co2 - at->ln_beta[TW_SPECIES_CO2] - 2.0 * b->u[TW_U_H] + b->ln_water;
    out->ph = -b->u[TW_U_H] / TW_LN10;
    out->ionic_strength_mol_per_kg = b->ionic_strength;
    out->water_activity = tw_exp(b->ln_water);
    out->sum_mol_per_kg = b->solutes;
    const double ca = out->mol_per_kg[TW_SPECIES_CA];
    const double ln_ca = ca > 0.0 ? tw_log(ca) + out->ln_gamma[TW_SPECIES_CA] : -TW_WATER_INFINITY;
    const double ln_co3 = out->ln_activity[TW_U_CO3];
    out->si_calcite = (ln_ca + ln_co3 - at->ln_ksp_calcite) / TW_LN10;
    out->log10_pco2_atm =
        (at->ln_beta[TW_SPECIES_CO2] + 2.0 * b->u[TW_U_H] + ln_co3 - b->ln_water - at->ln_henry_co2) / TW_LN10;
    out->steps = b->steps;
    out->fault = TW_WATER_FAULT_NONE;
    out->fault_total = TW_TOTAL_NA;
    sums_of_species(b, out);
}
