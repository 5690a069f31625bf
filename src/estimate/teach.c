/* estimate/teach.c: see teach.h. */
#include "estimate/teach.h"

#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "gen/estimate_tables.h"
#include "num/elementary.h"

/* What goes on with the same water, whether a reading bears on it or not: where it stands, and what flows in later. */
static const int OF_THE_WATER[] = {TW_X_DEMAND0, TW_X_CHLORINE0, TW_X_ALKALINITY, TW_X_CARBON,
                                   TW_X_HARDNESS, TW_X_CALCIUM_SHARE, TW_X_CHLORIDE, TW_X_SULFATE,    TW_X_PHOSPHATE};
/* And what goes on once something bears on it. */
static const int OF_ITS_USE[] = {TW_X_DEMAND_RATE, TW_X_INFLOW, TW_X_COMBINED, TW_X_DISSOLVE, TW_X_IONS};

static int is_active(const tw_model *m, size_t role)
{
    return (size_t)m->place[role] < m->active;
}

static void choose(tw_taught *t, int what, uint64_t name)
{
    t->what[t->n] = what;
    t->name[t->n++] = name;
}

static void choose_tub(const tw_model *m, tw_taught *t)
{
    for (size_t i = 0; i < TW_OF_THE_TUB; i++) {
        const int what = tw_estimate_of_the_tub[i];
        if (is_active(m, (size_t)what) || (t->goes_on && what == TW_X_WATER))
            choose(t, what, 0);
    }
    if (is_active(m, m->x_cell + (size_t)m->now_cell))
        choose(t, TW_CARRIED_CELL, 0);
}

/* The water itself, every bottle and meter, every product, and the deviations of the day. */
static void choose_water(const tw_model *m, tw_taught *t)
{
    const tw_problem *p = m->problem;
    for (size_t i = 0; i < sizeof OF_THE_WATER / sizeof *OF_THE_WATER; i++)
        choose(t, OF_THE_WATER[i], 0);
    for (size_t i = 0; i < sizeof OF_ITS_USE / sizeof *OF_ITS_USE; i++)
        if (is_active(m, (size_t)OF_ITS_USE[i]))
            choose(t, OF_ITS_USE[i], 0);
    for (int i = 0; i < TW_CUTS; i++)
        if (i != TW_CUT_HEAP || m->now_heap)
            choose(t, TW_CARRIED_CUT + i, 0);
    if (m->now_day >= 0 && is_active(m, m->x_loss_day + (size_t)m->now_day))
        choose(t, TW_CARRIED_LOSS_DAY, 0);
    if (m->now_day >= 0 && is_active(m, m->x_made_day + (size_t)m->now_day))
        choose(t, TW_CARRIED_MADE_DAY, 0);
    for (size_t i = 0; i < p->biases; i++) {
        t->scale[t->n] = p->bias_sd[i];
        t->lot[t->n] = p->bias_name[i];
        choose(t, TW_CARRIED_BIAS, p->bias_here[i]);
    }
    for (size_t i = 0; i < p->products; i++) {
        t->scale[t->n] = p->product_sd[i];
        choose(t, TW_CARRIED_PRODUCT, p->product_here[i]);
    }
}

/* Hours since the last of some events, or since one before the stretch. */
static double since(double now_h, double at_h, double before)
{
    return now_h - at_h < before ? now_h - at_h : before;
}

void tw_estimate_since(const tw_problem *p, tw_cut *out)
{
    const double none = 1e9;
    out->dose_h = p->goes_on ? p->cut.dose_h + p->now_h : none;
    out->any_dose_h = p->goes_on ? p->cut.any_dose_h + p->now_h : none;
    out->bathers_h = p->goes_on ? p->cut.bathers_h + p->now_h : none;
    for (size_t i = 0; i < p->doses; i++) {
        if (p->dose[i].entry == TW_ENTRY_NONE)
            continue;
        out->any_dose_h = since(p->now_h, p->dose[i].at_h, out->any_dose_h);
        if (p->dose[i].mmol[TW_TOTAL_ACTIVE_CHLORINE] > 0.0)
            out->dose_h = since(p->now_h, p->dose[i].at_h, out->dose_h);
    }
    for (size_t i = 0; i < p->bathers; i++)
        out->bathers_h = since(p->now_h, p->bather[i].at_h, out->bathers_h);
    out->dose_h = out->dose_h < none ? out->dose_h : none;
    out->any_dose_h = out->any_dose_h < none ? out->any_dose_h : none;
    out->bathers_h = out->bathers_h < none ? out->bathers_h : none;
    out->readings = p->goes_on ? p->cut.readings : 0;
    out->chlorine_readings = p->goes_on ? p->cut.chlorine_readings : 0;
    out->readings += (uint32_t)p->readings;
    for (size_t i = 0; i < p->readings; i++)
        out->chlorine_readings += p->reading[i].observed == TW_OBSERVED_FREE_CHLORINE && !p->reading[i].standard;
}

void tw_estimate_teach_begin(const tw_model *m, tw_taught *t)
{
    const tw_problem *p = m->problem;
    const uint32_t goes_on = t->goes_on;
    memset(t, 0, sizeof *t);
    t->goes_on = goes_on;
    t->plate_output_g_per_h = p->plate_output_g_per_h;
    t->output_sd = p->output_sd;
    choose_tub(m, t);
    if (!goes_on) {
        for (size_t i = 0; i < p->biases; i++)
            if (p->bias_name[i] != 0)
                choose(t, TW_CARRIED_BIAS, p->bias_name[i]);
        return;
    }
    choose_water(m, t);
    tw_estimate_since(p, &t->cut);
    t->film_begun = m->now_film_h >= 0.0;
    t->temp_c = m->now_temp_c;
    t->cut.acid_temp_c = m->now_temp_c;
    t->cut.ionic_mol_per_kg = m->now_ionic;
    t->cut.heap = m->now_heap;
    t->cut.stirred_h = m->now_stirred_h;
}

static size_t role_of_bias(const tw_model *m, const uint64_t *names, uint64_t name)
{
    size_t i = 0;
    while (i + 1 < m->problem->biases && names[i] != name)
        i++;
    return m->x_bias + i;
}

static size_t role_of_product(const tw_model *m, uint64_t name)
{
    size_t i = 0;
    while (i + 1 < m->problem->products && m->problem->product_here[i] != name)
        i++;
    return m->x_product + i;
}

/* A total of the water, as its coordinate after the cut. */
static double cut_x(const tw_state *s, int l, double ph, int which)
{
    static const int TOTAL[] = {
        [TW_CUT_ALKALINITY] = TW_T_ALK, [TW_CUT_CALCIUM] = TW_T_CA,   [TW_CUT_MAGNESIUM] = TW_T_MG,
        [TW_CUT_CHLORIDE] = TW_T_CL,    [TW_CUT_SULFATE] = TW_T_SO4,  [TW_CUT_CYANURATE] = TW_T_CYA,
        [TW_CUT_BORATE] = TW_T_BORATE,  [TW_CUT_PHOSPHATE] = TW_T_PO4};
    double value;
    if (which == TW_CUT_PH)
        value = ph;
    else if (which == TW_CUT_HEAP)
        value = s->undissolved_g.v[l];
    else if (which == TW_CUT_REMNANT)
        value = s->remnant.v[l] / (s->chlorine.v[l] + 1e-12);
    else
        value = s->total[TOTAL[which]].v[l];
    return tw_estimate_coordinate(&tw_estimate_cut_scale[which], value);
}

/* A fixed coordinate as the next stretch counts it: a tub found running had other scales. */
static double fixed_x(const tw_model *m, const tw_lanes *x, int what, int l)
{
    const tw_prior *had = &m->problem->prior[what], *has = &tw_estimate_priors_fresh[what];
    if (had->kind != TW_PRIOR_LN || has->kind != TW_PRIOR_LN)
        return x[what].v[l];
    return (had->middle + had->sd * x[what].v[l] - has->middle) / has->sd;
}

static double value_of(const tw_model *m, const tw_lanes *x, const tw_path *path, int l, const tw_left *left, const tw_taught *t, size_t i)
{
    const tw_state *s = &path->state;
    const int what = t->what[i];
    if (what == TW_X_FILM)
        return tw_estimate_coordinate(&tw_estimate_priors_fresh[TW_X_FILM], left->film_per_h);
    if (what == TW_CARRIED_CELL)
        return x[m->x_cell + (size_t)m->now_cell].v[l];
    if (what == TW_CARRIED_BIAS)
        return x[role_of_bias(m, t->goes_on ? m->problem->bias_here : m->problem->bias_name, t->name[i])].v[l];
    if (!t->goes_on)
        return x[what].v[l];
    switch (what) {
    case TW_X_WATER: return tw_estimate_coordinate(&m->problem->prior[what], s->water_kg.v[l]);
    case TW_X_DEMAND0: return tw_estimate_coordinate(&tw_estimate_priors_running[what], s->demand.v[l]);
    case TW_X_CHLORINE0: return tw_estimate_coordinate(&tw_estimate_priors_running[what], s->chlorine.v[l]);
    case TW_X_COMBINED: return tw_estimate_coordinate(&m->problem->prior[what], s->combined.v[l]);
    case TW_CARRIED_PRODUCT: return x[role_of_product(m, t->name[i])].v[l];
    case TW_CARRIED_LOSS_DAY: return TW_DAY_RHO * path->par.loss_day[m->now_day].v[l];
    case TW_CARRIED_MADE_DAY: return TW_DAY_RHO * path->par.made_day[m->now_day].v[l];
    default: return what < TW_X_FIXED ? fixed_x(m, x, what, l) : cut_x(s, l, left->ph, what - TW_CARRIED_CUT);
    }
}

void tw_estimate_teach_add(const tw_model *m, const tw_lanes *x, const tw_path *path, int l, const tw_left *left, tw_taught *t)
{
    double value[TW_MAX_CARRIED];
    t->cut.low += path->state.low.v[l];
    for (size_t i = 0; i < t->n; i++)
        value[i] = value_of(m, x, path, l, left, t, i);
    double *cov = t->covariance;
    for (size_t i = 0; i < t->n; i++) {
        t->mean[i] += value[i];
        for (size_t j = 0; j <= i; j++)
            *cov++ += value[i] * value[j];
    }
}

/* Chance in the covariance of so many members ties what is learned later to what it has nothing to do with, and takes
 * about this many members' share of the variance at each cut: a metered volume, of which a year told nothing
 * more, came out a fifth too narrow after sixteen cuts. It is given back. */
#define TAKEN_BY_CHANCE 24.0

void tw_estimate_teach_end(size_t members, tw_taught *t)
{
    const double each = 1.0 / (double)members, back = t->goes_on ? 1.0 + TAKEN_BY_CHANCE * each : 1.0;
    double *cov = t->covariance;
    t->cut.low *= each;
    for (size_t i = 0; i < t->n; i++)
        t->mean[i] *= each;
    for (size_t i = 0; i < t->n; i++)
        for (size_t j = 0; j <= i; j++, cov++)
            *cov = back * (*cov * each - t->mean[i] * t->mean[j]);
}
