/* tests/estimate/sim_long.h: many weeks of one water that never was, and how it is cut. */
#ifndef TW_TESTS_SIM_LONG_H
#define TW_TESTS_SIM_LONG_H

#include "sim_tub.h"

/* A long water is cut where the estimator cuts it; what wears by the month has gone on by then. */
#define SIM_CUT_H (21.0 * 24.0)

static inline void sim_wear(sim_tub *s)
{
    const double months = SIM_CUT_H / 730.5;
#define SIM_WORN(what) (sqrt(months) * tw_estimate_drifts[what].a_month * sim_normal(&s->random))
    s->loss38 *= exp(SIM_WORN(TW_X_LOSS));
    s->factor *= exp(SIM_WORN(TW_CARRIED_CELL));
    s->rate *= exp(SIM_WORN(TW_X_DEMAND_RATE));
    s->fixed_x[TW_X_INFLOW] += SIM_WORN(TW_X_INFLOW);
    s->inflow = sim_prior(&s->problem.prior[TW_X_INFLOW], s->fixed_x[TW_X_INFLOW]);
    for (int i = 0; i < SIM_BIASES; i++)
        s->bias_x[i] += SIM_WORN(TW_CARRIED_BIAS);
#undef SIM_WORN
}

/* A start-up and the weeks after it: a strip a day, drops, pH and a chance of acid every third, salt and alkalinity every
 * tenth. Once in a while the generator is off for a day. */
static inline void sim_long(sim_tub *s, uint64_t seed, double days)
{
    sim_begin(s, seed);
    for (int i = 0; i < SIM_BIASES; i++)
        s->problem.bias_here[i] = s->problem.bias_name[i] = (uint64_t)i + 1;
    s->problem.product_here[0] = 1;
    const double said = sim_say_volume(s), nominal = said > 300.0 && said < 5000.0 ? said : 1250.0, end = 24.0 * days;
    sim_go(s, 6.0, said);
    s->problem.settings--;
    double last = sim_drops_fc(s), cut = SIM_CUT_H;
    for (int k = 0; s->t < end - 1e-9; k++) {
        double next = s->t + 24.0;
        next = next < end ? next : end;
        const double duty = last > 5.0 ? 0.4 : 1.0;
        const int off = k % 13 == 6 && last > 3.0;
        if (cut <= next) {
            sim_stretch(s, cut, off ? 0.0 : duty, 0.02, 38.0);
            sim_wear(s);
            cut += SIM_CUT_H;
        }
        sim_stretch(s, next, off ? 0.0 : duty, 0.02, 38.0);
        const double strip = sim_read(s, TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE, s->c, k % 3 == 2 ? SIM_LOT_B : SIM_LOT_A, 0.0, 0);
        if (k % 3 == 1) {
            last = sim_drops_fc(s);
            const double ph = sim_read(s, TW_TOOL_COMPARATOR, TW_OBSERVED_PH, sim_ph(s, s->temp, s->dic, s->alk, s->c), SIM_PH, 0.2, 0);
            if (ph > 7.9)
                sim_acid(s, 0.15 * nominal);
        }
        if (k % 10 == 9) {
            sim_read(s, TW_TOOL_METER, TW_OBSERVED_CONDUCTIVITY, sim_ec(s), SIM_EC, 1.0, 0);
            const double ta = sim_alk_reading(s, 0);
            if (ta < 50.0) { /* soda */
                tw_dose_event *d = sim_dose(s);
                d->mmol[TW_TOTAL_NA] = d->mmol[TW_TOTAL_DIC] = d->alk_meq = 0.6 * nominal;
                s->alk += 0.6 * nominal / s->water;
                s->dic += 0.6 * nominal / s->water;
                s->ionic += 0.5e-3 * 0.6 * nominal / s->nominal;
            }
        }
        if (strip <= 0.5 && last < 1.5)
            sim_chlorine(s, 3.0 * nominal);
    }
    s->problem.now_h = s->t;
    sim_setting(s, 38.0);
}

/* What of a water lies in from..until, as a problem that begins there (the last one holds its end). */
static inline void sim_piece(const tw_problem *all, double from, double until, tw_problem *out)
{
    const int last = until >= all->now_h;
    *out = *all;
    out->readings = out->doses = out->settings = 0;
    out->now_h = until - from;
    out->film_from_h = out->days_from_h = all->film_from_h > from ? all->film_from_h - from : 0.0;
#define SIM_IN(list, n)                                                                                     \
    for (size_t i = 0; i < all->n; i++)                                                                     \
        if (all->list[i].at_h >= from && (all->list[i].at_h < until || last)) {                             \
            out->list[out->n] = all->list[i];                                                               \
            out->list[out->n++].at_h -= from;                                                               \
        }
    SIM_IN(reading, readings)
    SIM_IN(dose, doses)
    for (size_t i = all->settings; from > 0.0 && out->settings == 0 && i-- > 0;)
        if (all->setting[i].at_h < from) { /* what was set still holds; it is warm by then */
            out->setting[out->settings] = all->setting[i];
            out->setting[out->settings].temp_c = all->setting[i].temp_end_c;
            out->setting[out->settings++].at_h = 0.0;
        }
    SIM_IN(setting, settings)
#undef SIM_IN
}

#endif
