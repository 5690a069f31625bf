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

/* The factor of one look by the reading's error model. */
TW_INLINE void one_look(const tw_reading *r, double sd, const tw_lanes *eta, tw_lanes *f, tw_lanes *d)
{
    if (r->form == TW_FORM_VALUE)
        plain(r, sd, eta, f, d);
    else
        interval(r, sd, eta, f, d);
}

/* A reading of several hours, the first of whose looks is `look`: f becomes the sum over all, d its own share of the slope;
 * says gets what each adds, factor_slope its slope. Returns the look behind its last. */
static size_t add_looks(const tw_problem *p, size_t reading, size_t look, double sd, tw_path *path, tw_lanes *f, tw_lanes *d)
{
    const tw_reading *r = &p->reading[reading];
    TW_EACH_LANE(l)
    {
        f->v[l] *= r->own_share;
        d->v[l] *= r->own_share;
    }
    path->says[reading] = *f;
    for (; look < p->looks && (size_t)p->look[look].reading == reading; look++) {
        const size_t slot = p->readings + look;
        const double share = p->look[look].share;
        tw_lanes other, slope;
        one_look(r, sd, &path->eta[slot], &other, &slope);
        TW_EACH_LANE(l)
        {
            path->says[slot].v[l] = share * other.v[l];
            path->factor_slope[slot].v[l] = share * slope.v[l];
            f->v[l] += share * other.v[l];
        }
    }
    return look;
}

/* Both over the whole, once it is known. */
static void scale_looks(const tw_problem *p, size_t reading, size_t from, size_t until, const tw_lanes *by, tw_path *path)
{
    TW_EACH_LANE(l) path->says[reading].v[l] *= by->v[l];
    for (size_t slot = p->readings + from; slot < p->readings + until; slot++)
        TW_EACH_LANE(l)
        {
            path->says[slot].v[l] *= by->v[l];
            path->factor_slope[slot].v[l] *= by->v[l];
        }
}

TW_WIDE void tw_estimate_likelihood(const tw_model *m, tw_path *path, double inflate, tw_lanes *out)
{
    const tw_problem *p = m->problem;
    tw_lanes sum = tw_lanes_of(0.0), product = tw_lanes_of(1.0);
    int held = 0;
    size_t look = 0;
    for (size_t i = 0; i < p->readings; i++) {
        const tw_reading *r = &p->reading[i];
        const double sd = r->sd * inflate, floor_at = tw_estimate_rubbish_floor(r, sd);
        const size_t first_look = look;
        tw_lanes f, d, other;
        one_look(r, sd, &path->eta[i], &f, &d);
        if (r->own_share > 0.0)
            look = add_looks(p, i, look, sd, path, &f, &d);
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
        if (r->own_share > 0.0) {
            TW_EACH_LANE(l) other.v[l] = good / (good * f.v[l] + floor_at);
            scale_looks(p, i, first_look, look, &other, path);
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

#define SOFT_FREEDOM 4.0

/* ln of a slot's soft factor, its slope by eta and the weight that its distance leaves it. */
TW_INLINE void soft_look(const tw_reading *r, double inflate, size_t slot, tw_path *path, tw_lanes *ln, tw_lanes *weight)
{
    tw_lanes z;
    double inv = 0.0;
    soft_distance(r, inflate, &path->eta[slot], &z, &inv);
    TW_EACH_LANE(l) ln->v[l] = 1.0 + z.v[l] * z.v[l] * (1.0 / SOFT_FREEDOM);
    *ln = tw_lanes_log(*ln);
    TW_EACH_LANE(l)
    {
        weight->v[l] = (SOFT_FREEDOM + 1.0) / (SOFT_FREEDOM + z.v[l] * z.v[l]);
        ln->v[l] *= -0.5 * (SOFT_FREEDOM + 1.0);
        path->factor_slope[slot].v[l] = weight->v[l] * z.v[l] * inv;
    }
}

/* A reading of several hours: ln of the sum over its looks; each keeps its share of it in slope and says. */
static size_t soft_looks(const tw_problem *p, size_t reading, size_t look, double inflate, tw_path *path, tw_lanes *ln, tw_lanes *weight)
{
    const size_t first = look;
    tw_lanes sum = tw_lanes_exp(*ln), held;
    TW_EACH_LANE(l)
    {
        sum.v[l] *= p->reading[reading].own_share;
        path->says[reading].v[l] = sum.v[l] * weight->v[l];
        path->factor_slope[reading].v[l] *= sum.v[l];
    }
    for (; look < p->looks && (size_t)p->look[look].reading == reading; look++) {
        const size_t slot = p->readings + look;
        soft_look(&p->reading[reading], inflate, slot, path, ln, &held);
        *ln = tw_lanes_exp(*ln);
        TW_EACH_LANE(l)
        {
            const double part = p->look[look].share * ln->v[l];
            path->says[slot].v[l] = part * held.v[l];
            path->factor_slope[slot].v[l] *= part;
            sum.v[l] += part;
        }
    }
    TW_EACH_LANE(l) held.v[l] = 1.0 / sum.v[l];
    scale_looks(p, reading, first, look, &held, path);
    *weight = path->says[reading];
    for (size_t slot = p->readings + first; slot < p->readings + look; slot++)
        TW_EACH_LANE(l) weight->v[l] += path->says[slot].v[l];
    TW_EACH_LANE(l) path->factor_slope[reading].v[l] *= held.v[l];
    *ln = tw_lanes_log(sum);
    return look;
}

void tw_estimate_soft_likelihood(const tw_model *m, tw_path *path, double inflate, tw_lanes *out)
{
    const tw_problem *p = m->problem;
    tw_lanes sum = tw_lanes_of(0.0);
    size_t look = 0;
    for (size_t i = 0; i < p->readings; i++) {
        tw_lanes ln, weight;
        soft_look(&p->reading[i], inflate, i, path, &ln, &weight);
        if (p->reading[i].own_share > 0.0)
            look = soft_looks(p, i, look, inflate, path, &ln, &weight);
        TW_EACH_LANE(l)
        {
            sum.v[l] += ln.v[l];
            path->rubbish[i].v[l] = 1.0 - weight.v[l];
        }
    }
    *out = sum;
}
