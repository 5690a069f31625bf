/* estimate/teach.c: see teach.h. */
#include "estimate/teach.h"

#include <math.h>
#include <string.h>

#include "gen/estimate_tables.h"
#include "num/elementary.h"

/* What belongs to the tub and not to its water. */
static const int OF_THE_TUB[] = {TW_X_WATER, TW_X_LOSS,      TW_X_LOSS_EA, TW_X_FILM, TW_X_FILM_HOURS,
                                 TW_X_BATHER, TW_X_KLA_STILL, TW_X_KLA_JETS};

static void choose(tw_taught *t, int what, uint64_t name)
{
    t->what[t->n] = what;
    t->name[t->n++] = name;
}

void tw_estimate_teach_begin(const tw_model *m, tw_taught *t)
{
    const tw_problem *p = m->problem;
    memset(t, 0, sizeof *t);
    t->plate_output_g_per_h = p->plate_output_g_per_h;
    t->output_sd = p->output_sd;
    for (size_t i = 0; i < sizeof OF_THE_TUB / sizeof *OF_THE_TUB; i++)
        if ((size_t)m->place[OF_THE_TUB[i]] < m->active)
            choose(t, OF_THE_TUB[i], 0);
    if ((size_t)m->place[m->x_cell + (size_t)m->now_cell] < m->active)
        choose(t, TW_CARRIED_CELL, 0);
    for (size_t i = 0; i < p->biases; i++)
        if (p->bias_name[i] != 0)
            choose(t, TW_CARRIED_BIAS, p->bias_name[i]);
}

#define LEAST_FILM_X (-3.0) /* less film than this is none */

/* What is left of the film, as the coordinate of the next water's film. */
static double film_x(double film_per_h)
{
    const tw_prior *prior = &tw_estimate_priors_fresh[TW_X_FILM];
    const double grown = tw_expm1(film_per_h * TW_LN2 / prior->middle);
    const double x = grown > 1e-9 ? tw_log(grown) / prior->sd : LEAST_FILM_X;
    return x > LEAST_FILM_X ? x : LEAST_FILM_X;
}

static size_t role_of_bias(const tw_model *m, uint64_t name)
{
    size_t i = 0;
    while (i + 1 < m->problem->biases && m->problem->bias_name[i] != name)
        i++;
    return m->x_bias + i;
}

void tw_estimate_teach_add(const tw_model *m, const tw_lanes *x, int l, double film_per_h, tw_taught *t)
{
    double value[TW_MAX_CARRIED];
    for (size_t i = 0; i < t->n; i++) {
        if (t->what[i] == TW_X_FILM)
            value[i] = film_x(film_per_h);
        else if (t->what[i] == TW_CARRIED_CELL)
            value[i] = x[m->x_cell + (size_t)m->now_cell].v[l];
        else if (t->what[i] == TW_CARRIED_BIAS)
            value[i] = x[role_of_bias(m, t->name[i])].v[l];
        else
            value[i] = x[t->what[i]].v[l];
    }
    double *cov = t->covariance;
    for (size_t i = 0; i < t->n; i++) {
        t->mean[i] += value[i];
        for (size_t j = 0; j <= i; j++)
            *cov++ += value[i] * value[j];
    }
}

void tw_estimate_teach_end(size_t members, tw_taught *t)
{
    const double each = 1.0 / (double)members;
    double *cov = t->covariance;
    for (size_t i = 0; i < t->n; i++)
        t->mean[i] *= each;
    for (size_t i = 0; i < t->n; i++)
        for (size_t j = 0; j <= i; j++, cov++)
            *cov = *cov * each - t->mean[i] * t->mean[j];
}
