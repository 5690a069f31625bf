/* estimate/pivots.c: see pivots.h.
 *
 * For a linear model with normal errors all is exact. At the best point a reading has the information w, the slope s of
 * its ln probability, the leverage h = w*J'H^-1 J. Where it does not count, the precision is H - w*J*J' and the best point
 * moves by -H^-1 J s/(1 - h); the probability there, to that around the best point, is
 *
 *   floor/whole * exp(h*s^2/(2w*(1 - h))) / sqrt(1 - h),
 *
 * the last factor for the room that the reading took. On simulated tubs it meets the two searches' own weights within
 * 0.4 of ln in nine of twelve. */
#include "estimate/pivots.h"

#include <math.h>

#include "estimate/instrument.h"
#include "num/elementary.h"

#define LEVERAGE 0.75   /* with less, chains cross to and fro         */
#define LEAST 0.001     /* of the whole                               */
#define MOST_LN 0.0     /* better than what was found: no more than half */
#define DRAWS 8u        /* tried for each chain, whatever the width of the lanes */

/* Into the lanes the Jacobians of readings from `first` on, by place. */
static void load_rows(const tw_sampler *s, size_t first, size_t readings, tw_lanes *to)
{
    const size_t n = s->model->active;
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        const size_t r = first + (size_t)l < readings ? first + (size_t)l : readings - 1;
        for (size_t i = 0; i < n; i++)
            to[i].v[l] = s->jacobian[r * n + i];
    }
}

/* The least likely of a full list makes room. NULL: this one is less likely than all. */
static tw_pivot *room_for(tw_sampler *s, double ln)
{
    if (s->pivots < TW_MOST_PIVOTS)
        return &s->pivot[s->pivots++];
    tw_pivot *least = &s->pivot[0];
    for (size_t i = 1; i < TW_MOST_PIVOTS; i++)
        least = s->pivot[i].weight < least->weight ? &s->pivot[i] : least;
    return least->weight < ln ? least : NULL;
}

static void consider(tw_sampler *s, size_t r, const tw_lanes *row, int lane)
{
    const size_t n = s->model->active;
    const tw_reading *reading = &s->model->problem->reading[r];
    const double w = s->weight[r], slope = s->path->factor_slope[r].v[0], share = s->path->rubbish[r].v[0];
    double length = 0.0;
    for (size_t i = 0; i < n; i++)
        length += row[i].v[lane] * row[i].v[lane];
    const double h = w * length;
    if (!(h > LEVERAGE) || !(h < 1.0 - 1e-9) || !(share < 0.5) || !(share > 0.0) || reading->misread > 0.0 || reading->own_share > 0.0)
        return;
    double ln = tw_log(share) + 0.5 * h * slope * slope / (w * (1.0 - h)) - 0.5 * tw_log(1.0 - h);
    ln = ln < MOST_LN ? ln : MOST_LN;
    tw_pivot *p = ln > -20.0 ? room_for(s, ln) : NULL;
    if (p == NULL)
        return;
    p->weight = ln;
    p->reading = r;
    p->push = -slope / (1.0 - h);
    p->spread = sqrt(w / (1.0 - h));
    p->length = length;
    for (size_t i = 0; i < n; i++)
        p->way[i] = row[i].v[lane];
}

void tw_estimate_pivots_find(tw_sampler *s)
{
    const size_t readings = s->model->problem->readings;
    s->pivots = 0;
    for (size_t c = 0; c < s->options.chains; c++)
        s->apart[c] = 0;
    if (!s->found || readings == 0)
        return;
    tw_estimate_weights_here(s);
    for (size_t first = 0; first < readings; first += TW_ESTIMATE_LANES) {
        load_rows(s, first, readings, s->step);
        tw_estimate_frame_in(&s->frame, s->step, s->y_try);
        for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < readings; l++)
            consider(s, first + (size_t)l, s->y_try, l);
    }
    double sum = 1.0;
    for (size_t i = 0; i < s->pivots; i++) {
        s->pivot[i].weight = tw_exp(s->pivot[i].weight);
        sum += s->pivot[i].weight;
    }
    for (size_t i = 0; i < s->pivots; i++) {
        s->pivot[i].weight /= sum;
        s->pivot[i].weight = s->pivot[i].weight < LEAST ? 0.0 : s->pivot[i].weight;
    }
}

/* Draws of a mode by the normal that it would be, and the one that is taken, by what they really weigh; those that believe the
 * reading are of the others. None may be left: then the chain stays where it is. */
static void start_one(tw_sampler *s, const tw_pivot *p, size_t chain)
{
    const size_t n = s->model->active;
    tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_RESAMPLE, (uint32_t)(2 + chain) + (s->guess << 16));
    double *y = s->start_y, *ln = s->start_lnw, top = -1e300, sum = 0.0; /* what the chains began with is theirs by now */
    for (size_t k = 0; k < DRAWS; k++) {
        const double along = p->spread * tw_stream_normal(&stream);
        double square = 0.0, with = 0.0;
        for (size_t i = 0; i < n; i++) {
            const double d = tw_stream_normal(&stream) + along * p->way[i];
            square += d * d;
            with += d * p->way[i];
            y[k * n + i] = d + p->push * p->way[i];
        }
        const double s2 = p->spread * p->spread;
        ln[k] = 0.5 * (square - s2 * with * with / (1.0 + s2 * p->length));
    }
    for (size_t first = 0; first < DRAWS; first += TW_ESTIMATE_LANES) {
        tw_lanes u;
        tw_estimate_load(y, n, first, DRAWS, s->y);
        tw_estimate_potential(s, s->y, 0, &u);
        for (int l = 0; l < TW_ESTIMATE_LANES && first + (size_t)l < DRAWS; l++)
            ln[first + (size_t)l] = tw_is_finite(u.v[l]) && s->path->rubbish[p->reading].v[l] > 0.5 ? ln[first + (size_t)l] - u.v[l] : -1e300;
    }
    for (size_t k = 0; k < DRAWS; k++)
        top = ln[k] > top ? ln[k] : top;
    for (size_t k = 0; k < DRAWS; k++)
        sum += tw_exp(ln[k] - top);
    double left = tw_stream_uniform(&stream) * sum;
    size_t taken = 0;
    while (taken + 1 < DRAWS && (left -= tw_exp(ln[taken] - top)) > 0.0)
        taken++;
    if (!(top > -1e299))
        return;
    for (size_t i = 0; i < n; i++)
        s->chain_y[chain * n + i] = y[taken * n + i];
    s->apart[chain] = 1;
}

void tw_estimate_pivots_start(tw_sampler *s)
{
    const size_t chains = s->options.chains, each = chains / TW_FRAME_POINTS;
    if (s->pivots == 0 || each < 2)
        return;
    tw_stream stream = tw_stream_make(s->seed, s->segment, TW_PURPOSE_RESAMPLE, 2 + (uint32_t)chains + (s->guess << 16));
    const double u = tw_stream_uniform(&stream);
    double reached = 0.0;
    size_t next = 0; /* how many have been placed */
    for (size_t i = 0; i < s->pivots; i++) {
        reached += s->pivot[i].weight * (double)chains;
        /* The chains that shape the frame are each the first of their group: never these. At most a quarter of all. */
        for (; (double)next + u < reached && next < chains / 4; next++)
            start_one(s, &s->pivot[i], next % TW_FRAME_POINTS * each + 1 + next / TW_FRAME_POINTS);
    }
}
