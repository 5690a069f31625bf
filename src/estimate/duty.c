/* estimate/duty.c: which duty to hand over.
 *
 * With nobody in, chlorine made at duty u is u*A(t) - B(t): A the answer to full duty, B what the
 * continuing demand takes. Both are followed for seven days of day-to-day chance from their settled
 * level; each member then says the lowest duty that keeps it over the floor and the highest that
 * keeps it under the ceiling, and the ensemble's quantiles are the answer. */
#include <math.h>
#include <string.h>

#include "estimate/held.h"
#include "estimate/hocl.h"
#include "estimate/walk.h"
#include "num/elementary.h"

typedef struct {
    double *a, *b, *lowest, *highest, *sum_a, *sum_b;
} answer_of;

static void follow(tw_walk *w, answer_of *r, double floor_mg, double ceiling_mg, double temp_c)
{
    const tw_belief *b = w->belief;
    size_t steps = 0;
    tw_estimate_walk_rates(w, temp_c);
    for (size_t i = 0; i < w->n; i++) {
        const double k = w->loss[i] * w->follow[i] + tw_estimate_walk_film(w, i, 0.0);
        r->a[i] = w->output[i] / b->column[TW_COLUMN_WATER_KG][i] / k;
        r->b[i] = b->column[TW_COLUMN_DEMAND_INFLOW][i] / k;
        r->lowest[i] = 0.0;
        r->highest[i] = 1e6;
        r->sum_a[i] = r->sum_b[i] = 0.0;
    }
    const double h = 6.0;
    for (double t = 0.0; t < 168.0 - 1e-9; t += h) {
        if (w->temp_c < -1e8)
            tw_estimate_walk_rates(w, temp_c);
        for (size_t i = 0; i < w->n; i++) {
            const double k = w->loss[i] * w->follow[i] + tw_estimate_walk_film(w, i, t + 0.5 * h);
            const double e = tw_exp(-k * h), gain = (1.0 - e) / k;
            r->a[i] = r->a[i] * e + w->output[i] / b->column[TW_COLUMN_WATER_KG][i] * gain;
            r->b[i] = r->b[i] * e + b->column[TW_COLUMN_DEMAND_INFLOW][i] * gain;
            const double low = (floor_mg + r->b[i]) / r->a[i];
            const double high = (ceiling_mg + r->b[i]) / r->a[i];
            r->lowest[i] = low > r->lowest[i] ? low : r->lowest[i];
            r->highest[i] = high < r->highest[i] ? high : r->highest[i];
            r->sum_a[i] += r->a[i];
            r->sum_b[i] += r->b[i];
        }
        steps++;
        tw_estimate_walk_skip(w, h);
    }
    for (size_t i = 0; i < w->n; i++) {
        r->sum_a[i] /= (double)steps;
        r->sum_b[i] /= (double)steps;
    }
}

static double quantile(const double *v, size_t n, double *scratch, int upper)
{
    const tw_spread s = tw_estimate_spread(v, n, scratch);
    return upper ? s.q95 : s.q05;
}

tw_status tw_estimate_duty(const tw_belief *b, double target_mg_per_l, double floor_mg_per_l,
                           double ceiling_mg_per_l, double temp_c, void *mem, size_t bytes,
                           tw_duty *out)
{
    tw_arena arena = {mem, bytes};
    tw_walk w;
    memset(out, 0, sizeof *out);
    if (!(target_mg_per_l > 0.0) || !(floor_mg_per_l >= 0.0))
        return TW_ERR_RANGE;
    if (!tw_estimate_walk_start(&w, b, &arena))
        return TW_ERR_CAPACITY;
    const size_t n = b->n, size = n * sizeof(double);
    /* The walk's own state is not used here: its arrays serve. */
    answer_of r = {w.chlorine, w.made, w.demand, w.dic, tw_arena_take(&arena, size),
                   tw_arena_take(&arena, size)};
    double *value = tw_arena_take(&arena, size), *scratch = tw_arena_take(&arena, size);
    if (scratch == NULL)
        return TW_ERR_CAPACITY;
    const double per_l = b->density_kg_per_l;
    for (size_t i = 0; i < n; i++) /* HOCl's share is that of a kept water at its target */
        w.chlorine[i] = target_mg_per_l / per_l;
    tw_estimate_walk_keep_ph(&w, TW_HOCL_PH_KEPT);
    tw_estimate_walk_follow(&w, temp_c);
    const int capped = ceiling_mg_per_l > 0.0;
    follow(&w, &r, floor_mg_per_l / per_l, capped ? ceiling_mg_per_l / per_l : 1e9, temp_c);
    for (size_t i = 0; i < n; i++)
        value[i] = (target_mg_per_l / per_l + r.sum_b[i]) / r.sum_a[i];
    out->for_target = tw_estimate_spread(value, n, scratch);
    for (size_t i = 0; i < n; i++)
        value[i] = (r.sum_a[i] - r.sum_b[i]) * per_l;
    out->level_full = tw_estimate_spread(value, n, scratch);
    out->lowest = quantile(r.lowest, n, scratch, 1);
    out->highest = capped ? quantile(r.highest, n, scratch, 0) : 1.0;
    size_t most = 0;
    for (int percent = 1; percent <= 100; percent++) {
        const double u = 0.01 * (double)percent;
        size_t in = 0;
        for (size_t i = 0; i < n; i++)
            in += r.lowest[i] <= u && u <= r.highest[i];
        /* Where many duties do equally well, the one nearest to the target's. */
        const int nearer = fabs(u - out->for_target.q50) < fabs(out->best - out->for_target.q50);
        if (in > most || (in == most && nearer)) {
            most = in;
            out->best = u;
        }
    }
    out->p_best = (double)most / (double)n;
    return TW_OK;
}
