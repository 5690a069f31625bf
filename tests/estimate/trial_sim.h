/* tests/estimate/trial_sim.h: does the test that the program proposes decide, as often as it promised and as a perfect
 * judge would?
 *
 * Tubs are drawn from a prior (volume, loss, cell), a dose is given, the generator runs at full duty and free chlorine is
 * read by drops. Where the program proposes a test off and on, it is played: dC/dt = P*duty/V - k*C, solved in
 * closed form (no code of the model). Judges: the program, folding all readings; and 100,000 draws of the prior
 * weighed by the likelihood of the same readings, which no judge can beat on average. */
#ifndef TW_TESTS_TRIAL_SIM_H
#define TW_TESTS_TRIAL_SIM_H

#include "estimate/instrument.h"
#include "estimate/trial.h"
#include "plain.h"

#define TRIAL_DRAWS 100000
#define TRIAL_READINGS 12
#define TRIAL_STEP 0.2
#define TRIAL_LITRES 1200.0
#define TRIAL_LOSS 0.022
#define TRIAL_LOSS_SD 0.6
#define TRIAL_LITRES_SD 0.03
#define TRIAL_OUTPUT_SD 0.35
#define TRIAL_PLATE 0.15
#define TRIAL_DOSE_MG 7200.0
#define TRIAL_PROPOSED_AT_H 30.0

typedef struct {
    uint64_t state;
} trial_random;

static inline double trial_uniform(trial_random *r)
{
    r->state = r->state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    uint64_t x = r->state ^ (r->state >> 29);
    x *= UINT64_C(0xbf58476d1ce4e5b9);
    return ((double)(x >> 11) + 0.5) / 9007199254740992.0;
}

static inline double trial_normal(trial_random *r)
{
    const double u = trial_uniform(r), v = trial_uniform(r);
    return sqrt(-2.0 * log(u)) * cos(6.283185307179586 * v);
}

/* One possible tub. */
typedef struct {
    double litres, loss, output;
} trial_tub;

static inline trial_tub trial_draw(trial_random *r)
{
    trial_tub t;
    const double zv = trial_normal(r), zk = trial_normal(r), x = trial_normal(r);
    t.litres = TRIAL_LITRES * exp(TRIAL_LITRES_SD * zv);
    t.loss = TRIAL_LOSS * exp(TRIAL_LOSS_SD * zk);
    t.output = TRIAL_PLATE * exp((0.18 + TRIAL_OUTPUT_SD) * x - 0.3 * log(1.0 + exp(-3.0 * (x + 1.1))));
    return t;
}

/* Times, settings and what was read. */
typedef struct {
    size_t n;
    double at_h[TRIAL_READINGS], drops[TRIAL_READINGS];
    double off_h, on_h; /* the test: from the proposal on; 0: none */
} trial_record;

static inline double trial_run(const trial_tub *t, double c, double hours, double duty)
{
    const double e = exp(-t->loss * hours);
    return c * e + 1e3 * t->output * duty / (t->litres * t->loss) * (1.0 - e);
}

/* Free chlorine at an hour, mg/L (density 1): dosed at 0, full duty from then on but for the hours off. */
static inline double trial_chlorine(const trial_tub *t, const trial_record *rec, double at_h)
{
    double c = TRIAL_DOSE_MG / t->litres;
    const double off_from = TRIAL_PROPOSED_AT_H, off_to = off_from + rec->off_h;
    const double first = at_h < off_from ? at_h : off_from;
    c = trial_run(t, c, first, 1.0);
    if (at_h > off_from)
        c = trial_run(t, c, (at_h < off_to ? at_h : off_to) - off_from, 0.0);
    return at_h > off_to && at_h > off_from ? trial_run(t, c, at_h - off_to, 1.0) : c;
}

/* Read by drops: n = ceil(C/step + 0.5 z); one in fifty is anything. */
static inline void trial_read(const trial_tub *t, trial_record *rec, double at_h, trial_random *r)
{
    const double c = trial_chlorine(t, rec, at_h), rubbish = trial_uniform(r), where = trial_uniform(r), z = trial_normal(r);
    double n = ceil(c / TRIAL_STEP + 0.5 * z);
    if (rubbish < 0.02)
        n = floor(where * 20.0 / TRIAL_STEP);
    rec->at_h[rec->n] = at_h;
    rec->drops[rec->n++] = (n > 0.0 ? n : 0.0) * TRIAL_STEP;
}

static inline double trial_cdf(double z)
{
    return 0.5 * erfc(-z * 0.7071067811865476);
}

static inline double trial_likelihood(const trial_tub *t, const trial_record *rec)
{
    double product = 1.0;
    const double sd = 0.5 * TRIAL_STEP, even = 0.02 * TRIAL_STEP / 20.0;
    for (size_t i = 0; i < rec->n; i++) {
        const double c = trial_chlorine(t, rec, rec->at_h[i]);
        double p = trial_cdf((rec->drops[i] - c) / sd);
        if (rec->drops[i] > 0.5 * TRIAL_STEP)
            p -= trial_cdf((rec->drops[i] - TRIAL_STEP - c) / sd);
        product *= 0.98 * p + even;
    }
    return product;
}

/* P(weak) of the perfect judge. */
static inline double trial_judge(const trial_record *rec, uint64_t seed)
{
    trial_random r = {seed};
    double weak = 0.0, all = 0.0;
    for (int i = 0; i < TRIAL_DRAWS; i++) {
        const trial_tub t = trial_draw(&r);
        const double w = trial_likelihood(&t, rec);
        all += w;
        weak += t.output < 0.5 * TRIAL_PLATE ? w : 0.0;
    }
    return weak / all;
}

static inline tw_status trial_fold(const trial_record *rec, double now_h, uint64_t seed, tw_belief *b)
{
    tw_problem *p = plain_start(now_h);
    plain_clean(p);
    plain_ln(p, TW_X_WATER, TRIAL_LITRES, TRIAL_LITRES_SD);
    plain_ln(p, TW_X_LOSS, TRIAL_LOSS, TRIAL_LOSS_SD);
    plain_fix(p, TW_X_CHLORINE0, 1e-9);
    p->plate_output_g_per_h = TRIAL_PLATE;
    p->output_sd = TRIAL_OUTPUT_SD;
    p->cells = 1;
    p->film_from_h = p->days_from_h = 0.0;
    (void)plain_setting(p, 0.0, 1.0);
    if (rec->off_h > 0.0) {
        (void)plain_setting(p, TRIAL_PROPOSED_AT_H, 0.0);
        (void)plain_setting(p, TRIAL_PROPOSED_AT_H + rec->off_h, 1.0);
    }
    (void)plain_chlorine(p, 0.0, TRIAL_DOSE_MG);
    for (size_t i = 0; i < rec->n; i++) {
        tw_written_reading w;
        double bias_sd = 0.0;
        memset(&w, 0, sizeof w);
        w.instrument = TW_TOOL_DROPS;
        w.observed = TW_OBSERVED_FREE_CHLORINE;
        w.value = rec->drops[i];
        w.step = TRIAL_STEP;
        w.dilution = w.density_kg_per_l = 1.0;
        tw_reading *r = &p->reading[p->readings++];
        const tw_status status = tw_estimate_reading(&w, r, &bias_sd);
        if (status != TW_OK)
            return status;
        r->at_h = rec->at_h[i];
        r->entry = (uint32_t)i;
    }
    return plain_sample(p, seed, NULL, b);
}

/* What came of many tubs. */
typedef struct {
    int tubs, proposed, cannot, low, sure;       /* tubs, and what was said of them                    */
    int right, wrong, judge_right, judge_wrong;  /* of those proposed: said with 0.95                  */
    double promised, wrong_promised;             /* sums of the promise                                */
    double hours;
} trial_tally;

static inline int trial_verdict(double p_weak, int weak)
{
    return p_weak >= 0.95 ? (weak ? 1 : -1) : p_weak <= 0.05 ? (weak ? -1 : 1) : 0;
}

/* One tub: its history, the proposal, the test, both judges. -1: the fold failed. */
static inline int trial_play(uint64_t seed, void *work, size_t bytes, trial_tally *t)
{
    trial_random r = {seed * UINT64_C(0x9e3779b97f4a7c15) + 1};
    const trial_tub tub = trial_draw(&r);
    const int weak = tub.output < 0.5 * TRIAL_PLATE;
    trial_record rec;
    tw_belief b;
    tw_trial trial;
    memset(&rec, 0, sizeof rec);
    trial_read(&tub, &rec, 1.0, &r);
    trial_read(&tub, &rec, 12.0, &r);
    trial_read(&tub, &rec, 29.9, &r);
    t->tubs++;
    if (trial_fold(&rec, TRIAL_PROPOSED_AT_H, seed, &b) != TW_OK ||
        tw_estimate_trial(&b, TW_TOOL_DROPS, TRIAL_STEP, work, bytes, &trial) != TW_OK)
        return -1;
    t->cannot += trial.state == TW_TRIAL_CANNOT;
    t->low += trial.state == TW_TRIAL_TOO_LOW;
    t->sure += trial.state == TW_TRIAL_DECIDED;
    if (trial.state != TW_TRIAL_PROPOSED)
        return 0;
    t->proposed++;
    t->promised += trial.p_decides;
    t->wrong_promised += trial.p_wrong;
    t->hours += trial.hours;
    rec.off_h = rec.on_h = trial.hours;
    trial_read(&tub, &rec, TRIAL_PROPOSED_AT_H, &r);
    trial_read(&tub, &rec, TRIAL_PROPOSED_AT_H + trial.hours, &r);
    trial_read(&tub, &rec, TRIAL_PROPOSED_AT_H + 2.0 * trial.hours, &r);
    if (trial_fold(&rec, TRIAL_PROPOSED_AT_H + 2.0 * trial.hours, seed, &b) != TW_OK)
        return -1;
    size_t count = 0;
    for (size_t i = 0; i < b.n; i++)
        count += b.column[TW_COLUMN_CELL_FACTOR][i] < 0.5;
    const int said = trial_verdict((double)count / (double)b.n, weak);
    const int judged = trial_verdict(trial_judge(&rec, seed + 77), weak);
    t->right += said == 1;
    t->wrong += said == -1;
    t->judge_right += judged == 1;
    t->judge_wrong += judged == -1;
    return 1;
}

#endif
