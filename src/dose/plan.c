/* dose/plan.c: thresholds of each possible water, and their quantile. */
#include "dose/plan.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/philox.h"
#include "num/sort.h"
#include "water/edge.h"
#include "water/reduced.h"
#include "water/speciate.h"

#define STREAM_STRENGTH 0x646F7365u /* "dose" */
#define NO_LIMIT 1e12               /* grams: a limit that this substance never meets */

typedef struct {
    double *error;   /* true grams of active for each gram meant */
    double *least;   /* smallest threshold of a member           */
    double *value;
    uint32_t *order;
} room;

size_t tw_dose_plan_bytes(size_t n)
{
    return n * (3 * sizeof(double) + sizeof(uint32_t)) + 64;
}

static room room_in(void *mem, size_t n)
{
    room r;
    r.error = mem;
    r.least = r.error + n;
    r.value = r.least + n;
    r.order = (uint32_t *)(void *)(r.value + n);
    return r;
}

static double quantile(const tw_waters *w, room *r, const double *value, double p)
{
    tw_sort_index(value, w->n, r->order);
    return tw_quantile_weighted(value, w->weight, r->order, w->n, p);
}

/* Which totals a quantity is made of and what a mol of it is in mg/L. pH is no such sum. */
static double slope_of(const tw_waters *w, tw_quantity_of_water of, const double *per_total)
{
    const double kg = w->solvent_kg_per_l;
    switch (of) {
    case TW_OF_ALKALINITY:
        return tw_water_alk_mg_per_l_caco3_from_mol_per_kg(tw_water_strong_ion_alk_of(per_total, 1), kg);
    case TW_OF_CALCIUM:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CACO3, per_total[TW_TOTAL_CA], kg);
    case TW_OF_SALT:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_NACL, per_total[TW_TOTAL_CL], kg);
    case TW_OF_CHLORINE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CL2, per_total[TW_TOTAL_ACTIVE_CHLORINE], kg);
    case TW_OF_CYANURATE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_CYA, per_total[TW_TOTAL_CYANURATE], kg);
    case TW_OF_SULFATE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_SO4, per_total[TW_TOTAL_SO4], kg);
    case TW_OF_PHOSPHATE:
        return tw_water_mg_per_l_from_mol_per_kg(TW_MOLAR_PO4, per_total[TW_TOTAL_PHOSPHATE], kg);
    case TW_OF_PH:
    case TW_OF_QUANTITIES:
        break;
    }
    return 0.0;
}

static void totals_of(const tw_waters *w, size_t i, double out[TW_TOTALS])
{
    for (int t = 0; t < TW_TOTALS; t++)
        out[t] = w->total[t][i];
}

static double after_of(const tw_waters *w, size_t i, const tw_substance *s, double grams, double out[TW_TOTALS])
{
    totals_of(w, i, out);
    if (s != NULL && grams > 0.0)
        for (int t = 0; t < TW_TOTALS; t++) {
            out[t] += s->total_mol_per_g[t] * grams / w->water_kg[i];
            if (t != TW_TOTAL_NA && out[t] < 0.0)
                out[t] = 0.0;
        }
    return tw_water_strong_ion_alk_of(out, 1);
}

static double ph_of(const tw_reduced *k, const double t[TW_TOTALS], double alk)
{
    const tw_reduced_water q = {alk, t[TW_TOTAL_DIC], t[TW_TOTAL_BORATE], t[TW_TOTAL_CYANURATE],
                                t[TW_TOTAL_ACTIVE_CHLORINE], t[TW_TOTAL_PHOSPHATE]};
    tw_reduced_answer a;
    tw_water_reduced_solve(k, &q, &a);
    return a.ph;
}

static double value_after(const tw_waters *w, const tw_reduced *k, size_t i, tw_quantity_of_water of,
                          const tw_substance *s, double grams)
{
    double t[TW_TOTALS];
    const double alk = after_of(w, i, s, grams, t);
    return of == TW_OF_PH ? ph_of(k, t, alk) : slope_of(w, of, t);
}

/* 1 when the substance brings acids or bases other than strong ions, so that alkalinity alone does
 * not say where pH goes. */
static int brings_weak_acids(const tw_substance *s)
{
    return s->total_mol_per_g[TW_TOTAL_DIC] != 0.0 || s->total_mol_per_g[TW_TOTAL_BORATE] != 0.0 ||
           s->total_mol_per_g[TW_TOTAL_CYANURATE] != 0.0 || s->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] != 0.0 ||
           s->total_mol_per_g[TW_TOTAL_PHOSPHATE] != 0.0;
}

/* Grams at which this member's pH is the limit; 0 when it is crossed already, NO_LIMIT when the dose
 * moves pH the other way or never gets there. */
static double ph_threshold(const tw_waters *w, const tw_reduced *k, size_t i, const tw_substance *s,
                           double limit, int is_floor)
{
    double t[TW_TOTALS];
    const double alk = after_of(w, i, NULL, 0.0, t), per_g = tw_dose_alk_eq_per_g(s) / w->water_kg[i];
    const double now = ph_of(k, t, alk), sign = is_floor ? 1.0 : -1.0;
    if (sign * (now - limit) <= 0.0)
        return 0.0;
    if (!brings_weak_acids(s)) {
        const tw_reduced_water q = {0.0, t[TW_TOTAL_DIC], t[TW_TOTAL_BORATE], t[TW_TOTAL_CYANURATE],
                                    t[TW_TOTAL_ACTIVE_CHLORINE], t[TW_TOTAL_PHOSPHATE]};
        const double grams = per_g == 0.0 ? -1.0 : (tw_water_reduced_alk_at_ph(k, &q, limit) - alk) / per_g;
        return grams > 0.0 ? grams : NO_LIMIT;
    }
    /* pH is monotone in the dose of one substance as long as its own acid is not reached; 60 halvings
     * of 0 .. 20 g/kg pin the threshold to the last digits. */
    double low = 0.0, high = 20.0 * w->water_kg[i];
    if (sign * (value_after(w, k, i, TW_OF_PH, s, high) - limit) > 0.0)
        return NO_LIMIT;
    for (int step = 0; step < 60; step++) {
        const double middle = 0.5 * (low + high);
        if (sign * (value_after(w, k, i, TW_OF_PH, s, middle) - limit) > 0.0)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* The same for what is affine in the dose. */
static double affine_threshold(const tw_waters *w, size_t i, tw_quantity_of_water of, const tw_substance *s,
                               double limit, int is_floor)
{
    double t[TW_TOTALS];
    totals_of(w, i, t);
    const double now = slope_of(w, of, t), per_g = slope_of(w, of, s->total_mol_per_g) / w->water_kg[i];
    const double room_left = is_floor ? now - limit : limit - now;
    const double moves = is_floor ? -per_g : per_g;
    if (room_left <= 0.0 && moves > 0.0)
        return 0.0;
    return moves > 0.0 ? room_left / moves : NO_LIMIT;
}

static double threshold(const tw_waters *w, const tw_reduced *k, size_t i, const tw_substance *s,
                        tw_quantity_of_water of, double limit, int is_floor)
{
    return of == TW_OF_PH ? ph_threshold(w, k, i, s, limit, is_floor)
                          : affine_threshold(w, i, of, s, limit, is_floor);
}

tw_status tw_dose_middle(const tw_waters *w, void *mem, size_t bytes, tw_water *out, double *water_kg)
{
    if (w->n == 0)
        return TW_ERR_RANGE;
    if (bytes < tw_dose_plan_bytes(w->n))
        return TW_ERR_CAPACITY;
    room r = room_in(mem, w->n);
    out->temp_k = quantile(w, &r, w->temp_k, 0.5);
    for (int t = 0; t < TW_TOTALS; t++)
        out->total_mol_per_kg[t] = quantile(w, &r, w->total[t], 0.5);
    /* Medians of the totals do not balance: keep the median alkalinity by the sodium. */
    for (size_t i = 0; i < w->n; i++) {
        double t[TW_TOTALS];
        totals_of(w, i, t);
        r.value[i] = tw_water_strong_ion_alk_of(t, 1);
    }
    out->total_mol_per_kg[TW_TOTAL_NA] +=
        quantile(w, &r, r.value, 0.5) - tw_water_strong_ion_alk_mol_per_kg(out);
    if (out->total_mol_per_kg[TW_TOTAL_NA] < 0.0) {
        out->total_mol_per_kg[TW_TOTAL_CL] -= out->total_mol_per_kg[TW_TOTAL_NA];
        out->total_mol_per_kg[TW_TOTAL_NA] = 0.0;
    }
    *water_kg = quantile(w, &r, w->water_kg, 0.5);
    return TW_OK;
}

/* Constants of the acids frozen at the middle water: within 0.003 pH of the full solve (water/reduced.h). */
static tw_status frozen(const tw_waters *w, void *mem, size_t bytes, tw_reduced *k)
{
    tw_water middle;
    double kg = 0.0;
    tw_constants at;
    tw_speciation sp;
    tw_status status = tw_dose_middle(w, mem, bytes, &middle, &kg);
    if (status == TW_OK)
        status = tw_water_constants_at(middle.temp_k, &at);
    if (status == TW_OK)
        status = tw_water_speciate(&at, &middle, &sp);
    if (status == TW_OK)
        tw_water_reduced_from(&at, &sp, k);
    return status;
}

static void draw_errors(const tw_dose_ask *ask, size_t n, double *error)
{
    const double sd = sqrt(ask->substance->assay_sd_ln * ask->substance->assay_sd_ln +
                           ask->weighing_sd_ln * ask->weighing_sd_ln);
    for (size_t i = 0; i < n; i++) {
        error[i] = 1.0;
        if (sd > 0.0) {
            tw_stream stream = tw_stream_make(ask->seed, 0, STREAM_STRENGTH, (uint32_t)i);
            const double z = tw_stream_normal(&stream);
            error[i] = tw_exp(sd * z);
        }
    }
}

static double share_over(const tw_waters *w, const double *threshold_g, double grams)
{
    double over = 0.0, all = 0.0;
    for (size_t i = 0; i < w->n; i++) {
        const double weight = w->weight != NULL ? w->weight[i] : 1.0;
        all += weight;
        if (threshold_g[i] < grams)
            over += weight;
    }
    return over / all;
}

/* Thresholds of one limit in meant grams, into r->value. */
static void thresholds(const tw_waters *w, const tw_reduced *k, const tw_dose_ask *ask, size_t l, room *r)
{
    for (size_t i = 0; i < w->n; i++)
        r->value[i] = threshold(w, k, i, ask->substance, ask->limit[l].of, ask->limit[l].value,
                                ask->limit[l].is_floor) / r->error[i];
}

static void largest_admissible(const tw_waters *w, const tw_reduced *k, const tw_dose_ask *ask, room *r,
                               tw_dose_step *out)
{
    double risk = ask->risk;
    if (ask->margin)
        risk -= 1.645 * sqrt(0.05 * 0.95 / (double)w->n);
    risk = risk > 0.0 ? risk : 0.0;
    for (size_t i = 0; i < w->n; i++)
        r->least[i] = NO_LIMIT;
    double tightest = NO_LIMIT;
    for (size_t l = 0; l < ask->limits; l++) {
        thresholds(w, k, ask, l, r);
        for (size_t i = 0; i < w->n; i++)
            r->least[i] = r->value[i] < r->least[i] ? r->value[i] : r->least[i];
        const double alone = quantile(w, r, r->value, risk);
        if (alone < tightest) {
            tightest = alone;
            out->bound_limit = l;
        }
    }
    out->admissible_g = ask->limits > 0 ? quantile(w, r, r->least, risk) : NO_LIMIT;
}

static void chances(const tw_waters *w, const tw_reduced *k, const tw_dose_ask *ask, room *r, tw_dose_step *out)
{
    for (size_t l = 0; l < ask->limits; l++) {
        thresholds(w, k, ask, l, r);
        out->chance[l] = share_over(w, r->value, out->grams);
        out->chance_single[l] = share_over(w, r->value, out->to_target_g);
    }
    out->chance_any = ask->limits > 0 ? share_over(w, r->least, out->grams) : 0.0;
}

static void spread_after(const tw_waters *w, const tw_reduced *k, tw_quantity_of_water of, const tw_substance *s,
                         double grams, room *r, double out[3])
{
    for (size_t i = 0; i < w->n; i++)
        r->value[i] = value_after(w, k, i, of, s, grams * (s != NULL ? r->error[i] : 1.0));
    tw_sort(r->value, w->n);
    out[0] = tw_quantile_sorted(r->value, w->n, 0.05);
    out[1] = tw_quantile_sorted(r->value, w->n, 0.50);
    out[2] = tw_quantile_sorted(r->value, w->n, 0.95);
}

tw_status tw_dose_spread_of(const tw_waters *w, tw_quantity_of_water of, void *mem, size_t bytes, double out[3])
{
    tw_reduced k;
    const tw_status status = frozen(w, mem, bytes, &k);
    if (status != TW_OK)
        return status;
    room r = room_in(mem, w->n);
    spread_after(w, &k, of, NULL, 0.0, &r, out);
    return TW_OK;
}

static void round_down(const tw_dose_ask *ask, tw_dose_step *out)
{
    double grams = out->to_target_g;
    out->bound = TW_BOUND_TARGET;
    if (out->admissible_g < grams) {
        grams = out->admissible_g;
        out->bound = TW_BOUND_LIMIT;
    }
    if (ask->cap_g > 0.0 && ask->cap_g < grams) {
        grams = ask->cap_g;
        out->bound = TW_BOUND_CAP;
    }
    if (ask->grid_g > 0.0)
        grams = ask->grid_g * floor(grams / ask->grid_g + 1e-9);
    out->grams = grams > 0.0 ? grams : 0.0;
    if (!(out->to_target_g > 0.0))
        out->bound = TW_BOUND_NONE_NEEDED;
}

tw_status tw_dose_plan(const tw_waters *w, const tw_dose_ask *ask, void *mem, size_t bytes, tw_dose_step *out)
{
    memset(out, 0, sizeof *out);
    if (w->n == 0 || !(ask->risk >= 0.0 && ask->risk <= 1.0) || ask->limits > TW_DOSE_LIMITS ||
        !(ask->aim_quantile > 0.0 && ask->aim_quantile < 1.0))
        return TW_ERR_RANGE;
    tw_reduced k;
    const tw_status status = frozen(w, mem, bytes, &k);
    if (status != TW_OK)
        return status;
    room r = room_in(mem, w->n);
    draw_errors(ask, w->n, r.error);
    /* To the target: for most of the possible waters the dose at which each gets there. A quantity that is
     * to fall is a floor to fall to; one that is to rise a ceiling to rise to. */
    const double ph_way = tw_dose_alk_eq_per_g(ask->substance);
    const double way = ask->aim == TW_OF_PH ? ph_way : slope_of(w, ask->aim, ask->substance->total_mol_per_g);
    if (way == 0.0)
        return TW_ERR_RANGE;
    for (size_t i = 0; i < w->n; i++)
        r.value[i] = threshold(w, &k, i, ask->substance, ask->aim, ask->target, way < 0.0);
    out->to_target_g = quantile(w, &r, r.value, ask->aim_quantile);
    largest_admissible(w, &k, ask, &r, out);
    round_down(ask, out);
    chances(w, &k, ask, &r, out);
    for (int of = 0; of < TW_OF_QUANTITIES; of++)
        spread_after(w, &k, (tw_quantity_of_water)of, ask->substance, out->grams, &r, out->after[of]);
    double single[3];
    spread_after(w, &k, TW_OF_PH, ask->substance, out->to_target_g, &r, single);
    out->single_ph = single[1];
    const double rest = out->to_target_g - out->grams, most = out->grams > 0.0 ? out->grams : 1.0;
    out->steps = out->grams > 0.0 ? 1u + (uint32_t)(rest > 0.04 * out->to_target_g ? rest / most + 0.999 : 0.0) : 0u;
    return TW_OK;
}
