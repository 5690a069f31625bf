/* estimate/map.c: the most probable point, by Fisher scoring with annealed noise.
 *
 * Predictions are differentiated by differences, one perturbed coordinate a lane; each reading adds
 * its Fisher information times the chance that it is no rubbish. The noise is inflated in the first
 * rounds: a far reading has curvature but no slope, and plain Gauss-Newton from the prior stalls or
 * ends in a poor local mode (docs/estimate.md). */
#include <math.h>
#include <string.h>

#include "estimate/jacobian.h"
#include "num/elementary.h"

#define ROUNDS 40

/* Rounds of the search: first soft (every reading pulls), then the real likelihood. */
#define SOFT_ROUNDS 13
#define ANNEALED_ROUNDS 15

static int is_soft(int round)
{
    return round < SOFT_ROUNDS;
}

static double inflation(int round)
{
    /* Slowly: with one round each at 8, 4, 2, 1 one log in 400 ended where ten readings were rubbish. */
    static const double FIRST[ANNEALED_ROUNDS] = {8.0, 8.0, 4.0, 4.0, 2.8, 2.0, 2.0, 1.4,
                                                  1.0, 1.0, 1.0, 1.0, 1.0, 2.0, 2.0};
    return round < ANNEALED_ROUNDS ? FIRST[round] : 1.0;
}

static void likelihood(tw_sampler *s, int round, tw_lanes *ln)
{
    if (is_soft(round))
        tw_estimate_soft_likelihood(s->model, s->path, inflation(round), ln);
    else
        tw_estimate_likelihood(s->model, s->path, inflation(round), ln);
}

/* ln prior of every lane that was run, the Jacobian of the bend included. */
static tw_lanes ln_prior(tw_sampler *s)
{
    const tw_model *m = s->model;
    tw_lanes sum = s->bend.ln_jacobian;
    for (size_t i = 0; i < m->active; i++) {
        const tw_lanes *x = &s->x[m->role[i]];
        if (!m->carried[m->role[i]])
            TW_EACH_LANE(l) sum.v[l] -= 0.5 * x->v[l] * x->v[l];
    }
    tw_estimate_carry_add(m, s->x, -1.0, &s->pull, &sum);
    return sum;
}

/* The points are in z: bend them and run. */
static void run_lanes(tw_sampler *s)
{
    tw_estimate_bend(s->model, s->x, &s->bend);
    tw_estimate_run_marking(s);
}

/* The point in all lanes. */
static void run_point(tw_sampler *s, const double *point)
{
    for (int l = 0; l < TW_ESTIMATE_LANES; l++)
        tw_estimate_set_lane(s, l, point);
    run_lanes(s);
}

/* ln posterior where the lanes of the last run stood; what readings were expected to say there is kept. */
static tw_lanes value_of(tw_sampler *s, int round)
{
    const tw_problem *p = s->model->problem;
    tw_lanes ln;
    const tw_lanes prior = ln_prior(s);
    s->bend_at = s->bend;
    likelihood(s, round, &ln);
    memcpy(s->eta_at, s->path->eta, (p->readings + p->looks) * sizeof *s->eta_at);
    TW_EACH_LANE(l) ln.v[l] += prior.v[l];
    return ln;
}

/* What readings and what was carried weigh in one of these lanes. */
static void weigh_lane(tw_sampler *s, int lane, int round)
{
    const tw_problem *p = s->model->problem;
    const double inflate = inflation(round);
    s->bend_lane = lane;
    for (size_t r = 0; r < p->readings + p->looks; r++) {
        const tw_reading *reading = &p->reading[tw_estimate_reading_of(p, r)];
        const double sd = reading->sd * inflate;
        double info = 1.0 / (sd * sd);
        if (reading->form == TW_FORM_INTERVAL) {
            const double width = reading->high - reading->low;
            if (width < 1e6) {
                const double wide = width * (is_soft(round) ? inflate : 1.0);
                info = 1.0 / (sd * sd + wide * wide / 12.0);
            } else {
                const double slope = s->path->factor_slope[r].v[lane];
                const double seen = slope * slope;
                info = seen < info ? seen : info;
            }
        }
        s->weight[r] = info * (reading->own_share > 0.0 ? s->path->says[r].v[lane] : 1.0 - s->path->rubbish[r].v[lane]);
    }
    if (p->carry.n > 0)
        s->carry_weight = tw_estimate_carry_weight(s->model, &s->pull, lane);
}

/* Gradient of ln posterior in one lane, by place, with its weights; returns its value. */
static double score_of(tw_sampler *s, int lane, int round)
{
    const tw_model *m = s->model;
    const tw_lanes value = value_of(s, round);
    weigh_lane(s, lane, round);
    tw_estimate_backward(m, s->path, s->adjoint, s->gradient);
    for (size_t i = 0; i < m->active; i++)
        if (!m->carried[m->role[i]])
            TW_EACH_LANE(l) s->gradient[m->role[i]].v[l] -= s->x[m->role[i]].v[l];
    tw_estimate_carry_gradient(m, &s->pull, s->gradient);
    tw_estimate_bend_gradient(m, &s->bend_at, s->gradient);
    for (size_t i = 0; i < m->active; i++)
        s->score[i] = s->gradient[m->role[i]].v[lane];
    return value.v[lane];
}

/* The same at a point; it stands in all lanes. */
static double score_at(tw_sampler *s, const double *point, int round)
{
    run_point(s, point);
    return score_of(s, 0, round);
}

static void hessian_clear(tw_sampler *s)
{
    const size_t n = s->model->active;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++)
            s->hessian[i * n + j] = 0.0;
}

static void add_at(tw_sampler *s, int role_a, int role_b, double x)
{
    const size_t n = s->model->active;
    const size_t a = (size_t)s->model->place[role_a], b = (size_t)s->model->place[role_b];
    s->hessian[a > b ? a * n + b : b * n + a] += x;
}

/* The prior's information in z: x is N(0,1), or carried from the water before. Each row of dx/dz has few
 * entries, and rows of carried coordinates meet each other through the precision. */
typedef struct {
    int n, role[1 + TW_BEND_IONS];
    double by[1 + TW_BEND_IONS];
} bent_row;

static bent_row row_of(const tw_sampler *s, int role)
{
    const tw_model *m = s->model;
    const tw_bend *b = &s->bend_at;
    const int lane = s->bend_lane;
    bent_row r = {1, {role}, {1.0}};
    if (role == TW_X_LOSS && b->loss) {
        r.n = m->follows ? TW_BEND_LOSSES : TW_BEND_LOSSES - 1;
        for (int i = 0; i < r.n; i++) {
            r.role[i] = tw_estimate_bend_losses[i];
            r.by[i] = b->loss_by[i].v[lane];
        }
    }
    for (int i = 0; i < TW_BEND_AMOUNTS; i++)
        if (role == tw_estimate_bend_amount[i] && b->amount[i])
            r.by[0] = b->amount_by[i].v[lane];
    for (int i = 0; role == TW_X_IONS && b->ions && i < TW_BEND_IONS; i++) {
        r.role[r.n] = tw_estimate_bend_ion[i];
        r.by[r.n++] = b->ions_by[i].v[lane];
    }
    if ((size_t)role >= m->x_cell && (size_t)role < m->x_cell + m->problem->cells)
        r.by[0] = b->cell_by[(size_t)role - m->x_cell].v[lane];
    return r;
}

/* weight*(a b' + b a')/2: each pair of entries stands once in the lower triangle. */
static void add_rows(tw_sampler *s, const bent_row *a, const bent_row *b, double weight)
{
    for (int i = 0; i < a->n; i++)
        for (int j = 0; j < b->n; j++)
            add_at(s, a->role[i], b->role[j],
                   (a->role[i] == b->role[j] ? 1.0 : 0.5) * weight * a->by[i] * b->by[j]);
}

static void hessian_add_prior(tw_sampler *s, double scale)
{
    const tw_model *m = s->model;
    const tw_carry *c = &m->problem->carry;
    bent_row carried[TW_MAX_CARRIED];
    for (size_t i = 0; i < m->active; i++) {
        const bent_row r = row_of(s, m->role[i]);
        if (!m->carried[m->role[i]])
            add_rows(s, &r, &r, scale);
    }
    for (size_t i = 0; i < c->n; i++)
        carried[i] = row_of(s, m->carried_role[i]);
    for (size_t i = 0; i < c->n; i++)
        for (size_t j = 0; j < c->n; j++)
            add_rows(s, &carried[i], &carried[j], scale * s->carry_weight * c->precision[i * c->n + j]);
}

/* Add the information of the prior and of every reading, times scale. */
static void hessian_add(tw_sampler *s, double scale)
{
    const tw_problem *p = s->model->problem;
    const size_t n = s->model->active, readings = p->readings + p->looks;
    double weight[TW_MAX_SLOTS];
    hessian_add_prior(s, scale);
    for (size_t r = 0; r < readings; r++)
        weight[r] = scale * s->weight[r];
    tw_estimate_add_squares(s->hessian, n, s->jacobian, weight, readings);
}

static void hessian_at(tw_sampler *s)
{
    hessian_clear(s);
    hessian_add(s, 1.0);
}

/* Eight step lengths at once; the best becomes the new point. Returns the length taken (0: none); *lane: where the last run stood
 * at it, -1: nowhere. */
static double best_step(tw_sampler *s, double *point, int round, double *value, int *lane)
{
    static const double LENGTH[8] = {1.0, 0.5, 0.25, 0.125, 0.0625, 0.015625, 0.00390625, 1.5};
    const tw_model *m = s->model;
    double best = *value, taken = 0.0;
    for (int from = 0; from < 8; from += TW_ESTIMATE_LANES) {
        tw_lanes ln;
        for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
            const double t = LENGTH[(from + l) % 8];
            for (size_t i = 0; i < m->active; i++)
                s->weight_point[i] = point[i] + t * s->direction[i];
            tw_estimate_set_lane(s, l, s->weight_point);
        }
        run_lanes(s);
        const tw_lanes prior = ln_prior(s);
        likelihood(s, round, &ln);
        *lane = -1;
        for (int l = 0; l < TW_ESTIMATE_LANES; l++)
            if (ln.v[l] + prior.v[l] > best) {
                best = ln.v[l] + prior.v[l];
                taken = LENGTH[(from + l) % 8];
                *lane = l;
            }
    }
    for (size_t i = 0; i < m->active; i++)
        point[i] += taken * s->direction[i];
    *value = best;
    return taken;
}

/* From a start to a mode, from a round on. Leaves the factor of the last Hessian in the frame. 0: it failed. */
static int climb(tw_sampler *s, double *point, double *value, int round)
{
    const size_t n = s->model->active;
    int lane = -1;
    while (round < ROUNDS) {
        if (lane < 0) {
            run_point(s, point);
            lane = 0;
        }
        *value = score_of(s, lane, round);
        if (!tw_is_finite(*value))
            return 0;
        tw_estimate_jacobian(s, point, lane);
        lane = -1;
        hessian_at(s);
        if (!tw_estimate_frame_make(s->hessian, &s->frame))
            return 0;
        tw_estimate_frame_solve(&s->frame, s->score, s->direction);
        double gain = 0.0;
        for (size_t i = 0; i < n; i++)
            gain += s->direction[i] * s->score[i];
        if (!tw_is_finite(gain))
            return 0;
        const int settled = gain < 1e-2 || best_step(s, point, round, value, &lane) <= 0.0;
        if (settled && round >= ANNEALED_ROUNDS)
            return 1;
        /* Settled in a soft round at full noise: go on to the next kind at once. */
        if (settled && is_soft(round) && inflation(round) <= 1.0)
            round = SOFT_ROUNDS;
        else
            round++;
    }
    return 1;
}

/* The frame at a point; *mass: ln of the probability around it as far as a normal with that frame holds it. */
static int frame_at(tw_sampler *s, const double *point, double *mass)
{
    *mass = score_at(s, point, ROUNDS);
    tw_estimate_jacobian(s, point, 0);
    hessian_at(s);
    if (!tw_estimate_frame_make(s->hessian, &s->frame) || !tw_is_finite(*mass))
        return 0;
    for (size_t i = 0; i < s->model->active; i++)
        *mass += tw_log(s->frame.inverse[i]);
    return 1;
}

#define FAR 2.0 /* standard deviations of the prior */

/* Is this coordinate its own, not one of those that bend (loss, film, cells)? A bent amount has its middle where
 * it was, and two of its z are less than two sd. */
static int is_plain(const tw_model *m, int role)
{
    return role != TW_X_IONS && role != TW_X_LOSS && role != TW_X_FILM && role != TW_X_FILM_HOURS && role != TW_X_HOCL_PART &&
           ((size_t)role < m->x_cell || (size_t)role >= m->x_bias);
}

/* A coordinate far out in its prior may have been pulled there by one reading, which could as well be
 * rubbish: start again with all such coordinates in their middle and nothing that pulls from afar, and
 * keep the mode that holds more. */
static void look_again(tw_sampler *s)
{
    const tw_model *m = s->model;
    double here = 0.0, there = 0.0, value = 0.0;
    int far = 0;
    for (size_t i = 0; i < m->active; i++) {
        const double middle = tw_estimate_carry_mean(m, m->role[i]), far_off = FAR * tw_estimate_carry_sd(m, m->role[i]);
        const int out = is_plain(m, m->role[i]) && (s->map[i] > middle + far_off || s->map[i] < middle - far_off);
        s->map_spare[i] = out ? middle : s->map[i];
        far |= out;
    }
    if (!far || !frame_at(s, s->map, &here) || !climb(s, s->map_spare, &value, ANNEALED_ROUNDS) ||
        !frame_at(s, s->map_spare, &there) || there <= here)
        return;
    for (size_t i = 0; i < m->active; i++)
        s->map[i] = s->map_spare[i];
}

/* The frame of the prior alone: what was carried may be far sharper than N(0,1). */
static void prior_frame(tw_sampler *s)
{
    if (s->model->problem->carry.n > 0) {
        s->carry_weight = 1.0;
        hessian_clear(s);
        hessian_add_prior(s, 1.0);
        if (tw_estimate_frame_make(s->hessian, &s->frame))
            return;
    }
    tw_estimate_frame_unit(&s->frame);
}

uint32_t tw_estimate_map(tw_sampler *s)
{
    const tw_model *m = s->model;
    const size_t n = m->active;
    s->frame.n = n;
    int found = 0;
    for (int start = 0; start < 2 && !found; start++) {
        /* From the middle of the prior; should that fail, from a tub whose cell is nearly dead. (On
         * hundreds of simulated tubs both ended in the same point.) */
        double value = -1e300;
        for (size_t i = 0; i < n; i++)
            s->map[i] = tw_estimate_carry_mean(m, m->role[i]);
        for (size_t c = 0; start == 1 && c < m->problem->cells; c++)
            if ((size_t)m->place[m->x_cell + c] < n)
                s->map[m->place[m->x_cell + c]] = -2.2;
        found = climb(s, s->map, &value, m->problem->goes_on ? SOFT_ROUNDS : 0);
    }
    if (!found) {
        for (size_t i = 0; i < n; i++)
            s->map[i] = tw_estimate_carry_mean(m, m->role[i]);
        prior_frame(s);
        return TW_BELIEF_PRIOR_FRAME;
    }
    look_again(s);
    if (!tw_estimate_map_here(s)) {
        prior_frame(s);
        return TW_BELIEF_PRIOR_FRAME;
    }
    return 0;
}

/* The path goes back to the point, that nobody reads which of the columns was its last. */
int tw_estimate_map_here(tw_sampler *s)
{
    const int made = frame_at(s, s->map, &s->mass);
    run_point(s, s->map);
    return made;
}

void tw_estimate_weights_here(tw_sampler *s)
{
    (void)score_at(s, s->map, ROUNDS);
}

int tw_estimate_soft_frame(tw_sampler *s, tw_frame *out)
{
    (void)score_at(s, s->map, SOFT_ROUNDS - 1);
    hessian_at(s);
    return tw_estimate_frame_make(s->hessian, out);
}

int tw_estimate_frame_average(tw_sampler *s, const double *points, size_t stride, size_t count)
{
    hessian_clear(s);
    for (size_t first = 0; first < count; first += TW_ESTIMATE_LANES) {
        for (int l = 0; l < TW_ESTIMATE_LANES; l++)
            tw_estimate_set_lane(s, l, points + (first + (size_t)l < count ? first + (size_t)l : count - 1) * stride);
        run_lanes(s);
        const tw_lanes value = value_of(s, ROUNDS);
        for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < count; l++) {
            if (!tw_is_finite(value.v[l]))
                continue;
            weigh_lane(s, l, ROUNDS);
            tw_estimate_jacobian(s, points + (first + (size_t)l) * stride, l);
            hessian_add(s, 1.0 / (double)count);
        }
    }
    return tw_estimate_frame_make(s->hessian, &s->frame);
}
