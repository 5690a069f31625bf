/* One hash of a sampled belief and its forecast: the longest chain of dependent arithmetic in the
 * core, where one bit at the start becomes another advice at the end. See same_num.c. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "estimate/belief.h"
#include "estimate/events.h"
#include "estimate/forecast.h"
#include "estimate/sample.h"
#include "num/elementary.h"
#include "num/elementary_inline.h"
#include "num/sha256.h"

static tw_sha256_state hash;
static uint64_t results;

static void add(double x)
{
    const uint64_t word = x == x ? tw_bits_of(x) : UINT64_C(0x7FF8000000000000);
    uint8_t bytes[8];
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)(word >> (8 * i));
    tw_sha256_update(&hash, bytes, sizeof bytes);
    results++;
}

static tw_reading *reading(tw_problem *p, double at_h, int observed)
{
    tw_reading *r = &p->reading[p->readings++];
    memset(r, 0, sizeof *r);
    r->at_h = at_h;
    r->observed = observed;
    r->form = TW_FORM_VALUE;
    r->bias = -1;
    r->rubbish = 0.02;
    r->span = 20.0;
    r->low = -1e308;
    r->high = r->bleach_low = 1e308;
    r->temp_c = 15.0;
    r->entry = (uint32_t)p->readings;
    return r;
}

static void value(tw_problem *p, double at_h, int observed, double at, double sd)
{
    tw_reading *r = reading(p, at_h, observed);
    r->value = at;
    r->sd = sd;
}

/* A strip's block, low..high on a logarithmic scale. */
static void block(tw_problem *p, double at_h, int observed, double low, double high)
{
    tw_reading *r = reading(p, at_h, observed);
    r->form = TW_FORM_INTERVAL;
    r->link = TW_LINK_LN;
    r->offset = 0.1;
    r->low = tw_log(low + r->offset);
    r->high = tw_log(high + r->offset);
    r->sd = 0.2;
    r->span = 6.0;
}

static void setting(tw_problem *p, double at_h, double duty, double jets)
{
    tw_setting_event *s = &p->setting[p->settings++];
    memset(s, 0, sizeof *s);
    s->at_h = at_h;
    s->duty = duty;
    s->stirred = 1.0;
    s->still = 1.0 - jets;
    s->jets = jets;
    s->temp_c = s->temp_end_c = 37.0;
}

static void dose(tw_problem *p, double at_h, double chlorine_mg)
{
    tw_dose_event *d = &p->dose[p->doses++];
    memset(d, 0, sizeof *d);
    d->at_h = at_h;
    d->mmol[TW_TOTAL_ACTIVE_CHLORINE] = d->mmol[TW_TOTAL_CL] = chlorine_mg / 70.906;
    d->alk_meq = chlorine_mg / 70.906;
    d->product = -1;
}

/* Five days: a dose, the generator at two duties, drops, strips and a meter. */
static void tell(tw_problem *p)
{
    tw_estimate_problem_init(p, TW_WATER_FRESH);
    p->now_h = 120.0;
    setting(p, 0.0, 0.0, 0.0);
    setting(p, 10.0, 0.5, 0.0);
    setting(p, 60.0, 0.8, 0.1);
    setting(p, 61.0, 0.8, 0.0);
    dose(p, 2.0, 5000.0);
    dose(p, 30.0, 2500.0);
    value(p, 1.0, TW_OBSERVED_PH, 7.6, 0.1);
    value(p, 1.0, TW_OBSERVED_ALKALINITY, 1.9, 0.1);
    value(p, 1.2, TW_OBSERVED_CALCIUM, 1.1, 0.1);
    value(p, 3.0, TW_OBSERVED_FREE_CHLORINE, 3.1, 0.2);
    value(p, 9.0, TW_OBSERVED_FREE_CHLORINE, 2.0, 0.2);
    value(p, 26.0, TW_OBSERVED_CONDUCTIVITY, 4200.0, 80.0);
    for (int day = 1; day < 5; day++) {
        block(p, 24.0 * day + 5.0, TW_OBSERVED_FREE_CHLORINE, 1.0, 3.0);
        block(p, 24.0 * day + 5.0, TW_OBSERVED_CYANURATE, 5.0, 30.0);
        value(p, 24.0 * day + 6.0, TW_OBSERVED_FREE_CHLORINE, 2.2 + 0.2 * day, 0.2);
        value(p, 24.0 * day + 6.0, TW_OBSERVED_PH, 7.4 + 0.05 * day, 0.1);
    }
}

static void foretell(tw_belief *belief)
{
    enum { HOURS = 72 };
    static tw_fan fan;
    const size_t bytes = tw_estimate_forecast_bytes(belief->n, HOURS);
    void *mem = malloc(bytes);
    if (!mem)
        abort();
    const tw_schedule schedule = tw_estimate_schedule_same(belief);
    const tw_status status = tw_estimate_forecast(belief, &schedule, HOURS, mem, bytes, &fan);
    if (status != TW_OK) {
        fprintf(stderr, "no forecast: %s\n", tw_status_text(status));
        exit(1);
    }
    tw_sha256_update(&hash, fan.digest, sizeof fan.digest);
    for (int hour = 0; hour <= HOURS; hour++) {
        add(fan.chlorine[hour].q05);
        add(fan.made[hour].q50);
        add(fan.remnant[hour].q95);
        add(fan.ph[hour].q50);
    }
    free(mem);
}

int main(void)
{
    static tw_problem problem;
    tw_sha256_init(&hash);
    tell(&problem);
    const tw_estimate_options options = tw_estimate_options_quick();
    const size_t bytes = tw_estimate_sample_bytes(&options);
    void *mem = malloc(bytes);
    if (!mem)
        abort();
    tw_belief belief;
    const tw_status status = tw_estimate_sample(&problem, 42, 0, &options, mem, bytes, &belief);
    if (status != TW_OK) {
        fprintf(stderr, "no belief: %s\n", tw_status_text(status));
        return 1;
    }
    for (size_t i = 0; i < (TW_COLUMNS + TW_TOTALS) * belief.n; i++)
        add(belief.block[i]);
    add(belief.acceptance);
    foretell(&belief);
    free(mem);
    uint8_t digest[TW_SHA256_BYTES];
    char hex[TW_SHA256_HEX];
    tw_sha256_final(&hash, digest);
    tw_sha256_hex(digest, hex);
    printf("estimate %s %lu results\n", hex, (unsigned long)results);
    return 0;
}
