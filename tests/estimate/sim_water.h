/* tests/estimate/sim_water.h: the water of a tub that never was, hour by hour.
 *
 * It shares no code with the kinetics of the estimator: fourth-order Runge-Kutta in steps of three
 * minutes, pH by bisection. */
#ifndef TW_TESTS_SIM_WATER_H
#define TW_TESTS_SIM_WATER_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "../support/random.h"
#include "estimate/carbonate.h"
#include "estimate/events.h"
#include "gen/scale_tables.h"

typedef struct {
    uint64_t state;
} sim_random;

static inline double sim_uniform(sim_random *r)
{
    return random_uniform(&r->state);
}

static inline double sim_normal(sim_random *r)
{
    return random_normal(&r->state);
}

#define SIM_DAYS 28
#define SIM_MOST_DAYS 96 /* of a long water: the days after the first ones have a stream of their own */

/* What the estimator does not know of: the truth may be another one than its model. */
typedef enum sim_wrong {
    SIM_AS_MODELLED,
    SIM_OTHER_DECAY,    /* loss as the power 1.5 of chlorine, the same at 3 mg/L          */
    SIM_LOT_HALF_HIGH,  /* one bottle of strips reads 1.5 times too high                  */
    SIM_VOLUME_OFF,     /* said to be 30 % larger than it is                              */
    SIM_WEAK_PRODUCT,   /* bleach at 80 % of what its label says                          */
    SIM_WILD_READINGS,  /* one reading of chlorine in five wrong by four, either way      */
    SIM_UNLOGGED_DOSE,  /* 3 mg/L on the second day that nobody wrote down                */
    SIM_UNLOGGED_USE,   /* bathers that nobody wrote, on the third day: demand of 3 mg/L  */
    SIM_UNLOGGED_OFF,   /* the generator off for a day that nobody noticed                */
    SIM_WRONGS
} sim_wrong;

typedef struct {
    sim_random random;
    sim_wrong wrong; /* set by sim_start_up_wrong() */
    tw_problem problem;
    double fixed_x[TW_X_FIXED], cell_x, bias_x[TW_MAX_BIASES], product_x;
    double loss_z[SIM_MOST_DAYS], made_z[SIM_MOST_DAYS];
    /* truth in natural units */
    double water, loss38, ea, film, film_h, rate, inflow, kla_still, kla_jets, dissolve, factor;
    double strength, hocl_part;
    double share_now;      /* HOCl's, of the chlorine */
    double h_now;          /* activity of H+, made anew at every exchange with the air */
    double loss_day[SIM_MOST_DAYS], made_day[SIM_MOST_DAYS];
    /* state: chlorine, demand mg/kg; dic, alk(spent), cl(spent) mmol/kg; heap g */
    double c, d, dic, alk, cl, heap, ca, mg, so4, cya, borate, po4, ions;
    double t, duty, temp, jets;
    double evaporation, source_alk, source_dic, source_ca, source_mg, source_cl, source_so4; /* over the formula; of the water let in */
    double remnant, stirred_h;
    double ionic, nominal; /* mol/kg by the ledger of nominal amounts; kg */
    int act;               /* an act that nobody wrote (enum tw_unlogged_act), -1 none: when, mg/kg */
    double act_h, act_size;
    int dries;             /* 1: water evaporates: 0.07 of the formula still and covered, all of it in jets and uncovered */
    double scale_rate;     /* 1/h, of what stands over its index; 0: none forms */
    double scale;          /* that formed, mmol/kg */
    double low;            /* of the water: how far the level is below the line */
    double recalled_sd_h;  /* > 0: the first reading after the first dose was written from memory, with such an error of its hour */
    double seen, lost;     /* chlorine times hours; the same weighed by the root of chlorine over 3 mg/L */
} sim_tub;

/* The same table of constants as the estimator's (temperature to 1 K, ionic strength to 5 mmol). */
static inline void sim_constants(const sim_tub *s, double temp_c, tw_acid_constants *k)
{
    static tw_acid_constants table[48][64];
    static unsigned char made[48][64];
    const int t = (int)floor(temp_c + 0.5), i = (int)floor(s->ionic / 0.005 + 0.5);
    const int row = t < 0 ? 0 : (t > 47 ? 47 : t), column = i < 0 ? 0 : (i > 63 ? 63 : i);
    if (!made[row][column]) {
        tw_estimate_acid_constants((double)t, 0.005 * i, &table[row][column]);
        made[row][column] = 1;
    }
    *k = table[row][column];
}

static inline double sim_ph(const sim_tub *s, double temp_c, double dic, double alk_spent, double c)
{
    tw_acid_constants k;
    sim_constants(s, temp_c, &k);
    const double active = c / 70.906;
    double low = 2.0, high = 13.0;
    for (int i = 0; i < 60; i++) {
        const double ph = 0.5 * (low + high), h = pow(10.0, -ph);
        const double b = k.k1 / h, cc = k.k1 * k.k2 / (h * h);
        const double charge = dic * (b + 2.0 * cc) / (1.0 + b + cc) + active * k.kocl / (k.kocl + h) +
                              s->borate * k.kb / (k.kb + h) + s->cya * k.kcy / (k.kcy + h) +
                              s->po4 * (1.0 + k.kp2 / (k.kp2 + h)) + k.kw / h - k.per_h * h;
        if (charge < alk_spent + active)
            low = ph;
        else
            high = ph;
    }
    return 0.5 * (low + high);
}

static inline double sim_co2(const sim_tub *s, double temp_c, double dic, double alk, double c)
{
    tw_acid_constants k;
    sim_constants(s, temp_c, &k);
    const double h = pow(10.0, -sim_ph(s, temp_c, dic, alk, c));
    return dic / (1.0 + k.k1 / h + k.k1 * k.k2 / (h * h));
}

/* Share of the plate's output that chloride and warmth leave (docs/estimate.md). */
static inline double sim_makes(const sim_tub *s)
{
    const double plate = s->problem.plate_salt_mmol_per_kg, missing = plate > 0.0 && s->cl < plate ? (plate - s->cl) / plate : 0.0;
    const double cold = s->temp < 25.0 ? 0.02 * (25.0 - s->temp) : 0.0;
    return (1.0 - missing * missing) * (1.0 - cold);
}

/* Free HOCl over all free chlorine (mg/kg), by bisection: what is free, and what one ring in its three forms and those with
 * one and two chlorines hold. */
static inline double sim_hocl_share(const sim_tub *s, double chlorine)
{
    tw_acid_constants k;
    sim_constants(s, s->temp, &k);
    const double h = s->h_now, all = chlorine / 70.906, ocl = k.kocl / h;
    if (!(all > 1e-9))
        return 1.0 / (1.0 + ocl);
    const double bare = 1.0 + k.kcy / h + k.kcy * k.kcy2 / (h * h);
    const double one = k.one[0] + k.one[1] / h + k.one[2] / (h * h), two = k.two[0] + k.two[1] / h;
    double low = 0.0, high = all;
    for (int i = 0; i < 40; i++) {
        const double x = 0.5 * (low + high);
        const double ring = s->cya / (bare + one * x + two * x * x); /* H3Cy */
        *(x * (1.0 + ocl) + ring * (one * x + 2.0 * two * x * x) < all ? &low : &high) = x;
    }
    return 0.5 * (low + high) / all;
}

/* y: chlorine, demand, remnant (the tagged part of the chlorine). */
static inline void sim_slope(const sim_tub *s, const double y[3], double t, double out[3])
{
    const double age = t - s->problem.film_from_h;
    int day = (int)floor((t - s->problem.days_from_h) / 24.0);
    const double temp_k = s->temp + 273.15;
    double k = s->loss38 * exp(-s->ea * (1.0 / temp_k - 1.0 / 311.15) / 8.31446e-3);
    k *= 1.0 - s->hocl_part + s->hocl_part * s->share_now / 0.468;
    double p = s->problem.plate_output_g_per_h * s->factor * sim_makes(s) * s->duty * 1e3 / s->water;
    if (day >= 0) {
        day = day < SIM_MOST_DAYS ? day : SIM_MOST_DAYS - 1;
        k *= exp(s->problem.day_sd * s->loss_day[day]);
        p *= exp(s->problem.day_sd * s->made_day[day]);
    }
    if (age >= 0.0)
        k += s->film * exp(-age / s->film_h);
    if (s->wrong == SIM_OTHER_DECAY)
        k *= sqrt((y[0] > 0.0 ? y[0] : 0.0) / 3.0);
    out[0] = p - k * y[0] - s->rate * y[0] * y[1];
    out[1] = (age >= 0.0 ? s->inflow : 0.0) - s->rate * y[0] * y[1];
    out[2] = -(k + s->rate * y[1]) * y[2];
}

/* One step of at most 0.05 h, cut finer where the demand is fast. */
static inline void sim_step(sim_tub *s, double h)
{
    const double stiff = h * s->rate * (s->c + s->d);
    const int parts = stiff > 0.3 ? (int)ceil(stiff / 0.3) : 1;
    const double q = h / parts;
    double t = s->t;
    s->share_now = s->hocl_part > 0.0 ? sim_hocl_share(s, s->c) : 0.468;
    for (int i = 0; i < parts; i++) {
        double y[3] = {s->c, s->d, s->remnant}, k1[3], k2[3], k3[3], k4[3], z[3];
        sim_slope(s, y, t, k1);
        for (int j = 0; j < 3; j++) z[j] = y[j] + 0.5 * q * k1[j];
        sim_slope(s, z, t + 0.5 * q, k2);
        for (int j = 0; j < 3; j++) z[j] = y[j] + 0.5 * q * k2[j];
        sim_slope(s, z, t + 0.5 * q, k3);
        for (int j = 0; j < 3; j++) z[j] = y[j] + q * k3[j];
        sim_slope(s, z, t + q, k4);
        s->c += q / 6.0 * (k1[0] + 2.0 * k2[0] + 2.0 * k3[0] + k4[0]);
        s->d += q / 6.0 * (k1[1] + 2.0 * k2[1] + 2.0 * k3[1] + k4[1]);
        s->remnant += q / 6.0 * (k1[2] + 2.0 * k2[2] + 2.0 * k3[2] + k4[2]);
        s->c = s->c > 0.0 ? s->c : 0.0;
        s->d = s->d > 0.0 ? s->d : 0.0;
        s->seen += q * s->c;
        s->lost += q * s->c * sqrt(s->c / 3.0);
        t += q;
    }
    s->t += h;
}

static inline void sim_gas(sim_tub *s, double h)
{
    tw_acid_constants k;
    sim_constants(s, s->temp, &k);
    const double gas = exp(0.0237165 * (s->temp - 20.0));
    const double kla = gas * (s->kla_still * (1.0 - s->jets) + s->kla_jets * s->jets);
    const int parts = kla * h > 0.2 ? (int)ceil(kla * h / 0.2) : 1;
    const double q = kla * h / parts;
    for (int i = 0; i < parts; i++) { /* midpoint rule */
        const double half = s->dic - 0.5 * q * (sim_co2(s, s->temp, s->dic, s->alk, s->c) - k.co2_eq);
        s->dic -= q * (sim_co2(s, s->temp, half, s->alk, s->c) - k.co2_eq);
    }
}

/* Over the index: calcium times CO3 over their product there, when so much (mmol/kg) has fallen out. */
static inline double sim_saturated(const sim_tub *s, double gone)
{
    tw_acid_constants k;
    sim_constants(s, s->temp, &k);
    const double h = pow(10.0, -sim_ph(s, s->temp, s->dic - gone, s->alk - 2.0 * gone, s->c));
    return (s->ca - gone) * (s->dic - gone) / (1.0 + h / k.k2 + h * h / (k.k1 * k.k2)) / k.scale;
}

/* Scale, half before and half after each step of the air; what would fall out by bisection. */
static inline void sim_scale(sim_tub *s, double h)
{
    if (!(s->scale_rate > 0.0) || sim_saturated(s, 0.0) <= 1.0)
        return;
    double low = 0.0, high = 0.5 * (s->ca < s->dic ? s->ca : s->dic);
    for (int i = 0; i < 18; i++) {
        const double mid = 0.5 * (low + high);
        *(sim_saturated(s, mid) > 1.0 ? &low : &high) = mid;
    }
    const double corner = TW_SCALE_CORNER, over = low < corner ? 0.5 * low * low / corner : low - 0.5 * corner;
    const double gone = -expm1(-s->scale_rate * h) * over;
    s->ca -= gone;
    s->alk -= 2.0 * gone;
    s->dic -= gone;
    s->scale += gone;
}

/* Evaporation and the water that people add unseen, by Euler in the steps of the tub; Carrier's formula with the vapour
 * pressure of Buck 1981. Totals are over the water at the line. */
static inline void sim_dry(sim_tub *s, double h)
{
    const double kpa = 0.61121 * exp((18.678 - s->temp / 234.5) * s->temp / (257.14 + s->temp)) - 1.17;
    const double mm = kpa > 0.0 ? 3600.0 * 0.089 * kpa / (2501.0 - 2.36 * s->temp) : 0.0;
    const double gone = h * s->evaporation * (s->jets > 0.5 ? 1.0 : 0.07) * mm / 450.0, seen = s->low / 0.05;
    s->low += gone * (1.0 - seen);
    s->alk += gone * seen * s->source_alk;
    s->dic += gone * seen * s->source_dic;
    s->ca += gone * seen * s->source_ca;
    s->mg += gone * seen * s->source_mg;
    s->cl += gone * seen * s->source_cl;
    s->so4 += gone * seen * s->source_so4;
}

/* Run to `until` with constant duty, jets; temperature linear to temp_end. */
static inline void sim_run(sim_tub *s, double until, double temp_end)
{
    const double t0 = s->t, temp0 = s->temp;
    double gas_h = 0.0;
    s->h_now = pow(10.0, -sim_ph(s, s->temp, s->dic, s->alk, s->c));
    while (s->t < until - 1e-9) {
        const double h = until - s->t < 0.05 ? until - s->t : 0.05;
        s->temp = temp0 + (temp_end - temp0) * (s->t + 0.5 * h - t0) / (until - t0);
        sim_step(s, h);
        const double more = (s->jets > 0.5 ? 5.0 : 1.0) * h * exp(0.03 * (s->temp - 38.0));
        const double gone =
            s->heap * (1.0 - exp(-s->dissolve * (sqrt(s->stirred_h + more) - sqrt(s->stirred_h))));
        s->stirred_h += more;
        s->heap -= gone;
        s->cl += gone / 58.443 * 1e3 / s->water;
        if (s->dries)
            sim_dry(s, h);
        gas_h += h;
        if (gas_h >= 0.5 || until - s->t < 1e-9) {
            sim_scale(s, 0.5 * gas_h);
            sim_gas(s, gas_h);
            sim_scale(s, 0.5 * gas_h);
            gas_h = 0.0;
            s->h_now = pow(10.0, -sim_ph(s, s->temp, s->dic, s->alk, s->c));
        }
    }
    s->temp = temp_end;
}

#endif
