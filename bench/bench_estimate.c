/* The estimate: a start-up folded whole, the same with fewer members, and what is asked of a belief. */
#include "bench.h"

#include <stdlib.h>

#include "estimate/forecast.h"
#include "estimate/held.h"
#include "estimate/sample.h"
#include "startup.h"

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
    const tw_held_ask ask = {.duty = -1.0, .floor_mg_per_l = 3.0, .ceiling_mg_per_l = 5.0};
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

static folded fold_of(const tw_problem *problem, tw_estimate_options options)
{
    folded f = {.problem = *problem, .options = options};
    const size_t n = (size_t)options.chains * options.keep;
    f.bytes = tw_estimate_sample_bytes(&options);
    f.work_bytes = tw_estimate_held_bytes(n) + tw_estimate_forecast_bytes(n, TW_FAN_HOURS);
    f.mem = malloc(f.bytes);
    f.work = malloc(f.work_bytes);
    if (f.mem == NULL || f.work == NULL)
        abort();
    return f;
}

static tw_problem plain, dense;
static folded whole, quick;

int main(void)
{
    startup_make(&plain, 8, 270.0, 0.0);
    startup_make(&dense, 8, 270.0, 3.7); /* a strip every few hours, as in a busy log */
    whole = fold_of(&plain, tw_estimate_options_default());
    bench_ms("estimate_ten_days", refold, &whole);
    bench_ms("estimate_held", verdict, &whole);
    bench_ms("estimate_forecast_week", week, &whole);
    quick = fold_of(&plain, tw_estimate_options_quick());
    bench_ms("estimate_ten_days_quick", refold, &quick);
    whole.problem = dense;
    bench_ms("estimate_ten_days_120", refold, &whole);
    return 0;
}
