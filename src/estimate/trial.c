/* estimate/trial.c: tests of rising length, each foretold by every member. */
#include "estimate/trial.h"

#include <string.h>

#include "estimate/instrument.h"
#include "estimate/walk.h"
#include "estimate/worth.h"

#define SURE 0.95
#define OUTCOMES 192

/* Hours off, and then on: a night, half a day, a day. */
static const double HOURS[] = {6.0, 9.0, 12.0, 18.0, 24.0, 36.0};
enum { LENGTHS = sizeof HOURS / sizeof *HOURS };

size_t tw_estimate_trial_bytes(size_t n)
{
    return tw_estimate_walk_bytes(n) + 4 * n * sizeof(double) + tw_estimate_worth_bytes(n) + 16 * TW_ARENA_ALIGN;
}

typedef struct {
    double *start, *off, *on, *weak; /* mg per kg; 1 where the cell is weak */
} foretold;

static void go(tw_walk *w, double hours, double duty)
{
    const double end = w->hour + hours;
    while (w->hour < end - 1e-9)
        tw_estimate_walk_on(w, end - w->hour < 1.0 ? end - w->hour : 1.0, duty, w->belief->temp_set_c);
}

static double share_below(const double *value, size_t n, double limit)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        count += value[i] < limit;
    return (double)count / (double)n;
}

/* Both ends of a test of so many hours. 0: the memory is too small. */
static int foretell(const tw_belief *b, double hours, tw_arena arena, foretold *f)
{
    tw_walk w;
    if (!tw_estimate_walk_start(&w, b, &arena))
        return 0;
    go(&w, hours, 0.0);
    memcpy(f->off, w.chlorine, b->n * sizeof(double));
    go(&w, hours, 1.0);
    memcpy(f->on, w.chlorine, b->n * sizeof(double));
    return 1;
}

static void note(const tw_belief *b, const foretold *f, double hours, double p_below, const tw_worth *found, double *scratch, tw_trial *out)
{
    out->hours = hours;
    out->p_below = p_below;
    out->p_decides = found->p_decides;
    out->p_wrong = found->p_wrong;
    for (size_t i = 0; i < b->n; i++)
        scratch[i] = f->off[i] * b->density_kg_per_l;
    out->off_mg_per_l = tw_estimate_spread(scratch, b->n, scratch + b->n);
    for (size_t i = 0; i < b->n; i++)
        scratch[i] = f->on[i] * b->density_kg_per_l;
    out->on_mg_per_l = tw_estimate_spread(scratch, b->n, scratch + b->n);
}

tw_status tw_estimate_trial(const tw_belief *b, int instrument, double step, void *mem, size_t bytes, tw_trial *out)
{
    tw_arena arena = {mem, bytes};
    const size_t size = b->n * sizeof(double);
    foretold f;
    memset(out, 0, sizeof *out);
    if (tw_estimate_instrument(instrument, TW_OBSERVED_FREE_CHLORINE) == NULL)
        return TW_ERR_UNKNOWN;
    f.start = b->column[TW_COLUMN_CHLORINE_MG_PER_KG];
    f.off = tw_arena_take(&arena, size);
    f.on = tw_arena_take(&arena, size);
    f.weak = tw_arena_take(&arena, size);
    void *work = tw_arena_take(&arena, tw_estimate_worth_bytes(b->n));
    if (work == NULL)
        return TW_ERR_CAPACITY;
    size_t weak = 0;
    for (size_t i = 0; i < b->n; i++) {
        f.weak[i] = b->column[TW_COLUMN_CELL_FACTOR][i] < TW_TRIAL_WEAK ? 1.0 : 0.0;
        weak += f.weak[i] > 0.5;
    }
    out->p_weak = (double)weak / (double)b->n;
    out->state = out->p_weak >= SURE || out->p_weak <= 1.0 - SURE ? TW_TRIAL_DECIDED : TW_TRIAL_TOO_LOW;
    const tw_worth_decision decision = {TW_WORTH_WHICH, f.weak, NULL, NULL, NULL, 72.0, 0.0};
    const tw_worth_test test = {instrument, TW_OBSERVED_FREE_CHLORINE, step, 3, {f.start, f.off, f.on, NULL}};
    for (int k = 0; k < LENGTHS && out->state != TW_TRIAL_DECIDED && out->p_decides < TW_TRIAL_GOOD; k++) {
        tw_worth found;
        if (!foretell(b, HOURS[k], arena, &f))
            return TW_ERR_CAPACITY;
        const double stop = TW_TRIAL_STOP_MG_PER_L / b->density_kg_per_l;
        const double off = share_below(f.off, b->n, stop), on = share_below(f.on, b->n, stop);
        if (off >= TW_TRIAL_STOP_P || on >= TW_TRIAL_STOP_P)
            break; /* longer ones leave less */
        const tw_status status = tw_estimate_worth(b, &decision, &test, OUTCOMES < b->n ? OUTCOMES : b->n, work, tw_estimate_worth_bytes(b->n), &found);
        if (status != TW_OK)
            return status;
        if (k == 0 || found.p_decides > out->p_decides)
            note(b, &f, HOURS[k], off > on ? off : on, &found, b->scratch, out);
        out->state = out->p_decides >= TW_TRIAL_LEAST ? TW_TRIAL_PROPOSED : TW_TRIAL_CANNOT;
    }
    return TW_OK;
}

tw_status tw_estimate_trial_foretell(const tw_belief *b, double hours, void *mem, size_t bytes, double *off, double *on)
{
    foretold f = {NULL, off, on, NULL};
    const tw_arena arena = {mem, bytes};
    return foretell(b, hours, arena, &f) ? TW_OK : TW_ERR_CAPACITY;
}
