/* estimate/later.c: see later.h. */
#include "estimate/later.h"

#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/sampler.h"
#include "estimate/unseen.h"
#include "estimate/walk.h"
#include "gen/estimate_tables.h"
#include "num/elementary.h"

#define NEVER_H 1e8

size_t tw_estimate_later_bytes(size_t n)
{
    return tw_estimate_walk_bytes(n) + 2 * n * sizeof(double) + 6 * TW_ARENA_ALIGN;
}

/* On the way from the last entry. */
typedef struct {
    tw_walk walk;
    const tw_setting_event *setting;
    size_t settings, at;             /* how many; the one in force                                 */
    double from_h, to_h;
    double still_h, jets_h;          /* exposure at 20 C since the last exchange with the air      */
    double warm_h, hours;            /* temperature times hours, hours since then                  */
    double stirred_h;                /* since the last pour of salt                                */
    double *act_h, *act_size;        /* when the member does what nobody wrote; mg per kg poured, less than 0 used up */
} way;

/* Steps lie on a grid from the last entry on: an hour is reached by the same steps whenever it is asked for, but for the
 * last one. By the hour, as a forecast; where nothing was written for three days, four at a time. */
static double next_on_grid(const way *w, double t)
{
    const double gone = t - w->from_h;
    const double step = gone < 72.0 - 1e-9 ? 1.0 : 4.0;
    return w->from_h + (floor(gone / step + 1e-9) + 1.0) * step;
}

static double temp_at(const way *w, double t)
{
    if (w->at >= w->settings)
        return w->walk.belief->temp_set_c;
    const tw_setting_event *s = &w->setting[w->at];
    const double end = w->at + 1 < w->settings ? w->setting[w->at + 1].at_h : w->to_h;
    double u = end > s->at_h ? (t - s->at_h) / (end - s->at_h) : 0.0;
    u = u < 0.0 ? 0.0 : (u > 1.0 ? 1.0 : u);
    return s->temp_c + u * (s->temp_end_c - s->temp_c);
}

/* The constants that the timeline would take. */
static void acids_at(const tw_belief *b, double temp_c, tw_acid_constants *out)
{
    tw_estimate_acid_constants(floor(temp_c + 0.5), 0.005 * floor(b->ionic_mol_per_kg / 0.005 + 0.5), out);
}

static void breathe(way *w)
{
    tw_acid_constants acid;
    if (w->hours <= 0.0)
        return;
    acids_at(w->walk.belief, w->warm_h / w->hours, &acid);
    /* The timeline takes as many pieces of all that lies between two acts: after hours of jets its pH is 0.02 nearer to the
     * balance with the air. */
    double parts = ceil((0.03 * w->still_h + 2.0 * w->jets_h) / 1.2);
    parts = parts < 1.0 ? 1.0 : (parts > 4.0 ? 4.0 : parts);
    for (double k = 0.0; k < parts; k += 1.0)
        for (size_t first = 0; first < w->walk.n; first += TW_ESTIMATE_LANES)
            tw_estimate_walk_carbon(&w->walk, first, w->hours / parts, w->still_h / parts, w->jets_h / parts, &acid, NULL, NULL);
    w->still_h = w->jets_h = w->warm_h = w->hours = 0.0;
}

/* The setting of the hour t. Another air, or another warmth, begins another exchange. */
static void set_for(way *w, double t)
{
    size_t at = w->at;
    while (at + 1 < w->settings && w->setting[at + 1].at_h <= t + 1e-9)
        at++;
    if (at == w->at)
        return;
    const tw_setting_event *was = &w->setting[w->at], *now = &w->setting[at];
    if (fabs(now->jets - was->jets) > 1e-12 || fabs(now->still - was->still) > 1e-12 || fabs(now->temp_c - was->temp_end_c) > 3.0)
        breathe(w);
    w->at = at;
}

/* Hours from the last entry to a member's first act: from a stream of its own, so that it is done at the same hour whenever one asks. */
static double first_act_h(const tw_belief *b, size_t member, tw_stream *stream)
{
    const double used = tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_USED].per_day / 24.0;
    const double poured = tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_POURED].per_day / 24.0;
    *stream = tw_stream_make(b->seed, b->segment, TW_PURPOSE_UNSEEN_LATER, (uint32_t)member);
    return -tw_log(tw_stream_uniform(stream)) / (used + poured);
}

int tw_estimate_did_something(const tw_belief *b, size_t member)
{
    tw_stream stream;
    if (tw_estimate_unseen_since(b, member))
        return 1;
    if (!(b->unread_h > 0.0))
        return 0;
    const double h = first_act_h(b, member, &stream);
    return h < b->unread_h && b->film_age_h - b->unread_h + h >= 0.0;
}

/* What each member does, if that comes before to_h. */
static void draw_acts(way *w)
{
    const tw_belief *b = w->walk.belief;
    const double used = tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_USED].per_day;
    const double poured = tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_POURED].per_day;
    for (size_t i = 0; i < w->walk.n; i++) {
        tw_stream stream;
        const double h = first_act_h(b, i, &stream);
        const double which = tw_stream_uniform(&stream);
        const double z = tw_stream_normal(&stream);
        const int is_used = which * (used + poured) < used;
        w->act_h[i] = w->from_h + h;
        w->act_size[i] = 0.0;
        if (w->act_h[i] < w->to_h && b->film_age_h + h >= 0.0)
            w->act_size[i] = is_used ? -tw_estimate_unseen_size(TW_UNLOGGED_CHLORINE_USED, z)
                                     : tw_estimate_unseen_size(TW_UNLOGGED_CHLORINE_POURED, z);
    }
}

/* Those of the step that begins at t, at its beginning. */
static void do_acts(way *w, double t, double end)
{
    for (size_t i = 0; i < w->walk.n; i++) {
        if (!(w->act_h[i] >= t && w->act_h[i] < end))
            continue;
        if (w->act_size[i] < 0.0)
            w->walk.demand[i] -= w->act_size[i];
        else
            w->walk.chlorine[i] += w->act_size[i];
    }
}

static void go(way *w)
{
    double t = w->from_h;
    while (t < w->to_h - 1e-9) {
        set_for(w, t);
        double end = next_on_grid(w, t);
        if (w->at + 1 < w->settings && w->setting[w->at + 1].at_h < end)
            end = w->setting[w->at + 1].at_h;
        end = end < w->to_h ? end : w->to_h;
        const tw_setting_event *s = w->at < w->settings ? &w->setting[w->at] : NULL;
        const double h = end - t, temp_c = temp_at(w, 0.5 * (t + end));
        const double gas = h * tw_estimate_gas_factor(temp_c);
        do_acts(w, t, end);
        tw_estimate_walk_on(&w->walk, h, s != NULL ? s->duty : w->walk.belief->duty, floor(temp_c + 0.5));
        w->still_h += gas * (s != NULL ? s->still : 1.0);
        w->jets_h += gas * (s != NULL ? s->jets : 0.0);
        w->warm_h += temp_c * h;
        w->hours += h;
        w->stirred_h += (s != NULL ? s->stirred : 1.0) * h * tw_exp(0.03 * (temp_c - 38.0));
        if (w->hours >= 1.0 - 1e-9)
            breathe(w);
        t = end;
    }
    set_for(w, w->to_h);
    breathe(w);
}

/* Salt that went from the floor into the water: chloride and sodium, mol per kg. */
static double dissolved(const way *w, size_t i, tw_belief *out)
{
    const double lying = w->walk.belief->column[TW_COLUMN_UNDISSOLVED_G][i];
    const double gain = sqrt(w->stirred_h) - sqrt(w->walk.belief->stirred_h);
    if (!(lying > 0.0) || !(gain > 0.0))
        return 0.0;
    const double gone = lying * (1.0 - tw_exp(-out->column[TW_COLUMN_DISSOLVE_PER_H][i] * gain));
    out->column[TW_COLUMN_UNDISSOLVED_G][i] = lying - gone;
    return gone / TW_G_PER_MOL_NACL / out->column[TW_COLUMN_WATER_KG][i];
}

/* Chlorine that was used is chloride; sodium balances the charges (members.c). */
static void balance(const way *w, size_t i, tw_belief *out)
{
    const tw_belief *b = w->walk.belief;
    const double salt = dissolved(w, i, out);
    const double active = tw_estimate_active_mol_per_kg(w->walk.chlorine[i]), was = b->total[TW_TOTAL_ACTIVE_CHLORINE][i];
    const double other_charge = b->total[TW_TOTAL_NA][i] - b->total[TW_TOTAL_OTHER][i] - b->total[TW_TOTAL_CL][i] + active - was;
    const double poured = w->act_size[i] > 0.0 ? 2e-3 * w->act_size[i] / TW_MG_PER_MMOL_CL2 : 0.0;
    const double spent = b->total[TW_TOTAL_CL][i] + was + salt + poured;
    const double cl = spent > active ? spent - active : 0.0;
    const double na = other_charge + cl;
    out->total[TW_TOTAL_ACTIVE_CHLORINE][i] = active;
    out->total[TW_TOTAL_CL][i] = cl;
    out->total[TW_TOTAL_NA][i] = na > 0.0 ? na : 0.0;
    out->total[TW_TOTAL_OTHER][i] = na > 0.0 ? 0.0 : -na;
    out->total[TW_TOTAL_CA][i] -= 1e-3 * w->walk.scale[i];
    out->total[TW_TOTAL_DIC][i] = 1e-3 * (w->walk.dic[i] > 0.0 ? w->walk.dic[i] : 0.0);
}

static void write_columns(way *w, double temp_c, tw_belief *out)
{
    const tw_walk *walk = &w->walk;
    const tw_belief *b = walk->belief;
    const double gone = w->to_h - w->from_h;
    double *const *c = out->column;
    tw_acid_constants acid;
    acids_at(b, temp_c, &acid);
    for (size_t first = 0; first < walk->n; first += TW_ESTIMATE_LANES)
        tw_estimate_walk_carbon(&w->walk, first, 0.0, 0.0, 0.0, &acid, NULL, c[TW_COLUMN_PH]);
    tw_estimate_walk_rates(&w->walk, floor(temp_c + 0.5));
    tw_estimate_walk_follow(&w->walk, temp_c);
    for (size_t i = 0; i < walk->n; i++) {
        const int begun = b->film_age_h + gone >= 0.0;
        const double film = tw_estimate_walk_film(walk, i, gone);
        const double made = walk->made[i] < walk->chlorine[i] ? walk->made[i] : walk->chlorine[i];
        c[TW_COLUMN_TEMP_K][i] = temp_c + 273.15;
        c[TW_COLUMN_CHLORINE_MG_PER_KG][i] = walk->chlorine[i];
        c[TW_COLUMN_MADE_MG_PER_KG][i] = made;
        c[TW_COLUMN_REMNANT_MG_PER_KG][i] = walk->chlorine[i] - made;
        c[TW_COLUMN_DEMAND_MG_PER_KG][i] = walk->demand[i];
        c[TW_COLUMN_LOSS_DAY][i] = walk->loss_day[i];
        c[TW_COLUMN_OUTPUT_DAY][i] = walk->made_day[i];
        c[TW_COLUMN_LOSS_NOW_PER_H][i] = walk->loss[i] * walk->follow[i] + (begun ? film : 0.0);
        c[TW_COLUMN_OUTPUT_G_PER_H][i] = 1e-3 * walk->output[i];
        if (begun)
            c[TW_COLUMN_FILM_PER_H][i] = film;
        balance(w, i, out);
    }
}

static void age(double *hours, double gone)
{
    if (*hours < NEVER_H)
        *hours += gone;
}

tw_status tw_estimate_later(const tw_belief *from, const tw_setting_event *setting, size_t settings, double from_h, double to_h,
                            tw_arena arena, tw_belief *out)
{
    way w;
    memset(&w, 0, sizeof w);
    tw_estimate_belief_copy(from, out);
    if (!(to_h > from_h + 1e-9))
        return TW_OK;
    if (!tw_estimate_walk_start(&w.walk, from, &arena))
        return TW_ERR_CAPACITY;
    w.setting = setting;
    w.settings = settings;
    w.from_h = from_h;
    w.to_h = to_h;
    w.stirred_h = from->stirred_h;
    w.act_h = tw_arena_take(&arena, from->n * sizeof(double));
    w.act_size = tw_arena_take(&arena, from->n * sizeof(double));
    if (w.act_size == NULL)
        return TW_ERR_CAPACITY;
    draw_acts(&w);
    go(&w);
    const double temp_c = temp_at(&w, to_h), gone = to_h - from_h;
    write_columns(&w, temp_c, out);
    out->temp_set_c = temp_c;
    out->duty = w.at < settings ? setting[w.at].duty : from->duty;
    out->day_left_h = w.walk.day_left_h;
    out->days_drawn = from->days_drawn + w.walk.days;
    out->stirred_h = w.stirred_h;
    out->film_age_h += gone;
    out->unread_h = gone;
    age(&out->hours_since_dose, gone);
    age(&out->hours_since_any_dose, gone);
    age(&out->hours_since_bathers, gone);
    for (uint32_t i = 0; i < out->unwrittens; i++) {
        out->unwritten[i].from_h += gone;
        out->unwritten[i].until_h += gone;
    }
    return TW_OK;
}
