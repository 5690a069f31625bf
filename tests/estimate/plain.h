/* tests/estimate/plain.h: plain problems and beliefs made by hand. */
#ifndef TW_TESTS_PLAIN_H
#define TW_TESTS_PLAIN_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "estimate/belief.h"
#include "estimate/checkpoint.h"
#include "estimate/events.h"
#include "estimate/sample.h"

static tw_problem plain_problem;

static inline tw_problem *plain_start(double now_h)
{
    tw_estimate_problem_init(&plain_problem, TW_WATER_FRESH);
    plain_problem.now_h = now_h;
    return &plain_problem;
}

/* Fix a coordinate's parameter at a value. */
static inline void plain_fix(tw_problem *p, int coordinate, double value)
{
    p->prior[coordinate].kind = TW_PRIOR_LN;
    p->prior[coordinate].middle = log(value);
    p->prior[coordinate].sd = 1e-9;
}

/* Source water of this alkalinity (meq/kg) and carbon (mmol/kg): CO2 over bicarbonate is the root of Alk*(r^2 + r + q)/(r + 2q) = carbon,
 * q = K2/K1 of 25 C. */
static inline void plain_source_carbon(tw_problem *p, double alk, double carbon)
{
    const double over = carbon / alk - 1.0, q = 1.054e-4;
    plain_fix(p, TW_X_ALKALINITY, alk);
    plain_fix(p, TW_X_CARBON, 0.5 * (over + sqrt(over * over + 4.0 * q * (1.0 + 2.0 * over))));
}

static inline void plain_ln(tw_problem *p, int coordinate, double median, double sd)
{
    p->prior[coordinate].kind = TW_PRIOR_LN;
    p->prior[coordinate].middle = log(median);
    p->prior[coordinate].sd = sd;
}

/* No film, no demand, nothing but loss and generator. */
static inline void plain_clean(tw_problem *p)
{
    plain_fix(p, TW_X_FILM, 1e-9);
    plain_fix(p, TW_X_FILM_HOURS, 24.0);
    plain_fix(p, TW_X_DEMAND0, 1e-9);
    plain_fix(p, TW_X_DEMAND_RATE, 1e-9);
    plain_fix(p, TW_X_INFLOW, 1e-12);
    p->day_sd = 1e-9;
}

static inline tw_setting_event *plain_setting(tw_problem *p, double at_h, double duty)
{
    tw_setting_event *s = &p->setting[p->settings++];
    memset(s, 0, sizeof *s);
    s->at_h = at_h;
    s->duty = duty;
    s->stirred = s->still = 1.0;
    s->temp_c = s->temp_end_c = 38.0;
    return s;
}

static inline tw_reading *plain_reading(tw_problem *p, double at_h, int observed)
{
    tw_reading *r = &p->reading[p->readings++];
    memset(r, 0, sizeof *r);
    r->at_h = at_h;
    r->observed = observed;
    r->bias = -1;
    r->rubbish = 1e-4;
    r->span = 20.0;
    r->sd = 0.1;
    r->low = -1e308;
    r->high = r->bleach_low = 1e308;
    r->temp_c = 15.0;
    r->entry = (uint32_t)p->readings;
    return r;
}

static inline tw_reading *plain_value(tw_problem *p, double at_h, int observed, double value, double sd)
{
    tw_reading *r = plain_reading(p, at_h, observed);
    r->form = TW_FORM_VALUE;
    r->value = value;
    r->sd = sd;
    return r;
}

static inline tw_dose_event *plain_chlorine(tw_problem *p, double at_h, double mg)
{
    tw_dose_event *d = &p->dose[p->doses++];
    memset(d, 0, sizeof *d);
    d->at_h = at_h;
    d->mmol[TW_TOTAL_ACTIVE_CHLORINE] = d->mmol[TW_TOTAL_CL] = mg / 70.906;
    d->alk_meq = mg / 70.906;
    d->product = -1;
    return d;
}

static void *plain_memory;

/* Sample with the default options; the belief lives until the next call. */
static inline tw_status plain_sample(const tw_problem *p, uint64_t seed, const tw_estimate_options *o, tw_belief *b)
{
    const size_t bytes = tw_estimate_sample_bytes(o);
    free(plain_memory);
    plain_memory = malloc(bytes);
    return tw_estimate_sample(p, seed, 0, o, plain_memory, bytes, b);
}

static double plain_block[(TW_COLUMNS + TW_TOTALS + 2) * 64];

/* A belief of 64 members that are all this tub: chlorine and made in mg/L, loss 1/h, output g/h. */
static inline tw_belief plain_belief(double water_l, double chlorine, double made, double loss, double output)
{
    tw_belief b;
    memset(&b, 0, sizeof b);
    memset(plain_block, 0, sizeof plain_block);
    b.n = 64;
    b.block = plain_block;
    b.scratch = plain_block + (TW_COLUMNS + TW_TOTALS) * 64;
    for (int c = 0; c < TW_COLUMNS; c++)
        b.column[c] = plain_block + 64 * c;
    for (int t = 0; t < TW_TOTALS; t++)
        b.total[t] = plain_block + 64 * (TW_COLUMNS + t);
    for (int i = 0; i < 64; i++) {
        b.column[TW_COLUMN_WATER_KG][i] = water_l;
        b.column[TW_COLUMN_TEMP_K][i] = 311.15;
        b.column[TW_COLUMN_CHLORINE_MG_PER_KG][i] = chlorine;
        b.column[TW_COLUMN_MADE_MG_PER_KG][i] = made;
        b.column[TW_COLUMN_REMNANT_MG_PER_KG][i] = chlorine - made;
        b.column[TW_COLUMN_LOSS_38_PER_H][i] = b.column[TW_COLUMN_LOSS_NOW_PER_H][i] = loss;
        b.column[TW_COLUMN_LOSS_EA_KJ_PER_MOL][i] = 50.0;
        b.column[TW_COLUMN_FILM_HOURS][i] = 24.0;
        b.column[TW_COLUMN_CELL_FACTOR][i] = 1.0;
        b.column[TW_COLUMN_OUTPUT_G_PER_H][i] = output;
        b.column[TW_COLUMN_KLA_STILL_PER_H][i] = 0.03;
        b.column[TW_COLUMN_KLA_JETS_PER_H][i] = 2.0;
        b.total[TW_TOTAL_NA][i] = 36.0e-3;
        b.total[TW_TOTAL_CA][i] = 1.0e-3;
        b.total[TW_TOTAL_CL][i] = 36.0e-3;
        b.total[TW_TOTAL_DIC][i] = 2.0e-3;
        b.total[TW_TOTAL_ACTIVE_CHLORINE][i] = chlorine / 70906.0;
    }
    b.density_kg_per_l = 1.0;
    b.plate_output_g_per_h = output;
    b.duty = 1.0;
    b.temp_set_c = 38.0;
    b.day_h = b.day_left_h = 24.0;
    b.ionic_mol_per_kg = 0.04;
    b.hours_since_dose = b.hours_since_any_dose = 1e9;
    b.seed = 1;
    return b;
}

#endif
