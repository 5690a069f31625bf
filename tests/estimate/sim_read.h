/* tests/estimate/sim_read.h: what is read in the water of sim_water.h, with the noise of data/instruments.csv. */
#ifndef TW_TESTS_SIM_READ_H
#define TW_TESTS_SIM_READ_H

#include "estimate/instrument.h"
#include "gen/estimate_tables.h"
#include "gen/tail_tables.h"
#include "sim_water.h"

/* How far a bottle or instrument is off, in its sd, of a standard normal (data/tails.csv). */
static inline double sim_off(double z)
{
    return z * (1.0 + TW_TAIL_BOTTLE_OFF * (z * z - 2.705543454));
}

/* One reading: with noise by the instrument's row, written down as a person would. bias < 0: none.
 * Returns the value as typed. */
static inline double sim_read(sim_tub *s, int tool, int observed, double truth_inside, int bias,
                              double step, int source)
{
    const tw_instrument_row *row = tw_estimate_instrument(tool, observed);
    const double to_inside = tw_estimate_inside_factor(observed, 1.0);
    const int shows = observed != TW_OBSERVED_FREE_CHLORINE && observed != TW_OBSERVED_PH;
    double truth = (shows ? truth_inside / (1.0 - s->low) : truth_inside) / to_inside;
    const double b = bias >= 0 ? sim_off(s->bias_x[bias]) * row->bias_sd : 0.0;
    const double noise = sim_normal(&s->random);
    const int rubbish = sim_uniform(&s->random) < 0.02;
    const double where = sim_uniform(&s->random);
    double typed = 0.0;
    if (s->wrong == SIM_WILD_READINGS && observed == TW_OBSERVED_FREE_CHLORINE && sim_uniform(&s->random) < 0.2)
        truth *= sim_uniform(&s->random) < 0.5 ? 4.0 : 0.25;
    if (row->model == TW_ERROR_BLOCKS) {
        const double least = 0.25 * (row->block[0] > 0.0 ? row->block[0] : row->block[1]);
        const int ln_scale = row->sd_rel > 0.0;
        const double off = ln_scale ? least : 0.0;
        const double seen = ln_scale ? log(truth + off) + b + row->sd_rel * noise
                                     : truth + b + row->sd_abs * noise;
        double best = 1e300;
        size_t at = 0;
        for (size_t i = 0; i < row->blocks; i++) {
            const double gap = fabs((ln_scale ? log(row->block[i] + off) : row->block[i]) - seen);
            if (gap < best) {
                best = gap;
                at = i;
            }
        }
        if (ln_scale && row->bleach > 0.0 &&
            log(truth + off) + b + row->sd_rel * sim_normal(&s->random) > log(row->bleach + off))
            at = 0;
        if (rubbish)
            at = (size_t)(where * (double)row->blocks);
        typed = row->block[at];
    } else if (row->model == TW_ERROR_DROPS) {
        const double one = row->sd_rel > 0.0 ? 0.6 : 0.5, rel = row->sd_rel * truth;
        const double sd = sqrt(one * step * one * step + rel * rel);
        double n = ceil((truth + sd * noise) / step);
        n = n < 0.0 ? 0.0 : n;
        if (rubbish)
            n = floor(where * row->high / step);
        typed = n * step;
    } else if (row->sd_rel > 0.0) {
        const double off = row->sd_abs / row->sd_rel;
        double x = exp(log(truth + off) + b + row->sd_rel * noise) - off;
        if (rubbish)
            x = exp(log(row->low + off) + where * log((row->high + off) / (row->low + off))) - off;
        typed = step * floor(x / step + 0.5);
        typed = typed < 0.0 ? 0.0 : typed;
    } else {
        double x = truth + b + row->sd_abs * noise;
        if (rubbish)
            x = row->low + where * (row->high - row->low);
        typed = step * floor(x / step + 0.5);
    }
    tw_written_reading w;
    memset(&w, 0, sizeof w);
    w.instrument = tool;
    w.observed = observed;
    w.written = TW_WRITTEN_VALUE;
    w.value = typed;
    w.step = row->model == TW_ERROR_BLOCKS ? 0.0 : step;
    w.dilution = 1.0;
    w.density_kg_per_l = 1.0;
    w.decimals = 6;
    tw_reading *r = &s->problem.reading[s->problem.readings];
    double bias_sd = 0.0;
    if (tw_estimate_reading(&w, r, &bias_sd) != TW_OK)
        return typed;
    r->at_h = s->t;
    r->source = source;
    r->temp_c = s->temp;
    r->entry = (uint32_t)s->problem.readings;
    if (bias >= 0) {
        r->bias = bias;
        s->problem.bias_sd[bias] = bias_sd;
    }
    s->problem.readings++;
    return typed;
}

static inline double sim_ec(const sim_tub *s)
{
    const tw_conductivity_fit *f = &s->problem.conductivity;
    return f->base + f->per_alk * s->alk + f->per_ca * s->ca + f->per_mg * s->mg + f->per_so4 * s->so4 +
           (f->cl[0] + f->cl[1] * sqrt(s->cl)) * s->cl + s->ions;
}

enum { SIM_LOT_A, SIM_LOT_B, SIM_PH, SIM_EC, SIM_BIASES };

static inline double sim_drops_fc(sim_tub *s)
{
    return sim_read(s, TW_TOOL_DROPS, TW_OBSERVED_FREE_CHLORINE, s->c, -1, 0.2, 0);
}

static inline void sim_ph_reading(sim_tub *s)
{
    sim_read(s, TW_TOOL_COMPARATOR, TW_OBSERVED_PH, sim_ph(s, s->temp, s->dic, s->alk, s->c), SIM_PH, 0.2, 0);
}

static inline double sim_alk_reading(sim_tub *s, int source)
{
    return sim_read(s, TW_TOOL_DROPS, TW_OBSERVED_ALKALINITY, s->alk + s->c / 70.906 - s->po4, -1, 10.0, source);
}

#endif
