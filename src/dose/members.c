/* dose/members.c: see members.h. */
#include "dose/members.h"

#include <math.h>

#include "num/pick.h"
#include "num/sort.h"
#include "water/speciate.h"

typedef struct {
    double *value;
    uint32_t *order;
} room;

size_t tw_dose_waters_bytes(size_t n)
{
    return n * (sizeof(double) + sizeof(uint32_t));
}

static room room_in(void *mem, size_t n)
{
    room r;
    r.value = mem;
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
    if (w->n > UINT32_MAX || !(w->solvent_kg_per_l > 0.0))
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
    return sum > 0.0; /* not of no members either */
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
    return tw_max(at, 0.0);
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
    if (bytes < tw_dose_waters_bytes(w->n))
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

tw_status tw_dose_spread_of(const tw_waters *w, tw_quantity_of_water of, void *mem, size_t bytes, double out[3])
{
    static const double P[3] = {0.05, 0.50, 0.95};
    tw_reduced k;
    tw_water middle;
    double kg = 0.0;
    const tw_status status = tw_dose_frozen(w, mem, bytes, &middle, &kg, &k);
    if (status != TW_OK)
        return status;
    room r = room_in(mem, w->n);
    for (size_t i = 0; i < w->n; i++) {
        const tw_water one = tw_dose_member(w, i);
        r.value[i] = tw_dose_value(&k, of, &one, w->solvent_kg_per_l);
    }
    for (int q = 0; q < 3; q++)
        out[q] = quantile(w, &r, r.value, P[q]);
    return TW_OK;
}
