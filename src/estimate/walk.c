/* estimate/walk.c: the kinetics of forward.c for members that are already known.
 *
 * New days bring new deviations of loss and output, drawn from each member's own stream, so that a
 * forecast asked twice is the same to the bit. */
#include "estimate/walk.h"

#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/hocl.h"
#include "estimate/output.h"
#include "estimate/scale.h"
#include "estimate/sampler.h"
#include "num/elementary.h"
#include "num/normal.h"
#include "num/normal_inline.h"

size_t tw_estimate_walk_bytes(size_t n)
{
    return 11 * n * sizeof(double) + n * sizeof(tw_stream) + 13 * TW_ARENA_ALIGN;
}

/* Uniforms to standard normals, as tw_stream_normal() makes one. */
TW_WIDE static void to_normals(tw_lanes *p)
{
    tw_lanes z;
    TW_EACH_LANE(l) z.v[l] = tw_normal_quantile_lane(p->v[l]);
    TW_EACH_LANE(l)
    if (p->v[l] < TW_QUANTILE_LANE_LEAST || p->v[l] > 1.0 - TW_QUANTILE_LANE_LEAST)
        z.v[l] = tw_normal_quantile(p->v[l]);
    *p = z;
}

static void new_day(tw_walk *w)
{
    const double fresh = sqrt(1.0 - TW_DAY_RHO * TW_DAY_RHO);
    for (size_t first = 0; first < w->n; first += TW_ESTIMATE_LANES) {
        tw_lanes a, b;
        TW_EACH_LANE(l)
        {
            a.v[l] = tw_stream_uniform(&w->stream[first + (size_t)l]);
            b.v[l] = tw_stream_uniform(&w->stream[first + (size_t)l]);
        }
        to_normals(&a);
        to_normals(&b);
        TW_EACH_LANE(l)
        {
            const size_t i = first + (size_t)l;
            w->loss_day[i] = TW_DAY_RHO * w->loss_day[i] + fresh * a.v[l];
            w->made_day[i] = TW_DAY_RHO * w->made_day[i] + fresh * b.v[l];
        }
    }
    w->temp_c = -1e9;
    w->days++;
}

static void start_following(tw_walk *w)
{
    const tw_belief *b = w->belief;
    double ln_rings = 0.0;
    for (size_t i = 0; i < w->n; i++) {
        w->follow[i] = 1.0;
        w->follows |= b->column[TW_COLUMN_HOCL_PART][i] > 0.0;
    }
    for (size_t i = 0; w->follows && i < w->n; i++) {
        w->h[i] = tw_exp(-TW_LN10 * b->column[TW_COLUMN_PH][i]);
        ln_rings += tw_log(1e3 * b->total[TW_TOTAL_CYANURATE][i] + 1e-9);
    }
    w->rings = w->follows && ln_rings > tw_log(TW_HOCL_RINGS_FROM) * (double)w->n;
}

void tw_estimate_walk_keep_ph(tw_walk *w, double ph)
{
    const double h = tw_exp(-TW_LN10 * ph);
    for (size_t i = 0; i < w->n; i++)
        w->h[i] = h;
}

/* The constants that the timeline would take. */
static const tw_acid_constants *acids_at(tw_walk *w, double temp_c)
{
    const double whole = floor(temp_c + 0.5);
    if (fabs(whole - w->acid_temp_c) > 1e-9)
        tw_estimate_acid_constants(whole, 0.005 * floor(w->belief->ionic_mol_per_kg / 0.005 + 0.5), &w->acid);
    w->acid_temp_c = whole;
    return &w->acid;
}

/* Of the group of members from `first` on. */
TW_INLINE void group_follow(tw_walk *w, size_t first, const tw_acid_constants *k)
{
    const tw_belief *b = w->belief;
    tw_lanes root[TW_ROOTS], h, ocl, part, c, y;
    TW_EACH_LANE(l)
    {
        const size_t i = first + (size_t)l;
        h.v[l] = w->h[i];
        ocl.v[l] = k->kocl / (k->kocl + w->h[i]);
        part.v[l] = b->column[TW_COLUMN_HOCL_PART][i];
        c.v[l] = w->chlorine[i];
        y.v[l] = 1e3 * b->total[TW_TOTAL_CYANURATE][i];
    }
    tw_estimate_hocl_root(k, &h, &ocl, w->rings, root);
    const tw_lanes follow = tw_estimate_hocl_follow(root, &part, &c, &y, w->rings);
    TW_EACH_LANE(l) w->follow[first + (size_t)l] = follow.v[l];
}

TW_WIDE void tw_estimate_walk_follow(tw_walk *w, double temp_c)
{
    if (!w->follows)
        return;
    const tw_acid_constants *k = acids_at(w, temp_c);
    for (size_t first = 0; first < w->n; first += TW_ESTIMATE_LANES)
        group_follow(w, first, k);
}

int tw_estimate_walk_start(tw_walk *w, const tw_belief *b, tw_arena *arena)
{
    const size_t n = b->n, bytes = n * sizeof(double);
    memset(w, 0, sizeof *w);
    w->belief = b;
    w->n = n;
    w->day_left_h = b->day_left_h;
    w->temp_c = w->acid_temp_c = -1e9;
    w->chlorine = tw_arena_take(arena, bytes);
    w->made = tw_arena_take(arena, bytes);
    w->demand = tw_arena_take(arena, bytes);
    w->dic = tw_arena_take(arena, bytes);
    w->scale = tw_arena_take(arena, bytes);
    w->loss_day = tw_arena_take(arena, bytes);
    w->made_day = tw_arena_take(arena, bytes);
    w->loss = tw_arena_take(arena, bytes);
    w->output = tw_arena_take(arena, bytes);
    w->follow = tw_arena_take(arena, bytes);
    w->h = tw_arena_take(arena, bytes);
    w->stream = tw_arena_take(arena, n * sizeof(tw_stream));
    if (w->stream == NULL)
        return 0;
    memcpy(w->chlorine, b->column[TW_COLUMN_CHLORINE_MG_PER_KG], bytes);
    memcpy(w->made, b->column[TW_COLUMN_MADE_MG_PER_KG], bytes);
    memcpy(w->demand, b->column[TW_COLUMN_DEMAND_MG_PER_KG], bytes);
    memcpy(w->loss_day, b->column[TW_COLUMN_LOSS_DAY], bytes);
    memcpy(w->made_day, b->column[TW_COLUMN_OUTPUT_DAY], bytes);
    for (size_t i = 0; i < n; i++) {
        w->dic[i] = 1e3 * b->total[TW_TOTAL_DIC][i];
        w->scale[i] = 0.0;
        w->stream[i] = tw_stream_make(b->seed, b->segment, TW_PURPOSE_FORECAST, (uint32_t)i);
        tw_stream_skip(&w->stream[i], b->days_drawn); /* a day draws one block */
    }
    start_following(w);
    if (w->day_left_h < 1e-6) {
        new_day(w);
        w->day_left_h = b->day_h;
    }
    return 1;
}

double tw_estimate_walk_film(const tw_walk *w, size_t i, double hours)
{
    const tw_belief *b = w->belief;
    /* Before the first chlorine the film waits. */
    if (b->film_age_h < 0.0 && hours < -b->film_age_h)
        return 0.0;
    const double used = b->film_age_h < 0.0 ? hours + b->film_age_h : hours;
    return b->column[TW_COLUMN_FILM_PER_H][i] * tw_exp(-used / b->column[TW_COLUMN_FILM_HOURS][i]);
}

TW_WIDE void tw_estimate_walk_rates(tw_walk *w, double temp_c)
{
    const tw_belief *b = w->belief;
    const double factor = (1.0 / (temp_c + 273.15) - 1.0 / 311.15) / 8.31446e-3;
    const double warm = 1e3 * b->plate_output_g_per_h * tw_estimate_cold_share(temp_c);
    for (size_t first = 0; first < w->n; first += TW_ESTIMATE_LANES) {
        tw_lanes loss, made, salt = tw_lanes_of(1.0);
        TW_EACH_LANE(l)
        {
            const size_t i = first + (size_t)l;
            loss.v[l] = b->day_sd * w->loss_day[i] -
                        b->column[TW_COLUMN_LOSS_EA_KJ_PER_MOL][i] * factor;
            made.v[l] = b->day_sd * w->made_day[i];
        }
        loss = tw_lanes_exp(loss);
        made = tw_lanes_exp(made);
        if (b->plate_salt_mmol_per_kg > 0.0) {
            TW_EACH_LANE(l)
            salt.v[l] = 1e3 * (b->total[TW_TOTAL_CL][first + (size_t)l] + b->total[TW_TOTAL_ACTIVE_CHLORINE][first + (size_t)l]);
            tw_estimate_salt_share(&salt, b->plate_salt_mmol_per_kg, &salt, NULL);
        }
        TW_EACH_LANE(l)
        {
            const size_t i = first + (size_t)l;
            w->loss[i] = b->column[TW_COLUMN_LOSS_38_PER_H][i] * loss.v[l];
            w->output[i] = warm * b->column[TW_COLUMN_CELL_FACTOR][i] * made.v[l] * salt.v[l];
        }
    }
    w->temp_c = temp_c;
}

/* Parts that a member's stretch of h hours is cut into. Loss, make and inflow are exact in themselves and so is the
 * demand; what is left is the commutator of Strang's splitting, h^3/24 of it, kept under TW_WALK_NEAR (docs/estimate.md); a
 * member's own number, so that nobody's neighbours change his bits. */
#define TW_WALK_NEAR 7e-4 /* mg/kg a stretch */
#define TW_WALK_PARTS 16.0

TW_INLINE tw_lanes parts_of(tw_lanes c, tw_lanes d, tw_lanes k, tw_lanes p, tw_lanes in, tw_lanes kd, double h)
{
    tw_lanes n;
    TW_EACH_LANE(l)
    {
        const double fast = kd.v[l] * (c.v[l] + d.v[l]);
        const double slow = fabs(p.v[l] - k.v[l] * c.v[l]) + in.v[l];
        n.v[l] = h * h * h * kd.v[l] * d.v[l] * slow * (fast + k.v[l]) / (24.0 * TW_WALK_NEAR);
    }
    TW_EACH_LANE(l) n.v[l] = sqrt(n.v[l]);
    TW_EACH_LANE(l)
    {
        const double most = n.v[l] < TW_WALK_PARTS ? n.v[l] : TW_WALK_PARTS;
        n.v[l] = most > 1.0 ? ceil(most) : 1.0;
    }
    return n;
}

TW_WIDE static void group_on(tw_walk *w, size_t first, double h, double duty)
{
    const tw_belief *b = w->belief;
    const double mid = w->hour + 0.5 * h;
    const int running = b->film_age_h + mid >= 0.0;
    tw_lanes c, g, d, k, p, z, e, f, df, gain, in, kd, n, part, before;
    TW_EACH_LANE(l)
    z.v[l] = -(b->film_age_h < 0.0 ? mid + b->film_age_h : mid) /
             b->column[TW_COLUMN_FILM_HOURS][first + (size_t)l];
    z = tw_lanes_exp(z);
    TW_EACH_LANE(l)
    {
        const size_t i = first + (size_t)l;
        c.v[l] = w->chlorine[i];
        g.v[l] = w->made[i];
        d.v[l] = w->demand[i];
        k.v[l] = w->loss[i] * w->follow[i] + (running ? b->column[TW_COLUMN_FILM_PER_H][i] * z.v[l] : 0.0);
        p.v[l] = w->output[i] * duty / b->column[TW_COLUMN_WATER_KG][i];
        in.v[l] = running ? b->column[TW_COLUMN_DEMAND_INFLOW][i] : 0.0;
        kd.v[l] = b->column[TW_COLUMN_DEMAND_RATE][i];
    }
    n = parts_of(c, d, k, p, in, kd, h);
    double most = 1.0;
    TW_EACH_LANE(l)
    {
        most = n.v[l] > most ? n.v[l] : most;
        part.v[l] = h / n.v[l];
    }
    for (double turn = 0.0; turn < most; turn += 1.0) {
        /* Whoever has done his parts goes on by no time at all, which changes no bit. */
        TW_EACH_LANE(l)
        {
            part.v[l] = turn < n.v[l] ? part.v[l] : 0.0;
            z.v[l] = 0.5 * part.v[l] * k.v[l];
        }
        tw_lanes_decay(z, &e, &f, &df);
        TW_EACH_LANE(l)
        {
            gain.v[l] = p.v[l] * (0.5 * part.v[l]) * f.v[l];
            c.v[l] = c.v[l] * e.v[l] + gain.v[l];
            g.v[l] = g.v[l] * e.v[l] + gain.v[l];
            z.v[l] = kd.v[l] * part.v[l] * c.v[l];
        }
        TW_EACH_LANE(l) before.v[l] = tw_share_before(z.v[l]);
        TW_EACH_LANE(l)
        {
            d.v[l] += before.v[l] * in.v[l] * part.v[l];
            z.v[l] = kd.v[l] * part.v[l] * (c.v[l] - d.v[l]);
        }
        tw_lanes ez;
        tw_lanes_decay(z, &ez, &f, &df);
        TW_EACH_LANE(l)
        {
            const double share = 1.0 / (1.0 + d.v[l] * (kd.v[l] * part.v[l]) * f.v[l]);
            c.v[l] = c.v[l] * share * e.v[l] + gain.v[l];
            g.v[l] = g.v[l] * share * e.v[l] + gain.v[l];
            d.v[l] = d.v[l] * ez.v[l] * share + (1.0 - before.v[l]) * in.v[l] * part.v[l];
        }
    }
    TW_EACH_LANE(l)
    {
        const size_t i = first + (size_t)l;
        w->chlorine[i] = c.v[l];
        w->made[i] = g.v[l];
        w->demand[i] = d.v[l];
    }
}

void tw_estimate_walk_on(tw_walk *w, double h, double duty, double temp_c)
{
    while (h > 1e-9) {
        double part = h < w->day_left_h ? h : w->day_left_h;
        if (fabs(w->temp_c - temp_c) > 1e-9)
            tw_estimate_walk_rates(w, temp_c);
        tw_estimate_walk_follow(w, temp_c);
        for (size_t first = 0; first < w->n; first += TW_ESTIMATE_LANES)
            group_on(w, first, part, duty);
        w->hour += part;
        w->day_left_h -= part;
        h -= part;
        if (w->day_left_h < 1e-6) {
            new_day(w);
            w->day_left_h = w->belief->day_h;
        }
    }
}

/* An implicit step as in forward.c. Its root is the pH at its end as well: the carbon that is left meets the same H. */
TW_WIDE void tw_estimate_walk_carbon(tw_walk *w, size_t first, double hours, double still_h, double jets_h, const tw_acid_constants *k,
                                     const double *extra_alk, double *ph)
{
    const tw_belief *b = w->belief;
    const int exposed = still_h > 0.0 || jets_h > 0.0;
    tw_acids a;
    tw_acid_root root;
    tw_acid_guess guess;
    tw_lanes alk, e, rhs, ln, ca, dic, near, above;
    TW_EACH_LANE(l)
    {
        const size_t i = first + (size_t)l;
        const double active = w->chlorine[i] / TW_MG_PER_MMOL_CL2;
        const double was = b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i] / TW_MG_PER_MMOL_CL2;
        a.active.v[l] = active;
        a.borate.v[l] = 1e3 * b->total[TW_TOTAL_BORATE][i];
        a.cyanurate.v[l] = 1e3 * b->total[TW_TOTAL_CYANURATE][i];
        a.phosphate.v[l] = 1e3 * b->total[TW_TOTAL_PHOSPHATE][i];
        alk.v[l] = 1e3 * (b->total[TW_TOTAL_NA][i] + b->total[TW_TOTAL_K][i] +
                          2.0 * b->total[TW_TOTAL_CA][i] + 2.0 * b->total[TW_TOTAL_MG][i] -
                          b->total[TW_TOTAL_CL][i] - 2.0 * b->total[TW_TOTAL_SO4][i] -
                          b->total[TW_TOTAL_OTHER][i]) +
                   active - was - 2.0 * w->scale[i];
        ca.v[l] = 1e3 * b->total[TW_TOTAL_CA][i] - w->scale[i];
        double x = b->column[TW_COLUMN_KLA_STILL_PER_H][i] * still_h + b->column[TW_COLUMN_KLA_JETS_PER_H][i] * jets_h;
        x = x > 12.0 ? 12.0 : x;
        e.v[l] = 0.9 * x;
        rhs.v[l] = w->dic[i];
    }
    if (extra_alk != NULL)
        TW_EACH_LANE(l) alk.v[l] += extra_alk[first + (size_t)l];
    e = tw_lanes_exp(e);
    TW_EACH_LANE(l)
    {
        e.v[l] = exposed ? (e.v[l] - 1.0) * (1.0 / 0.9) : 0.0;
        rhs.v[l] += e.v[l] * k->co2_eq;
    }
    tw_estimate_acid_guess(k, &guess);
    tw_estimate_acid_solve(k, alk, rhs, e, &a, TW_NEWTON_STEPS, &guess, &root, NULL);
    TW_EACH_LANE(l) w->h[first + (size_t)l] = root.h.v[l];
    if (exposed)
        TW_EACH_LANE(l) w->dic[first + (size_t)l] = rhs.v[l] - e.v[l] * root.co2.v[l];
    if (hours > 0.0 && tw_estimate_scale_near(k, &ca, &root.h, &root.co2, &near, &above)) {
        tw_lanes gone, at = root.h, rate;
        TW_EACH_LANE(l)
        {
            dic.v[l] = w->dic[first + (size_t)l];
            rate.v[l] = b->column[TW_COLUMN_SCALE_PER_H][first + (size_t)l];
        }
        tw_estimate_scale(k, hours, &rate, &ca, &alk, &dic, &a, &above, &at, &gone, NULL);
        TW_EACH_LANE(l)
        {
            w->scale[first + (size_t)l] += gone.v[l];
            w->dic[first + (size_t)l] -= gone.v[l];
        }
    }
    if (ph == NULL)
        return;
    ln = tw_lanes_log(root.h);
    TW_EACH_LANE(l) ph[first + (size_t)l] = -ln.v[l] / TW_LN10;
}

void tw_estimate_walk_skip(tw_walk *w, double h)
{
    w->hour += h;
    w->day_left_h -= h;
    while (w->day_left_h < 1e-6) {
        new_day(w);
        w->day_left_h += w->belief->day_h;
    }
}

void tw_estimate_walk_dose(tw_walk *w, double chlorine_mg)
{
    for (size_t i = 0; i < w->n; i++) {
        const double add = chlorine_mg / w->belief->column[TW_COLUMN_WATER_KG][i];
        if (add >= 0.0) {
            w->chlorine[i] += add;
        } else {
            const double had = w->chlorine[i], x = had + add;
            const double left = 0.5 * (x + sqrt(x * x + 4e-4));
            w->made[i] *= left / (had + 1e-12);
            w->chlorine[i] = left;
        }
    }
}

void tw_estimate_walk_bathers(tw_walk *w, double person_h)
{
    for (size_t i = 0; i < w->n; i++)
        w->demand[i] += 1e3 * person_h * w->belief->column[TW_COLUMN_BATHER_G_PER_H][i] /
                        w->belief->column[TW_COLUMN_WATER_KG][i];
}
