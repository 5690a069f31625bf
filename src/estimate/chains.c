/* estimate/chains.c: from the frame around the best point to members: a Student-t start, weighted and
 * resampled, then Hamiltonian Monte Carlo in the frame's coordinates (unit mass).
 *
 * Everything that is summed over members is summed in the order of the members, and a lane never sees
 * another one: the bits depend neither on the width of the lanes nor on how many hands share the groups out. */
#include <math.h>

#include "estimate/hands.h"
#include "estimate/pivots.h"
#include "estimate/sampler.h"
#include "num/elementary.h"
#include "num/normal.h"
#include "num/philox.h"
#include "num/sort.h"

#define T_FREEDOM 5
#define T_INFLATED 1.2
#define START_ESS 0.4
#define SHRINK 0.55 /* of a covariance of as many states as a few times the coordinates: more of it is noise, and noise makes steps short */
#define APART_MORE 16.0 /* a mode apart may lie so much higher: it has more room (pivots.h) */
#define SETTLED 2  /* transitions before the states count for it */
#define TRIED 4     /* of the states kept first: they show whether the step was well chosen by the few before them */
#define TRIES 3     /* so many times they are dropped after all */
#define FEW 0.72    /* acceptance for that */
#define TOO_FEW 0.6 /* of all that are kept: run again */

tw_lanes tw_estimate_minus_ln_prior(tw_sampler *s)
{
    const tw_model *m = s->model;
    tw_lanes sum;
    TW_EACH_LANE(l) sum.v[l] = -s->bend.ln_jacobian.v[l];
    for (size_t i = 0; i < m->active; i++) {
        const tw_lanes *x = &s->x[m->role[i]];
        if (!m->carried[m->role[i]])
            TW_EACH_LANE(l) sum.v[l] += 0.5 * x->v[l] * x->v[l];
    }
    tw_estimate_carry_add(m, s->x, 1.0, &s->pull, &sum);
    return sum;
}

void tw_estimate_potential(tw_sampler *s, const tw_lanes *y, int with_gradient, tw_lanes *u)
{
    const tw_model *m = s->model;
    const size_t n = m->active;
    tw_lanes ln;
    tw_estimate_frame_out(&s->frame, y, s->step);
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l) s->x[m->role[i]].v[l] = s->map[i] + s->step[i].v[l];
    for (size_t i = n; i < m->dims; i++)
        s->x[m->role[i]] = tw_lanes_of(0.0);
    tw_estimate_bend(m, s->x, &s->bend);
    const tw_lanes sum = tw_estimate_minus_ln_prior(s);
    tw_estimate_forward(m, s->x, s->path);
    tw_estimate_likelihood(m, s->path, 1.0, &ln);
    TW_EACH_LANE(l) u->v[l] = sum.v[l] - ln.v[l];
    if (!with_gradient)
        return;
    tw_estimate_backward(m, s->path, s->adjoint, s->gradient);
    for (size_t i = 0; i < n; i++) {
        const int role = m->role[i];
        if (!m->carried[role])
            TW_EACH_LANE(l) s->gradient[role].v[l] -= s->x[role].v[l];
    }
    tw_estimate_carry_gradient(m, &s->pull, s->gradient);
    tw_estimate_bend_gradient(m, &s->bend, s->gradient);
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l) s->step[i].v[l] = -s->gradient[m->role[i]].v[l];
    tw_estimate_frame_in(&s->frame, s->step, s->y_gradient);
}

static void store(const tw_lanes *from, size_t n, size_t first, size_t count, double *to)
{
    for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < count; l++)
        for (size_t i = 0; i < n; i++)
            to[(first + (size_t)l) * n + i] = from[i].v[l];
}

/* Streams of a water with an act that nobody wrote are its own. */
static uint32_t of_guess(const tw_sampler *s, uint32_t index) { return index + (s->guess << 16); }

/* Draw the start; returns nothing: start_y and, in start_lnw, minus the ln density of the draw. */
static void draw_start(tw_sampler *s)
{
    const size_t n = s->model->active;
    for (size_t k = 0; k < s->starts; k++) {
        tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_START, of_guess(s, (uint32_t)k));
        double *y = &s->start_y[k * n], chi = 0.0, square = 0.0;
        for (int i = 0; i < T_FREEDOM; i++) {
            const double z = tw_stream_normal(&stream);
            chi += z * z;
        }
        const double scale = T_INFLATED / sqrt(chi / T_FREEDOM);
        for (size_t i = 0; i < n; i++) {
            const double z = tw_stream_normal(&stream);
            y[i] = scale * z;
            square += y[i] * y[i];
        }
        s->start_lnw[k] = 0.5 * ((double)n + T_FREEDOM) *
                          tw_log1p(square / (T_FREEDOM * T_INFLATED * T_INFLATED));
    }
}

/* Sum of weights squared over squared sum, at a temper. */
static double ess_at(const double *lnw, size_t n, double top, double temper)
{
    double sum = 0.0, square = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double w = tw_exp(temper * (lnw[i] - top));
        sum += w;
        square += w * w;
    }
    return sum * sum / square;
}

static void weigh_starts(tw_sampler *s, size_t first, void *how)
{
    tw_lanes u;
    (void)how;
    tw_estimate_load(s->start_y, s->model->active, first, s->starts, s->y);
    tw_estimate_potential(s, s->y, 0, &u);
    for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < s->starts; l++) {
        double *w = &s->start_lnw[first + (size_t)l];
        *w = tw_is_finite(u.v[l]) ? *w - u.v[l] : -1e300;
    }
}

/* Weigh the start, temper the weights until enough of it counts, resample into the chains. */
static void resample(tw_sampler *s)
{
    const size_t n = s->model->active, chains = s->options.chains;
    double top = -1e300;
    tw_estimate_each_group(s, s->starts, weigh_starts, NULL);
    for (size_t k = 0; k < s->starts; k++)
        top = s->start_lnw[k] > top ? s->start_lnw[k] : top;
    double low = 0.0, high = 1.0;
    if (ess_at(s->start_lnw, s->starts, top, 1.0) >= START_ESS * (double)s->starts)
        low = 1.0;
    else
        for (int i = 0; i < 30; i++) { /* the share that counts falls as the temper rises */
            const double mid = 0.5 * (low + high);
            if (ess_at(s->start_lnw, s->starts, top, mid) >= START_ESS * (double)s->starts)
                low = mid;
            else
                high = mid;
        }
    double sum = 0.0;
    for (size_t k = 0; k < s->starts; k++)
        sum += tw_exp(low * (s->start_lnw[k] - top));
    tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_RESAMPLE, of_guess(s, 0));
    const double u = tw_stream_uniform(&stream);
    double reached = 0.0;
    size_t k = 0;
    for (size_t c = 0; c < chains; c++) {
        const double want = ((double)c + u) / (double)chains * sum;
        while (k < s->starts) {
            const double w = tw_exp(low * (s->start_lnw[k] - top));
            if (reached + w >= want || k + 1 == s->starts)
                break;
            reached += w;
            k++;
        }
        const int usable = s->start_lnw[k] > -1e299;
        for (size_t i = 0; i < n; i++)
            s->chain_y[c * n + i] = usable ? s->start_y[k * n + i] : 0.0;
    }
}

/* x of one chain, by place. */
static void chain_point(tw_sampler *s, size_t chain, double *x)
{
    const size_t n = s->model->active;
    for (size_t i = n; i-- > 0;) { /* L^T d = y, backwards */
        double sum = s->chain_y[chain * n + i];
        for (size_t k = i + 1; k < n; k++)
            sum -= s->frame.lt[i * n + k] * x[k];
        x[i] = sum * s->frame.inverse[i];
    }
    for (size_t i = 0; i < n; i++)
        x[i] += s->map[i];
}

/* Average the frame over a few of the chains and carry all chains over into the new coordinates. */
static void chains_to_points(tw_sampler *s)
{
    const size_t n = s->model->active;
    for (size_t c = 0; c < s->options.chains; c++) {
        chain_point(s, c, s->direction);
        for (size_t i = 0; i < n; i++)
            s->chain_y[c * n + i] = s->direction[i];
    }
}

static void points_to_chains(tw_sampler *s)
{
    const size_t n = s->model->active;
    for (size_t c = 0; c < s->options.chains; c++) {
        for (size_t i = 0; i < n; i++)
            s->direction[i] = s->chain_y[c * n + i] - s->map[i];
        tw_estimate_frame_back(&s->frame, s->direction, &s->chain_y[c * n]);
    }
}

static uint32_t reframe(tw_sampler *s)
{
    const size_t n = s->model->active, chains = s->options.chains;
    chains_to_points(s);
    for (size_t k = 0; k < TW_FRAME_POINTS; k++)
        for (size_t i = 0; i < n; i++)
            s->points[k * n + i] = s->chain_y[k * (chains / TW_FRAME_POINTS) * n + i];
    uint32_t flags = 0;
    if (!tw_estimate_frame_average(s, s->points, n, TW_FRAME_POINTS)) {
        tw_estimate_frame_unit(&s->frame);
        flags = TW_BELIEF_PRIOR_FRAME;
    }
    points_to_chains(s);
    return flags;
}

/* Sums for the covariance of the chains in the frame's coordinates: mean in score, products in
 * hessian, over all chains of several transitions. */
static void clear_covariance(tw_sampler *s)
{
    const size_t n = s->model->active;
    for (size_t i = 0; i < n; i++) {
        s->score[i] = 0.0;
        for (size_t j = 0; j < n; j++)
            s->hessian[i * n + j] = 0.0;
    }
    s->covered = 0.0;
}

static void add_covariance(tw_sampler *s)
{
    const size_t n = s->model->active, chains = s->options.chains;
    double weight[TW_MOST_CHAINS];
    for (size_t c = 0; c < chains; c++) {
        weight[c] = s->apart[c] ? 0.0 : 1.0;
        s->covered += weight[c];
        for (size_t i = 0; i < n; i++)
            s->score[i] += weight[c] * s->chain_y[c * n + i];
    }
    tw_estimate_add_squares(s->hessian, n, s->chain_y, weight, chains);
}

/* The covariance, a share of it the unit matrix, stays in hessian. Where the chains are shared out among several
 * waters the few of one say less. */
static void end_covariance(tw_sampler *s)
{
    const size_t n = s->model->active;
    const double each = 1.0 / s->covered, shrink = SHRINK * ((double)s->options.chains / (double)s->all_chains);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            const double cov = each * (s->hessian[i * n + j] - each * s->score[i] * s->score[j]);
            s->hessian[i * n + j] = shrink * cov + (i == j ? 1.0 - shrink : 0.0);
        }
}

/* Away from the best point the likelihood is flatter in some directions than any curvature says. The
 * chains themselves show it after their first moves: H' = L cov^-1 L^T makes such directions short.
 * Leaves the frame alone when it does not work out. */
static void adapt_frame(tw_sampler *s)
{
    const size_t n = s->model->active;
    tw_frame c = {n, s->jacobian, s->jacobian + n * n, s->map_spare};
    end_covariance(s);
    chains_to_points(s);
    if (tw_estimate_frame_make(s->hessian, &c)) {
        /* B C^T = L, the columns of B one after another, each a row of b; then H' = B B^T. */
        double *b = s->jacobian + 2 * n * n, one[TW_MAX_DIMS];
        for (size_t j = n; j-- > 0;) {
            tw_estimate_less_rows(&s->frame.lt[j * n], &c.lt[j * n + j + 1], 1, &b[(j + 1) * n], n, n - j - 1, 0, &b[j * n]);
            for (size_t i = 0; i < n; i++)
                b[j * n + i] *= c.inverse[j];
            one[j] = 1.0;
        }
        for (size_t i = 0; i < n * n; i++)
            s->hessian[i] = 0.0;
        tw_estimate_add_squares(s->hessian, n, b, one, n);
        if (!tw_estimate_frame_make(s->hessian, &s->frame))
            tw_estimate_frame_unit(&s->frame);
    }
    points_to_chains(s);
}

/* Trajectories of one and the same length leave what they carry to the other side with its square unchanged: with
 * length 3 in a normal the mean of a coordinate was known better than from as many independent draws, its 5 and 95 %
 * quantiles only as well as from a third of them. So long ones, which carry far along flat directions, take turns with
 * short ones, which mix squares. Fine steps get the long ones up steep walls. Where answers are asked both are longer: tails of
 * what hardly any reading bounds (demand that is used up slowly) mix a third faster, for a quarter more work. A stretch that only
 * hands over what it taught does without. */
typedef struct {
    double length, step; /* of what the plan says */
} turn;
static const turn TURN[2] = {{1.3, 0.7}, {0.8, 1.1}}, TEACHING[2] = {{1.1, 0.7}, {0.5, 1.1}};
#define MOST_LEAPFROGS 40.0

typedef struct {
    double step, length; /* of one leapfrog; of the whole trajectory */
    uint32_t drop, keep;
} plan;

typedef struct {
    double step;
    uint32_t leapfrogs;
} trajectory;

/* One transition of one group of chains. */
static void move_group(tw_sampler *s, size_t first, void *how)
{
    const trajectory *way = how;
    const size_t n = s->model->active, chains = s->options.chains;
    tw_stream *stream = &s->stream[first];
    tw_lanes eps, kinetic = tw_lanes_of(0.0), after = tw_lanes_of(0.0), u, u0;
    tw_estimate_load(s->chain_y, n, first, chains, s->y_try);
    tw_estimate_load(s->chain_gradient, n, first, chains, s->y_gradient);
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        const size_t c = first + (size_t)l;
        for (size_t i = 0; i < n; i++)
            s->momentum[i].v[l] = tw_stream_normal(&stream[l]);
        const double jitter = tw_stream_uniform(&stream[l]);
        eps.v[l] = way->step * (0.7 + 0.6 * jitter);
        u0.v[l] = s->chain_u[c];
    }
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l)
        {
            kinetic.v[l] += 0.5 * s->momentum[i].v[l] * s->momentum[i].v[l];
            s->momentum[i].v[l] -= 0.5 * eps.v[l] * s->y_gradient[i].v[l];
        }
    for (uint32_t k = 0; k < way->leapfrogs; k++) {
        const double part = k + 1 == way->leapfrogs ? 0.5 : 1.0;
        for (size_t i = 0; i < n; i++)
            TW_EACH_LANE(l) s->y_try[i].v[l] += eps.v[l] * s->momentum[i].v[l];
        tw_estimate_potential(s, s->y_try, 1, &u);
        for (size_t i = 0; i < n; i++)
            TW_EACH_LANE(l)
            s->momentum[i].v[l] -= part * eps.v[l] * s->y_gradient[i].v[l];
    }
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l) after.v[l] += 0.5 * s->momentum[i].v[l] * s->momentum[i].v[l];
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        const size_t c = first + (size_t)l;
        const double chance = tw_stream_uniform(&stream[l]);
        const double gain = u0.v[l] + kinetic.v[l] - u.v[l] - after.v[l];
        s->tried += 1.0;
        if (!(gain >= 0.0) && !(gain > tw_log(chance))) /* NaN: rejected */
            continue;
        s->accepted += 1.0;
        s->chain_u[c] = u.v[l];
        for (size_t i = 0; i < n; i++) {
            s->chain_y[c * n + i] = s->y_try[i].v[l];
            s->chain_gradient[c * n + i] = s->y_gradient[i].v[l];
        }
    }
}

/* Energies and gradients where the chains stand; a chain that stands on no number goes to the MAP. */
static void begin_group(tw_sampler *s, size_t first, void *how)
{
    const size_t n = s->model->active, chains = s->options.chains;
    tw_lanes u;
    (void)how;
    tw_estimate_load(s->chain_y, n, first, chains, s->y);
    tw_estimate_potential(s, s->y, 1, &u);
    int bad = 0;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++)
        if (!tw_is_finite(u.v[l])) {
            bad = 1;
            for (size_t i = 0; i < n; i++)
                s->y[i].v[l] = 0.0;
        }
    if (bad) {
        store(s->y, n, first, chains, s->chain_y);
        tw_estimate_potential(s, s->y, 1, &u);
    }
    store(s->y_gradient, n, first, chains, s->chain_gradient);
    for (int l = 0; l < TW_ESTIMATE_LANES; l++)
        s->chain_u[first + (size_t)l] = u.v[l];
}

static void begin_chains(tw_sampler *s) { tw_estimate_each_group(s, s->options.chains, begin_group, NULL); }

/* Correlation from one kept state of a chain to the next, over all coordinates together. */
static void measure_lag(tw_sampler *s, uint32_t keep)
{
    const size_t n = s->model->active, chains = s->options.chains, all = chains * keep;
    double counted = 0.0;
    s->lag_up = s->lag_down = 0.0;
    for (size_t c = 0; c < chains; c++)
        counted += s->apart[c] ? 0.0 : (double)keep;
    for (size_t i = 0; i < n; i++) {
        double mean = 0.0;
        for (size_t k = 0; k < all; k++)
            mean += s->apart[k % chains] ? 0.0 : s->kept[k * n + i];
        mean /= counted;
        for (size_t k = chains; k < all; k++) {
            if (s->apart[k % chains])
                continue;
            const double a = s->kept[(k - chains) * n + i] - mean, b = s->kept[k * n + i] - mean;
            s->lag_up += a * b;
            s->lag_down += 0.5 * (a * a + b * b);
        }
    }
}

/* The states that are dropped anyway show how long a step may be. */
static double next_step(double step, double acceptance)
{
    if (acceptance < 0.55)
        return step * 0.6;
    if (acceptance < 0.75)
        return step * 0.8;
    return acceptance > 0.95 ? step * 1.15 : step;
}

/* Some starts lie where no chain would come back from in time. After the first moves, chains whose
 * energy is far above the others' become copies of others: the start is an approximation anyway,
 * and what follows forgets it. */
static void rescue(tw_sampler *s)
{
    const size_t n = s->model->active, chains = s->options.chains;
    const tw_spread u = tw_estimate_spread(s->chain_u, chains, s->start_lnw);
    const double limit = u.q50 + 4.0 * (u.q75 - u.q50) + 2.0;
    tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_RESAMPLE, of_guess(s, 1));
    for (size_t c = 0; c < chains; c++) {
        if (s->chain_u[c] <= limit || (s->apart[c] && s->chain_u[c] <= limit + APART_MORE))
            continue;
        size_t from = c;
        while (!(s->chain_u[from] <= limit) || s->apart[from]) /* some are not above and none of those apart */
            from = tw_stream_below(&stream, (uint32_t)chains);
        s->chain_u[c] = s->chain_u[from];
        for (size_t i = 0; i < n; i++) {
            s->chain_y[c * n + i] = s->chain_y[from * n + i];
            s->chain_gradient[c * n + i] = s->chain_gradient[from * n + i];
        }
        s->apart[c] = 0;
    }
}

/* Where few of the states kept first were accepted these are dropped after all, and a shorter step goes on from there:
 * four transitions more, where running all of it again at half the step cost twice as much as the first run. */
static int try_shorter(tw_sampler *s, uint32_t tries, double *step)
{
    if (tries >= TRIES || s->accepted >= FEW * s->tried)
        return 0;
    *step *= s->accepted < 0.55 * s->tried ? 0.6 : 0.8;
    s->accepted = s->tried = 0.0;
    return 1;
}

/* Long and short trajectories take turns. */
static trajectory way_of(const tw_sampler *s, const plan *how, uint32_t t, double step)
{
    const turn *now = s->taught != NULL ? &TEACHING[t % 2] : &TURN[t % 2];
    const double each = step * now->step, leapfrogs = floor(how->length * now->length / each + 0.5);
    const trajectory way = {each, leapfrogs < 1.0 ? 1 : (leapfrogs > MOST_LEAPFROGS ? (uint32_t)MOST_LEAPFROGS : (uint32_t)leapfrogs)};
    return way;
}

/* Transitions whose states are kept, in which no group waits for another: they are counted turn by turn. */
typedef struct {
    trajectory way[2];
    uint32_t kept; /* before the first of them */
    size_t groups, begun;
} stretch;

static void move_and_keep(tw_sampler *s, size_t first, void *how)
{
    const stretch *all = how;
    const size_t n = s->model->active, at = all->begun + first / TW_ESTIMATE_LANES, later = at / all->groups;
    const size_t chain = at % all->groups * TW_ESTIMATE_LANES;
    trajectory way = all->way[later % 2];
    move_group(s, chain, &way);
    double *to = &s->kept[((all->kept + later) * s->options.chains + chain) * n];
    for (size_t k = 0; k < TW_ESTIMATE_LANES * n; k++)
        to[k] = s->chain_y[chain * n + k];
}

/* So many at a time that no hand is without one: the next ones of a group begin while others of its turn are still to come. */
static void keep_states(tw_sampler *s, const plan *how, double step, uint32_t t, uint32_t kept, uint32_t turns)
{
    stretch all = {{way_of(s, how, t, step), way_of(s, how, t + 1, step)}, kept, s->options.chains / TW_ESTIMATE_LANES, 0};
    const size_t parts = all.groups * turns, most = all.groups > s->hands ? all.groups - all.groups % s->hands : all.groups;
    for (; all.begun < parts; all.begun += most) {
        const size_t left = parts - all.begun;
        tw_estimate_each_group(s, (left < most ? left : most) * TW_ESTIMATE_LANES, move_and_keep, &all);
    }
}

static void run_chains(tw_sampler *s, const plan *how, uint32_t attempt)
{
    const size_t chains = s->options.chains;
    const uint32_t first = how->keep < TRIED ? how->keep : TRIED;
    double step = how->step;
    uint32_t tries = 0;
    begin_chains(s);
    for (size_t c = 0; c < chains; c++)
        s->stream[c] = tw_stream_make(s->seed, s->segment, TW_PURPOSE_CHAIN + 16 * attempt, of_guess(s, (uint32_t)c));
    s->accepted = s->tried = 0.0;
    clear_covariance(s);
    for (uint32_t t = 0; t < how->drop; t++) {
        trajectory way = way_of(s, how, t, step);
        tw_estimate_each_group(s, chains, move_group, &way);
        if (t + 4 == how->drop)
            rescue(s);
        if (t >= SETTLED && t + 4 <= how->drop)
            add_covariance(s);
        if (t + 4 == how->drop) {
            adapt_frame(s);
            begin_chains(s);
            step = how->step;
        }
        step = next_step(step, s->accepted / s->tried);
        s->accepted = s->tried = 0.0;
    }
    uint32_t t = how->drop;
    keep_states(s, how, step, t, 0, first);
    for (t += first; first == TRIED && try_shorter(s, tries, &step); t += first) {
        tries++;
        keep_states(s, how, step, t, 0, first);
    }
    keep_states(s, how, step, t, first, how->keep - first);
    measure_lag(s, how->keep);
}

static int moved_badly(const tw_sampler *s)
{
    const double lag = s->lag_down > 0.0 ? s->lag_up / s->lag_down : 0.0;
    return s->accepted < TOO_FEW * s->tried || lag > 0.5;
}

uint32_t tw_estimate_chains(tw_sampler *s)
{
    uint32_t flags = 0;
    plan how = {s->options.step, s->options.step * (double)s->options.leapfrogs, s->options.drop,
                s->options.keep};
    if (s->model->active == 0)
        return 0;
    tw_estimate_pivots_find(s);
    draw_start(s);
    tw_estimate_freeze(s);
    resample(s);
    tw_estimate_freeze_roots(s);
    tw_estimate_pivots_start(s);
    flags |= reframe(s);
    run_chains(s, &how, 0);
    if (moved_badly(s)) {
        flags |= TW_BELIEF_REPEATED;
        how.step *= 0.5;
        how.drop = 10;
        run_chains(s, &how, 1);
        if (moved_badly(s))
            flags |= TW_BELIEF_STILL_BAD;
    }
    return flags;
}
