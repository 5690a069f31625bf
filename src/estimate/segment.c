/* estimate/segment.c: see segment.h. */
#include "estimate/segment.h"

#include <math.h>
#include <string.h>

#include "estimate/model.h"
#include "gen/estimate_tables.h"
#include "num/bytes.h"
#include "num/elementary.h"

/* Tails heavier than a normal's: something about a tub may have changed that nobody wrote down. The scale is
 * that of the same 90 % interval (Student's 95 % point at eight degrees over the normal's). */
#define FREEDOM 8.0
#define SAME_INTERVAL (1.859548 / 1.644854)

/* Variance of the coordinate by which it may have changed. */
static double drift_of(const tw_taught *t, size_t item, double months)
{
    const tw_drift *d = &tw_estimate_drifts[t->what[item]];
    const double variance = d->at_fill * d->at_fill + months * d->a_month * d->a_month;
    double scale = 1.0;
    if (t->what[item] == TW_CARRIED_CELL) {
        const tw_lanes x = tw_lanes_of(t->mean[item]);
        tw_lanes factor, slope;
        tw_estimate_cell_factor(&x, t->output_sd, &factor, &slope);
        scale = slope.v[0];
    } else if (d->unit == TW_DRIFT_LN || d->unit == TW_DRIFT_KJ) {
        scale = tw_estimate_priors_fresh[t->what[item]].sd;
    }
    return variance / (scale * scale);
}

static double covariance_of(const tw_taught *t, size_t i, size_t j)
{
    return i >= j ? t->covariance[i * (i + 1) / 2 + j] : t->covariance[j * (j + 1) / 2 + i];
}

/* Where an item stands in the new problem: its index, or -1 when it is not carried. */
static int place_of(const tw_taught *t, size_t item, int purged, const tw_problem *p)
{
    const int what = t->what[item];
    if ((what == TW_X_FILM || what == TW_X_FILM_HOURS) && purged)
        return -1;
    if (what == TW_CARRIED_CELL)
        return fabs(t->plate_output_g_per_h - p->plate_output_g_per_h) < 1e-9 && fabs(t->output_sd - p->output_sd) < 1e-9 ? 0 : -1;
    if (what != TW_CARRIED_BIAS)
        return 0;
    for (size_t i = 0; i < p->biases; i++)
        if (p->bias_name[i] == t->name[item])
            return (int)i;
    return -1;
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
    c->freedom = FREEDOM;
    for (size_t i = 0; i < t->n; i++) {
        const int at = place_of(t, i, purged, p);
        if (at < 0)
            continue;
        c->what[c->n] = t->what[i];
        c->index[c->n] = at;
        c->mean[c->n] = t->mean[i];
        item[c->n++] = i;
    }
    const double narrower = 1.0 / (SAME_INTERVAL * SAME_INTERVAL);
    for (size_t i = 0; i < c->n; i++)
        for (size_t j = 0; j < c->n; j++) {
            const double more = i == j ? drift_of(t, item[i], months) : 0.0;
            const double all = covariance_of(t, item[i], item[j]) + more;
            if (i == j)
                c->sd[i] = sqrt(all);
            c->precision[i * c->n + j] = narrower * all;
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

void tw_estimate_taught_write(const tw_taught *t, uint8_t *at)
{
    at = tw_put_u64(at, t->n);
    at = tw_put_u64(at, t->waters);
    at = tw_put_u64(at, (uint64_t)t->until_utc_s);
    at = tw_put_double(at, t->plate_output_g_per_h);
    at = tw_put_double(at, t->output_sd);
    at = tw_put_u64(at, (uint64_t)t->from_utc_s);
    for (size_t i = 0; i < TW_MAX_CARRIED; i++) {
        at = tw_put_u64(at, (uint64_t)(int64_t)t->what[i]);
        at = tw_put_u64(at, t->name[i]);
        at = tw_put_double(at, t->mean[i]);
    }
    for (size_t i = 0; i < TW_TAUGHT_COVARIANCES; i++)
        at = tw_put_double(at, t->covariance[i]);
}

void tw_estimate_taught_read(const uint8_t *in, tw_taught *t)
{
    memset(t, 0, sizeof *t);
    t->n = (uint32_t)get(&in);
    t->waters = (uint32_t)get(&in);
    t->until_utc_s = (int64_t)get(&in);
    t->plate_output_g_per_h = get_double(&in);
    t->output_sd = get_double(&in);
    t->from_utc_s = (int64_t)get(&in);
    for (size_t i = 0; i < TW_MAX_CARRIED; i++) {
        t->what[i] = (int32_t)(int64_t)get(&in);
        t->name[i] = get(&in);
        t->mean[i] = get_double(&in);
    }
    for (size_t i = 0; i < TW_TAUGHT_COVARIANCES; i++)
        t->covariance[i] = get_double(&in);
    if (t->n > TW_MAX_CARRIED)
        t->n = 0;
}
