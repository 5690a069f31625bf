/* water/reduced.c: the acids of a water with everything else frozen.
 *
 * Two balances, alkalinity and chlorine, in two unknowns, ln h and ln HOCl. The start takes carbonate in closed form
 * with the other acids at their values nearby; Newton steps finish, down to the last digits, so that pH is a smooth
 * function of the totals. Without chlorine the second unknown falls away. */
#include "water/reduced.h"

#include <math.h>

#include "num/elementary.h"
#include "num/elementary_inline.h"
#include "num/pick.h"

#define NEWTON_STEPS 14               /* at most; four or five as a rule */
#define RING_STEPS 5
#define SETTLED 1e-8
#define H_MAX 1e-2                    /* pH 2   */
#define H_MIN 1e-12                   /* pH 12  */
#define H_START 3.1622776601683794e-8 /* pH 7.5 */

/* About e^move, exact to second order near 0, never more than a factor of about three: a Newton step in a
 * logarithm without an exponential. */
static inline double factor_of(double move)
{
    const double m = tw_clamp(move, -1.0, 1.0);
    return (2.0 + m) / (2.0 - m);
}

/* ------------------------------------------------------------------------------------------ freezing */

/* Molality of a species for unit activities of H+, CO3, PO4, HOCl and the ring, with sulfate and metals as in the
 * reference water. */
static double frozen(const tw_constants *at, const tw_speciation *sp, tw_species s)
{
    const tw_species_row *row = &tw_water_species[s];
    double ln = at->ln_beta[s] - sp->ln_gamma[s] + row->water * tw_log(sp->water_activity);
    if (row->of[2] != 0) /* without any it is minus infinity: e^ of that is 0 */
        ln += row->of[2] * sp->ln_activity[2];
    if (row->group == TW_GROUP_NA || row->group == TW_GROUP_K || row->group == TW_GROUP_CA ||
        row->group == TW_GROUP_MG) {
        const tw_species metal = (tw_species)tw_water_group_first[row->group];
        ln += row->count * (tw_log(sp->mol_per_kg[metal]) + sp->ln_gamma[metal]);
    }
    return tw_exp(ln);
}

/* Calcium with its pairs for each unit of its activity; 0 where there is none. */
static double calcium_held(const tw_speciation *sp)
{
    double all = 0.0;
    for (int s = 0; s < TW_SPECIES; s++)
        if (tw_water_species[s].group == TW_GROUP_CA)
            all += tw_water_species[s].count * sp->mol_per_kg[s];
    return all > 0.0 ? all / (sp->mol_per_kg[TW_SPECIES_CA] * tw_exp(sp->ln_gamma[TW_SPECIES_CA])) : 0.0;
}

static double frozen_sum(const tw_constants *at, const tw_speciation *sp, const tw_species *list, int n)
{
    double sum = 0.0;
    for (int i = 0; i < n; i++)
        sum += frozen(at, sp, list[i]);
    return sum;
}

tw_reduced_water tw_water_reduced_acids(const double *total)
{
    const tw_reduced_water out = {.alk = tw_water_strong_ion_alk_of(total, 1),
                                  .dic = total[TW_TOTAL_DIC],
                                  .borate = total[TW_TOTAL_BORATE],
                                  .cyanurate = total[TW_TOTAL_CYANURATE],
                                  .active_chlorine = total[TW_TOTAL_ACTIVE_CHLORINE],
                                  .phosphate = total[TW_TOTAL_PHOSPHATE]};
    return out;
}

void tw_water_reduced_from(const tw_constants *at, const tw_speciation *sp, tw_reduced *out)
{
    static const tw_species co3[] = {TW_SPECIES_CO3, TW_SPECIES_CACO3, TW_SPECIES_MGCO3};
    static const tw_species hco3[] = {TW_SPECIES_HCO3, TW_SPECIES_CAHCO3, TW_SPECIES_MGHCO3, TW_SPECIES_NAHCO3,
                                      TW_SPECIES_KHCO3};
    static const tw_species oh[] = {TW_SPECIES_OH, TW_SPECIES_CAOH, TW_SPECIES_MGOH};
    static const tw_species acid[] = {TW_SPECIES_H, TW_SPECIES_HSO4, TW_SPECIES_CAHSO4};
    static const tw_species hpo4[] = {TW_SPECIES_HPO4, TW_SPECIES_NAHPO4, TW_SPECIES_CAHPO4, TW_SPECIES_MGHPO4};
    const double b0 = frozen_sum(at, sp, co3, 3), b1 = frozen_sum(at, sp, hco3, 5),
                 b2 = frozen(at, sp, TW_SPECIES_CO2);
    const double p0 = frozen(at, sp, TW_SPECIES_PO4), p1 = frozen_sum(at, sp, hpo4, 4),
                 p2 = frozen(at, sp, TW_SPECIES_H2PO4), p3 = frozen(at, sp, TW_SPECIES_H3PO4);
    out->temp_k = at->temp_k;
    out->ionic_strength_mol_per_kg = sp->ionic_strength_mol_per_kg;
    out->k1 = b1 / b2;
    out->k2 = b0 / b1;
    out->kw = frozen_sum(at, sp, oh, 3);
    out->per_h = frozen_sum(at, sp, acid, 3);
    out->kb = frozen(at, sp, TW_SPECIES_H2BO3) / frozen(at, sp, TW_SPECIES_H3BO3);
    /* HOCl and H3Cy are ideal (data/species.csv): their molalities are their activities. */
    out->kocl = frozen(at, sp, TW_SPECIES_OCL);
    out->kcy = frozen(at, sp, TW_SPECIES_H2CY);
    out->kcy2 = frozen(at, sp, TW_SPECIES_HCY) / out->kcy;
    out->one[0] = frozen(at, sp, TW_SPECIES_H2CLCY);
    out->one[1] = frozen(at, sp, TW_SPECIES_HCLCY);
    out->one[2] = frozen(at, sp, TW_SPECIES_CLCY);
    out->two[0] = frozen(at, sp, TW_SPECIES_HCL2CY);
    out->two[1] = frozen(at, sp, TW_SPECIES_CL2CY);
    out->kp1 = p2 / p3;
    out->kp2 = p1 / p2;
    out->kp3 = p0 / p1;
    out->calcite = tw_exp(at->ln_ksp_calcite) * b0 * calcium_held(sp);
    out->co2_per_atm = tw_exp(at->ln_henry_co2 - sp->ln_gamma[TW_SPECIES_CO2]);
}

/* Salt that gives the ionic strength asked for; the rest of the water takes a part that depends on salt only
 * through pairs, so three corrections do. */
tw_status tw_water_reduced_at(const tw_constants *at, double ionic_strength_mol_per_kg, double calcium_mol_per_kg,
                              double magnesium_mol_per_kg, tw_reduced *out)
{
    const double bicarbonate = 1e-3;
    double salt = ionic_strength_mol_per_kg;
    tw_speciation sp;
    for (int i = 0; i < 4; i++) {
        tw_water w = {.temp_k = at->temp_k};
        const double hardness = calcium_mol_per_kg + magnesium_mol_per_kg;
        w.total_mol_per_kg[TW_TOTAL_NA] = salt + bicarbonate;
        w.total_mol_per_kg[TW_TOTAL_CL] = salt + 2.0 * hardness;
        w.total_mol_per_kg[TW_TOTAL_CA] = calcium_mol_per_kg;
        w.total_mol_per_kg[TW_TOTAL_MG] = magnesium_mol_per_kg;
        w.total_mol_per_kg[TW_TOTAL_DIC] = 1.06 * bicarbonate;
        const tw_status status = tw_water_speciate(at, &w, &sp);
        if (status != TW_OK)
            return status;
        const double next = salt + ionic_strength_mol_per_kg - sp.ionic_strength_mol_per_kg;
        salt = tw_max(next, 0.0);
    }
    tw_water_reduced_from(at, &sp, out);
    return TW_OK;
}

/* ------------------------------------------------------------------------------- the acids at one h */

/* Everything at one h and one free HOCl x: alkalinity and chlorine, and their slopes in ln h and ln x.
 * d chlorine/d ln h = -alk_by_x at equal steps: both are the covariance of charge and chlorine held. */
typedef struct {
    double alk, alk_by_h, alk_by_x;
    double chlorine, chlorine_by_x;
    double carbonate_charge, carbonate_slope, co2_share; /* per mol of DIC */
} tw_acids;

static inline void add_rings(const tw_reduced *k, double ih, double x, double ring, tw_acids *a)
{
    const double a1 = k->kcy * ih, a2 = a1 * k->kcy2 * ih;
    const double c1 = k->one[1] * ih * x, c2 = k->one[2] * ih * ih * x, d1 = k->two[1] * ih * x * x;
    const double t1 = k->one[0] * x + c1 + c2, t2 = k->two[0] * x * x + d1;
    const double inverse = ring / (1.0 + a1 + a2 + t1 + t2), one = 1.0 / ring;
    /* Sums over the rings of charge z and chlorines n, then what they vary together. */
    const double z = (a1 + c1 + d1 + 2.0 * (a2 + c2)) * inverse;
    const double zz = (a1 + c1 + d1 + 4.0 * (a2 + c2)) * inverse;
    const double n = (t1 + 2.0 * t2) * inverse, nn = (t1 + 4.0 * t2) * inverse;
    const double zn = (c1 + 2.0 * (c2 + d1)) * inverse;
    a->alk += z;
    a->alk_by_h -= zz - z * z * one;
    a->alk_by_x += zn - z * n * one;
    a->chlorine += n;
    a->chlorine_by_x += nn - n * n * one;
}

static inline tw_acids acids_at(const tw_reduced *k, double h, double x, const tw_reduced_water *w)
{
    tw_acids a;
    const double ih = 1.0 / h;
    const double c1 = k->k1 * ih, c2 = c1 * k->k2 * ih, inverse = 1.0 / (1.0 + c1 + c2);
    a.co2_share = inverse;
    a.carbonate_charge = (c1 + 2.0 * c2) * inverse;
    a.carbonate_slope = a.carbonate_charge * a.carbonate_charge - (c1 + 4.0 * c2) * inverse;
    const double oh = k->kw * ih, acid = k->per_h * h, share = k->kb / (k->kb + h), ocl = k->kocl * ih * x;
    a.alk = w->dic * a.carbonate_charge + oh - acid + share * w->borate + ocl;
    a.alk_by_h = w->dic * a.carbonate_slope - oh - acid - share * (1.0 - share) * w->borate - ocl;
    a.alk_by_x = ocl;
    a.chlorine = a.chlorine_by_x = x + ocl;
    if (w->phosphate > 0.0) {
        const double p1 = k->kp1 * ih, p2 = p1 * k->kp2 * ih, p3 = p2 * k->kp3 * ih;
        const double ip = 1.0 / (1.0 + p1 + p2 + p3);
        const double charge = (p1 + 2.0 * p2 + 3.0 * p3) * ip, square = (p1 + 4.0 * p2 + 9.0 * p3) * ip;
        a.alk += charge * w->phosphate;
        a.alk_by_h -= (square - charge * charge) * w->phosphate;
    }
    if (w->cyanurate > 0.0)
        add_rings(k, ih, x, w->cyanurate, &a);
    return a;
}

/* Free HOCl at h: without the doubly chlorinated rings it is the root of
 *     free w1 x^2 + (free w0 + (ring - chlorine) w1) x - chlorine w0 = 0
 * (w0, w1 weights of the rings with none and one, free = 1 + OCl/HOCl). */
static inline double about_hocl(const tw_reduced *k, double h, const tw_reduced_water *w)
{
    if (!(w->active_chlorine > 0.0))
        return 0.0;
    const double ih = 1.0 / h, free = 1.0 + k->kocl * ih;
    const double w0 = 1.0 + k->kcy * ih * (1.0 + k->kcy2 * ih), w1 = k->one[0] + ih * (k->one[1] + ih * k->one[2]);
    const double b = free * w0 + (w->cyanurate - w->active_chlorine) * w1;
    const double q = free * w1 * w->active_chlorine * w0, root = sqrt(b * b + 4.0 * q);
    return b > 0.0 ? 2.0 * w->active_chlorine * w0 / (b + root) : (root - b) / (2.0 * free * w1);
}

/* The doubly chlorinated rings added: Newton in ln x (chlorine rises with x). */
static inline double hocl_at(const tw_reduced *k, double h, const tw_reduced_water *w)
{
    double x = about_hocl(k, h, w);
    if (!(x > 0.0) || !(w->cyanurate > 0.0))
        return x;
    for (int step = 0; step < RING_STEPS; step++) {
        const tw_acids a = acids_at(k, h, x, w);
        x *= factor_of(-(a.chlorine - w->active_chlorine) / a.chlorine_by_x);
    }
    return x;
}

/* alk (h^2 + k1 h + k1 k2) = dic (k1 h + 2 k1 k2), with alk pulled inside what carbonate can hold. */
static inline double h_of_carbonate(const tw_reduced *k, double alk, double dic)
{
    const double least = 0.02 * dic + 1e-9, most = 1.95 * dic + 1e-9;
    const double a = tw_clamp(alk, least, most);
    const double b = k->k1 * (a - dic), c = k->k1 * k->k2 * (a - 2.0 * dic);
    const double inside = b * b - 4.0 * a * c, root = sqrt(tw_max(inside, 0.0));
    const double h = b < 0.0 ? (root - b) / (2.0 * a) : -2.0 * c / (root + b + 1e-300);
    return tw_clamp(h, H_MIN, H_MAX);
}

/* Alkalinity of the other acids near h, HOCl and rings without their coupling: for the start. */
static inline double other_alk(const tw_reduced *k, double h, const tw_reduced_water *w)
{
    const double ih = 1.0 / h;
    return k->kw * ih - k->per_h * h + w->borate * k->kb / (k->kb + h) + w->cyanurate * k->kcy / (k->kcy + h) +
           (1.0 + k->kp2 / (k->kp2 + h)) * w->phosphate;
}

/* Borate buffers more than carbonate near its pK, so the start halves (in ln h) the way between what carbonate
 * says with the other acids at pH 7.5 and there. */
static inline double start_h(const tw_reduced *k, const tw_reduced_water *w)
{
    const double first = h_of_carbonate(k, w->alk - other_alk(k, H_START, w), w->dic);
    const double middle = sqrt(first * H_START);
    const double second = h_of_carbonate(k, w->alk - other_alk(k, middle, w), w->dic);
    return sqrt(second * middle);
}

/* Where both balances hold: Newton in ln h and ln x together. The Jacobian is (alk_by_h, alk_by_x; -alk_by_x,
 * chlorine_by_x) with alk_by_h < 0 < chlorine_by_x: its determinant is never zero. */
static inline double h_of(const tw_reduced *k, const tw_reduced_water *w, double *hocl)
{
    double h = start_h(k, w), x = about_hocl(k, h, w);
    for (int step = 0; step < NEWTON_STEPS; step++) {
        const tw_acids a = acids_at(k, h, x, w);
        const double alk_gap = w->alk - a.alk;
        double h_move = alk_gap / a.alk_by_h, x_move = 0.0;
        if (x > 0.0) {
            const double chlorine_gap = w->active_chlorine - a.chlorine;
            const double inverse = 1.0 / (a.alk_by_h * a.chlorine_by_x + a.alk_by_x * a.alk_by_x);
            h_move = (alk_gap * a.chlorine_by_x - chlorine_gap * a.alk_by_x) * inverse;
            x_move = (chlorine_gap * a.alk_by_h + alk_gap * a.alk_by_x) * inverse;
            x *= factor_of(x_move);
        }
        h *= factor_of(h_move);
        h = tw_clamp(h, H_MIN, H_MAX);
        /* The next step would be the square of this one: nothing. */
        if (tw_max(fabs(h_move), fabs(x_move)) < SETTLED)
            break;
    }
    *hocl = x;
    return h;
}

static inline void answer_at(const tw_reduced *k, const tw_reduced_water *w, tw_reduced_answer *out)
{
    double x = 0.0;
    const double h = h_of(k, w, &x);
    const tw_acids a = acids_at(k, h, x, w);
    const double coupling = x > 0.0 ? a.alk_by_x * a.alk_by_x / a.chlorine_by_x : 0.0;
    const double lnh_by_alk = 1.0 / (a.alk_by_h + coupling), lnh_by_dic = -a.carbonate_charge * lnh_by_alk;
    const double co2_by_lnh = w->dic * a.co2_share * a.carbonate_charge; /* the share rises with its mean charge */
    out->ph = -tw_log_lane(h) / TW_LN10;
    out->co2 = w->dic * a.co2_share;
    out->hocl = x;
    out->ph_by_alk = -lnh_by_alk / TW_LN10;
    out->ph_by_dic = -lnh_by_dic / TW_LN10;
    out->co2_by_alk = co2_by_lnh * lnh_by_alk;
    out->co2_by_dic = a.co2_share + co2_by_lnh * lnh_by_dic;
}

void tw_water_reduced_solve(const tw_reduced *k, const tw_reduced_water *water, tw_reduced_answer *out)
{
    answer_at(k, water, out);
}

void tw_water_reduced_solve_many(const tw_reduced *k, size_t n, const tw_reduced_waters *waters,
                                 const tw_reduced_answers *out)
{
    for (size_t i = 0; i < n; i++) {
        const tw_reduced_water w = {waters->alk ? waters->alk[i] : 0.0,
                                    waters->dic ? waters->dic[i] : 0.0,
                                    waters->borate ? waters->borate[i] : 0.0,
                                    waters->cyanurate ? waters->cyanurate[i] : 0.0,
                                    waters->active_chlorine ? waters->active_chlorine[i] : 0.0,
                                    waters->phosphate ? waters->phosphate[i] : 0.0};
        tw_reduced_answer a;
        answer_at(k, &w, &a);
        out->ph[i] = a.ph;
        if (out->co2)
            out->co2[i] = a.co2;
        if (out->hocl)
            out->hocl[i] = a.hocl;
        if (out->ph_by_alk)
            out->ph_by_alk[i] = a.ph_by_alk;
        if (out->ph_by_dic)
            out->ph_by_dic[i] = a.ph_by_dic;
        if (out->co2_by_alk)
            out->co2_by_alk[i] = a.co2_by_alk;
        if (out->co2_by_dic)
            out->co2_by_dic[i] = a.co2_by_dic;
    }
}

double tw_water_reduced_alk_at_ph(const tw_reduced *k, const tw_reduced_water *water, double ph)
{
    const double h = tw_pow10(-ph);
    return acids_at(k, h, hocl_at(k, h, water), water).alk;
}

double tw_water_reduced_dic_at_ph(const tw_reduced *k, const tw_reduced_water *water, double ph)
{
    const double h = tw_pow10(-ph);
    tw_reduced_water bare = *water;
    bare.dic = 0.0;
    const tw_acids a = acids_at(k, h, hocl_at(k, h, &bare), &bare);
    return (water->alk - a.alk) / a.carbonate_charge;
}

double tw_water_reduced_hocl(const tw_reduced *k, double ph, double active_chlorine, double cyanurate)
{
    const tw_reduced_water water = {.active_chlorine = active_chlorine, .cyanurate = cyanurate};
    return hocl_at(k, tw_pow10(-ph), &water);
}
