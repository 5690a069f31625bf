/* estimate/segment.c: see segment.h. */
#include "estimate/segment.h"

#include <math.h>
#include <string.h>

#include "estimate/model.h"
#include "gen/estimate_tables.h"
#include "num/bytes.h"
#include "num/elementary.h"

/* Tails heavier than a normal's: something about a tub may have changed that nobody wrote down. */
#define FREEDOM 8.0

#define NEVER_NONE 1e-6 /* variance of what two coordinates say that were one all along */

const int tw_estimate_of_the_tub[TW_OF_THE_TUB] = {TW_X_WATER, TW_X_LOSS,      TW_X_LOSS_EA, TW_X_FILM,      TW_X_FILM_HOURS,
                                                   TW_X_BATHER, TW_X_KLA_STILL, TW_X_KLA_JETS, TW_X_HOCL_PART, TW_X_SCALE_RATE};

static int is_of_the_tub(int what)
{
    for (size_t i = 0; i < TW_OF_THE_TUB; i++)
        if (tw_estimate_of_the_tub[i] == what)
            return 1;
    return what == TW_CARRIED_CELL;
}

#define LEAST_X (-3.0)     /* soft: less than this is none */
#define MOST_SHARE_X 3.5   /* share: none and all          */
#define LEAST_OF_LN 1e-6

double tw_estimate_coordinate(const tw_prior *prior, double value)
{
    double x;
    switch (prior->kind) {
    case TW_PRIOR_PLAIN: return (value - prior->middle) / prior->sd;
    case TW_PRIOR_SOFT: {
        const double grown = tw_expm1(value * TW_LN2 / prior->middle);
        x = grown > 1e-9 ? tw_log(grown) / prior->sd : LEAST_X;
        return x > LEAST_X ? x : LEAST_X;
    }
    case TW_PRIOR_SHARE: {
        const double in = value > 1e-9 ? (value < 1.0 - 1e-9 ? value : 1.0 - 1e-9) : 1e-9;
        x = (tw_log(in / (1.0 - in)) - prior->middle) / prior->sd;
        return x > MOST_SHARE_X ? MOST_SHARE_X : (x < -MOST_SHARE_X ? -MOST_SHARE_X : x);
    }
    default: return (tw_log(value > LEAST_OF_LN ? value : LEAST_OF_LN) - prior->middle) / prior->sd;
    }
}

/* Variance of the coordinate by which it may have changed; where the same water goes on, only by the month. */
static double drift_of(const tw_taught *t, size_t item, double months, int goes_on)
{
    const int what = t->what[item];
    if (what == TW_CARRIED_LOSS_DAY || what == TW_CARRIED_MADE_DAY)
        return 1.0 - TW_DAY_RHO * TW_DAY_RHO; /* the cut begins a day */
    if (what > TW_CARRIED_BIAS)
        return NEVER_NONE;
    const tw_drift *d = &tw_estimate_drifts[what];
    const double variance = (goes_on ? 0.0 : d->at_fill * d->at_fill) + months * d->a_month * d->a_month;
    double scale = 1.0;
    if (what == TW_CARRIED_CELL) {
        const tw_lanes x = tw_lanes_of(t->mean[item]);
        tw_lanes factor, slope;
        tw_estimate_cell_factor(&x, t->output_sd, &factor, &slope);
        scale = slope.v[0];
    } else if (d->unit == TW_DRIFT_LN || d->unit == TW_DRIFT_KJ) {
        scale = tw_estimate_priors_fresh[what].sd;
    }
    return variance / (scale * scale) + (goes_on ? NEVER_NONE : 0.0);
}

static double covariance_of(const tw_taught *t, size_t i, size_t j)
{
    return i >= j ? t->covariance[i * (i + 1) / 2 + j] : t->covariance[j * (j + 1) / 2 + i];
}

/* Where a name stands in a list, or -1. */
static int place_in(const uint64_t *list, size_t n, uint64_t name)
{
    for (size_t i = 0; i < n; i++)
        if (list[i] == name)
            return (int)i;
    return -1;
}

static int same_cell(const tw_taught *t, const tw_problem *p)
{
    return fabs(t->plate_output_g_per_h - p->plate_output_g_per_h) < 1e-9 && fabs(t->output_sd - p->output_sd) < 1e-9;
}

/* Where an item stands in the new problem: its index, or -1 when it is not carried. */
static int place_of(const tw_taught *t, size_t item, int purged, const tw_problem *p)
{
    const int what = t->what[item];
    if ((what == TW_X_FILM || what == TW_X_FILM_HOURS) && purged)
        return -1;
    if (what == TW_CARRIED_CELL)
        return same_cell(t, p) ? 0 : -1;
    if (what == TW_CARRIED_BIAS) {
        const uint64_t name = t->goes_on && !p->goes_on ? t->lot[item] : t->name[item];
        return name == 0 ? -1 : place_in(p->goes_on ? p->bias_here : p->bias_name, p->biases, name);
    }
    if (!p->goes_on)
        return is_of_the_tub(what) ? 0 : -1;
    if (what == TW_CARRIED_PRODUCT)
        return place_in(p->product_here, p->products, t->name[item]);
    if (what == TW_CARRIED_LOSS_DAY || what == TW_CARRIED_MADE_DAY)
        return p->now_h > p->days_from_h && p->days_from_h <= 0.0 ? 0 : -1;
    return 0;
}

/* Bottles and products that were not used since: they are known all the same, and the water with them. */
static void keep_unused(const tw_taught *t, tw_problem *p)
{
    for (size_t i = 0; i < t->n; i++) {
        if (t->what[i] == TW_CARRIED_BIAS && p->biases < TW_MAX_BIASES && place_in(p->bias_here, p->biases, t->name[i]) < 0) {
            p->bias_here[p->biases] = t->name[i];
            p->bias_name[p->biases] = t->lot[i];
            p->bias_sd[p->biases++] = t->scale[i];
        } else if (t->what[i] == TW_CARRIED_PRODUCT && p->products < TW_MAX_PRODUCTS &&
                   place_in(p->product_here, p->products, t->name[i]) < 0) {
            p->product_here[p->products] = t->name[i];
            p->product_sd[p->products++] = t->scale[i];
        }
    }
}

void tw_estimate_go_on(const tw_taught *t, tw_problem *p)
{
    p->goes_on = 1;
    p->cut = t->cut;
    p->prior[TW_X_CHLORINE0] = tw_estimate_priors_running[TW_X_CHLORINE0];
    p->prior[TW_X_DEMAND0] = tw_estimate_priors_running[TW_X_DEMAND0];
}

/* Inverse of a symmetric positive matrix in place, Gauss and Jordan's way. 0: it is not positive. */
static int invert(double *a, size_t n)
{
    for (size_t k = 0; k < n; k++) {
        const double pivot = a[k * n + k];
        if (!(pivot > 1e-10))
            return 0;
        const double inverse = 1.0 / pivot;
        a[k * n + k] = 1.0;
        for (size_t j = 0; j < n; j++)
            a[k * n + j] *= inverse;
        for (size_t i = 0; i < n; i++) {
            const double by = a[i * n + k];
            if (i == k)
                continue;
            a[i * n + k] = 0.0;
            for (size_t j = 0; j < n; j++)
                a[i * n + j] -= by * a[k * n + j];
        }
    }
    return 1;
}

void tw_estimate_carry_make(const tw_taught *t, double months, int purged, tw_problem *p)
{
    tw_carry *c = &p->carry;
    size_t item[TW_MAX_CARRIED];
    c->n = 0;
    c->freedom = p->goes_on ? 0.0 : FREEDOM;
    if (p->goes_on)
        keep_unused(t, p);
    for (size_t i = 0; i < t->n; i++) {
        const int at = place_of(t, i, purged, p);
        if (at < 0)
            continue;
        c->what[c->n] = t->what[i];
        c->index[c->n] = at;
        c->mean[c->n] = t->mean[i];
        item[c->n++] = i;
    }
    for (size_t i = 0; i < c->n; i++)
        for (size_t j = 0; j < c->n; j++) {
            const double more = i == j ? drift_of(t, item[i], months, p->goes_on) : 0.0;
            const double all = covariance_of(t, item[i], item[j]) + more;
            if (i == j)
                c->sd[i] = sqrt(all);
            c->precision[i * c->n + j] = all;
        }
    if (!invert(c->precision, c->n))
        c->n = 0;
}

static uint64_t get(const uint8_t **at)
{
    *at += 8;
    return tw_get_u64(*at - 8);
}

static double get_double(const uint8_t **at)
{
    *at += 8;
    return tw_get_double(*at - 8);
}

static uint8_t *put_doubles(uint8_t *at, const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        at = tw_put_double(at, x[i]);
    return at;
}

static void get_doubles(const uint8_t **at, double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        x[i] = get_double(at);
}

static uint8_t *put_cut(uint8_t *at, const tw_taught *t)
{
    const double x[] = {t->temp_c, t->cut.acid_temp_c, t->cut.ionic_mol_per_kg, t->cut.stirred_h, t->cut.low,
                        t->cut.dose_h, t->cut.any_dose_h, t->cut.bathers_h};
    at = put_doubles(at, x, sizeof x / sizeof *x);
    at = tw_put_u64(at, (uint64_t)t->cut.heap);
    at = tw_put_u64(at, t->cut.readings);
    at = tw_put_u64(at, t->cut.chlorine_readings);
    at = tw_put_u64(at, t->before.waters);
    at = put_doubles(at, t->before.water_kg, 3);
    at = put_doubles(at, t->before.loss_per_h, 3);
    return put_doubles(at, t->before.cell, 3);
}

static void get_cut(const uint8_t **at, tw_taught *t)
{
    double *const x[] = {&t->temp_c, &t->cut.acid_temp_c, &t->cut.ionic_mol_per_kg, &t->cut.stirred_h, &t->cut.low,
                         &t->cut.dose_h, &t->cut.any_dose_h, &t->cut.bathers_h};
    for (size_t i = 0; i < sizeof x / sizeof *x; i++)
        *x[i] = get_double(at);
    t->cut.heap = get(at) != 0;
    t->cut.readings = (uint32_t)get(at);
    t->cut.chlorine_readings = (uint32_t)get(at);
    t->before.waters = (uint32_t)get(at);
    get_doubles(at, t->before.water_kg, 3);
    get_doubles(at, t->before.loss_per_h, 3);
    get_doubles(at, t->before.cell, 3);
}

void tw_estimate_taught_write(const tw_taught *t, uint8_t *at)
{
    at = tw_put_u64(at, t->n);
    at = tw_put_u64(at, t->waters);
    at = tw_put_u64(at, t->goes_on);
    at = tw_put_u64(at, t->film_begun);
    at = tw_put_u64(at, (uint64_t)t->until_utc_s);
    at = tw_put_double(at, t->plate_output_g_per_h);
    at = tw_put_double(at, t->output_sd);
    at = tw_put_u64(at, (uint64_t)t->from_utc_s);
    at = put_cut(at, t);
    for (size_t i = 0; i < TW_MAX_CARRIED; i++) {
        at = tw_put_u64(at, (uint64_t)(int64_t)t->what[i]);
        at = tw_put_u64(at, t->name[i]);
        at = tw_put_u64(at, t->lot[i]);
        at = tw_put_double(at, t->scale[i]);
        at = tw_put_double(at, t->mean[i]);
    }
    at = put_doubles(at, t->covariance, TW_TAUGHT_COVARIANCES);
    at = tw_put_u64(at, t->contradictions);
    for (size_t i = 0; i < TW_CONTRADICTIONS; i++) {
        const tw_contradiction *c = &t->contradiction[i];
        at = tw_put_u64(at, (uint64_t)c->entry | (uint64_t)(uint32_t)c->observed << 32);
        at = tw_put_double(at, c->probability);
        at = put_doubles(at, c->expected, 3);
    }
}

void tw_estimate_taught_read(const uint8_t *in, tw_taught *t)
{
    memset(t, 0, sizeof *t);
    t->n = (uint32_t)get(&in);
    t->waters = (uint32_t)get(&in);
    t->goes_on = (uint32_t)get(&in);
    t->film_begun = (uint32_t)get(&in);
    t->until_utc_s = (int64_t)get(&in);
    t->plate_output_g_per_h = get_double(&in);
    t->output_sd = get_double(&in);
    t->from_utc_s = (int64_t)get(&in);
    get_cut(&in, t);
    for (size_t i = 0; i < TW_MAX_CARRIED; i++) {
        t->what[i] = (int32_t)(int64_t)get(&in);
        t->name[i] = get(&in);
        t->lot[i] = get(&in);
        t->scale[i] = get_double(&in);
        t->mean[i] = get_double(&in);
    }
    get_doubles(&in, t->covariance, TW_TAUGHT_COVARIANCES);
    t->contradictions = (uint32_t)get(&in);
    for (size_t i = 0; i < TW_CONTRADICTIONS; i++) {
        tw_contradiction *c = &t->contradiction[i];
        const uint64_t both = get(&in);
        c->entry = (uint32_t)both;
        c->observed = (int)(both >> 32);
        c->probability = get_double(&in);
        get_doubles(&in, c->expected, 3);
    }
    if (t->n > TW_MAX_CARRIED || t->contradictions > TW_CONTRADICTIONS)
        t->n = t->contradictions = 0;
}
