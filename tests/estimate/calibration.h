/* tests/estimate/calibration.h: how often the truth was where the estimator said.
 *
 * Simulation-based calibration (Talts et al. 2018; data-dependent quantities as in Modrak et al.
 * 2023): truths are drawn from the prior, start-ups simulated, each folded, and the rank of the truth
 * among the members counted. */
#ifndef TW_TESTS_CALIBRATION_H
#define TW_TESTS_CALIBRATION_H

#include "estimate/checkpoint.h"
#include "estimate/forecast.h"
#include "estimate/held.h"
#include "estimate/later.h"
#include "estimate/sample.h"
#include "estimate/sampler.h"
#include "estimate/timeline.h"
#include "estimate/walk.h"
#include "num/normal.h"
#include "num/sort.h"
#include "sim_long.h"

enum {
    CAL_VOLUME,
    CAL_LOSS,
    CAL_OUTPUT,
    CAL_DEMAND,
    CAL_LOT_BIAS,
    CAL_CHLORINE_NOW,
    CAL_CHLORINE_6H,
    CAL_CHLORINE_24H,
    CAL_CHLORINE_72H,
    CAL_PH_NOW,
    CAL_PH_24H,
    CAL_SALT,
    CAL_ALKALINITY,
    CAL_GRAMS,
    CAL_LOG_LIKELIHOOD,
    CAL_QUANTITIES
};

static const char *const CAL_NAME[CAL_QUANTITIES] = {
    "volume", "loss", "output", "demand", "lot_bias", "free_chlorine_now", "free_chlorine_6h", "free_chlorine_24h",
    "free_chlorine_72h", "ph_now", "ph_24h", "salt", "alkalinity", "grams", "log_likelihood"};

#define CAL_MAX 4096
#define CAL_DRAWS 63 /* equal-weight draws among which the truth is ranked */
#define CAL_SALT_TARGET_MG 3000.0

/* Kinds of tub, each judged by itself as well. Of those picked by a truth in the prior's tail an exact posterior covers less
 * than it says, of those picked by what is believed it does not. */
enum { CAL_SHORT, CAL_MIDDLE, CAL_LONG, CAL_WEAK, CAL_SOUND, CAL_THIRSTY, CAL_BELIEVED_WEAK, CAL_STRATA };

static const char *const CAL_STRATUM[CAL_STRATA] = {"2 to 4 days",  "5 to 7 days", "8 to 10 days",
                                                    "weak cell", "sound cell", "thirsty plumbing",
                                                    "cell believed weak"};

/* How often something happened, by the tenth in which its probability was said. */
typedef struct {
    size_t n[10], happened[10];
    double said[10], brier;
} cal_decision;

typedef struct {
    double rank[CAL_QUANTITIES][CAL_MAX]; /* share of the members below the truth, 0..1   */
    double draw[CAL_QUANTITIES][CAL_MAX]; /* the same among CAL_DRAWS of them             */
    unsigned char in[CAL_STRATA][CAL_MAX];
    double width90[CAL_QUANTITIES];       /* sum of 90 % widths                           */
    double crps[CAL_QUANTITIES];          /* sum of continuous ranked probability scores  */
    double score90[CAL_QUANTITIES];       /* sum of interval scores: width and 20 times what is missed */
    double off[CAL_QUANTITIES];           /* sum of median less truth                     */
    cal_decision held, over;              /* the generator's part stays over 3, goes over 5, within 7 days */
    cal_decision acts;                    /* what nobody wrote, where a belief tells of it: it was done, and between these hours */
    size_t hours_n, hours_in;             /* the hour of hold: tubs where it is certain to come; truth inside 90 % */
    size_t salt_over;                     /* tubs in which salt for the 5 % quantile would have been too much */
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
    void *timeline, *mem, *forecast, *unread;
    size_t mem_bytes, forecast_bytes;
    tw_fan fan;
    tw_estimate_options options;
    double sorted[4096];
    sim_wrong wrong; /* what the truth is and the estimator does not know; 0 nothing */
    int decide;      /* 1: verdicts on the hold are judged too                       */
    int unwritten;   /* 1: truths hold acts that nobody wrote, as the prior has them; 2: acid, base and air too */
    int dries;            /* 1: water evaporates */
    int scale;            /* SIM_SCALE and so on */
    double recalled_sd_h; /* > 0: of the hour of the first reading after the first dose, written from memory */
    double unread_h; /* hours after the last reading at which the tub is judged     */
} cal_work;

/* One with nothing in it; NULL: no memory. The lanes in it want more than calloc() aligns to. */
static inline cal_work *cal_work_new(void)
{
    const size_t align = _Alignof(cal_work), bytes = (sizeof(cal_work) + align - 1) / align * align;
    cal_work *w = aligned_alloc(align, bytes);
    if (w != NULL)
        memset(w, 0, sizeof *w);
    return w;
}

static inline double cal_share_below(const double *value, size_t n, double truth)
{
    /* Equal values count half: a truth that no reading can tell from a bound is not an error. */
    double below = 0.0;
    for (size_t i = 0; i < n; i++)
        below += value[i] < truth ? 1.0 : (value[i] > truth ? 0.0 : 0.5);
    return below / (double)n;
}

/* E|X - truth| - E|X - X'|/2 (Gneiting and Raftery 2007); sorted: rising. */
static inline double cal_crps(const double *sorted, size_t n, double truth)
{
    double away = 0.0, apart = 0.0;
    for (size_t i = 0; i < n; i++) {
        away += fabs(sorted[i] - truth);
        apart += sorted[i] * (2.0 * (double)i + 1.0 - (double)n);
    }
    return away / (double)n - apart / ((double)n * (double)n);
}

/* Width of a 90 % interval and 2/0.1 times by how much the truth lies outside (Gneiting and Raftery 2007). */
static inline void cal_note_interval(cal_result *r, int q, const tw_spread *s, double truth)
{
    const double under = s->q05 - truth, over = truth - s->q95;
    r->width90[q] += s->q95 - s->q05;
    r->score90[q] += s->q95 - s->q05 + 20.0 * ((under > 0.0 ? under : 0.0) + (over > 0.0 ? over : 0.0));
    r->off[q] += s->q50 - truth;
}

static inline void cal_note(cal_work *w, cal_result *r, int q, const double *value, size_t n, double truth)
{
    const tw_spread s = tw_estimate_spread(value, n, w->sorted);
    r->rank[q][r->n] = cal_share_below(value, n, truth);
    cal_note_interval(r, q, &s, truth);
    /* Members of one state stand side by side, one a chain: draws from different chains and states. */
    double draw[CAL_DRAWS];
    const size_t chains = w->options.chains, keep = w->options.keep;
    for (size_t k = 0; k < CAL_DRAWS; k++)
        draw[k] = value[((k / chains + k % keep) % keep) * chains + k % chains];
    r->draw[q][r->n] = cal_share_below(draw, CAL_DRAWS, truth);
    memcpy(w->sorted, value, n * sizeof *value);
    tw_sort(w->sorted, n);
    r->crps[q] += cal_crps(w->sorted, n, truth);
}

/* Where only five quantiles are kept: the share below the truth by them, between and beyond as a normal has it, and the score
 * by the pinball losses. */
static inline void cal_note_spread(cal_result *r, int q, const tw_spread *s, double truth)
{
    const double at[5] = {s->q05, s->q25, s->q50, s->q75, s->q95}, p[5] = {0.05, 0.25, 0.5, 0.75, 0.95};
    const double z[5] = {-1.6448536, -0.6744898, 0.0, 0.6744898, 1.6448536};
    int i = 0;
    while (i < 3 && truth >= at[i + 1])
        i++;
    const double share = tw_normal_cdf(z[i] + (z[i + 1] - z[i]) * (truth - at[i]) / (at[i + 1] - at[i] + 1e-12));
    double score = 0.0;
    for (int k = 0; k < 5; k++)
        score += 0.4 * (truth < at[k] ? 1.0 - p[k] : p[k]) * fabs(truth - at[k]);
    r->rank[q][r->n] = r->draw[q][r->n] = share;
    cal_note_interval(r, q, s, truth);
    r->crps[q] += score;
}

/* With what nobody wrote, as members who believe in it have it; cut as finely as the truth needs, as a member's path is cut by what members need. */
static inline double cal_truth_log_likelihood(cal_work *w)
{
    static tw_problem written;
    tw_lanes ln;
    sim_write_act(&w->tub, &written);
    if (tw_estimate_model_make(&written, &w->model, w->timeline) != TW_OK)
        return 0.0;
    sim_truth_x(&w->tub, &w->model, w->x);
    tw_estimate_freeze_for(&w->model, w->x, &w->path);
    tw_estimate_forward(&w->model, w->x, &w->path);
    tw_estimate_likelihood(&w->model, &w->path, 1.0, &ln);
    return ln.v[0];
}

/* Free chlorine 6, 24 and 72 h ahead, everything left as it is: the members walked as a forecast walks them. */
static inline void cal_chlorine_ahead(cal_work *w, cal_result *r, const tw_belief *b)
{
    static const int HOUR[3] = {6, 24, 72}, QUANTITY[3] = {CAL_CHLORINE_6H, CAL_CHLORINE_24H, CAL_CHLORINE_72H};
    tw_arena arena = {w->forecast, w->forecast_bytes};
    tw_walk walk;
    if (!tw_estimate_walk_start(&walk, b, &arena))
        return;
    tw_acid_constants acid;
    tw_estimate_acid_constants(b->temp_set_c, b->ionic_mol_per_kg, &acid);
    const double gas = exp(0.0237165 * (b->temp_set_c - 20.0)); /* of an hour, at 20 C */
    w->later = w->tub;
    w->later.jets = 0.0;
    int h = 0;
    for (int k = 0; k < 3; k++) {
        for (; h < HOUR[k]; h++) {
            tw_estimate_walk_on(&walk, 1.0, b->duty, b->temp_set_c);
            for (size_t first = 0; first < b->n; first += TW_ESTIMATE_LANES)
                tw_estimate_walk_carbon(&walk, first, 1.0, gas, 0.0, &acid, NULL, NULL);
        }
        sim_run(&w->later, w->tub.t + HOUR[k], 38.0);
        cal_note(w, r, QUANTITY[k], walk.chlorine, b->n, w->later.c);
    }
}

static inline void cal_decide(cal_decision *d, double said, int happened)
{
    int tenth = (int)(10.0 * said);
    tenth = tenth > 9 ? 9 : tenth;
    d->n[tenth]++;
    d->happened[tenth] += happened != 0;
    d->said[tenth] += said;
    d->brier += (said - happened) * (said - happened);
}

#define CAL_FLOOR 3.0
#define CAL_CEILING 5.0
#define CAL_WEEK_H 168
#define CAL_FORTNIGHT_H 336

/* Somebody keeps the pH, as the verdict takes it: what leaves 7.2 to 7.8 is brought to 7.5 by acid or base. */
static inline void cal_keep_ph(sim_tub *s)
{
    const double ph = sim_ph(s, s->temp, s->dic, s->alk, s->c);
    if (ph >= 7.2 && ph <= 7.8)
        return;
    double low = s->alk - 5.0, high = s->alk + 5.0; /* meq/kg */
    for (int i = 0; i < 40; i++) {
        const double mid = 0.5 * (low + high);
        *(sim_ph(s, s->temp, s->dic, mid, s->c) < 7.5 ? &low : &high) = mid;
    }
    s->alk = 0.5 * (low + high);
}

/* The verdict at the present duty against the fortnight that came: nobody in, no chlorine poured, the pH kept. */
static inline void cal_hold(cal_work *w, cal_result *r, const tw_belief *b)
{
    tw_held h;
    const tw_held_ask ask = {.duty = -1.0, .floor_mg_per_l = CAL_FLOOR, .ceiling_mg_per_l = CAL_CEILING};
    if (tw_estimate_held(b, &ask, w->forecast, w->forecast_bytes, &h) != TW_OK)
        return;
    w->later = w->tub;
    w->later.jets = 0.0;
    const sim_tub *t = &w->later;
    double low = t->c - t->remnant, high = low;
    int last_below = low < CAL_FLOOR ? 0 : -1;
    for (int hour = 1; hour <= CAL_FORTNIGHT_H; hour++) {
        cal_keep_ph(&w->later);
        sim_run(&w->later, w->tub.t + hour, 38.0);
        const double made = t->c - t->remnant;
        if (hour <= CAL_WEEK_H) {
            low = made < low ? made : low;
            high = made > high ? made : high;
        }
        if (made < CAL_FLOOR)
            last_below = hour;
    }
    cal_decide(&r->held, h.p_floor_7d, low >= CAL_FLOOR);
    cal_decide(&r->over, 1.0 - h.p_ceiling, high > CAL_CEILING);
    if (h.hours_q95 < 0.5 * TW_HELD_HORIZON_H && h.hours_q50 > 0.0) {
        const double truth = last_below < 0 ? 0.0 : last_below;
        r->hours_n++;
        r->hours_in += truth >= h.hours_q05 - 1.0 && truth <= h.hours_q95 + 1.0; /* the truth is looked at hourly */
    }
}

/* Each act that the belief tells of, with its probability, against what was done. */
static inline void cal_acts(const sim_tub *t, cal_result *r, const tw_belief *b, double at_h)
{
    for (uint32_t i = 0; i < b->unwrittens; i++) {
        const tw_unwritten *u = &b->unwritten[i];
        cal_decide(&r->acts, u->probability,
                   t->act == u->act && t->act_h > at_h - u->from_h - 1e-6 && t->act_h < at_h - u->until_h + 1e-6);
    }
}

/* The belief of the last reading, carried on to the hour at which the tub is judged. 0: it failed. */
static inline int cal_carry_on(cal_work *w, const tw_problem *p, tw_belief *b)
{
    const size_t bytes = tw_estimate_belief_bytes(b->n), way = tw_estimate_later_bytes(b->n);
    const tw_belief last = *b;
    if (w->unread == NULL && (w->unread = malloc(bytes + way)) == NULL)
        return 0;
    tw_arena arena = {w->unread, bytes}, walk = {(unsigned char *)w->unread + bytes, way};
    tw_estimate_belief_lay(b, last.n, &arena);
    return b->block != NULL && tw_estimate_later(&last, p->setting, p->settings, p->now_h, p->now_h + w->unread_h, walk, b) == TW_OK;
}

/* A mutant changes the problem or the belief before it is judged; NULL: the estimator itself. */
typedef void cal_mutant(cal_work *w, tw_problem *problem);

/* The tub as it stands, judged by a fold of a problem of its. */
static inline int cal_judge_by(cal_work *w, cal_result *r, const tw_problem *problem, uint64_t seed, double days, uint32_t segment,
                               double ln_truth)
{
    tw_belief b;
    if (tw_estimate_sample(problem, seed, segment, &w->options, w->mem, w->mem_bytes, &b) != TW_OK)
        return 0;
    cal_acts(&w->tub, r, &b, problem->now_h);
    if (w->unread_h > 0.0 && !cal_carry_on(w, problem, &b))
        return 0;
    const tw_schedule same = tw_estimate_schedule_same(&b);
    if (tw_estimate_forecast(&b, &same, 24, w->forecast, w->forecast_bytes, &w->fan) != TW_OK)
        return 0;
    const sim_tub *t = &w->tub;
    const size_t n = b.n;
    const double lot = sim_off(t->bias_x[SIM_LOT_A]) * t->problem.bias_sd[SIM_LOT_A];
    for (uint32_t i = 0; i < b.biases; i++)
        if (i == SIM_LOT_A)
            cal_note_spread(r, CAL_LOT_BIAS, &b.bias[i].shift, lot);
    r->in[CAL_SHORT][r->n] = days < 4.5;
    r->in[CAL_MIDDLE][r->n] = days > 4.5 && days < 7.5;
    r->in[CAL_LONG][r->n] = days > 7.5;
    r->in[CAL_WEAK][r->n] = t->factor < 0.5;
    r->in[CAL_SOUND][r->n] = t->factor >= 0.5;
    r->in[CAL_THIRSTY][r->n] = t->film > 0.03;
    r->in[CAL_BELIEVED_WEAK][r->n] = tw_estimate_spread(b.column[TW_COLUMN_CELL_FACTOR], n, w->sorted).q50 < 0.5;
    int day = (int)floor((t->t - t->problem.days_from_h - 1e-9) / 24.0);
    const double output = t->problem.plate_output_g_per_h * t->factor * sim_makes(t) * exp(t->problem.day_sd * t->made_day[day]);
    sim_next_day(&w->tub, &w->later);
    cal_note(w, r, CAL_VOLUME, b.column[TW_COLUMN_WATER_KG], n, t->water);
    cal_note(w, r, CAL_LOSS, b.column[TW_COLUMN_LOSS_38_PER_H], n, sim_loss_seen(t));
    cal_note(w, r, CAL_OUTPUT, b.column[TW_COLUMN_OUTPUT_G_PER_H], n, output);
    cal_note(w, r, CAL_DEMAND, b.column[TW_COLUMN_DEMAND_MG_PER_KG], n, t->d);
    cal_note(w, r, CAL_CHLORINE_NOW, b.column[TW_COLUMN_CHLORINE_MG_PER_KG], n, t->c);
    cal_note(w, r, CAL_PH_NOW, b.column[TW_COLUMN_PH], n, sim_ph(t, t->temp, t->dic, t->alk, t->c));
    const double stood = 1.0 / (1.0 - t->low); /* beliefs tell of the water that stands there */
    cal_note(w, r, CAL_SALT, b.total[TW_TOTAL_CL], n, stood * 1e-3 * (t->cl - t->c / 70.906));
    double *alk = b.scratch + n;
    for (size_t i = 0; i < n; i++)
        alk[i] = 1e3 * (b.total[TW_TOTAL_NA][i] + 2.0 * b.total[TW_TOTAL_CA][i] + 2.0 * b.total[TW_TOTAL_MG][i] -
                        b.total[TW_TOTAL_CL][i] - 2.0 * b.total[TW_TOTAL_SO4][i] - b.total[TW_TOTAL_OTHER][i]);
    cal_note(w, r, CAL_ALKALINITY, alk, n, stood * (t->alk + t->c / 70.906));
    cal_note(w, r, CAL_LOG_LIKELIHOOD, b.column[TW_COLUMN_LOG_LIKELIHOOD], n, ln_truth);
    const sim_tub *u = &w->later;
    cal_note_spread(r, CAL_PH_24H, &w->fan.ph[24], sim_ph(u, 38.0, u->dic, u->alk, u->c));
    for (size_t i = 0; i < n; i++) /* grams of salt up to a target */
        alk[i] = b.column[TW_COLUMN_WATER_KG][i] * 1e-3 * (CAL_SALT_TARGET_MG - 58443.0 * b.total[TW_TOTAL_CL][i]);
    const double grams = t->water * 1e-3 * (CAL_SALT_TARGET_MG - 58.443 * stood * (t->cl - t->c / 70.906));
    r->salt_over += tw_estimate_spread(alk, n, w->sorted).q05 > grams;
    cal_note(w, r, CAL_GRAMS, alk, n, grams);
    cal_chlorine_ahead(w, r, &b);
    if (w->decide)
        cal_hold(w, r, &b);
    r->sum_acceptance += b.acceptance;
    r->sum_lag += b.lag1;
    r->repeated += (b.flags & TW_BELIEF_REPEATED) != 0;
    r->still_bad += (b.flags & TW_BELIEF_STILL_BAD) != 0;
    r->prior_frame += (b.flags & TW_BELIEF_PRIOR_FRAME) != 0;
    r->n++;
    return 1;
}

/* The tub's last water. */
static inline int cal_judge(cal_work *w, cal_result *r, uint64_t seed, double days, uint32_t segment, cal_mutant *mutate)
{
    const double ln_truth = cal_truth_log_likelihood(w);
    if (mutate)
        mutate(w, &w->tub.problem);
    return cal_judge_by(w, r, &w->tub.problem, seed, days, segment, ln_truth);
}

static inline int cal_one(cal_work *w, cal_result *r, uint64_t seed, cal_mutant *mutate)
{
    const double days = 2.0 + (double)(seed % 9);
    if (w->unwritten)
        sim_start_up_unwritten(&w->tub, seed, days, w->unwritten > 1, w->recalled_sd_h, w->dries, w->scale);
    else
        sim_start_up_wrong(&w->tub, seed, days, w->wrong);
    if (w->unread_h > 0.0)
        sim_unread(&w->tub, seed, w->unread_h);
    return cal_judge(w, r, seed, days, 0, mutate);
}

/* Two waters of one tub: the second is judged, its prior is what the first one taught. Every other tub was
 * purged between them. */
static inline int cal_boundary(cal_work *w, cal_result *r, uint64_t seed, cal_mutant *mutate)
{
    const double days = 2.0 + (double)(seed % 9), before = 2.0 + (double)(seed / 9 % 9);
    const int purged = seed / 81 % 2 == 0;
    static sim_tub first;
    tw_taught taught = {0};
    tw_belief b;
    sim_start_up(&first, seed, before);
    for (int i = 0; i < SIM_BIASES; i++)
        first.problem.bias_name[i] = (uint64_t)i + 1;
    if (tw_estimate_sample_teach(&first.problem, seed, 0, &w->options, w->mem, w->mem_bytes, &b, &taught) != TW_OK)
        return 0;
    sim_next_water(&w->tub, &first, &taught, seed, days, purged);
    tw_estimate_carry_make(&taught, SIM_MONTHS, purged, &w->tub.problem);
    return cal_judge(w, r, seed, days, 1, mutate);
}

/* A long water, cut every `cut_h` hours, its last stretch judged; the log-likelihood is not, and its row means nothing. */
static inline int cal_long(cal_work *w, cal_result *r, uint64_t seed, double days, double cut_h)
{
    static tw_problem piece;
    tw_taught taught = {0};
    tw_belief b;
    sim_long(&w->tub, seed, days);
    const double now = w->tub.problem.now_h;
    double from = 0.0;
    for (uint32_t k = 0;; k++, from += cut_h) {
        sim_piece(&w->tub.problem, from, from + cut_h < now ? from + cut_h : now, &piece);
        if (k > 0) {
            tw_estimate_go_on(&taught, &piece);
            tw_estimate_carry_make(&taught, cut_h / 730.5, 0, &piece);
        }
        if (from + cut_h >= now)
            return cal_judge_by(w, r, &piece, seed, days, k << 16, 0.0);
        taught.goes_on = 1;
        if (tw_estimate_sample_teach(&piece, seed, k << 16, &w->options, w->mem, w->mem_bytes, &b, &taught) != TW_OK)
            return 0;
    }
}

/* Of one stratum; -1: of all. *count: how many there are. */
static inline double cal_coverage_in(const cal_result *r, int q, double level, int stratum, size_t *count)
{
    const double tail = 0.5 * (1.0 - level);
    size_t in = 0, all = 0;
    for (size_t i = 0; i < r->n; i++) {
        if (stratum >= 0 && !r->in[stratum][i])
            continue;
        all++;
        in += r->rank[q][i] >= tail && r->rank[q][i] <= 1.0 - tail;
    }
    *count = all;
    return all > 0 ? (double)in / (double)all : 0.0;
}

static inline double cal_coverage(const cal_result *r, int q, double level)
{
    size_t all = 0;
    return cal_coverage_in(r, q, level, -1, &all);
}

/* Largest distance of the ranks' distribution from the uniform one (Kolmogorov), by the draws. */
static inline double cal_distance(const cal_result *r, int q)
{
    double worst = 0.0;
    for (int g = 1; g <= CAL_DRAWS; g++) {
        const double at = ((double)g - 0.5) / CAL_DRAWS; /* between two possible ranks */
        double below = 0.0;
        for (size_t i = 0; i < r->n; i++)
            below += r->draw[q][i] < at;
        const double gap = fabs(below / (double)r->n - (double)g / (CAL_DRAWS + 1));
        worst = gap > worst ? gap : worst;
    }
    return worst;
}

#endif
