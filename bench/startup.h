/* bench/startup.h: a start-up of fixed readings.
 *
 * Nothing of the estimator's laws is in it but how an instrument's reading is put: chlorine falls and is made by Euler's
 * rule in steps of three minutes, carbon dioxide leaves towards the air's, and every number is rounded to what the kit
 * shows. So the same seed gives the same entries however the model changes, and times before and after compare. */
#ifndef TW_BENCH_STARTUP_H
#define TW_BENCH_STARTUP_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "estimate/events.h"
#include "estimate/instrument.h"

#define STARTUP_STEP_H 0.05

typedef struct {
    tw_problem *p;
    uint64_t random;
    double t, duty, jets;
    double water, loss, film, film_h, output, inflow, rate; /* kg; 1/h; 1/h; h; mg/h; mg/kg/h; kg/mg/h */
    double c, demand, alk, co2, cl, heap;                   /* mg/kg, mg/kg; meq, mmol, mmol/kg; mmol/kg on the floor */
    double off[4];                                          /* of two bottles, the pH scale, the meter: sd of each */
} startup;

enum { STARTUP_BOTTLE, STARTUP_OTHER_BOTTLE, STARTUP_PH, STARTUP_METER, STARTUP_BIASES };

static inline double startup_uniform(startup *s)
{
    s->random += UINT64_C(0x9E3779B97F4A7C15); /* splitmix64 */
    uint64_t z = s->random;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return ((double)((z ^ (z >> 31)) >> 12) + 0.5) * 0x1p-52;
}

/* Near enough to a normal: the sum of twelve uniforms. */
static inline double startup_normal(startup *s)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++)
        sum += startup_uniform(s);
    return sum;
}

static inline double startup_even(startup *s, double low, double high) { return low + (high - low) * startup_uniform(s); }

static inline void startup_on(startup *s, double until)
{
    while (s->t < until - 1e-9) {
        const double h = until - s->t < STARTUP_STEP_H ? until - s->t : STARTUP_STEP_H;
        const double used = s->rate * s->c * s->demand, age = s->t - 30.0;
        const double k = s->loss + (age >= 0.0 ? s->film * exp(-age / s->film_h) : 0.0);
        const double gone = s->heap * (s->jets > 0.5 ? 0.8 : 0.2) * h;
        s->c += h * (s->output * s->duty / s->water - k * s->c - used);
        s->demand += h * ((age >= 0.0 ? s->inflow : 0.0) - used);
        s->c = s->c > 0.0 ? s->c : 0.0;
        s->demand = s->demand > 0.0 ? s->demand : 0.0;
        s->co2 += h * (0.04 + 3.0 * s->jets) * (0.012 - s->co2) * 0.3;
        s->heap -= gone;
        s->cl += gone;
        s->t += h;
    }
}

/* duty and jets (their share of the time) until then. */
static inline void startup_stretch(startup *s, double until, double duty, double jets, double temp_c, double temp_end_c)
{
    tw_setting_event *e = &s->p->setting[s->p->settings++];
    memset(e, 0, sizeof *e);
    s->duty = duty;
    s->jets = jets;
    e->at_h = s->t;
    e->duty = duty;
    e->stirred = jets > 0.5 ? 5.0 : 1.0;
    e->still = 1.0 - jets;
    e->jets = jets;
    e->temp_c = temp_c;
    e->temp_end_c = temp_end_c;
    startup_on(s, until);
}

static inline tw_dose_event *startup_dose(startup *s)
{
    tw_dose_event *d = &s->p->dose[s->p->doses++];
    startup_on(s, s->t + 1.0 / 60.0); /* after what was read */
    memset(d, 0, sizeof *d);
    d->at_h = s->t;
    d->product = -1;
    return d;
}

static inline void startup_chlorine(startup *s, double mg)
{
    tw_dose_event *d = startup_dose(s);
    const double mmol = mg / 70.906;
    d->mmol[TW_TOTAL_ACTIVE_CHLORINE] = d->mmol[TW_TOTAL_CL] = d->alk_meq = mmol;
    d->mmol[TW_TOTAL_NA] = 2.0 * mmol;
    d->product = 0;
    s->c += mg / s->water;
    s->cl += 2.0 * mmol / s->water;
}

/* What somebody types, in the kit's units; one digit or drop is `step`, a strip's comes off its blocks. */
static inline void startup_read(startup *s, int tool, int observed, double typed, double step, int bias, int source)
{
    tw_written_reading w;
    tw_reading *r = &s->p->reading[s->p->readings];
    double bias_sd = 0.0;
    memset(&w, 0, sizeof w);
    w.instrument = tool;
    w.observed = observed;
    w.written = TW_WRITTEN_VALUE;
    w.value = typed;
    w.step = step;
    w.dilution = w.density_kg_per_l = 1.0;
    w.decimals = 6;
    if (tw_estimate_reading(&w, r, &bias_sd) != TW_OK)
        return;
    r->at_h = s->t;
    r->source = source;
    r->temp_c = source ? 12.0 : 38.0;
    r->entry = (uint32_t)s->p->readings++;
    if (bias >= 0) {
        r->bias = bias;
        s->p->bias_sd[bias] = bias_sd;
    }
}

static inline double startup_rounded(double value, double step) { return step * floor((value > 0.0 ? value : 0.0) / step + 0.5); }

static inline void startup_strip(startup *s, int bottle)
{
    static const double BLOCK[] = {0.0, 0.5, 1.0, 3.0, 5.0, 10.0, 20.0};
    const double seen = log(s->c + 0.125) + 0.15 * s->off[bottle] + 0.25 * startup_normal(s);
    size_t at = 0;
    for (size_t i = 1; i < sizeof BLOCK / sizeof *BLOCK; i++)
        at = fabs(log(BLOCK[i] + 0.125) - seen) < fabs(log(BLOCK[at] + 0.125) - seen) ? i : at;
    startup_read(s, TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE, BLOCK[at], 0.0, bottle, 0);
}

static inline double startup_drops(startup *s)
{
    const double n = ceil(s->c / 0.2 + 0.5 * startup_normal(s)), typed = n > 0.0 ? 0.2 * n : 0.0;
    startup_read(s, TW_TOOL_DROPS, TW_OBSERVED_FREE_CHLORINE, typed, 0.2, -1, 0);
    return typed;
}

static inline void startup_ph(startup *s, int source)
{
    const double ph = 6.33 + 0.434294 * log(s->alk / s->co2);
    startup_read(s, TW_TOOL_COMPARATOR, TW_OBSERVED_PH, startup_rounded(ph + 0.08 * s->off[STARTUP_PH] + 0.1 * startup_normal(s), 0.2), 0.2,
                 STARTUP_PH, source);
}

static inline double startup_alkalinity(startup *s, int source)
{
    const double typed = startup_rounded(50.04 * s->alk * (1.0 + 0.03 * startup_normal(s)) + 10.0 * startup_uniform(s), 10.0);
    startup_read(s, TW_TOOL_DROPS, TW_OBSERVED_ALKALINITY, typed, 10.0, -1, source);
    return typed;
}

static inline void startup_meter(startup *s, double hard, int source)
{
    const double truth = 85.0 * s->alk + 18.0 * hard + 13.0 + (126.0 - 1.5 * sqrt(s->cl)) * s->cl + 15.0;
    startup_read(s, TW_TOOL_METER, TW_OBSERVED_CONDUCTIVITY,
                 startup_rounded(truth * exp(0.01 * s->off[STARTUP_METER] + 0.005 * startup_normal(s)), 1.0), 1.0, STARTUP_METER, source);
}

static inline double startup_volume(startup *s)
{
    tw_reading *v = &s->p->reading[s->p->readings++];
    const double said = s->water * exp(0.08 * startup_normal(s));
    memset(v, 0, sizeof *v);
    v->observed = TW_OBSERVED_WATER;
    v->link = TW_LINK_LN;
    v->value = log(said);
    v->sd = 0.085;
    v->rubbish = 0.02;
    v->span = 4.0;
    v->bias = -1;
    v->bleach_low = 1e308;
    return said;
}

/* The tub, the hose, salt, and at 30 hours the first chlorine. Returns litres as said. */
static inline double startup_begin(startup *s, tw_problem *p, uint64_t seed)
{
    memset(s, 0, sizeof *s);
    s->p = p;
    s->random = seed * UINT64_C(0xD1342543DE82EF95) + 1;
    tw_estimate_problem_init(p, TW_WATER_FRESH);
    p->biases = STARTUP_BIASES;
    p->products = 1;
    p->product_sd[0] = 0.1;
    p->film_from_h = p->days_from_h = 30.0;
    s->water = startup_even(s, 800.0, 1700.0);
    s->loss = startup_even(s, 0.008, 0.022);
    s->film = startup_even(s, 0.0, 0.03);
    s->film_h = startup_even(s, 12.0, 40.0);
    s->output = startup_even(s, 60.0, 170.0);
    s->inflow = startup_even(s, 0.0, 0.01);
    s->rate = startup_even(s, 0.03, 0.3);
    s->demand = startup_even(s, 0.5, 3.0);
    s->alk = startup_even(s, 1.2, 4.0);
    s->co2 = startup_even(s, 0.08, 0.25);
    s->cl = startup_even(s, 0.4, 1.5);
    s->c = 0.1;
    for (int i = 0; i < STARTUP_BIASES; i++)
        s->off[i] = startup_normal(s);
    const double said = startup_volume(s), hard = startup_even(s, 0.6, 3.0);
    startup_ph(s, 1);
    const double ta = startup_alkalinity(s, 1);
    startup_read(s, TW_TOOL_DROPS, TW_OBSERVED_HARDNESS, startup_rounded(100.09 * hard, 10.0), 10.0, -1, 1);
    startup_meter(s, hard, 1);
    startup_stretch(s, 14.0, 0.0, 0.0, 12.0, 37.0);
    if (ta > 110.0) {
        tw_dose_event *d = startup_dose(s);
        d->mmol[TW_TOTAL_CL] = (ta - 90.0) / 50.04 * said;
        d->alk_meq = -d->mmol[TW_TOTAL_CL];
        s->alk += d->alk_meq / s->water;
        s->co2 -= d->alk_meq / s->water;
        s->cl -= d->alk_meq / s->water;
    }
    startup_stretch(s, 16.0, 0.0, 0.9, 37.0, 38.0);
    startup_ph(s, 0);
    (void)startup_alkalinity(s, 0);
    startup_stretch(s, 20.0, 0.0, 0.02, 38.0, 38.0);
    tw_dose_event *d = startup_dose(s);
    d->mmol[TW_TOTAL_CL] = d->mmol[TW_TOTAL_NA] = 1600.0 * said / 58.443;
    d->solid_salt = 1;
    s->heap = d->mmol[TW_TOTAL_CL] / s->water;
    startup_stretch(s, 21.0, 0.0, 0.9, 38.0, 38.0);
    startup_stretch(s, 30.0, 0.0, 0.02, 38.0, 38.0);
    startup_meter(s, hard, 0);
    return said;
}

/* A start-up with so many hours from fill to now; between the entries of a careful person's two visits a day, strips every
 * so many hours until 120 readings are there (0: none). */
static inline void startup_make(tw_problem *p, uint64_t seed, double hours, double strip_every_h)
{
    startup s;
    const double said = startup_begin(&s, p, seed);
    double next_strip = 34.0, duty = 1.0;
    startup_chlorine(&s, 5.0 * said);
    startup_stretch(&s, 30.25, 0.0, 0.9, 38.0, 38.0);
    (void)startup_drops(&s);
    startup_stretch(&s, 32.0, 0.0, 0.02, 38.0, 38.0);
    double last = startup_drops(&s), visit = 42.0;
    for (int k = 0; s.t < hours - 1e-9; visit += 12.0, k++) {
        startup_stretch(&s, s.t, k == 8 && last > 3.0 ? 0.0 : duty, 0.02, 38.0, 38.0);
        for (; strip_every_h > 0.0 && next_strip < visit && next_strip < hours && p->readings < 120; next_strip += strip_every_h) {
            startup_on(&s, next_strip);
            startup_strip(&s, STARTUP_BOTTLE);
        }
        startup_on(&s, visit < hours ? visit : hours);
        startup_strip(&s, k % 3 == 2 ? STARTUP_OTHER_BOTTLE : STARTUP_BOTTLE);
        if (k % 2 == 1) {
            last = startup_drops(&s);
            startup_ph(&s, 0);
        }
        duty = last > 5.0 ? 0.4 : 1.0;
        if (last < 1.0)
            startup_chlorine(&s, 3.0 * said);
        if (k == 5)
            (void)startup_alkalinity(&s, 0);
    }
    p->now_h = s.t;
    startup_stretch(&s, s.t, duty, 0.02, 38.0, 38.0);
}

#endif
