/* dose/plan.c: thresholds of each possible water, and their quantile. */
#include "dose/plan.h"

#include <math.h>
#include <string.h>

#include "dose/threshold.h"
#include "num/elementary.h"
#include "num/philox.h"
#include "num/sort.h"
#include "water/speciate.h"

#define STREAM_STRENGTH 0x646F7365u /* "dose" */

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

static double weight_of(const tw_waters *w, size_t i)
{
    return w->weight != NULL ? w->weight[i] : 1.0;
}

static double quantile(const tw_waters *w, room *r, const double *value, double p)
{
    return tw_quantile_picked(value, w->weight, w->n, p, r->order);
}

tw_water tw_dose_member(const tw_waters *w, size_t i)
{
    static const double CHARGE[TW_TOTALS] = {[TW_TOTAL_K] = 1.0,   [TW_TOTAL_CA] = 2.0,   [TW_TOTAL_MG] = 2.0,
                                             [TW_TOTAL_CL] = -1.0, [TW_TOTAL_SO4] = -2.0, [TW_TOTAL_OTHER] = -1.0};
    tw_water out;
    out.temp_k = w->temp_k[i];
    for (int t = 0; t < TW_TOTALS; t++)
        out.total_mol_per_kg[t] = w->total[t][i];
    for (int t = 0; t < TW_TOTALS; t++)
        if (t != TW_TOTAL_NA && out.total_mol_per_kg[t] < 0.0) {
            out.total_mol_per_kg[TW_TOTAL_NA] += CHARGE[t] * out.total_mol_per_kg[t];
            out.total_mol_per_kg[t] = 0.0;
        }
    return out;
}

static int is_finite(double x)
{
    return x - x == 0.0;
}

/* 1 when every member is a water: finite, with mass, weights not negative. */
static int are_waters(const tw_waters *w)
{
    double sum = 0.0;
    if (w->n == 0 || w->n > UINT32_MAX || !(w->solvent_kg_per_l > 0.0))
        return 0;
    for (size_t i = 0; i < w->n; i++) {
        if (!is_finite(w->water_kg[i]) || !(w->water_kg[i] > 0.0) || !is_finite(w->temp_k[i]))
            return 0;
        for (int t = 0; t < TW_TOTALS; t++)
            if (!is_finite(w->total[t][i]))
                return 0;
        if (!is_finite(weight_of(w, i)) || weight_of(w, i) < 0.0)
            return 0;
        sum += weight_of(w, i);
    }
    return sum > 0.0;
}

double tw_dose_effective(const tw_waters *w)
{
    double sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < w->n; i++) {
        sum += weight_of(w, i);
        squares += weight_of(w, i) * weight_of(w, i);
    }
    return sum * sum / squares;
}

double tw_dose_worked_at(double risk, double members)
{
    const double at = risk - 1.645 * sqrt(risk * (1.0 - risk) / members);
    return at > 0.0 ? at : 0.0;
}

static tw_water middle_of(const tw_waters *w, room *r, double *water_kg)
{
    tw_water out;
    out.temp_k = quantile(w, r, w->temp_k, 0.5);
    for (int t = 0; t < TW_TOTALS; t++) {
        out.total_mol_per_kg[t] = quantile(w, r, w->total[t], 0.5);
        if (t != TW_TOTAL_NA && out.total_mol_per_kg[t] < 0.0)
            out.total_mol_per_kg[t] = 0.0;
    }
    /* Medians of the totals do not balance: keep the median alkalinity by the sodium. */
    for (size_t i = 0; i < w->n; i++) {
        const tw_water one = tw_dose_member(w, i);
        r->value[i] = tw_water_strong_ion_alk_mol_per_kg(&one);
    }
    out.total_mol_per_kg[TW_TOTAL_NA] +=
        quantile(w, r, r->value, 0.5) - tw_water_strong_ion_alk_mol_per_kg(&out);
    if (out.total_mol_per_kg[TW_TOTAL_NA] < 0.0) {
        out.total_mol_per_kg[TW_TOTAL_CL] -= out.total_mol_per_kg[TW_TOTAL_NA];
        out.total_mol_per_kg[TW_TOTAL_NA] = 0.0;
    }
    *water_kg = quantile(w, r, w->water_kg, 0.5);
    return out;
}

tw_status tw_dose_middle(const tw_waters *w, void *mem, size_t bytes, tw_water *out, double *water_kg)
{
    if (!are_waters(w))
        return TW_ERR_RANGE;
    if (bytes < tw_dose_plan_bytes(w->n))
        return TW_ERR_CAPACITY;
    room r = room_in(mem, w->n);
    *out = middle_of(w, &r, water_kg);
    return TW_OK;
}

tw_status tw_dose_frozen(const tw_waters *w, void *mem, size_t bytes, tw_water *middle, double *kg, tw_reduced *k)
{
    tw_constants at;
    tw_speciation sp;
    tw_status status = tw_dose_middle(w, mem, bytes, middle, kg);
    if (status == TW_OK)
        status = tw_water_constants_at(middle->temp_k, &at);
    if (status == TW_OK)
        status = tw_water_speciate(&at, middle, &sp);
    if (status == TW_OK)
        tw_water_reduced_from(&at, &sp, k);
    return status;
}

double tw_dose_error_of(const tw_dose_ask *ask, size_t n, size_t member)
{
    const double sd = sqrt(ask->substance->assay_sd_ln * ask->substance->assay_sd_ln +
                           ask->weighing_sd_ln * ask->weighing_sd_ln);
    if (!(sd > 0.0) || n < 2)
        return 1.0;
    tw_stream stream = tw_stream_make(ask->seed, 0, STREAM_STRENGTH, (uint32_t)member);
    const double z = tw_stream_normal(&stream);
    return tw_exp(sd * z);
}

static void draw_errors(const tw_dose_ask *ask, size_t n, double *error)
{
    for (size_t i = 0; i < n; i++)
        error[i] = tw_dose_error_of(ask, n, i);
}

/* Share of the weight whose threshold lies under these grams. */
static double share_over(const tw_waters *w, const double *threshold_g, double grams)
{
    double over = 0.0, all = 0.0;
    for (size_t i = 0; i < w->n; i++) {
        all += weight_of(w, i);
        if (threshold_g[i] < grams)
            over += weight_of(w, i);
    }
    return over / all;
}

/* Thresholds of one limit in meant grams, into r->value. */
static void thresholds(const tw_waters *w, const tw_dose_frame *f, const tw_dose_limit *limit, room *r)
{
    for (size_t i = 0; i < w->n; i++) {
        const tw_water one = tw_dose_member(w, i);
        r->value[i] = tw_dose_threshold_limit(f, &one, w->water_kg[i], limit->of, limit->value, limit->is_floor) /
                      r->error[i];
    }
}

static void largest_admissible(const tw_waters *w, const tw_dose_frame *f, const tw_dose_ask *ask, room *r,
                               tw_dose_step *out)
{
    out->risk_worked_at = ask->margin ? tw_dose_worked_at(ask->risk, out->members) : ask->risk;
    for (size_t i = 0; i < w->n; i++)
        r->least[i] = TW_DOSE_NEVER;
    double tightest = TW_DOSE_NEVER;
    for (size_t l = 0; l < ask->limits; l++) {
        thresholds(w, f, &ask->limit[l], r);
        for (size_t i = 0; i < w->n; i++)
            r->least[i] = r->value[i] < r->least[i] ? r->value[i] : r->least[i];
        const double alone = quantile(w, r, r->value, out->risk_worked_at);
        if (alone < tightest) {
            tightest = alone;
            out->bound_limit = l;
        }
        out->chance_single[l] = share_over(w, r->value, out->to_target_g);
    }
    out->admissible_g = ask->limits > 0 ? quantile(w, r, r->least, out->risk_worked_at) : TW_DOSE_NEVER;
}

static void chances(const tw_waters *w, const tw_dose_frame *f, const tw_dose_ask *ask, room *r, tw_dose_step *out)
{
    out->chance_any = share_over(w, r->least, out->grams);
    for (size_t l = 0; l < ask->limits; l++) {
        thresholds(w, f, &ask->limit[l], r);
        out->chance[l] = share_over(w, r->value, out->grams);
    }
}

static void spread_after(const tw_waters *w, const tw_dose_frame *f, tw_quantity_of_water of, double grams, room *r,
                         double out[3])
{
    static const double P[3] = {0.05, 0.50, 0.95};
    for (size_t i = 0; i < w->n; i++) {
        tw_water one = tw_dose_member(w, i);
        if (f->substance != NULL)
            one = tw_dose_apply(one, w->water_kg[i], f->substance, grams * r->error[i]);
        r->value[i] = tw_dose_value(f, of, &one);
    }
    for (int q = 0; q < 3; q++)
        out[q] = tw_quantile_picked(r->value, w->weight, w->n, P[q], r->order);
}

tw_status tw_dose_spread_of(const tw_waters *w, tw_quantity_of_water of, void *mem, size_t bytes, double out[3])
{
    tw_reduced k;
    tw_water middle;
    double kg = 0.0;
    const tw_status status = tw_dose_frozen(w, mem, bytes, &middle, &kg, &k);
    if (status != TW_OK)
        return status;
    const tw_dose_frame f = {&k, NULL, w->solvent_kg_per_l};
    room r = room_in(mem, w->n);
    spread_after(w, &f, of, 0.0, &r, out);
    return TW_OK;
}

/* Down to the grid; a billionth of a step is rounding of the arithmetic, but nothing lifts the cap. */
static double on_grid(const tw_dose_ask *ask, double grams)
{
    if (!(ask->grid_g > 0.0) || !(grams > 0.0))
        return grams > 0.0 ? grams : 0.0;
    double steps = floor(grams / ask->grid_g + 1e-9);
    if (ask->cap_g > 0.0 && steps * ask->grid_g > ask->cap_g)
        steps -= 1.0;
    return steps * ask->grid_g;
}

static void choose(const tw_dose_ask *ask, tw_dose_step *out)
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
    out->grams = on_grid(ask, grams);
    out->off_grid_g = grams > out->grams ? grams - out->grams : 0.0;
    if (!(out->to_target_g > 0.0))
        out->bound = TW_BOUND_NONE_NEEDED;
}

/* This step and those after it if each could be as large; what is under 4 % of the way counts as there. */
static uint32_t steps_of(const tw_dose_step *step)
{
    if (!(step->grams > 0.0))
        return 0;
    const double rest = step->to_target_g - step->grams;
    if (!(rest > 0.04 * step->to_target_g))
        return 1;
    const double more = ceil(rest / step->grams - 1e-9);
    return more < 1e6 ? 1u + (uint32_t)more : 1000000u;
}

/* Which way the substance moves the aim: +1, -1, or 0. pH by the acids of the middle water, since
 * bicarbonate raises a low pH and lowers a high one. */
static int way_of(const tw_dose_frame *f, const tw_dose_ask *ask, const tw_water *middle, double kg)
{
    double moved = tw_dose_quantity(ask->aim, ask->substance->total_mol_per_g, f->solvent_kg_per_l);
    double tiny = 1e-6; /* mg/L for each gram in a kg; sodium chloride leaves alkalinity alone */
    if (ask->aim == TW_OF_PH) {
        const double probe = 1e-3 * kg, acting = tw_dose_acting_g(middle, kg, ask->substance);
        const tw_water after = tw_dose_apply(*middle, kg, ask->substance, probe < acting ? probe : acting);
        moved = tw_dose_value(f, TW_OF_PH, &after) - tw_dose_value(f, TW_OF_PH, middle);
        tiny = 1e-9;
    }
    return moved > tiny ? 1 : moved < -tiny ? -1 : 0;
}

static int can_ask(const tw_dose_ask *ask)
{
    if (ask->substance == NULL || !(ask->risk >= 0.0 && ask->risk <= 1.0) || ask->limits > TW_DOSE_LIMITS ||
        !(ask->aim_quantile > 0.0 && ask->aim_quantile < 1.0) || !is_finite(ask->target) || !(ask->weighing_sd_ln >= 0.0))
        return 0;
    for (size_t l = 0; l < ask->limits; l++)
        if (!is_finite(ask->limit[l].value))
            return 0;
    return 1;
}

tw_status tw_dose_plan(const tw_waters *w, const tw_dose_ask *ask, void *mem, size_t bytes, tw_dose_step *out)
{
    memset(out, 0, sizeof *out);
    if (!can_ask(ask))
        return TW_ERR_RANGE;
    tw_reduced k;
    tw_water middle;
    double kg = 0.0;
    const tw_status status = tw_dose_frozen(w, mem, bytes, &middle, &kg, &k);
    if (status != TW_OK)
        return status;
    const tw_dose_frame f = {&k, ask->substance, w->solvent_kg_per_l};
    const int way = way_of(&f, ask, &middle, kg);
    if (way == 0)
        return TW_ERR_UNKNOWN;
    room r = room_in(mem, w->n);
    out->members = tw_dose_effective(w);
    draw_errors(ask, w->n, r.error);
    for (size_t i = 0; i < w->n; i++) {
        const tw_water one = tw_dose_member(w, i);
        r.value[i] = tw_dose_threshold_target(&f, &one, w->water_kg[i], ask->aim, ask->target, way < 0);
    }
    out->to_target_g = quantile(w, &r, r.value, ask->aim_quantile);
    if (!(out->to_target_g < TW_DOSE_NEVER))
        return TW_ERR_NO_ROOT;
    largest_admissible(w, &f, ask, &r, out);
    choose(ask, out);
    chances(w, &f, ask, &r, out);
    for (int of = 0; of < TW_OF_QUANTITIES; of++)
        spread_after(w, &f, (tw_quantity_of_water)of, out->grams, &r, out->after[of]);
    double single[3];
    spread_after(w, &f, TW_OF_PH, out->to_target_g, &r, single);
    out->single_ph = single[1];
    out->steps = steps_of(out);
    return TW_OK;
}

tw_status tw_dose_plan_share(const tw_waters *w, const tw_dose_ask *ask, double *left, void *mem, size_t bytes,
                             tw_dose_step *out)
{
    tw_dose_ask asked = *ask;
    asked.risk = *left;
    tw_status status = tw_dose_plan(w, &asked, mem, bytes, out);
    if (status == TW_OK && out->bound != TW_BOUND_TARGET && out->bound != TW_BOUND_NONE_NEEDED) {
        asked.risk = 0.5 * *left;
        status = tw_dose_plan(w, &asked, mem, bytes, out);
    }
    if (status != TW_OK)
        return status;
    /* A dose that no limit bound spends only what it risks, with the margin for having been looked at. */
    double spent = asked.risk;
    if (out->bound != TW_BOUND_LIMIT) {
        const double margin = asked.risk - out->risk_worked_at;
        spent = out->chance_any + (out->chance_any > 0.0 ? margin : 0.0);
        spent = spent < asked.risk ? spent : asked.risk;
    }
    *left -= spent;
    return TW_OK;
}
