/* estimate/carry.c: see carry.h. */
#include "estimate/carry.h"

TW_WIDE static void distance(const tw_model *m, const tw_lanes *x, tw_carry_pull *out)
{
    const tw_carry *c = &m->problem->carry;
    const size_t n = c->n;
    tw_lanes away[TW_MAX_CARRIED];
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l) away[i].v[l] = x[m->carried_role[i]].v[l] - c->mean[i];
    out->square = tw_lanes_of(0.0);
    /* Four rows at a time: their sums do not wait for each other. */
    for (size_t i = 0; i < n; i += 4) {
        const double *row[4];
        tw_lanes sum[4];
        for (size_t r = 0; r < 4; r++) {
            row[r] = &c->precision[(i + r < n ? i + r : n - 1) * n];
            sum[r] = tw_lanes_of(0.0);
        }
        for (size_t j = 0; j < n; j++)
            for (size_t r = 0; r < 4; r++)
                TW_EACH_LANE(l) sum[r].v[l] += row[r][j] * away[j].v[l];
        for (size_t r = 0; r < 4 && i + r < n; r++)
            out->by[i + r] = sum[r];
    }
    for (size_t i = 0; i < n; i++)
        TW_EACH_LANE(l) out->square.v[l] += out->by[i].v[l] * away[i].v[l];
}

void tw_estimate_carry_add(const tw_model *m, const tw_lanes *x, double sign, tw_carry_pull *pull, tw_lanes *sum)
{
    const tw_carry *c = &m->problem->carry;
    tw_lanes q;
    if (c->n == 0)
        return;
    distance(m, x, pull);
    q = pull->square;
    if (!(c->freedom > 0.0)) {
        TW_EACH_LANE(l) sum->v[l] += sign * 0.5 * q.v[l];
        return;
    }
    TW_EACH_LANE(l) q.v[l] = 1.0 + q.v[l] / c->freedom;
    q = tw_lanes_log(q);
    const double half = sign * 0.5 * (c->freedom + (double)c->n);
    TW_EACH_LANE(l) sum->v[l] += half * q.v[l];
}

void tw_estimate_carry_gradient(const tw_model *m, const tw_carry_pull *pull, tw_lanes *gradient)
{
    const tw_carry *c = &m->problem->carry;
    tw_lanes weight = tw_lanes_of(1.0);
    if (c->freedom > 0.0)
        TW_EACH_LANE(l) weight.v[l] = (c->freedom + (double)c->n) / (c->freedom + pull->square.v[l]);
    for (size_t i = 0; i < c->n; i++)
        TW_EACH_LANE(l) gradient[m->carried_role[i]].v[l] -= weight.v[l] * pull->by[i].v[l];
}

double tw_estimate_carry_weight(const tw_model *m, const tw_carry_pull *pull, int lane)
{
    const tw_carry *c = &m->problem->carry;
    return c->freedom > 0.0 ? (c->freedom + (double)c->n) / (c->freedom + pull->square.v[lane]) : 1.0;
}

double tw_estimate_carry_mean(const tw_model *m, int role)
{
    return m->carried[role] ? m->problem->carry.mean[m->carried[role] - 1] : 0.0;
}

double tw_estimate_carry_sd(const tw_model *m, int role)
{
    return m->carried[role] ? m->problem->carry.sd[m->carried[role] - 1] : 1.0;
}
