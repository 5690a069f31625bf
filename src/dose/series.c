/* dose/series.c: see series.h. */
#include "dose/series.h"

#include <string.h>

#include "dose/threshold.h"

/* A copy of the waters that the steps move along. */
typedef struct {
    double *total[TW_TOTALS];
    double *crossed; /* 1: has crossed a limit */
    tw_waters view;
    void *plan;
    size_t plan_bytes;
} copy;

size_t tw_dose_series_bytes(size_t n)
{
    return n * (TW_TOTALS + 1) * sizeof(double) + tw_dose_plan_bytes(n);
}

static copy copied(const tw_waters *w, void *mem, size_t bytes)
{
    copy c;
    double *at = mem;
    c.view = *w;
    for (int t = 0; t < TW_TOTALS; t++, at += w->n) {
        c.total[t] = at;
        memcpy(at, w->total[t], w->n * sizeof *at);
        c.view.total[t] = at;
    }
    c.crossed = at;
    for (size_t i = 0; i < w->n; i++)
        c.crossed[i] = 0.0;
    c.plan = at + w->n;
    c.plan_bytes = bytes - w->n * (TW_TOTALS + 1) * sizeof(double);
    return c;
}

static tw_status acids_at_middle(const copy *c, tw_reduced *k)
{
    tw_water middle;
    double kg = 0.0;
    return tw_dose_frozen(&c->view, c->plan, c->plan_bytes, &middle, &kg, k);
}

/* Pour the meant grams into every member, with its own error of strength and weighing (the same for all
 * steps: one box, one scale), and note who crosses. */
static void pour(copy *c, const tw_reduced *k, const tw_dose_ask *ask, double grams)
{
    const tw_dose_frame f = {k, ask->substance, c->view.solvent_kg_per_l};
    for (size_t i = 0; i < c->view.n; i++) {
        const double error = tw_dose_error_of(ask, c->view.n, i);
        const tw_water before = tw_dose_member(&c->view, i);
        for (size_t l = 0; l < ask->limits; l++)
            if (tw_dose_threshold_limit(&f, &before, c->view.water_kg[i], ask->limit[l].of, ask->limit[l].value,
                                        ask->limit[l].is_floor) < grams * error)
                c->crossed[i] = 1.0;
        const tw_water after = tw_dose_apply(before, c->view.water_kg[i], ask->substance, grams * error);
        for (int t = 0; t < TW_TOTALS; t++)
            c->total[t][i] = after.total_mol_per_kg[t];
    }
}

/* Air until pH is at rest, where it stands below; alkalinity stays. */
static void air(copy *c, const tw_reduced *k, double ph_rest)
{
    for (size_t i = 0; i < c->view.n; i++) {
        const tw_water one = tw_dose_member(&c->view, i);
        const double *t = one.total_mol_per_kg;
        const tw_reduced_water q = tw_water_reduced_acids(t);
        const double dic = tw_water_reduced_dic_at_ph(k, &q, ph_rest);
        if (dic >= 0.0 && dic < t[TW_TOTAL_DIC])
            c->total[TW_TOTAL_DIC][i] = dic;
    }
}

static double crossed_share(const copy *c)
{
    double over = 0.0, all = 0.0;
    for (size_t i = 0; i < c->view.n; i++) {
        const double weight = c->view.weight != NULL ? c->view.weight[i] : 1.0;
        all += weight;
        over += weight * c->crossed[i];
    }
    return over / all;
}

static tw_status one_step(copy *c, const tw_dose_ask *ask, double *left, tw_dose_series_step *out, int *arrives)
{
    tw_dose_step step;
    tw_reduced k;
    tw_status status = tw_dose_spread_of(&c->view, ask->aim, c->plan, c->plan_bytes, out->before);
    if (status == TW_OK)
        status = tw_dose_plan_share(&c->view, ask, left, c->plan, c->plan_bytes, &step);
    if (status == TW_OK)
        status = acids_at_middle(c, &k);
    if (status != TW_OK)
        return status;
    out->grams = step.grams;
    out->bound = step.bound;
    out->chance = step.chance_any;
    memcpy(out->after, step.after[ask->aim], sizeof out->after);
    memcpy(out->ph_after, step.after[TW_OF_PH], sizeof out->ph_after);
    *arrives = step.bound == TW_BOUND_TARGET || step.bound == TW_BOUND_NONE_NEEDED;
    pour(c, &k, ask, step.grams);
    return TW_OK;
}

tw_status tw_dose_series(const tw_waters *w, const tw_dose_ask *ask, double risk, double ph_rest, void *mem,
                         size_t bytes, tw_dose_series_step *step, size_t cap, tw_dose_series_sum *sum)
{
    memset(sum, 0, sizeof *sum);
    if (w->n == 0 || !(risk >= 0.0 && risk <= 1.0))
        return TW_ERR_RANGE;
    if (cap == 0 || bytes < tw_dose_series_bytes(w->n))
        return TW_ERR_CAPACITY;
    copy c = copied(w, mem, bytes);
    sum->left = risk;
    while (sum->steps < cap && !sum->arrives) {
        tw_dose_series_step *now = &step[sum->steps];
        const tw_status status = one_step(&c, ask, &sum->left, now, &sum->arrives);
        if (status != TW_OK)
            return status;
        if (!(now->grams > 0.0))
            break;
        sum->steps++;
        sum->grams += now->grams;
        tw_reduced k;
        if (ph_rest == ph_rest && acids_at_middle(&c, &k) == TW_OK)
            air(&c, &k, ph_rest);
    }
    sum->chance_ever = crossed_share(&c);
    return TW_OK;
}
