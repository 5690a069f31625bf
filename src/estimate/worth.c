/* estimate/worth.c: outcomes, members weighed again, the decision made again. */
#include "estimate/worth.h"

#include <math.h>
#include <string.h>

#include "estimate/arena.h"
#include "estimate/instrument.h"
#include "estimate/sampler.h"
#include "estimate/tails.h"
#include "num/elementary.h"
#include "num/sort.h"

#define SURE 0.95
#define WRONG_OVER_WAIT 19.0 /* SURE/(1 - SURE): so acting begins at SURE */
#define OVERSHOOT 0.05
#define A_TENTH 0.1

/* A shared bias by five nodes of Gauss and Hermite, for N(0,1). */
enum { NODES = 5 };
static const double NODE[NODES] = {0.0, 1.3556261799742659, -1.3556261799742659, 2.8569700138728056, -2.8569700138728056};
static const double NODE_WEIGHT[NODES] = {0.53333333333333333, 0.22207592200561264, 0.22207592200561264,
                                          0.011257411327720688, 0.011257411327720688};

typedef struct {
    const tw_belief *b;
    const tw_worth_decision *d;
    const tw_worth_test *t;
    double *weight, *mean;       /* of one outcome; of all of them together */
    uint32_t *by_value, *by_most, *by_target;
} ask;

/* What a decision comes to. */
typedef struct {
    double loss, p, amount;
    int choice;                  /* 0 wait, 1 act, 2 act on the contrary */
} made;

size_t tw_estimate_worth_bytes(size_t n)
{
    return 2 * n * sizeof(double) + 3 * n * sizeof(uint32_t) + 6 * TW_ARENA_ALIGN;
}

static made decide_event(const ask *a, const double *weight, int two_sided)
{
    double sum = 0.0, yes = 0.0;
    for (size_t i = 0; i < a->b->n; i++) {
        sum += weight[i];
        yes += weight[i] * a->d->event[i];
    }
    made m = {0.0, sum > 0.0 ? yes / sum : 0.5, 0.0, 0};
    const double wrong = WRONG_OVER_WAIT * a->d->wait_h;
    m.choice = m.p >= SURE ? 1 : two_sided && m.p <= 1.0 - SURE ? 2 : 0;
    /* Waiting costs where an act was right: always when one of two is. */
    m.loss = m.choice == 1 ? wrong * (1.0 - m.p) : m.choice == 2 ? wrong * m.p : a->d->wait_h * (two_sided ? SURE : m.p);
    return m;
}

/* The planner's rule: the target's middle, and over the limit with 5 % at the most. */
static made decide_dose(const ask *a, const double *weight)
{
    const tw_worth_decision *d = a->d;
    const double most = tw_quantile_weighted(d->most, weight, a->by_most, a->b->n, OVERSHOOT);
    const double target = tw_quantile_weighted(d->target, weight, a->by_target, a->b->n, 0.5);
    made m = {0.0, 0.0, target < most ? target : most, 0};
    m.amount = m.amount > 0.0 ? m.amount : 0.0;
    double sum = 0.0, short_of = 0.0, over = 0.0, needless = 0.0;
    for (size_t i = 0; i < a->b->n; i++) {
        sum += weight[i];
        over += m.amount > d->most[i] ? weight[i] : 0.0;
        short_of += m.amount < d->least[i] ? weight[i] : 0.0;
        needless += m.amount > 0.0 && d->least[i] <= 0.0 ? weight[i] : 0.0;
    }
    if (sum > 0.0)
        m.loss = (d->spoilt_h * over + d->wait_h * short_of + 0.5 * d->wait_h * needless) / sum;
    return m;
}

static made decide(const ask *a, const double *weight)
{
    return a->d->kind == TW_WORTH_DOSE ? decide_dose(a, weight) : decide_event(a, weight, a->d->kind == TW_WORTH_WHICH);
}

static int other_act(const ask *a, const made *was, const made *now)
{
    if (a->d->kind != TW_WORTH_DOSE)
        return was->choice != now->choice;
    const double larger = was->amount > now->amount ? was->amount : now->amount;
    return fabs(was->amount - now->amount) > A_TENTH * larger;
}

/* The block of a scale that is nearest to a value on the reading's scale. */
static double nearest_block(const tw_instrument_row *row, const tw_reading *like, double to_inside, double eta)
{
    double best = row->block[0], least = 1e308;
    for (size_t k = 0; k < row->blocks; k++) {
        const double off = fabs(tw_estimate_on_scale(like, row->block[k] * to_inside) - eta);
        if (off < least) {
            least = off;
            best = row->block[k];
        }
    }
    return best;
}

/* How the instrument would be read: the truth, moved by the bias and an error. Written into r. */
static void read_one(const ask *a, const tw_instrument_row *row, double inside, double z_bias, double z, tw_reading *r)
{
    const double to_inside = tw_estimate_inside_factor(a->t->observed, a->b->density_kg_per_l);
    tw_written_reading w;
    double bias_sd = 0.0;
    memset(&w, 0, sizeof w);
    w.instrument = a->t->instrument;
    w.observed = a->t->observed;
    w.dilution = 1.0;
    w.density_kg_per_l = a->b->density_kg_per_l;
    w.step = row->model == TW_ERROR_DROPS ? (a->t->step > 0.0 ? a->t->step : row->step) : row->step;
    w.value = inside / to_inside;
    w.value = w.value > row->low ? w.value : row->low;
    (void)tw_estimate_reading(&w, r, &bias_sd); /* its errors at this value */
    const double eta = tw_estimate_on_scale(r, inside) + bias_sd * tw_estimate_bias_in_sd(z_bias) + r->sd * z;
    double shown = r->link == TW_LINK_LN ? tw_exp(eta) - r->offset : eta;
    shown /= to_inside;
    shown = shown < row->low ? row->low : shown > row->high ? row->high : shown;
    if (row->model == TW_ERROR_BLOCKS)
        w.value = nearest_block(row, r, to_inside, eta);
    else if (row->model == TW_ERROR_DROPS)
        w.value = w.step * ceil(shown / w.step - 1e-9);
    else
        w.value = w.step > 0.0 ? w.step * floor(shown / w.step + 0.5) : shown;
    (void)tw_estimate_reading(&w, r, &bias_sd);
}

/* Likelihood of an outcome in member i; biases of bottle or meter are shared by its readings. */
static double likelihood(const ask *a, const tw_reading *r, double bias_sd, size_t i)
{
    double sum = 0.0, eta[TW_WORTH_READINGS];
    const size_t readings = a->t->readings;
    for (size_t k = 0; k < readings; k++)
        eta[k] = tw_estimate_on_scale(&r[k], a->t->value[k][i]);
    const int nodes = bias_sd > 0.0 ? NODES : 1;
    for (int q = 0; q < nodes; q++) {
        const double off = bias_sd * tw_estimate_bias_in_sd(NODE[q]);
        double product = bias_sd > 0.0 ? NODE_WEIGHT[q] : 1.0;
        for (size_t k = 0; k < readings; k++)
            product *= (1.0 - r[k].rubbish) * tw_estimate_factor(&r[k], r[k].sd, eta[k] + off) +
                       tw_estimate_rubbish_floor(&r[k], r[k].sd);
        sum += product;
    }
    return sum;
}

static double bias_of(const tw_belief *b, const tw_instrument_row *row, const tw_reading *like)
{
    return like->link == TW_LINK_LN ? row->bias_sd : row->bias_sd * tw_estimate_inside_factor(row->observed, b->density_kg_per_l);
}

/* Weigh the members by outcome k. Returns the member that it came from. */
static size_t weigh(const ask *a, const tw_instrument_row *row, size_t k, size_t outcomes)
{
    const size_t n = a->b->n;
    tw_reading r[TW_WORTH_READINGS];
    tw_stream stream = tw_stream_make(a->b->seed, a->b->segment, TW_PURPOSE_WORTH, (uint32_t)k);
    const double z_bias = tw_stream_normal(&stream);
    /* Members evenly through what will be read last. */
    const size_t from = a->by_value[(2 * k + 1) * n / (2 * outcomes)];
    for (size_t j = 0; j < a->t->readings; j++) {
        const double z = tw_stream_normal(&stream);
        read_one(a, row, a->t->value[j][from], z_bias, z, &r[j]);
    }
    const double bias_sd = bias_of(a->b, row, &r[0]);
    double sum = 0.0;
    for (size_t i = 0; i < n; i++) {
        a->weight[i] = i == from ? 0.0 : likelihood(a, r, bias_sd, i); /* who told it does not count */
        sum += a->weight[i];
    }
    for (size_t i = 0; i < n && sum > 0.0; i++) {
        a->weight[i] /= sum;
        a->mean[i] += a->weight[i];
    }
    return from;
}

tw_status tw_estimate_worth(const tw_belief *b, const tw_worth_decision *d, const tw_worth_test *t, size_t outcomes,
                            void *mem, size_t bytes, tw_worth *out)
{
    tw_arena arena = {mem, bytes};
    const size_t n = b->n;
    ask a = {b, d, t, NULL, NULL, NULL, NULL, NULL};
    memset(out, 0, sizeof *out);
    if (t->readings < 1 || t->readings > TW_WORTH_READINGS || outcomes < 1 || outcomes > n)
        return TW_ERR_RANGE;
    const tw_instrument_row *row = tw_estimate_instrument(t->instrument, t->observed);
    if (row == NULL)
        return TW_ERR_UNKNOWN;
    a.weight = tw_arena_take(&arena, n * sizeof(double));
    a.mean = tw_arena_take(&arena, n * sizeof(double));
    a.by_value = tw_arena_take(&arena, n * sizeof(uint32_t));
    a.by_most = tw_arena_take(&arena, n * sizeof(uint32_t));
    a.by_target = tw_arena_take(&arena, n * sizeof(uint32_t));
    if (a.by_target == NULL)
        return TW_ERR_CAPACITY;
    tw_sort_index(t->value[t->readings - 1], n, a.by_value);
    if (d->kind == TW_WORTH_DOSE) {
        tw_sort_index(d->most, n, a.by_most);
        tw_sort_index(d->target, n, a.by_target);
    }
    for (size_t i = 0; i < n; i++) {
        a.mean[i] = 0.0;
        a.weight[i] = 1.0;
    }
    const made now = decide(&a, a.weight);
    double after = 0.0, changes = 0.0, decides = 0.0, wrong = 0.0;
    for (size_t k = 0; k < outcomes; k++) {
        const size_t from = weigh(&a, row, k, outcomes);
        const made m = decide(&a, a.weight);
        after += m.loss;
        changes += other_act(&a, &now, &m);
        if (d->kind != TW_WORTH_DOSE && (m.p >= SURE || m.p <= 1.0 - SURE)) {
            decides += 1.0;
            wrong += (m.p >= SURE) != (d->event[from] > 0.5);
        }
    }
    const double one = 1.0 / (double)outcomes;
    /* What the outcomes drawn say together is compared, not the members: so chance in drawing them cancels. */
    out->loss_h = now.loss;
    out->gain_h = decide(&a, a.mean).loss - after * one;
    out->gain_h = out->gain_h > 0.0 ? out->gain_h : 0.0;
    out->p_changes = changes * one;
    out->p_decides = decides * one;
    out->p_wrong = wrong * one;
    return TW_OK;
}
