/* estimate/held.c: the verdict on the hold, the duty to hand over, tests with the generator off. */
#include "estimate/explain.h"
#include "estimate/held.h"

#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/hocl.h"
#include "estimate/walk.h"
#include "num/elementary.h"
#include "num/require.h"

#define DAY7_H 168.0

size_t tw_estimate_held_bytes(size_t n)
{
    return tw_estimate_walk_bytes(n) + 6 * n * sizeof(double) + 16 * TW_ARENA_ALIGN;
}

/* Finely while what is in the water now is used up, then by thirds of the day: within one nothing turns, since loss and output
 * change from day to day, and nothing happens. The seventh day's end is a step's end. */
static double next_step(const tw_walk *w)
{
    const double rest = w->hour < DAY7_H - 1e-9 ? DAY7_H - w->hour : TW_HELD_HORIZON_H - w->hour;
    double step = w->hour < 12.0 - 1e-9 ? 1.0 : w->hour < 48.0 - 1e-9 ? 2.0 : 8.0;
    if (w->hour >= 48.0 - 1e-9 && w->day_left_h > 1e-6 && w->day_left_h < step)
        step = w->day_left_h;
    return step < rest ? step : rest;
}

/* What is noted of each member on the way. */
typedef struct {
    double *last_below;   /* last hour at which the generator's part was under the floor; -1 never */
    double *before;       /* the generator's part at the step before                               */
    double *holds_from;   /* hour from which it held for 7 days; TW_HELD_HORIZON_H not yet         */
    double *low7;         /* least of the generator's part over 7 days                             */
    double *high7;        /* most of it over 7 days                                                  */
} notes;

static void note(const tw_walk *w, notes *t, double step_h, double floor_mg)
{
    for (size_t i = 0; i < w->n; i++) {
        const double made = w->made[i];
        /* Where the floor is crossed upwards, the hour between two steps, on the straight line. */
        if (made >= floor_mg && t->last_below[i] >= 0.0 && t->before[i] < floor_mg)
            t->last_below[i] = w->hour - step_h * (made - floor_mg) / (made - t->before[i]);
        t->before[i] = made;
        if (made < floor_mg)
            t->last_below[i] = w->hour;
        else if (t->holds_from[i] >= TW_HELD_HORIZON_H && w->hour - t->last_below[i] >= DAY7_H)
            t->holds_from[i] = t->last_below[i] < 0.0 ? 0.0 : t->last_below[i];
        if (w->hour <= DAY7_H) {
            t->low7[i] = made < t->low7[i] ? made : t->low7[i];
            t->high7[i] = made > t->high7[i] ? made : t->high7[i];
        }
    }
}

static double share_where(const double *value, size_t n, double limit, int at_least)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        count += at_least ? value[i] >= limit : value[i] <= limit;
    return (double)count / (double)n;
}

static double first_order_loss_all(const tw_belief *b, size_t i)
{
    const double c = b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i];
    const double base = c > 1.0 ? c : 1.0;
    return b->column[TW_COLUMN_LOSS_NOW_PER_H][i] + b->column[TW_COLUMN_DEMAND_INFLOW][i] / base +
           b->column[TW_COLUMN_DEMAND_RATE][i] * b->column[TW_COLUMN_DEMAND_MG_PER_KG][i] * c / base;
}

static void causes(const tw_belief *b, tw_held *out)
{
    size_t weak = 0, thirsty = 0;
    for (size_t i = 0; i < b->n; i++) {
        weak += b->column[TW_COLUMN_CELL_FACTOR][i] < 0.5;
        thirsty += first_order_loss_all(b, i) > 0.035;
    }
    out->p_weak = (double)weak / (double)b->n;
    out->p_demand = (double)thirsty / (double)b->n;
}

static void present(const tw_belief *b, const tw_held_ask *ask, tw_held *out)
{
    const double per_l = b->density_kg_per_l;
    double *remnant = b->column[TW_COLUMN_REMNANT_MG_PER_KG];
    double *c = b->column[TW_COLUMN_CHLORINE_MG_PER_KG];
    out->chlorine_mg_per_l = tw_estimate_column_mg_per_l(b, TW_COLUMN_CHLORINE_MG_PER_KG);
    out->made_mg_per_l = tw_estimate_column_mg_per_l(b, TW_COLUMN_MADE_MG_PER_KG);
    out->remnant_mg_per_l = tw_estimate_column_mg_per_l(b, TW_COLUMN_REMNANT_MG_PER_KG);
    out->p_now = share_where(c, b->n, ask->floor_mg_per_l / per_l, 1);
    out->no_product_24h = b->hours_since_dose >= 24.0;
    for (uint32_t i = 0; i < b->unwrittens; i++)
        if (b->unwritten[i].act == TW_UNLOGGED_CHLORINE_POURED && b->unwritten[i].until_h < 24.0)
            out->p_unwritten_24h += b->unwritten[i].probability;
    out->trade_p = share_where(c, b->n, 3.0 / per_l, 1);
    out->trade_rule = out->no_product_24h && out->trade_p >= 0.5;
    out->remnant_p = 1.0 - share_where(remnant, b->n, 1.0 / per_l, 1);
    out->remnant_rule = out->no_product_24h && out->remnant_p >= TW_HELD_PROBABILITY &&
                        out->p_now >= TW_HELD_PROBABILITY;
    causes(b, out);
}

/* From which hour on it holds. */
static void tell_hours(const tw_walk *w, notes *t, double floor_mg, double *scratch, tw_held *out)
{
    size_t ever = 0;
    for (size_t i = 0; i < w->n; i++) {
        /* A member that stands over the floor at the end without having shown seven days yet. */
        if (t->holds_from[i] >= TW_HELD_HORIZON_H && w->made[i] >= floor_mg &&
            TW_HELD_HORIZON_H - t->last_below[i] >= 24.0)
            t->holds_from[i] = t->last_below[i] < 0.0 ? 0.0 : t->last_below[i];
        ever += t->holds_from[i] < TW_HELD_HORIZON_H;
    }
    const tw_spread hours = tw_estimate_spread(t->holds_from, w->n, scratch);
    out->p_hold_ever = (double)ever / (double)w->n;
    out->hours_q05 = hours.q05;
    out->hours_q50 = hours.q50;
    out->hours_q95 = hours.q95;
}

/* Share of the members in which a remnant of `one` or more is left. */
static double share_with_remnant(const tw_walk *w, double one)
{
    size_t left = 0;
    for (size_t i = 0; i < w->n; i++)
        left += w->chlorine[i] - w->made[i] >= one;
    return (double)left / (double)w->n;
}

/* As the forecast goes: nobody keeps the pH. Between two steps the share falls on a straight line. */
static double remnant_hours(const tw_belief *b, double duty, tw_arena arena)
{
    tw_walk w;
    tw_acid_constants acid;
    const double one = 1.0 / b->density_kg_per_l, gas = tw_estimate_gas_factor(b->temp_set_c); /* of an hour, at 20 C */
    const double few = 1.0 - TW_HELD_PROBABILITY;
    if (!tw_estimate_walk_start(&w, b, &arena))
        return TW_HELD_HORIZON_H;
    tw_estimate_acid_constants(b->temp_set_c, b->ionic_mol_per_kg, &acid);
    double was, share = share_with_remnant(&w, one), step_h = 0.0;
    for (was = share; share > few && w.hour < TW_HELD_HORIZON_H - 1e-9; share = share_with_remnant(&w, one)) {
        was = share;
        step_h = next_step(&w);
        tw_estimate_walk_on(&w, step_h, duty, b->temp_set_c);
        for (size_t first = 0; first < w.n; first += TW_ESTIMATE_LANES)
            tw_estimate_walk_carbon(&w, first, step_h, step_h * gas, 0.0, &acid, NULL, NULL);
    }
    return share > few || was <= few ? w.hour : w.hour - step_h * (few - share) / (was - share);
}

tw_status tw_estimate_held(const tw_belief *b, const tw_held_ask *ask, void *mem, size_t bytes,
                           tw_held *out)
{
    tw_arena arena = {mem, bytes};
    tw_walk w;
    notes t;
    memset(out, 0, sizeof *out);
    if (!(ask->floor_mg_per_l > 0.0) || ask->duty > 1.0)
        return TW_ERR_RANGE;
    if (!tw_estimate_walk_start(&w, b, &arena))
        return TW_ERR_CAPACITY;
    const size_t n = b->n, size = n * sizeof(double);
    t.last_below = tw_arena_take(&arena, size);
    t.before = tw_arena_take(&arena, size);
    t.holds_from = tw_arena_take(&arena, size);
    t.low7 = tw_arena_take(&arena, size);
    t.high7 = tw_arena_take(&arena, size);
    double *scratch = tw_arena_take(&arena, size);
    if (scratch == NULL)
        return TW_ERR_CAPACITY;
    for (size_t i = 0; i < n; i++) {
        t.last_below[i] = -1.0;
        t.before[i] = 0.0;
        t.holds_from[i] = TW_HELD_HORIZON_H;
        t.low7[i] = 1e300;
        t.high7[i] = -1e300;
    }
    const double per_l = b->density_kg_per_l, floor_mg = ask->floor_mg_per_l / per_l;
    out->duty = ask->duty < 0.0 ? b->duty : ask->duty;
    present(b, ask, out);
    /* Seven days beyond the horizon of interest would be needed to see a hold begin at its end. */
    const double until = ask->seven_days ? DAY7_H : TW_HELD_HORIZON_H;
    tw_estimate_walk_keep_ph(&w, TW_HOCL_PH_KEPT);
    note(&w, &t, 0.0, floor_mg);
    while (w.hour < until - 1e-9) {
        const double step_h = next_step(&w);
        tw_estimate_walk_on(&w, step_h, out->duty, b->temp_set_c);
        note(&w, &t, step_h, floor_mg);
    }
    if (!ask->seven_days)
        tell_hours(&w, &t, floor_mg, scratch, out);
    out->p_floor_7d = share_where(t.low7, n, floor_mg, 1);
    out->p_ceiling =
        ask->ceiling_mg_per_l > 0.0 ? share_where(t.high7, n, ask->ceiling_mg_per_l / per_l, 0) : 1.0;
    out->held = out->p_floor_7d >= TW_HELD_PROBABILITY && out->p_now >= TW_HELD_PROBABILITY &&
                out->p_ceiling >= TW_HELD_PROBABILITY && out->no_product_24h &&
                out->p_unwritten_24h <= 1.0 - TW_HELD_PROBABILITY;
    if (!ask->seven_days)
        out->remnant_hours_q95 = remnant_hours(b, out->duty, (tw_arena){mem, bytes});
    return TW_OK;
}

tw_spread tw_estimate_hours_to(const tw_belief *b, double level_mg_per_l)
{
    const double level = level_mg_per_l / b->density_kg_per_l;
    double *hours = b->scratch + b->n;
    for (size_t i = 0; i < b->n; i++) {
        /* What is in the water takes its share first; then loss and inflow: C' = -kC - b. */
        double c = b->column[TW_COLUMN_CHLORINE_MG_PER_KG][i] -
                   b->column[TW_COLUMN_DEMAND_MG_PER_KG][i];
        const double k = b->column[TW_COLUMN_LOSS_NOW_PER_H][i];
        const double steady = b->column[TW_COLUMN_DEMAND_INFLOW][i] / k;
        c = c > level ? c : level;
        hours[i] = tw_log((c + steady) / (level + steady)) / k;
    }
    return tw_estimate_spread(hours, b->n, b->scratch);
}
