/* estimate/likelihood.c: how likely the readings are on a path, and how that changes with each.
 *
 * Every reading is a mixture: with its chance of rubbish it says nothing (spread evenly over what the
 * instrument can show), else it follows its error model. Factors are multiplied and one logarithm is
 * taken for each sixteen of them. */
#include <math.h>

#include "estimate/instrument.h"
#include "estimate/model.h"
#include "gen/tail_tables.h"

/* Probability of the interval, and its derivative by eta. */
TW_INLINE void interval(const tw_reading *r, double sd, const tw_lanes *eta, tw_lanes *p, tw_lanes *dp)
{
    tw_lanes z, c, d;
    const double inv = 1.0 / sd;
    *p = tw_lanes_of(0.0);
    *dp = tw_lanes_of(0.0);
    if (r->high < 1e300) {
        TW_EACH_LANE(l) z.v[l] = (r->high - eta->v[l]) * inv;
        tw_lanes_normal(z, &c, &d);
        TW_EACH_LANE(l) p->v[l] += c.v[l];
        TW_EACH_LANE(l) dp->v[l] -= d.v[l] * inv;
    } else {
        *p = tw_lanes_of(1.0);
    }
    if (r->low > -1e300) {
        TW_EACH_LANE(l) z.v[l] = (r->low - eta->v[l]) * inv;
        tw_lanes_normal(z, &c, &d);
        TW_EACH_LANE(l) p->v[l] -= c.v[l];
        TW_EACH_LANE(l) dp->v[l] += d.v[l] * inv;
    }
    if (r->bleach_low < 1e300) {
        TW_EACH_LANE(l) z.v[l] = (eta->v[l] - r->bleach_low) * inv;
        tw_lanes_normal(z, &c, &d);
        TW_EACH_LANE(l) p->v[l] += c.v[l];
        TW_EACH_LANE(l) dp->v[l] += d.v[l] * inv;
    }
    TW_EACH_LANE(l) p->v[l] = p->v[l] < 0.0 ? 0.0 : (p->v[l] > 1.0 ? 1.0 : p->v[l]);
}

TW_INLINE void plain(const tw_reading *r, double sd, const tw_lanes *eta, tw_lanes *p, tw_lanes *dp)
{
    tw_lanes z;
    const double inv = 1.0 / sd;
    TW_EACH_LANE(l)
    {
        double u = (r->value - eta->v[l]) * inv;
        u = u > 37.0 ? 37.0 : (u < -37.0 ? -37.0 : u);
        z.v[l] = -0.5 * u * u;
        dp->v[l] = u * inv;
    }
    *p = tw_lanes_exp(z);
    TW_EACH_LANE(l) dp->v[l] *= p->v[l];
}

/* A number that may be of something else: a normal and a wider one. other: the part of the wider. */
TW_INLINE void misread(const tw_reading *r, double sd, const tw_lanes *eta, tw_lanes *p, tw_lanes *dp, tw_lanes *other)
{
    const double share = r->misread / TW_TAIL_VOLUME_MISREAD_WIDTH, rest = 1.0 - r->misread;
    tw_lanes slope;
    plain(r, TW_TAIL_VOLUME_MISREAD_WIDTH * sd, eta, other, &slope);
    TW_EACH_LANE(l)
    {
        other->v[l] *= share;
        p->v[l] = rest * p->v[l] + other->v[l];
        dp->v[l] = rest * dp->v[l] + share * slope.v[l];
    }
}

TW_WIDE void tw_estimate_likelihood(const tw_model *m, tw_path *path, double inflate, tw_lanes *out)
{
    const tw_problem *p = m->problem;
    tw_lanes sum = tw_lanes_of(0.0), product = tw_lanes_of(1.0);
    int held = 0;
    for (size_t i = 0; i < p->readings; i++) {
        const tw_reading *r = &p->reading[i];
        const double sd = r->sd * inflate, floor_at = tw_estimate_rubbish_floor(r, sd);
        tw_lanes f, d, other;
        if (r->form == TW_FORM_VALUE)
            plain(r, sd, &path->eta[i], &f, &d);
        else
            interval(r, sd, &path->eta[i], &f, &d);
        if (r->misread > 0.0)
            misread(r, sd, &path->eta[i], &f, &d, &other);
        const double good = 1.0 - r->rubbish;
        TW_EACH_LANE(l)
        {
            const double whole = good * f.v[l] + floor_at;
            const double inv = 1.0 / whole;
            path->factor_slope[i].v[l] = good * d.v[l] * inv;
            path->rubbish[i].v[l] = floor_at * inv;
            product.v[l] *= whole;
        }
        if (r->misread > 0.0) /* what is of something else says nothing good of its writer */
            TW_EACH_LANE(l) path->rubbish[i].v[l] = (floor_at + good * other.v[l]) / (good * f.v[l] + floor_at);
        if (++held == 16) { /* the least factor is 1e-6 */
            const tw_lanes ln = tw_lanes_log(product);
            TW_EACH_LANE(l) sum.v[l] += ln.v[l];
            product = tw_lanes_of(1.0);
            held = 0;
        }
    }
    const tw_lanes ln = tw_lanes_log(product);
    TW_EACH_LANE(l) out->v[l] = sum.v[l] + ln.v[l];
}

/* Distance of eta from what the reading allows, in its standard deviations, and one over that sd. A
 * closed interval counts as a number at its middle; an open one pulls only from its forbidden side. */
static void soft_distance(const tw_reading *r, double inflate, const tw_lanes *eta, tw_lanes *z,
                          double *inverse)
{
    const int closed = r->form == TW_FORM_INTERVAL && r->low > -1e300 && r->high < 1e300;
    const double width = closed ? r->high - r->low : 0.0;
    const double inv = 1.0 / (inflate * sqrt(r->sd * r->sd + width * width / 12.0));
    *inverse = inv;
    if (r->form == TW_FORM_VALUE || closed) {
        const double at = closed ? 0.5 * (r->low + r->high) : r->value;
        TW_EACH_LANE(l) z->v[l] = (at - eta->v[l]) * inv;
    } else if (r->high < 1e300 && !(r->bleach_low < 1e300)) {
        TW_EACH_LANE(l) z->v[l] = eta->v[l] > r->high ? (r->high - eta->v[l]) * inv : 0.0;
    } else if (r->low > -1e300) {
        TW_EACH_LANE(l) z->v[l] = eta->v[l] < r->low ? (r->low - eta->v[l]) * inv : 0.0;
    } else {
        *z = tw_lanes_of(0.0);
    }
}

void tw_estimate_soft_likelihood(const tw_model *m, tw_path *path, double inflate, tw_lanes *out)
{
    const double freedom = 4.0;
    tw_lanes sum = tw_lanes_of(0.0);
    for (size_t i = 0; i < m->problem->readings; i++) {
        tw_lanes z, ln;
        double inv = 0.0;
        soft_distance(&m->problem->reading[i], inflate, &path->eta[i], &z, &inv);
        TW_EACH_LANE(l) ln.v[l] = 1.0 + z.v[l] * z.v[l] * (1.0 / freedom);
        ln = tw_lanes_log(ln);
        TW_EACH_LANE(l)
        {
            const double weight = (freedom + 1.0) / (freedom + z.v[l] * z.v[l]);
            sum.v[l] -= 0.5 * (freedom + 1.0) * ln.v[l];
            path->factor_slope[i].v[l] = weight * z.v[l] * inv;
            path->rubbish[i].v[l] = 1.0 - weight;
        }
    }
    *out = sum;
}
