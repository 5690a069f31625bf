/* tests/estimate/calibration.h: how often the truth was where the estimator said.
 *
 * Simulation-based calibration (Talts et al. 2018; data-dependent quantities as in Modrak et al.
 * 2023): truths are drawn from the prior, start-ups simulated, each folded, and the rank of the truth
 * among the members counted. */
#ifndef TW_TESTS_CALIBRATION_H
#define TW_TESTS_CALIBRATION_H

#include "estimate/forecast.h"
#include "estimate/sample.h"
#include "estimate/timeline.h"
#include "sim_tub.h"

enum {
    CAL_VOLUME,
    CAL_LOSS,
    CAL_OUTPUT,
    CAL_DEMAND,
    CAL_CHLORINE_NOW,
    CAL_CHLORINE_24H,
    CAL_PH_NOW,
    CAL_PH_24H,
    CAL_SALT,
    CAL_ALKALINITY,
    CAL_LOG_LIKELIHOOD,
    CAL_QUANTITIES
};

static const char *const CAL_NAME[CAL_QUANTITIES] = {
    "volume",  "loss",   "output", "demand",     "free_chlorine_now", "free_chlorine_24h",
    "ph_now",  "ph_24h", "salt",   "alkalinity", "log_likelihood"};

#define CAL_MAX 4096

typedef struct {
    double rank[CAL_QUANTITIES][CAL_MAX]; /* share of the members below the truth, 0..1 */
    double width90[CAL_QUANTITIES];       /* sum of 90 % widths, in prior terms          */
    size_t n;
    double worst_acceptance, sum_acceptance, sum_lag;
    size_t repeated, still_bad, prior_frame;
    double ms;
} cal_result;

typedef struct {
    sim_tub tub, later;
    tw_model model;
    tw_path path;
    tw_lanes x[TW_MAX_DIMS];
    void *timeline, *mem, *forecast;
    size_t mem_bytes, forecast_bytes;
    tw_fan fan;
    tw_estimate_options options;
    double sorted[4096];
} cal_work;

static inline double cal_share_below(const double *value, size_t n, double truth)
{
    /* Equal values count half: a truth that no reading can tell from a bound is not an error. */
    double below = 0.0;
    for (size_t i = 0; i < n; i++)
        below += value[i] < truth ? 1.0 : (value[i] > truth ? 0.0 : 0.5);
    return below / (double)n;
}

static inline void cal_note(cal_work *w, cal_result *r, int q, const double *value, size_t n, double truth)
{
    const tw_spread s = tw_estimate_spread(value, n, w->sorted);
    r->rank[q][r->n] = cal_share_below(value, n, truth);
    r->width90[q] += s.q95 - s.q05;
}

/* The share of members below the truth 24 h on, by the fan's quantiles. */
static inline double cal_in_fan(const tw_spread *s, double truth)
{
    const double at[5] = {s->q05, s->q25, s->q50, s->q75, s->q95}, p[5] = {0.05, 0.25, 0.5, 0.75, 0.95};
    if (truth < at[0])
        return 0.025;
    for (int i = 1; i < 5; i++)
        if (truth < at[i])
            return p[i - 1] + (p[i] - p[i - 1]) * (truth - at[i - 1]) / (at[i] - at[i - 1] + 1e-12);
    return 0.975;
}

static inline double cal_truth_log_likelihood(cal_work *w)
{
    tw_lanes ln;
    if (tw_estimate_model_make(&w->tub.problem, &w->model, w->timeline) != TW_OK)
        return 0.0;
    sim_truth_x(&w->tub, &w->model, w->x);
    tw_estimate_forward(&w->model, w->x, &w->path);
    tw_estimate_likelihood(&w->model, &w->path, 1.0, &ln);
    return ln.v[0];
}

/* A mutant changes the problem or the belief before it is judged; NULL: the estimator itself. */
typedef void cal_mutant(cal_work *w, tw_problem *problem);

static inline int cal_one(cal_work *w, cal_result *r, uint64_t seed, cal_mutant *mutate)
{
    const double days = 2.0 + (double)(seed % 9);
    tw_belief b;
    sim_start_up(&w->tub, seed, days);
    const double ln_truth = cal_truth_log_likelihood(w);
    if (mutate)
        mutate(w, &w->tub.problem);
    if (tw_estimate_sample(&w->tub.problem, seed, 0, &w->options, w->mem, w->mem_bytes, &b) != TW_OK)
        return 0;
    const tw_schedule same = tw_estimate_schedule_same(&b);
    if (tw_estimate_forecast(&b, &same, 24, w->forecast, w->forecast_bytes, &w->fan) != TW_OK)
        return 0;
    const sim_tub *t = &w->tub;
    const size_t n = b.n;
    int day = (int)floor((t->t - t->problem.days_from_h - 1e-9) / 24.0);
    const double output = t->problem.plate_output_g_per_h * t->factor * exp(t->problem.day_sd * t->made_day[day]);
    sim_next_day(&w->tub, &w->later);
    cal_note(w, r, CAL_VOLUME, b.column[TW_COLUMN_WATER_KG], n, t->water);
    cal_note(w, r, CAL_LOSS, b.column[TW_COLUMN_LOSS_38_PER_H], n, t->loss38);
    cal_note(w, r, CAL_OUTPUT, b.column[TW_COLUMN_OUTPUT_G_PER_H], n, output);
    cal_note(w, r, CAL_DEMAND, b.column[TW_COLUMN_DEMAND_MG_PER_KG], n, t->d);
    cal_note(w, r, CAL_CHLORINE_NOW, b.column[TW_COLUMN_CHLORINE_MG_PER_KG], n, t->c);
    cal_note(w, r, CAL_PH_NOW, b.column[TW_COLUMN_PH], n, sim_ph(t, t->temp, t->dic, t->alk, t->c));
    cal_note(w, r, CAL_SALT, b.total[TW_TOTAL_CL], n, 1e-3 * (t->cl - t->c / 70.906));
    double *alk = b.scratch + n;
    for (size_t i = 0; i < n; i++)
        alk[i] = 1e3 * (b.total[TW_TOTAL_NA][i] + 2.0 * b.total[TW_TOTAL_CA][i] + 2.0 * b.total[TW_TOTAL_MG][i] -
                        b.total[TW_TOTAL_CL][i] - 2.0 * b.total[TW_TOTAL_SO4][i] - b.total[TW_TOTAL_OTHER][i]);
    cal_note(w, r, CAL_ALKALINITY, alk, n, t->alk + t->c / 70.906);
    cal_note(w, r, CAL_LOG_LIKELIHOOD, b.column[TW_COLUMN_LOG_LIKELIHOOD], n, ln_truth);
    r->rank[CAL_CHLORINE_24H][r->n] = cal_in_fan(&w->fan.chlorine[24], w->later.c);
    r->width90[CAL_CHLORINE_24H] += w->fan.chlorine[24].q95 - w->fan.chlorine[24].q05;
    const sim_tub *u = &w->later;
    r->rank[CAL_PH_24H][r->n] = cal_in_fan(&w->fan.ph[24], sim_ph(u, 38.0, u->dic, u->alk, u->c));
    r->width90[CAL_PH_24H] += w->fan.ph[24].q95 - w->fan.ph[24].q05;
    r->sum_acceptance += b.acceptance;
    r->sum_lag += b.lag1;
    r->repeated += (b.flags & TW_BELIEF_REPEATED) != 0;
    r->still_bad += (b.flags & TW_BELIEF_STILL_BAD) != 0;
    r->prior_frame += (b.flags & TW_BELIEF_PRIOR_FRAME) != 0;
    r->n++;
    return 1;
}

static inline double cal_coverage(const cal_result *r, int q, double level)
{
    const double tail = 0.5 * (1.0 - level);
    size_t in = 0;
    for (size_t i = 0; i < r->n; i++)
        in += r->rank[q][i] >= tail && r->rank[q][i] <= 1.0 - tail;
    return (double)in / (double)r->n;
}

/* Largest distance of the ranks' distribution from the uniform one (Kolmogorov). */
static inline double cal_distance(const cal_result *r, int q)
{
    double worst = 0.0;
    for (int g = 1; g < 64; g++) {
        const double at = (double)g / 64.0;
        double below = 0.0;
        for (size_t i = 0; i < r->n; i++)
            below += r->rank[q][i] < at;
        const double gap = fabs(below / (double)r->n - at);
        worst = gap > worst ? gap : worst;
    }
    return worst;
}

#endif
