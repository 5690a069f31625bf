/* estimate/bend.c: see bend.h. */
#include "estimate/bend.h"

#include <math.h>

#include "estimate/conductivity.h"
#include "num/elementary.h"

/* The cell: u = ln factor is nearly CELL_SCALE*z. x(u) is a soft corner between the two slopes of
 * tw_estimate_cell_factor() in layout.c, and nearly its inverse; what is left is not straight, but no less exact. */
#define CELL_SCALE 0.3
#define CELL_CORNER_X (-1.1)
#define CELL_WIDTH 0.166
#define MIDDLE_US_PER_CM 350.0 /* of the measured ions: only where z has its zero */
#define LEAST_SD 0.05 /* of ln loss: a loss that is known has no ridge */

TW_WIDE static void bend_cell(double extra_sd, tw_lanes *x, tw_lanes *by, tw_lanes *ln_by, tw_lanes *ln_jacobian)
{
    const double left = 1.0 / (1.08 + extra_sd), more = 1.0 / (0.18 + extra_sd) - left;
    const double corner = CELL_CORNER_X * (0.18 + extra_sd);
    tw_lanes e, ln, slope;
    TW_EACH_LANE(l)
    {
        double t = (CELL_SCALE * x->v[l] - corner) * (1.0 / CELL_WIDTH);
        t = t < 60.0 ? t : 60.0;
        e.v[l] = t > -60.0 ? t : -60.0;
    }
    e = tw_lanes_exp(e);
    TW_EACH_LANE(l) ln.v[l] = 1.0 + e.v[l];
    ln = tw_lanes_log(ln);
    TW_EACH_LANE(l)
    {
        const double over = e.v[l] / (1.0 + e.v[l]), d = left + more * over, u = CELL_SCALE * x->v[l];
        const double t = (u - corner) * (1.0 / CELL_WIDTH);
        const double soft = t > 60.0 ? t : ln.v[l]; /* ln(1 + e^t) */
        slope.v[l] = CELL_SCALE * d;
        by->v[l] = slope.v[l];
        ln_by->v[l] = CELL_SCALE * (more * over * (1.0 - over) / CELL_WIDTH) / d;
        x->v[l] = left * u + more * (CELL_WIDTH * soft + corner);
    }
    slope = tw_lanes_log(slope);
    TW_EACH_LANE(l) ln_jacobian->v[l] += slope.v[l];
}

/* Mean of exp(-age/hours) over the time since the film began to be used up: its share in a loss that
 * was seen over that time. */
static double film_time(const tw_model *m)
{
    return m->problem->now_h - m->problem->film_from_h;
}

static int loss_is_bent(const tw_model *m)
{
    const tw_prior *p = m->problem->prior;
    return (size_t)m->place[TW_X_LOSS] < m->active && (size_t)m->place[TW_X_FILM] < m->active &&
           p[TW_X_LOSS].kind == TW_PRIOR_LN && p[TW_X_LOSS].sd > LEAST_SD && p[TW_X_FILM].kind == TW_PRIOR_SOFT &&
           p[TW_X_FILM_HOURS].kind == TW_PRIOR_LN && film_time(m) > 1.0;
}

/* Readings know the loss at the usual pH, k*(1 + w*over): a shear, Jacobian 1. */
TW_INLINE void bend_part(const tw_model *m, tw_lanes *x, tw_bend *out)
{
    const double per = 1.0 / m->problem->prior[TW_X_LOSS].sd, over = m->usual_over;
    tw_lanes part, slope, follow;
    out->loss_by[3] = out->ln_by[3] = tw_lanes_of(0.0);
    if (!m->follows)
        return;
    tw_estimate_prior(&m->problem->prior[TW_X_HOCL_PART], &x[TW_X_HOCL_PART], &part, &slope);
    TW_EACH_LANE(l)
    {
        follow.v[l] = 1.0 + part.v[l] * over;
        out->loss_by[3].v[l] = -per * slope.v[l] * over / follow.v[l];
    }
    follow = tw_lanes_log(follow);
    TW_EACH_LANE(l) x[TW_X_LOSS].v[l] -= per * follow.v[l];
}

/* With K = exp(middle + sd*z) and b the film's mean share, the loss is K^2/(K + b): K - b where the
 * film is small, and never negative. */
TW_WIDE static void bend_loss(const tw_model *m, tw_lanes *x, tw_bend *out)
{
    const tw_prior *p = m->problem->prior;
    const double sd = p[TW_X_LOSS].sd, span = film_time(m);
    const tw_lanes zero = tw_lanes_of(0.0);
    tw_lanes sum = zero, e, film, film_by, hours, gone, share, ln1, ln2;
    TW_EACH_LANE(l) sum.v[l] = p[TW_X_LOSS].middle + sd * x[TW_X_LOSS].v[l];
    sum = tw_lanes_exp(sum);
    TW_EACH_LANE(l) e.v[l] = p[TW_X_FILM].sd * x[TW_X_FILM].v[l];
    e = tw_lanes_exp(e);
    TW_EACH_LANE(l) film.v[l] = 1.0 + e.v[l];
    film_by = film;
    film = tw_lanes_log(film);
    TW_EACH_LANE(l)
    {
        film.v[l] *= p[TW_X_FILM].middle / TW_LN2;
        film_by.v[l] = p[TW_X_FILM].middle / TW_LN2 * p[TW_X_FILM].sd * e.v[l] / film_by.v[l];
    }
    TW_EACH_LANE(l) hours.v[l] = p[TW_X_FILM_HOURS].middle + p[TW_X_FILM_HOURS].sd * x[TW_X_FILM_HOURS].v[l];
    hours = tw_lanes_exp(hours);
    TW_EACH_LANE(l) gone.v[l] = -span / hours.v[l];
    gone = tw_lanes_exp(gone);
    TW_EACH_LANE(l)
    {
        share.v[l] = hours.v[l] / span * (1.0 - gone.v[l]);
        const double b = film.v[l] * share.v[l], one = sum.v[l] + b, two = one + b;
        const double by_b[2] = {-1.0 / (sd * one), sum.v[l] / (two * one)};
        const double b_by_film = film_by.v[l] * share.v[l];
        const double b_by_hours = film.v[l] * (share.v[l] - gone.v[l]) * p[TW_X_FILM_HOURS].sd;
        out->loss_by[0].v[l] = two / one;
        out->loss_by[1].v[l] = by_b[0] * b_by_film;
        out->loss_by[2].v[l] = by_b[0] * b_by_hours;
        out->ln_by[0].v[l] = -sd * sum.v[l] * b / (two * one);
        out->ln_by[1].v[l] = by_b[1] * b_by_film;
        out->ln_by[2].v[l] = by_b[1] * b_by_hours;
        ln1.v[l] = one / sum.v[l];
        ln2.v[l] = two / one;
    }
    ln1 = tw_lanes_log(ln1);
    ln2 = tw_lanes_log(ln2);
    TW_EACH_LANE(l)
    {
        x[TW_X_LOSS].v[l] -= ln1.v[l] / sd;
        out->ln_jacobian.v[l] += ln2.v[l];
    }
    bend_part(m, x, out);
}

const int tw_estimate_bend_losses[TW_BEND_LOSSES] = {TW_X_LOSS, TW_X_FILM, TW_X_FILM_HOURS, TW_X_HOCL_PART};

const int tw_estimate_bend_ion[TW_BEND_IONS] = {TW_X_ALKALINITY, TW_X_HARDNESS, TW_X_CALCIUM_SHARE, TW_X_CHLORIDE, TW_X_SULFATE};

/* Sharper than the prior of what is not measured: then it is the sum that is known. */
static int ions_are_bent(const tw_model *m)
{
    const tw_problem *p = m->problem;
    /* After a cut it is not the water let in that is measured, and its ions are known with the salt. */
    if (p->goes_on || (size_t)m->place[TW_X_IONS] >= m->active || p->prior[TW_X_IONS].kind != TW_PRIOR_PLAIN)
        return 0;
    for (size_t i = 0; i < p->readings; i++) {
        const tw_reading *r = &p->reading[i];
        if (r->observed == TW_OBSERVED_CONDUCTIVITY && r->form == TW_FORM_VALUE && r->link == TW_LINK_LN &&
            r->sd * tw_exp(r->value) < 0.5 * p->prior[TW_X_IONS].sd)
            return 1;
    }
    return 0;
}

/* z counts the ions of the water let in, measured ones and others together, from their middle on: x is what
 * is left when the measured ones are taken away. */
TW_WIDE static void bend_ions(const tw_model *m, tw_lanes *x, tw_bend *out)
{
    const tw_prior *prior = m->problem->prior;
    const tw_conductivity_fit *ec = &m->problem->conductivity;
    const double per = 1.0 / prior[TW_X_IONS].sd;
    tw_lanes value[TW_BEND_IONS], slope[TW_BEND_IONS];
    for (int i = 0; i < TW_BEND_IONS; i++)
        tw_estimate_prior(&prior[tw_estimate_bend_ion[i]], &x[tw_estimate_bend_ion[i]], &value[i], &slope[i]);
    TW_EACH_LANE(l)
    {
        const double all = value[1].v[l], share = value[2].v[l], cl = value[3].v[l];
        const double each = ec->per_mg + (ec->per_ca - ec->per_mg) * share;
        const double sum = ec->per_alk * value[0].v[l] + each * all + tw_estimate_salt_us_per_cm(ec->cl, cl) +
                           ec->per_so4 * value[4].v[l];
        x[TW_X_IONS].v[l] += per * (MIDDLE_US_PER_CM - sum);
        out->ions_by[0].v[l] = -per * ec->per_alk * slope[0].v[l];
        out->ions_by[1].v[l] = -per * each * slope[1].v[l];
        out->ions_by[2].v[l] = -per * (ec->per_ca - ec->per_mg) * all * slope[2].v[l];
        out->ions_by[3].v[l] = -per * tw_estimate_salt_slope(ec->cl, cl) * slope[3].v[l];
        out->ions_by[4].v[l] = -per * ec->per_so4 * slope[4].v[l];
    }
}

const int tw_estimate_bend_amount[TW_BEND_AMOUNTS] = {TW_X_CHLORINE0, TW_X_INFLOW};

/* Above it z counts the amount, below it the logarithm: mg/kg, mg/kg/h. Of 0.25, 0.4 and 0.8 mg/kg the one
 * in the middle let steps be longest. */
static const double CORNER[TW_BEND_AMOUNTS] = {0.4, 0.0015};

/* ln(1 + a) of 0 <= a <= 1 with all its digits: small ones by the series (next term under 1e-16 of it). */
TW_INLINE tw_lanes ln_one_more(tw_lanes a)
{
    tw_lanes r;
    TW_EACH_LANE(l) r.v[l] = 1.0 + a.v[l];
    r = tw_lanes_log(r);
    TW_EACH_LANE(l)
    {
        const double near = a.v[l] < 0.005 ? 1.0 : 0.0, y = near * a.v[l];
        const double series = y * (1.0 - y * (0.5 - y * (1.0 / 3.0 - y * (0.25 - y * (0.2 - y * (1.0 / 6.0 - y / 7.0))))));
        r.v[l] = near * series + (1.0 - near) * r.v[l];
    }
    return r;
}

/* The amount is corner*ln(1 + e^t) with t = first + rate*z, so that x(0) = 0 and dx/dz = 1 there. */
TW_WIDE static void bend_amount(const tw_prior *p, double corner, tw_lanes *x, tw_lanes *by, tw_lanes *ln_by, tw_lanes *ln_jacobian)
{
    const int soft = p->kind == TW_PRIOR_SOFT;
    const double middle = soft ? p->middle : tw_exp(p->middle), scale = p->middle / TW_LN2;
    const double over = tw_exp(middle / corner) - 1.0, first = tw_log(over);
    const double rate = (soft ? 0.5 * scale : middle) * p->sd * (1.0 + over) / (corner * over);
    tw_lanes t, a, share, amount, u, e, f, df, rest;
    TW_EACH_LANE(l)
    {
        double y = first + rate * x->v[l];
        y = y < 600.0 ? y : 600.0;
        t.v[l] = y > -600.0 ? y : -600.0;
        a.v[l] = -fabs(t.v[l]);
    }
    a = tw_lanes_exp(a);
    amount = ln_one_more(a);
    TW_EACH_LANE(l)
    {
        const double up = t.v[l] > 0.0 ? 1.0 : 0.0;
        amount.v[l] = corner * (up * t.v[l] + amount.v[l]);
        share.v[l] = (up + (1.0 - up) * a.v[l]) / (1.0 + a.v[l]); /* 1/(1 + e^-t) */
    }
    if (soft) { /* amount = scale*ln(1 + e^(sd*x)): sd*x = u + ln(1 - e^-u), u = amount/scale */
        TW_EACH_LANE(l) u.v[l] = amount.v[l] / scale;
        tw_lanes_decay(u, &e, &f, &df);
        TW_EACH_LANE(l) rest.v[l] = u.v[l] * f.v[l]; /* 1 - e^-u */
        f = tw_lanes_log(rest);
        TW_EACH_LANE(l)
        {
            const double slope = corner * share.v[l] / (scale * rest.v[l]);
            x->v[l] = (u.v[l] + f.v[l]) / p->sd;
            by->v[l] = rate * slope / p->sd;
            ln_by->v[l] = rate * (1.0 - share.v[l] - e.v[l] * slope);
        }
    } else {
        f = tw_lanes_log(amount);
        TW_EACH_LANE(l)
        {
            const double slope = corner * share.v[l] / amount.v[l];
            x->v[l] = (f.v[l] - p->middle) / p->sd;
            by->v[l] = rate * slope / p->sd;
            ln_by->v[l] = rate * (1.0 - share.v[l] - slope);
        }
    }
    u = tw_lanes_log(*by);
    TW_EACH_LANE(l) ln_jacobian->v[l] += u.v[l];
}

/* The long tail of an amount that nobody read would be stretched by it, and chains would come there too seldom. */
static int chlorine_was_read(const tw_problem *p)
{
    int n = 0;
    for (size_t i = 0; i < p->readings && n < 3; i++)
        n += p->reading[i].observed == TW_OBSERVED_FREE_CHLORINE || p->reading[i].observed == TW_OBSERVED_TOTAL_CHLORINE;
    return n >= 3;
}

/* Fresh water's chlorine has a log-normal prior; demand that appears a soft one. What the water before taught stands
 * in x as it is, and an amount far above its corner is no logarithm where it matters. */
static int amount_is_bent(const tw_model *m, int i)
{
    const int role = tw_estimate_bend_amount[i];
    const tw_prior *p = &m->problem->prior[role];
    if ((size_t)m->place[role] >= m->active || m->carried[role] || !chlorine_was_read(m->problem))
        return 0;
    return role == TW_X_CHLORINE0 ? p->kind == TW_PRIOR_LN && p->middle < tw_log(10.0 * CORNER[i])
                                  : p->kind == TW_PRIOR_SOFT && p->middle < 10.0 * CORNER[i];
}

void tw_estimate_bend(const tw_model *m, tw_lanes *x, tw_bend *out)
{
    out->ln_jacobian = tw_lanes_of(0.0);
    for (int i = 0; i < TW_BEND_AMOUNTS; i++) {
        const int role = tw_estimate_bend_amount[i];
        out->amount[i] = amount_is_bent(m, i);
        if (out->amount[i])
            bend_amount(&m->problem->prior[role], CORNER[i], &x[role], &out->amount_by[i], &out->amount_ln_by[i],
                        &out->ln_jacobian);
    }
    out->ions = ions_are_bent(m);
    if (out->ions)
        bend_ions(m, x, out);
    out->loss = loss_is_bent(m);
    if (out->loss)
        bend_loss(m, x, out);
    for (size_t i = 0; i < m->problem->cells; i++)
        if (m->problem->part_of[i] > 0) { /* a share is not bent */
            out->cell_by[i] = tw_lanes_of(1.0);
            out->cell_ln_by[i] = tw_lanes_of(0.0);
        } else if ((size_t)m->place[m->x_cell + i] < m->active)
            bend_cell(m->problem->output_sd, &x[m->x_cell + i], &out->cell_by[i], &out->cell_ln_by[i],
                      &out->ln_jacobian);
}

TW_WIDE void tw_estimate_bend_gradient(const tw_model *m, const tw_bend *bend, tw_lanes *gradient)
{
    for (int i = 0; bend->ions && i < TW_BEND_IONS; i++)
        TW_EACH_LANE(l)
        gradient[tw_estimate_bend_ion[i]].v[l] += gradient[TW_X_IONS].v[l] * bend->ions_by[i].v[l];
    if (bend->loss) {
        const tw_lanes by_loss = gradient[TW_X_LOSS];
        gradient[TW_X_LOSS] = tw_lanes_of(0.0);
        for (int i = 0; i < TW_BEND_LOSSES; i++)
            TW_EACH_LANE(l)
            gradient[tw_estimate_bend_losses[i]].v[l] += by_loss.v[l] * bend->loss_by[i].v[l] + bend->ln_by[i].v[l];
    }
    for (size_t i = 0; i < m->problem->cells; i++)
        if ((size_t)m->place[m->x_cell + i] < m->active)
            TW_EACH_LANE(l)
            gradient[m->x_cell + i].v[l] =
                gradient[m->x_cell + i].v[l] * bend->cell_by[i].v[l] + bend->cell_ln_by[i].v[l];
    for (int i = 0; i < TW_BEND_AMOUNTS; i++)
        if (bend->amount[i])
            TW_EACH_LANE(l)
            gradient[tw_estimate_bend_amount[i]].v[l] =
                gradient[tw_estimate_bend_amount[i]].v[l] * bend->amount_by[i].v[l] + bend->amount_ln_by[i].v[l];
}
