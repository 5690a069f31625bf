/* water/balance.c: layout and evaluation of the equations in balance.h. */
#include "water/balance.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/elementary_inline.h"

/* A total below this is taken as absent: less than one part in 1e15 of the thinnest water. Its logarithm
 * would run away and the tolerance never hold. */
#define TRACE_MOL_PER_KG 1e-18

static const int TOTAL_OF_UNKNOWN[TW_UNKNOWNS] = {-1, TW_TOTAL_DIC, TW_TOTAL_SO4, TW_TOTAL_PHOSPHATE,
                                                  TW_TOTAL_ACTIVE_CHLORINE};
static const int TOTAL_OF_GROUP[TW_GROUPS] = {-1,
                                              TW_TOTAL_NA,
                                              TW_TOTAL_K,
                                              TW_TOTAL_CA,
                                              TW_TOTAL_MG,
                                              TW_TOTAL_BORATE,
                                              TW_TOTAL_CYANURATE,
                                              TW_TOTAL_CL,
                                              TW_TOTAL_OTHER};

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
    b->z2[i] = (double)(row->charge * row->charge);
    b->law_z2[i] = at->ln_gamma_z2[s];
    b->law_size[i] = at->ln_gamma_size[s];
    b->law_per_i[i] = at->ln_gamma_per_i[s];
    b->water[i] = row->water;
    b->count[i] = row->count;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        b->nu[k][i] = row->of[k];
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

static int parts_present(const tw_balance *b, const tw_species_row *row)
{
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (row->of[k] != 0 && !b->present[k])
            return 0;
    return 1;
}

static void pack_all(tw_balance *b)
{
    b->n = 0;
    for (int g = 0; g < TW_GROUP_CL; g++) {
        b->begin[g] = b->n;
        const int there = g == TW_GROUP_FREE || is_there(b->total[TOTAL_OF_GROUP[g]]) ||
                          (g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE);
        for (int s = tw_water_group_begin[g]; there && s < tw_water_group_begin[g + 1]; s++)
            if (parts_present(b, &tw_water_species[s]))
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

/* ---------------------------------------------------------------------------------------- evaluation */

/* ln gamma, its slope in I, and e^(ln beta + ...) of every packed species. r = sqrt(I):
 * ln g = -z2 r/(1 + size r) + per_i I,  d ln g/dI = -z2/(2 r (1 + size r)^2) + per_i. */
static void weights(tw_balance *b)
{
    const double r = sqrt(b->ionic_strength), half_over_r = 0.5 / r, strength = b->ionic_strength;
    const double ln_water = b->ln_water;
    for (int from = 0; from < b->n; from += TW_LANES) {
        double e[TW_LANES];
        for (int l = 0; l < TW_LANES; l++) {
            const int i = from + l;
            const double t = 1.0 / (1.0 + b->law_size[i] * r);
            const double ln_gamma = b->law_per_i[i] * strength - b->law_z2[i] * r * t;
            b->ln_gamma[i] = ln_gamma;
            b->by_i[i] = b->law_per_i[i] - b->law_z2[i] * half_over_r * t * t;
            e[l] = b->base[i] + b->water[i] * ln_water - ln_gamma;
        }
        for (int k = 0; k < TW_UNKNOWNS; k++) {
            const double u = b->u[k];
            if (b->present[k])
                for (int l = 0; l < TW_LANES; l++)
                    e[l] += b->nu[k][from + l] * u;
        }
        for (int l = 0; l < TW_LANES; l++)
            b->m[from + l] = tw_exp_lane(e[l]);
    }
}

/* Share the total of a group out among its species: a D1 + 2 a^2 D2 = T, D2 from species that hold the
 * group's part twice. Returns ln a when asked for the dual. */
static double share_out(tw_balance *b, int g, int with_dual)
{
    const double total = b->total[TOTAL_OF_GROUP[g]];
    double once = 0.0, twice = 0.0;
    for (int i = b->begin[g]; i < b->begin[g + 1]; i++) {
        if (b->count[i] > 1.5)
            twice += b->m[i];
        else
            once += b->m[i];
    }
    const double a = 2.0 * total / (once + sqrt(once * once + 8.0 * twice * total));
    for (int i = b->begin[g]; i < b->begin[g + 1]; i++)
        b->m[i] *= b->count[i] > 1.5 ? a * a : a;
    return with_dual ? tw_log(a) : 0.0;
}

/* What a group of species adds up to beside the global sums. */
typedef struct {
    double parts, parts_by_i, charge2, number, nu[TW_UNKNOWNS];
} group_sums;

static void add_species(tw_balance *b, int i, const int *list, int count, group_sums *g)
{
    const double m = b->m[i], z2 = b->z2[i], slope = b->by_i[i], held = b->count[i];
    const double zm = z2 * m, sm = slope * m, hm = held * m;
    b->strength += zm;
    b->strength_by_i -= z2 * sm;
    b->solutes += m;
    b->solutes_by_i -= sm;
    g->parts += held * hm;
    g->parts_by_i += held * sm;
    g->charge2 += held * zm;
    g->number += hm;
    for (int a = 0; a < count; a++) {
        const int k = list[a];
        const double nu = b->nu[k][i];
        if (nu == 0.0)
            continue;
        const double x = nu * m;
        b->sum[k] += x;
        b->sum_by_i[k] -= x * slope;
        b->strength_by_u[k] += x * z2;
        b->solutes_by_u[k] += x;
        g->nu[k] += held * x;
        for (int c = 0; c <= a; c++)
            b->jacobian[k][list[c]] += x * b->nu[list[c]][i];
    }
}

/* The group's own unknown follows the others: d ln a = -(sum count nu m du - sum count slope m dI)/parts. */
static void eliminate(tw_balance *b, const int *list, int count, const group_sums *g)
{
    const double inverse = 1.0 / g->parts;
    for (int a = 0; a < count; a++) {
        const int k = list[a];
        const double f = g->nu[k] * inverse;
        b->sum_by_i[k] += f * g->parts_by_i;
        b->strength_by_u[k] -= f * g->charge2;
        b->solutes_by_u[k] -= f * g->number;
        for (int c = 0; c <= a; c++)
            b->jacobian[k][list[c]] -= f * g->nu[list[c]];
    }
    b->strength_by_i += g->charge2 * g->parts_by_i * inverse;
    b->solutes_by_i += g->number * g->parts_by_i * inverse;
}

/* Cl2Cy- and HCl2Cy, and how they move: the group's derivative of a part of it. */
static void held_chlorine(tw_balance *b, const group_sums *g)
{
    for (int i = b->begin[TW_GROUP_CYANURATE]; i < b->begin[TW_GROUP_CYANURATE + 1]; i++) {
        if (b->which[i] != TW_SPECIES_CL2CY && b->which[i] != TW_SPECIES_HCL2CY)
            continue;
        b->held_chlorine += b->m[i];
        for (int k = 0; k < TW_UNKNOWNS; k++)
            b->held_by_u[k] += b->m[i] * (b->nu[k][i] - g->nu[k] / g->parts);
    }
}

static void clear_sums(tw_balance *b)
{
    memset(b->sum, 0, sizeof b->sum);
    memset(b->jacobian, 0, sizeof b->jacobian);
    memset(b->sum_by_i, 0, sizeof b->sum_by_i);
    memset(b->strength_by_u, 0, sizeof b->strength_by_u);
    memset(b->solutes_by_u, 0, sizeof b->solutes_by_u);
    memset(b->held_by_u, 0, sizeof b->held_by_u);
    b->strength = b->solutes = b->inert_mol_per_kg;
    b->strength_by_i = b->solutes_by_i = b->held_chlorine = b->dual = 0.0;
}

void tw_water_balance_evaluate(tw_balance *b, int with_dual)
{
    int list[TW_UNKNOWNS], count = 0;
    for (int k = 0; k < TW_UNKNOWNS; k++)
        if (b->present[k])
            list[count++] = k;
    clear_sums(b);
    weights(b);
    for (int g = 0; g < TW_GROUP_CL; g++) {
        if (b->begin[g] == b->begin[g + 1])
            continue;
        const int shared = g != TW_GROUP_FREE && !(g == TW_GROUP_CA && b->ask == TW_ASK_CALCITE);
        if (shared)
            b->dual -= b->total[TOTAL_OF_GROUP[g]] * share_out(b, g, with_dual);
        group_sums sums = {0};
        for (int i = b->begin[g]; i < b->begin[g + 1]; i++)
            add_species(b, i, list, count, &sums);
        if (shared)
            eliminate(b, list, count, &sums);
        if (g == TW_GROUP_CYANURATE && b->titrated)
            held_chlorine(b, &sums);
        if (g == TW_GROUP_CA)
            b->calcium = sums.number;
    }
    for (int a = 0; a < count; a++)
        for (int c = 0; c < a; c++)
            b->jacobian[list[c]][list[a]] = b->jacobian[list[a]][list[c]];
    for (int a = 0; a < count; a++)
        b->strength_by_u[list[a]] *= 0.5;
    b->strength *= 0.5;
    b->strength_by_i *= 0.5;
    b->dual += b->solutes;
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

static void sums_of_species(tw_speciation *out)
{
    double dic = 0.0, alk = 0.0, phosphate = 0.0;
    for (int i = 0; i < tw_water_group_begin[TW_GROUP_CL]; i++) {
        const tw_species_row *row = &tw_water_species[i];
        const double m = out->mol_per_kg[i];
        dic += row->of[TW_U_CO3] * m;
        phosphate += row->of[TW_U_PO4] * m;
        alk += (2 * row->of[TW_U_CO3] + 3 * row->of[TW_U_PO4] - row->of[TW_U_H]) * m;
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
    sums_of_species(out);
}
