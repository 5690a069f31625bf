/* The estimate: a start-up folded whole, the same with fewer members, and what is asked of a belief. */
#include "bench.h"

#include <stdlib.h>

#include "../tests/estimate/sim_tub.h"
#include "estimate/forecast.h"
#include "estimate/held.h"
#include "estimate/sample.h"

typedef struct {
    tw_problem problem;
    tw_estimate_options options;
    void *mem;
    size_t bytes;
    tw_belief belief;
    void *work;
    size_t work_bytes;
} folded;

static double refold(void *data, uint64_t rounds)
{
    folded *f = data;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        if (tw_estimate_sample(&f->problem, 1, 0, &f->options, f->mem, f->bytes, &f->belief) != TW_OK)
            abort();
        sum += f->belief.acceptance;
    }
    return sum;
}

static double verdict(void *data, uint64_t rounds)
{
    folded *f = data;
    const tw_held_ask ask = {-1.0, 3.0, 5.0};
    tw_held h;
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        if (tw_estimate_held(&f->belief, &ask, f->work, f->work_bytes, &h) != TW_OK)
            abort();
        sum += h.p_floor_7d;
    }
    return sum;
}

static tw_fan fan;

static double week(void *data, uint64_t rounds)
{
    folded *f = data;
    const tw_schedule same = tw_estimate_schedule_same(&f->belief);
    double sum = 0.0;
    for (uint64_t i = 0; i < rounds; i++) {
        if (tw_estimate_forecast(&f->belief, &same, 168, f->work, f->work_bytes, &fan) != TW_OK)
            abort();
        sum += fan.chlorine[168].q50;
    }
    return sum;
}

/* Make a ten-day start-up denser: a strip every three hours from the chlorine on, as in a busy log. */
static void add_strips(sim_tub *tub)
{
    tw_problem *p = &tub->problem;
    const tw_reading *like = NULL;
    for (size_t i = 0; i < p->readings; i++)
        if (p->reading[i].observed == TW_OBSERVED_FREE_CHLORINE && p->reading[i].bias == SIM_LOT_A)
            like = &p->reading[i];
    for (double t = 34.0; like != NULL && t < p->now_h && p->readings < 120; t += 3.7) {
        p->reading[p->readings] = *like;
        p->reading[p->readings].at_h = t;
        p->readings++;
    }
}

static folded fold_of(const sim_tub *tub, tw_estimate_options options)
{
    folded f = {.problem = tub->problem, .options = options};
    const size_t n = (size_t)options.chains * options.keep;
    f.bytes = tw_estimate_sample_bytes(&options);
    f.work_bytes = tw_estimate_held_bytes(n) + tw_estimate_forecast_bytes(n, TW_FAN_HOURS);
    f.mem = malloc(f.bytes);
    f.work = malloc(f.work_bytes);
    if (f.mem == NULL || f.work == NULL)
        abort();
    return f;
}

static sim_tub tub;
static folded whole, quick;

int main(void)
{
    sim_start_up(&tub, 8, 10.0);
    whole = fold_of(&tub, tw_estimate_options_default());
    bench_ms("estimate_ten_days", refold, &whole);
    bench_ms("estimate_held", verdict, &whole);
    bench_ms("estimate_forecast_week", week, &whole);
    quick = fold_of(&tub, tw_estimate_options_quick());
    bench_ms("estimate_ten_days_quick", refold, &quick);
    add_strips(&tub);
    whole.problem = tub.problem;
    bench_ms("estimate_ten_days_120", refold, &whole);
    return 0;
}
