/* estimate/layout.c: which coordinate plays which role, and from coordinates to parameters.
 *
 * Every coordinate is N(0,1) before any reading; its prior turns it into a parameter. Coordinates on
 * which no reading depends come last: the sampler leaves them out and each member draws them afresh. */
#include <math.h>
#include <string.h>

#include "estimate/carry.h"
#include "estimate/hocl.h"
#include "estimate/jacobian.h"
#include "estimate/tails.h"
#include "estimate/timeline.h"
#include "estimate/usual.h"
#include "num/elementary.h"

#define BIT(observed) (1u << (observed))
#define CHLORINE                                                                          \
    (BIT(TW_OBSERVED_FREE_CHLORINE) | BIT(TW_OBSERVED_TOTAL_CHLORINE) |                    \
     BIT(TW_OBSERVED_PH) | BIT(TW_OBSERVED_ALKALINITY))
#define HARDNESS                                                                          \
    (BIT(TW_OBSERVED_HARDNESS) | BIT(TW_OBSERVED_CALCIUM) | BIT(TW_OBSERVED_MAGNESIUM) |       \
     BIT(TW_OBSERVED_CONDUCTIVITY))
#define SALT (BIT(TW_OBSERVED_CHLORIDE) | BIT(TW_OBSERVED_CONDUCTIVITY))
#define PH BIT(TW_OBSERVED_PH)

/* Readings that inform each of the fixed coordinates. */
static const unsigned INFORMED_BY[TW_X_FIXED] = {
    [TW_X_WATER] = 0xffffffffu,
    [TW_X_LOSS] = CHLORINE,
    [TW_X_LOSS_EA] = CHLORINE,
    [TW_X_FILM] = CHLORINE,
    [TW_X_FILM_HOURS] = CHLORINE,
    [TW_X_DEMAND0] = CHLORINE,
    [TW_X_DEMAND_RATE] = CHLORINE,
    [TW_X_INFLOW] = CHLORINE,
    [TW_X_CHLORINE0] = CHLORINE,
    [TW_X_COMBINED] = BIT(TW_OBSERVED_TOTAL_CHLORINE) | BIT(TW_OBSERVED_COMBINED_CHLORINE),
    [TW_X_BATHER] = CHLORINE,
    [TW_X_KLA_STILL] = PH,
    [TW_X_KLA_JETS] = PH,
    [TW_X_DISSOLVE] = SALT,
    [TW_X_ALKALINITY] = PH | BIT(TW_OBSERVED_ALKALINITY) | BIT(TW_OBSERVED_CONDUCTIVITY),
    [TW_X_CARBON] = PH,
    [TW_X_HARDNESS] = HARDNESS,
    [TW_X_CALCIUM_SHARE] = HARDNESS,
    [TW_X_CHLORIDE] = SALT,
    [TW_X_SULFATE] = BIT(TW_OBSERVED_SULFATE) | BIT(TW_OBSERVED_CONDUCTIVITY),
    [TW_X_CYANURATE] = PH | BIT(TW_OBSERVED_CYANURATE),
    [TW_X_BORATE] = PH | BIT(TW_OBSERVED_BORATE),
    [TW_X_PHOSPHATE] = PH | BIT(TW_OBSERVED_ALKALINITY) | BIT(TW_OBSERVED_PHOSPHATE),
    [TW_X_IONS] = BIT(TW_OBSERVED_CONDUCTIVITY),
    [TW_X_EVAPORATION] = HARDNESS | SALT | BIT(TW_OBSERVED_ALKALINITY) | BIT(TW_OBSERVED_CYANURATE) |
                         BIT(TW_OBSERVED_PHOSPHATE) | BIT(TW_OBSERVED_SULFATE) | BIT(TW_OBSERVED_BORATE),
    [TW_X_HOCL_PART] = CHLORINE,
    [TW_X_SCALE_RATE] = PH,
};

/* Scales only: what is known of them stands in the carry. ln 1.7 meq/kg, 1.2, 0.3, 30, 0.5, 0.06, 0.01, 0.004 mmol/kg. */
const tw_prior tw_estimate_cut_scale[TW_CUTS] = {
    [TW_CUT_ALKALINITY] = {0.530628251062, 0.35, TW_PRIOR_LN},
    [TW_CUT_PH] = {7.5, 0.4, TW_PRIOR_PLAIN},
    [TW_CUT_CALCIUM] = {0.182321556794, 0.8, TW_PRIOR_LN},
    [TW_CUT_MAGNESIUM] = {-1.203972804326, 0.8, TW_PRIOR_LN},
    [TW_CUT_CHLORIDE] = {3.401197381662, 0.45, TW_PRIOR_LN},
    [TW_CUT_SULFATE] = {-0.69314718056, 0.8, TW_PRIOR_LN},
    [TW_CUT_CYANURATE] = {-2.813410716760, 1.2, TW_PRIOR_LN},
    [TW_CUT_BORATE] = {-4.605170185988, 1.5, TW_PRIOR_LN},
    [TW_CUT_PHOSPHATE] = {-5.521460917862, 1.3, TW_PRIOR_LN},
    [TW_CUT_REMNANT] = {0.0, 2.0, TW_PRIOR_SHARE},
    [TW_CUT_HEAP] = {20.0, 1.5, TW_PRIOR_SOFT},
};

static unsigned readings_seen(const tw_problem *p)
{
    unsigned seen = 0;
    for (size_t i = 0; i < p->readings; i++)
        seen |= p->reading[i].standard ? 0 : BIT(p->reading[i].observed);
    return seen;
}

/* Does any step of this water make chlorine with this cell, or on this day? */
static int made_in(const tw_model *m, int cell, int day)
{
    for (size_t i = 0; i < m->made_classes; i++)
        if ((cell < 0 || m->made_class[i].cell == cell) && (day < 0 || m->made_class[i].day == day))
            return 1;
    return 0;
}

static int day_is_read(const tw_model *m, size_t day)
{
    /* A day matters when a reading of chlorine or pH follows its start. */
    const tw_problem *p = m->problem;
    const double from = p->days_from_h + (double)day * m->day_h;
    for (size_t i = 0; i < p->readings; i++)
        if ((BIT(p->reading[i].observed) & CHLORINE) && !p->reading[i].source && !p->reading[i].standard &&
            p->reading[i].at_h > from)
            return 1;
    return 0;
}

/* Whoever never wrote of salt has it all the same if the generator runs: then the output does not hang on it. */
#define SALTED_MMOL_PER_KG 5.0 /* no generator runs in fresher water */

static int salt_is_told(const tw_model *m)
{
    const tw_problem *p = m->problem;
    const tw_prior *at = p->goes_on ? &tw_estimate_cut_scale[TW_CUT_CHLORIDE] : &p->prior[TW_X_CHLORIDE];
    const size_t role = p->goes_on ? m->x_cut + TW_CUT_CHLORIDE : TW_X_CHLORIDE;
    if (at->middle + at->sd * tw_estimate_carry_mean(m, (int)role) > tw_log(SALTED_MMOL_PER_KG))
        return 1;
    for (size_t i = 0; i < p->doses; i++)
        if (p->dose[i].solid_salt)
            return 1;
    for (size_t i = 0; i < p->readings; i++)
        if ((BIT(p->reading[i].observed) & SALT) && !p->reading[i].source && !p->reading[i].standard)
            return 1;
    return 0;
}

/* Where no pH was read nothing says how HOCl's share moves: then the loss does not follow it. */
static void what_is_told(tw_model *m)
{
    const tw_problem *p = m->problem;
    const tw_prior *at = p->goes_on ? &tw_estimate_cut_scale[TW_CUT_CYANURATE] : &p->prior[TW_X_CYANURATE];
    const size_t role = p->goes_on ? m->x_cut + TW_CUT_CYANURATE : TW_X_CYANURATE;
    m->plate_salt_mmol_per_kg = salt_is_told(m) ? p->plate_salt_mmol_per_kg : 0.0;
    m->ph_read = 0;
    m->rings = at->middle + at->sd * tw_estimate_carry_mean(m, (int)role) > tw_log(TW_HOCL_RINGS_FROM);
    for (size_t i = 0; i < p->readings; i++) {
        const tw_reading *r = &p->reading[i];
        m->ph_read |= r->observed == TW_OBSERVED_PH && !r->source && !r->standard;
        m->rings |= r->observed == TW_OBSERVED_CYANURATE && !r->standard;
    }
    for (size_t i = 0; i < p->doses; i++)
        m->rings |= p->dose[i].mmol[TW_TOTAL_CYANURATE] > 0.0;
    m->follows = m->ph_read || p->goes_on;
    m->rings &= m->follows;
    m->scales = m->carried[TW_X_SCALE_RATE] || (m->ph_read && tw_estimate_usual_scales(m));
}

static void place_roles(tw_model *m, const unsigned char *is_active)
{
    int next = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (size_t r = 0; r < m->dims; r++)
            if ((is_active[r] != 0) == (pass == 0)) {
                m->place[r] = next;
                m->role[next++] = (int)r;
            }
        if (pass == 0)
            m->active = (size_t)next;
    }
}

static void choose_active(tw_model *m)
{
    const tw_problem *p = m->problem;
    const unsigned seen = readings_seen(p);
    unsigned char a[TW_MAX_DIMS];
    memset(a, 0, sizeof a);
    for (size_t r = 0; r < TW_X_FIXED; r++)
        a[r] = (INFORMED_BY[r] & seen) != 0;
    int solid = 0;
    for (size_t i = 0; i < p->doses; i++)
        solid |= p->dose[i].solid_salt;
    a[TW_X_DISSOLVE] = (unsigned char)(a[TW_X_DISSOLVE] && solid);
    a[TW_X_EVAPORATION] = (unsigned char)(a[TW_X_EVAPORATION] && m->dries > 0);
    a[TW_X_HOCL_PART] = (unsigned char)(a[TW_X_HOCL_PART] && m->follows);
    a[TW_X_SCALE_RATE] = (unsigned char)(a[TW_X_SCALE_RATE] && m->scales);
    if (m->follows && p->goes_on) /* the pH at the cut goes on by itself */
        a[TW_X_KLA_STILL] = a[TW_X_KLA_JETS] = 1;
    a[TW_X_BATHER] = (unsigned char)(a[TW_X_BATHER] && p->bathers > 0);
    const unsigned char chlorine = (seen & CHLORINE) != 0;
    for (size_t i = 0; i < p->cells; i++)
        a[m->x_cell + i] = (unsigned char)(chlorine && made_in(m, (int)i, -1));
    for (size_t i = 0; i < p->cells; i++)
        if (p->part_of[i] > 0 && a[m->x_cell + i])
            a[m->x_cell + (size_t)p->part_of[i] - 1] = 1;
    if (chlorine && m->plate_salt_mmol_per_kg > 0.0 && made_in(m, -1, -1)) { /* what is made hangs on the salt */
        a[TW_X_CHLORIDE] = 1;
        a[TW_X_DISSOLVE] = (unsigned char)solid;
    }
    for (size_t i = 0; i < p->biases; i++)
        a[m->x_bias + i] = 1;
    for (size_t i = 0; i < p->products + m->owns; i++)
        a[m->x_product + i] = 1;
    for (size_t d = 0; d < m->days; d++) {
        a[m->x_loss_day + d] = (unsigned char)(chlorine && day_is_read(m, d));
        a[m->x_made_day + d] = (unsigned char)(a[m->x_loss_day + d] && made_in(m, -1, -1));
    }
    for (size_t i = 0; i < p->carry.n; i++)
        a[m->carried_role[i]] = 1;
    for (size_t i = m->x_cut; i < m->dims; i++)
        a[i] = 1;
    place_roles(m, a);
}

static tw_status count_roles(tw_model *m)
{
    const tw_problem *p = m->problem;
    if (p->readings > TW_MAX_READINGS || p->doses > TW_MAX_DOSES ||
        p->exchanges > TW_MAX_EXCHANGES || p->settings > TW_MAX_SETTINGS ||
        p->bathers > TW_MAX_BATHERS || p->biases > TW_MAX_BIASES ||
        p->products > TW_MAX_PRODUCTS || p->cells < 1 || p->cells > TW_MAX_CELLS)
        return TW_ERR_CAPACITY;
    m->owns = 0;
    for (size_t i = 0; i < p->doses; i++) {
        const tw_dose_event *d = &p->dose[i];
        m->own_of_dose[i] = -1;
        if ((d->amount_sd > 0.0 || d->form == TW_AMOUNT_POSSIBLE) && m->owns < TW_MAX_OWN)
            m->own_of_dose[i] = (int)m->owns++;
    }
    const double span = p->now_h - p->days_from_h;
    m->day_h = 24.0;
    if (span > 24.0 * TW_MAX_DAYS)
        m->day_h = span / TW_MAX_DAYS;
    m->days = 0;
    if (span > 0.0) {
        m->days = (size_t)ceil(span / m->day_h);
        m->days = m->days < 1 ? 1 : (m->days > TW_MAX_DAYS ? TW_MAX_DAYS : m->days);
    }
    m->x_cell = TW_X_FIXED;
    m->x_bias = m->x_cell + p->cells;
    m->x_product = m->x_bias + p->biases;
    m->x_own = m->x_product + p->products;
    m->x_loss_day = m->x_own + m->owns;
    m->x_made_day = m->x_loss_day + m->days;
    m->x_cut = m->x_made_day + m->days;
    m->dims = m->x_cut + (p->goes_on ? TW_CUTS : 0);
    return TW_OK;
}

/* Which coordinates have a prior from the water before. */
static size_t role_of(const tw_model *m, const tw_carry *c, size_t item)
{
    const int what = c->what[item];
    switch (what) {
    case TW_CARRIED_CELL: return m->x_cell;
    case TW_CARRIED_BIAS: return m->x_bias + (size_t)c->index[item];
    case TW_CARRIED_PRODUCT: return m->x_product + (size_t)c->index[item];
    case TW_CARRIED_LOSS_DAY: return m->x_loss_day;
    case TW_CARRIED_MADE_DAY: return m->x_made_day;
    default: return what < TW_X_FIXED ? (size_t)what : m->x_cut + (size_t)(what - TW_CARRIED_CUT);
    }
}

static void place_carry(tw_model *m)
{
    const tw_carry *c = &m->problem->carry;
    for (size_t i = 0; i < c->n; i++) {
        const size_t role = role_of(m, c, i);
        m->carried_role[i] = (int)role;
        m->carried[role] = (unsigned char)(i + 1);
    }
}

/* First cut: a substep an hour at most six, until the paths say what they need. */
static void first_cut(tw_model *m)
{
    int n[TW_MAX_STEPS];
    for (size_t i = 0; i < m->steps; i++) {
        const double want = ceil(m->step[i].h / 1.0);
        n[i] = m->step[i].film_h < 0.0 ? 1 : (want > 6.0 ? 6 : (int)want);
        n[i] = n[i] < 1 ? 1 : n[i];
    }
    tw_estimate_model_cut(m, n);
}

void tw_estimate_model_cut(tw_model *m, const int *substeps)
{
    size_t at = 0;
    for (size_t i = 0; i < m->steps; i++) {
        size_t n = (size_t)substeps[i];
        const size_t left = m->steps - i - 1;
        if (at + n + left > TW_MAX_SUBSTEPS)
            n = 1;
        m->step[i].substeps = (int)n;
        m->step[i].first_substep = (int)at;
        at += n;
    }
    m->substeps = at;
}

tw_status tw_estimate_model_make(const tw_problem *problem, tw_model *m, void *mem)
{
    memset(m, 0, sizeof *m);
    m->problem = problem;
    tw_status status = count_roles(m);
    if (status != TW_OK)
        return status;
    place_carry(m);
    what_is_told(m);
    status = tw_estimate_timeline(m, mem);
    if (status != TW_OK)
        return status;
    choose_active(m);
    m->usual_over = m->follows ? tw_estimate_usual_over(m) : 0.0;
    first_cut(m);
    tw_estimate_columns(m);
    return TW_OK;
}

/* ln of the cell factor: near 1 in the middle, with a long tail towards a dead cell on the left
 * (about one start in twelve makes under half of its plate). */
TW_WIDE void tw_estimate_cell_factor(const tw_lanes *x, double extra_sd, tw_lanes *factor, tw_lanes *slope)
{
    tw_lanes e, ln, out;
    TW_EACH_LANE(l)
    {
        double u = -3.0 * (x->v[l] + 1.1);
        u = u > 60.0 ? 60.0 : (u < -60.0 ? -60.0 : u);
        e.v[l] = u;
    }
    e = tw_lanes_exp(e);
    TW_EACH_LANE(l) ln.v[l] = 1.0 + e.v[l];
    ln = tw_lanes_log(ln);
    TW_EACH_LANE(l)
    {
        out.v[l] = (0.18 + extra_sd) * x->v[l] - 0.3 * ln.v[l];
        slope->v[l] = 0.18 + extra_sd + 0.9 * e.v[l] / (1.0 + e.v[l]);
    }
    *factor = tw_lanes_exp(out);
}

/* The generator ran for a share of the time: none and all are likelier than any one share between. */
#define PART_STEEP 3.0

TW_WIDE static void cell_share(const tw_lanes *x, const tw_lanes *whole, tw_lanes *factor, tw_lanes *slope)
{
    tw_lanes u;
    TW_EACH_LANE(l)
    {
        const double t = -PART_STEEP * x->v[l];
        u.v[l] = t > 60.0 ? 60.0 : (t < -60.0 ? -60.0 : t);
    }
    u = tw_lanes_exp(u);
    TW_EACH_LANE(l)
    {
        const double share = 1.0 / (1.0 + u.v[l]);
        factor->v[l] = whole->v[l] * share;
        slope->v[l] = PART_STEEP * (1.0 - share);
    }
}

TW_WIDE static void own_factors(const tw_model *m, const tw_lanes *x, tw_parameters *out)
{
    const tw_problem *p = m->problem;
    for (size_t i = 0; i < p->doses; i++) {
        const int own = m->own_of_dose[i];
        if (own < 0)
            continue;
        const tw_lanes *c = &x[m->x_own + (size_t)own];
        tw_lanes u, d;
        if (p->dose[i].form == TW_AMOUNT_POSSIBLE) {
            /* Most of the chance near none and near all: Phi(2x). */
            TW_EACH_LANE(l) u.v[l] = 2.0 * c->v[l];
            tw_lanes_normal(u, &out->own[own], &d);
            TW_EACH_LANE(l) out->own_slope[own].v[l] = 2.0 * d.v[l];
        } else {
            const double sd = p->dose[i].amount_sd;
            TW_EACH_LANE(l) u.v[l] = sd * c->v[l];
            out->own[own] = tw_lanes_exp(u);
            TW_EACH_LANE(l) out->own_slope[own].v[l] = sd * out->own[own].v[l];
        }
    }
}

TW_WIDE static void day_walk(const tw_lanes *z, size_t days, tw_lanes *out)
{
    const double fresh = sqrt(1.0 - TW_DAY_RHO * TW_DAY_RHO);
    for (size_t d = 0; d < days; d++)
        TW_EACH_LANE(l)
        out[d].v[l] = d == 0 ? z[0].v[l] : TW_DAY_RHO * out[d - 1].v[l] + fresh * z[d].v[l];
}

TW_WIDE void tw_estimate_prior(const tw_prior *prior, const tw_lanes *x, tw_lanes *value, tw_lanes *slope)
{
    tw_lanes u, e;
    const double sd = prior->sd, middle = prior->middle;
    switch (prior->kind) {
    case TW_PRIOR_PLAIN:
        TW_EACH_LANE(l) value->v[l] = middle + sd * x->v[l];
        *slope = tw_lanes_of(sd);
        break;
    case TW_PRIOR_SOFT:
        TW_EACH_LANE(l) u.v[l] = sd * x->v[l];
        e = tw_lanes_exp(u);
        TW_EACH_LANE(l) u.v[l] = 1.0 + e.v[l];
        *value = tw_lanes_log(u);
        TW_EACH_LANE(l)
        {
            value->v[l] *= middle / TW_LN2;
            slope->v[l] = middle / TW_LN2 * sd * e.v[l] / u.v[l];
        }
        /* Never quite zero: others divide by it. */
        TW_EACH_LANE(l) value->v[l] = value->v[l] > 1e-12 ? value->v[l] : 1e-12;
        break;
    case TW_PRIOR_SHARE:
        TW_EACH_LANE(l) u.v[l] = -middle - sd * x->v[l];
        e = tw_lanes_exp(u);
        TW_EACH_LANE(l)
        {
            value->v[l] = 1.0 / (1.0 + e.v[l]);
            slope->v[l] = sd * value->v[l] * (1.0 - value->v[l]);
        }
        break;
    default:
        TW_EACH_LANE(l) u.v[l] = middle + sd * x->v[l];
        *value = tw_lanes_exp(u);
        TW_EACH_LANE(l) slope->v[l] = sd * value->v[l];
        break;
    }
}

#define K2_OVER_K1 1.054e-4 /* 10^(-10.329 + 6.352), 25 C: Plummer and Busenberg 1982 */

/* Of the CO2 over the bicarbonate, r = H/K1, and the alkalinity: all carbon, Alk*(r^2 + r + q)/(r + 2q) with q = K2/K1.
 * Whatever the alkalinity, r says the pH. */
static void source_carbon(tw_parameters *out)
{
    const double q = K2_OVER_K1;
    out->co2_part = out->fixed[TW_X_CARBON];
    TW_EACH_LANE(l)
    {
        const double alk = out->fixed[TW_X_ALKALINITY].v[l], r = out->co2_part.v[l], under = 1.0 / (r + 2.0 * q);
        out->fixed[TW_X_CARBON].v[l] = alk * (r * r + r + q) * under;
        out->slope[TW_X_CARBON].v[l] *= alk * (r * r + 4.0 * q * r + q) * under * under;
    }
}

TW_WIDE void tw_estimate_parameters(const tw_model *m, const tw_lanes *x, tw_parameters *out)
{
    const tw_problem *p = m->problem;
    for (size_t r = 0; r < TW_X_FIXED; r++)
        tw_estimate_prior(&p->prior[r], &x[r], &out->fixed[r], &out->slope[r]);
    TW_EACH_LANE(l)
    {
        const double all = out->fixed[TW_X_HARDNESS].v[l], share = out->fixed[TW_X_CALCIUM_SHARE].v[l];
        out->fixed[TW_X_HARDNESS].v[l] = all * share;
        out->fixed[TW_X_CALCIUM_SHARE].v[l] = all * (1.0 - share);
    }
    source_carbon(out);
    for (size_t i = 0; i < p->cells; i++)
        if (p->part_of[i] == 0)
            tw_estimate_cell_factor(&x[m->x_cell + i], p->output_sd, &out->cell[i], &out->cell_slope[i]);
        else /* of one that stands before it */
            cell_share(&x[m->x_cell + i], &out->cell[p->part_of[i] - 1], &out->cell[i], &out->cell_slope[i]);
    for (size_t i = 0; i < p->biases; i++)
        TW_EACH_LANE(l)
        {
            const double z = x[m->x_bias + i].v[l];
            out->bias[i].v[l] = tw_estimate_bias_in_sd(z);
            out->bias_slope[i].v[l] = tw_estimate_bias_slope(z);
        }
    for (size_t i = 0; i < p->products; i++) {
        tw_lanes v, by;
        tw_estimate_strength_in_sd(&x[m->x_product + i], &v, &by);
        TW_EACH_LANE(l) v.v[l] *= p->product_sd[i];
        out->product[i] = tw_lanes_exp(v);
        TW_EACH_LANE(l) out->product_slope[i].v[l] = p->product_sd[i] * by.v[l] * out->product[i].v[l];
    }
    own_factors(m, x, out);
    day_walk(&x[m->x_loss_day], m->days, out->loss_day);
    day_walk(&x[m->x_made_day], m->days, out->made_day);
    for (size_t i = 0; p->goes_on && i < TW_CUTS; i++)
        tw_estimate_prior(&tw_estimate_cut_scale[i], &x[m->x_cut + i], &out->cut[i], &out->cut_slope[i]);
}
