/* estimate/forecast.c: the fan. */
#include "estimate/forecast.h"

#include <math.h>
#include <string.h>

#include "estimate/carbonate.h"
#include "estimate/walk.h"
#include "num/bytes.h"
#include "num/elementary.h"
#include "num/print.h"
#include "num/sha256.h"

size_t tw_estimate_forecast_bytes(size_t n, uint32_t hours)
{
    (void)hours; /* every hour is summed up before the next */
    return tw_estimate_walk_bytes(n) + 4 * n * sizeof(double) + 16 * TW_ARENA_ALIGN;
}

tw_schedule tw_estimate_schedule_same(const tw_belief *b)
{
    tw_schedule s;
    memset(&s, 0, sizeof s);
    s.settings = 1;
    s.duty[0] = b->duty;
    s.temp_c[0] = b->temp_set_c;
    return s;
}

static int plan_is_good(const tw_schedule *p, uint32_t hours)
{
    if (hours < 1 || hours > TW_FAN_HOURS || p->settings < 1 || p->settings > TW_PLAN_STEPS ||
        p->doses > TW_PLAN_DOSES || p->bathers > TW_PLAN_DOSES || p->set_hour[0] != 0)
        return 0;
    for (size_t i = 0; i < p->settings; i++)
        if ((i > 0 && p->set_hour[i] <= p->set_hour[i - 1]) ||
            !(p->duty[i] >= 0.0 && p->duty[i] <= 1.0 && p->jets[i] >= 0.0 && p->jets[i] <= 1.0 &&
              p->temp_c[i] >= 0.0 && p->temp_c[i] <= 45.0))
            return 0;
    return 1;
}

static void note_hour(const tw_walk *w, uint32_t hour, double *value, double *scratch,
                      const double *ph, tw_fan *out)
{
    const double per_l = w->belief->density_kg_per_l;
    const size_t n = w->n;
    for (size_t i = 0; i < n; i++)
        value[i] = w->chlorine[i] * per_l;
    out->chlorine[hour] = tw_estimate_spread(value, n, scratch);
    for (size_t i = 0; i < n; i++)
        value[i] = w->made[i] * per_l;
    out->made[hour] = tw_estimate_spread(value, n, scratch);
    for (size_t i = 0; i < n; i++) {
        const double r = w->chlorine[i] - w->made[i];
        value[i] = (r > 0.0 ? r : 0.0) * per_l;
    }
    out->remnant[hour] = tw_estimate_spread(value, n, scratch);
    out->ph[hour] = tw_estimate_spread(ph, n, scratch);
}

static void seal_fan(tw_fan *f)
{
    tw_sha256_state h;
    const tw_spread *series[4] = {f->chlorine, f->made, f->remnant, f->ph};
    tw_sha256_init(&h);
    for (int s = 0; s < 4; s++)
        for (uint32_t t = 0; t <= f->hours; t++) {
            const double q[5] = {series[s][t].q05, series[s][t].q25, series[s][t].q50,
                                 series[s][t].q75, series[s][t].q95};
            for (int i = 0; i < 5; i++) {
                uint8_t bytes[8];
                (void)tw_put_double(bytes, q[i]);
                tw_sha256_update(&h, bytes, sizeof bytes);
            }
        }
    tw_sha256_final(&h, f->digest);
}

void tw_estimate_forecast_name(const tw_belief *b, const tw_schedule *p, uint32_t hours, uint8_t name[32])
{
    tw_print print;
    tw_sha256_state h;
    uint8_t of_plan[TW_SHA256_BYTES];
    const double counts[] = {(double)hours, (double)p->settings, (double)p->doses, (double)p->bathers};
    tw_print_init(&print);
    tw_print_doubles(&print, counts, sizeof counts / sizeof *counts);
    for (size_t i = 0; i < p->settings; i++) {
        const double x[] = {(double)p->set_hour[i], p->duty[i], p->temp_c[i], p->jets[i]};
        tw_print_doubles(&print, x, sizeof x / sizeof *x);
    }
    for (size_t i = 0; i < p->doses; i++) {
        const double x[] = {(double)p->dose[i].hour, p->dose[i].chlorine_mg, p->dose[i].alk_meq, p->dose[i].dic_mmol};
        tw_print_doubles(&print, x, sizeof x / sizeof *x);
    }
    for (size_t i = 0; i < p->bathers; i++) {
        const double x[] = {(double)p->bather[i].hour, p->bather[i].person_h};
        tw_print_doubles(&print, x, sizeof x / sizeof *x);
    }
    tw_print_final(&print, of_plan);
    tw_sha256_init(&h);
    tw_sha256_update(&h, b->digest, sizeof b->digest);
    tw_sha256_update(&h, of_plan, sizeof of_plan);
    tw_sha256_final(&h, name);
}

static void take_acts(tw_walk *w, const tw_schedule *p, uint32_t hour, double *extra_alk)
{
    for (size_t i = 0; i < p->doses; i++)
        if (p->dose[i].hour == hour) {
            tw_estimate_walk_dose(w, p->dose[i].chlorine_mg);
            for (size_t k = 0; k < w->n; k++) {
                const double kg = w->belief->column[TW_COLUMN_WATER_KG][k];
                extra_alk[k] += (p->dose[i].alk_meq - p->dose[i].chlorine_mg / TW_MG_PER_MMOL_CL2) / kg;
                w->dic[k] += p->dose[i].dic_mmol / kg;
            }
        }
    for (size_t i = 0; i < p->bathers; i++)
        if (p->bather[i].hour == hour)
            tw_estimate_walk_bathers(w, p->bather[i].person_h);
}

tw_status tw_estimate_forecast(const tw_belief *b, const tw_schedule *plan, uint32_t hours, void *mem,
                               size_t bytes, tw_fan *out)
{
    tw_arena arena = {mem, bytes};
    tw_walk w;
    memset(out, 0, sizeof *out);
    if (!plan_is_good(plan, hours))
        return TW_ERR_RANGE;
    if (!tw_estimate_walk_start(&w, b, &arena))
        return TW_ERR_CAPACITY;
    const size_t size = b->n * sizeof(double);
    double *ph = tw_arena_take(&arena, size), *extra_alk = tw_arena_take(&arena, size);
    double *value = tw_arena_take(&arena, size), *scratch = tw_arena_take(&arena, size);
    if (scratch == NULL)
        return TW_ERR_CAPACITY;
    for (size_t i = 0; i < b->n; i++)
        extra_alk[i] = 0.0;
    out->hours = hours;
    size_t at = 0;
    double acid_temp_c = -1e9, gas = 1.0;
    tw_acid_constants acid;
    memset(&acid, 0, sizeof acid);
    for (uint32_t t = 0; t <= hours; t++) {
        if (t > 0)
            tw_estimate_walk_on(&w, 1.0, plan->duty[at], plan->temp_c[at]);
        const double temp_c = plan->temp_c[at], jets = plan->jets[at];
        if (fabs(temp_c - acid_temp_c) > 1e-9) {
            tw_estimate_acid_constants(temp_c, b->ionic_mol_per_kg, &acid);
            gas = tw_estimate_gas_factor(temp_c);
            acid_temp_c = temp_c;
        }
        take_acts(&w, plan, t, extra_alk);
        const double h = t > 0 ? gas : 0.0; /* of an hour, at 20 C */
        for (size_t first = 0; first < b->n; first += TW_ESTIMATE_LANES)
            tw_estimate_walk_carbon(&w, first, t > 0 ? 1.0 : 0.0, h * (1.0 - jets), h * jets, &acid, extra_alk, ph);
        note_hour(&w, t, value, scratch, ph, out);
        while (at + 1 < plan->settings && plan->set_hour[at + 1] <= t)
            at++;
    }
    seal_fan(out);
    return TW_OK;
}
