/* tests/dose/belief_dose.h: what the planner under trial is told of a real tub: possible waters, drawn from what is
 * known beforehand and from readings alone.
 *
 * Each quantity that was read is drawn by rejection: a value as the trials draw their tubs, a bias of the bottle, kept as often as the
 * reading is likely. After a visit each member lives through it with its own mass, strengths, loss and gas exchange (a
 * first-order loss and one kind of demand: not the real tub's law), is weighed by the retest and drawn anew; weights
 * are taken in steps of no less than a third of the members, and what is drawn twice is spread by the difference of two
 * others, shrunk so that means and covariances stay (Liu and West 2001; ter Braak 2006). */
#ifndef TW_TESTS_BELIEF_DOSE_H
#define TW_TESTS_BELIEF_DOSE_H

#include "dose/substance.h"
#include "dose/members.h"
#include "sim_dose.h"
#include "water/reduced.h"

#define BELIEF_MOST 2048
#define BELIEF_STOCK 8

enum { B_LN_KG, B_ALK, B_PH, B_CA, B_CL, B_SO4, B_BORATE, B_CYANURATE, B_CHLORINE, B_LN_LOSS, B_LN_DEMAND, B_LN_RATE, B_LN_STILL, B_LN_JETS,
       B_BIAS, B_STRENGTH = B_BIAS + REAL_QUANTITIES, B_ROWS = B_STRENGTH + BELIEF_STOCK };

typedef struct {
    size_t n;
    double temp_c;
    double x[B_ROWS][BELIEF_MOST];
    double crossed[BELIEF_MOST]; /* 1: by an earlier pour, a limit, as this member sees it */
    double dic[BELIEF_MOST], ln_weight[BELIEF_MOST], ln_air[BELIEF_MOST]; /* ln_air: by readings under way */
    tw_reduced k;
    real_random random;
    /* as tw_waters wants it, two halves */
    double kg[BELIEF_MOST], temp[BELIEF_MOST], total[TW_TOTALS][BELIEF_MOST];
} belief;

static inline tw_reduced_water belief_acids(const belief *b, size_t i)
{
    return (tw_reduced_water){b->x[B_ALK][i], b->dic[i], b->x[B_BORATE][i], b->x[B_CYANURATE][i], b->x[B_CHLORINE][i], 0.0};
}

static inline tw_water belief_water(const belief *b, size_t i)
{
    tw_water w;
    memset(&w, 0, sizeof w);
    w.temp_k = b->temp_c + 273.15;
    double *t = w.total_mol_per_kg;
    t[TW_TOTAL_CA] = b->x[B_CA][i];
    t[TW_TOTAL_CL] = b->x[B_CL][i];
    t[TW_TOTAL_SO4] = b->x[B_SO4][i];
    t[TW_TOTAL_DIC] = b->dic[i];
    t[TW_TOTAL_BORATE] = b->x[B_BORATE][i];
    t[TW_TOTAL_CYANURATE] = b->x[B_CYANURATE][i];
    t[TW_TOTAL_ACTIVE_CHLORINE] = b->x[B_CHLORINE][i];
    t[TW_TOTAL_NA] = b->x[B_ALK][i] + t[TW_TOTAL_CL] + 2.0 * t[TW_TOTAL_SO4] - 2.0 * t[TW_TOTAL_CA];
    if (t[TW_TOTAL_NA] < 0.0) { /* hard water without salt: the rest is another anion */
        t[TW_TOTAL_OTHER] = -t[TW_TOTAL_NA];
        t[TW_TOTAL_NA] = 0.0;
    }
    return w;
}

/* Acids frozen at the mean of the members. */
static inline int belief_freeze(belief *b)
{
    tw_constants at;
    tw_speciation sp;
    tw_water mean = belief_water(b, 0);
    for (int t = 0; t < TW_TOTALS; t++) {
        double sum = 0.0;
        for (size_t i = 0; i < b->n; i += 8)
            sum += belief_water(b, i).total_mol_per_kg[t];
        mean.total_mol_per_kg[t] = sum / (double)((b->n + 7) / 8);
    }
    if (tw_water_constants_at(mean.temp_k, &at) != TW_OK || tw_water_speciate(&at, &mean, &sp) != TW_OK)
        return 0;
    tw_water_reduced_from(&at, &sp, &b->k);
    return 1;
}

static inline void belief_ph(belief *b)
{
    for (size_t i = 0; i < b->n; i++) {
        const tw_reduced_water q = belief_acids(b, i);
        tw_reduced_answer a;
        tw_water_reduced_solve(&b->k, &q, &a);
        b->x[B_PH][i] = a.ph;
    }
}

static inline void belief_dic(belief *b)
{
    for (size_t i = 0; i < b->n; i++) {
        const tw_reduced_water q = belief_acids(b, i);
        const double dic = tw_water_reduced_dic_at_ph(&b->k, &q, b->x[B_PH][i]);
        b->dic[i] = dic > 1e-6 ? dic : 1e-6;
    }
}

/* Members as the planner takes them: the first half, or the second. */
static inline tw_waters belief_half(belief *b, int second)
{
    const size_t half = b->n / 2, from = second ? half : 0;
    for (size_t i = from; i < from + half; i++) {
        const tw_water w = belief_water(b, i);
        b->kg[i] = exp(b->x[B_LN_KG][i]);
        b->temp[i] = w.temp_k;
        for (int t = 0; t < TW_TOTALS; t++)
            b->total[t][i] = w.total_mol_per_kg[t];
    }
    tw_waters out = {.n = half, .water_kg = b->kg + from, .temp_k = b->temp + from, .weight = NULL, .crossed = b->crossed + from, .solvent_kg_per_l = REAL_KG_PER_L};
    for (int t = 0; t < TW_TOTALS; t++)
        out.total[t] = b->total[t] + from;
    return out;
}

static inline double belief_value(const belief *b, int of, size_t i)
{
    switch (of) {
    case REAL_PH: return b->x[B_PH][i];
    case REAL_ALK: return real_mg_per_l(b->x[B_ALK][i], 0.5 * REAL_CACO3);
    case REAL_CALCIUM: return real_mg_per_l(b->x[B_CA][i], REAL_CACO3);
    case REAL_SALT: return real_mg_per_l(b->x[B_CL][i], REAL_NACL);
    case REAL_CHLORINE: return real_mg_per_l(b->x[B_CHLORINE][i], REAL_CL2);
    default: return real_mg_per_l(b->x[B_CYANURATE][i], REAL_CYA);
    }
}

/* ---- a visit, as each member lives through it */

/* A product in the planner's table; true strength by the member. */
static inline void belief_pour(belief *b, const tw_substance *s, size_t stock, double grams)
{
    for (size_t i = 0; i < b->n; i++) {
        const double g = grams * exp(b->x[B_STRENGTH + stock][i]) / exp(b->x[B_LN_KG][i]);
        const double *t = s->total_mol_per_g;
        b->x[B_ALK][i] += g * tw_water_strong_ion_alk_of(t, 1);
        b->dic[i] += g * t[TW_TOTAL_DIC];
        b->x[B_CA][i] += g * t[TW_TOTAL_CA];
        b->x[B_CL][i] += g * t[TW_TOTAL_CL];
        b->x[B_SO4][i] += g * t[TW_TOTAL_SO4];
        b->x[B_CYANURATE][i] += g * t[TW_TOTAL_CYANURATE];
        b->x[B_CHLORINE][i] += g * t[TW_TOTAL_ACTIVE_CHLORINE];
    }
}

/* Hours with or without jets: gas exchange and loss in exponential steps. */
static inline void belief_wait(belief *b, double hours, int jets)
{
    const int steps = (int)ceil(hours / (jets ? 0.25 : 4.0));
    for (int s = 0; s < steps; s++) {
        const double h = hours / steps;
        for (size_t i = 0; i < b->n; i++) {
            const tw_reduced_water q = belief_acids(b, i);
            tw_reduced_answer a;
            tw_water_reduced_solve(&b->k, &q, &a);
            const double kla = exp(b->x[jets ? B_LN_JETS : B_LN_STILL][i]), share = a.co2 / (b->dic[i] > 1e-9 ? b->dic[i] : 1e-9);
            const double slope = a.co2_by_dic > share ? a.co2_by_dic : share;
            b->dic[i] -= (a.co2 - b->k.co2_per_atm * 4.2e-4) / slope * (1.0 - exp(-kla * slope * h));
            const double demand = exp(b->x[B_LN_DEMAND][i]), c = b->x[B_CHLORINE][i];
            const double used = 1.0 - exp(-exp(b->x[B_LN_RATE][i]) * c * h), took = demand * used < c ? demand * used : c;
            const double left = (c - took) * exp(-exp(b->x[B_LN_LOSS][i]) * h);
            b->x[B_LN_DEMAND][i] = log(demand - took + 1e-9);
            b->x[B_CHLORINE][i] = left;
            b->x[B_ALK][i] -= c - left;
            b->x[B_CL][i] += c - left;
        }
    }
    belief_ph(b);
}

/* What a reading says, into the weights. */
static inline void belief_weigh(belief *b, int of, const real_tool *tool, double reading, double *ln_weight)
{
    for (size_t i = 0; i < b->n; i++) /* a reading in two hundred means nothing */
        ln_weight[i] += log(0.995 * real_likelihood(tool, reading, belief_value(b, of, i), b->x[B_BIAS + of][i]) + 5e-4);
}

static inline double belief_ess(const belief *b, double power, double top)
{
    double sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        const double w = exp(power * (b->ln_weight[i] - top));
        sum += w;
        squares += w * w;
    }
    return sum * sum / squares;
}

/* One stage: draw by weight^power, spread what is alike. */
static inline void belief_stage(belief *b, double power, double top)
{
    static double old[BELIEF_MOST];
    static size_t from[BELIEF_MOST], one[BELIEF_MOST], two[BELIEF_MOST];
    double sum = 0.0, at = 0.0;
    for (size_t i = 0; i < b->n; i++)
        sum += exp(power * (b->ln_weight[i] - top));
    const double u = real_uniform(&b->random);
    size_t j = 0;
    double reach = exp(power * (b->ln_weight[0] - top));
    for (size_t i = 0; i < b->n; i++) {
        at = sum * ((double)i + u) / (double)b->n;
        while (reach < at && j + 1 < b->n)
            reach += exp(power * (b->ln_weight[++j] - top));
        from[i] = j;
    }
    const double spread = 0.35, keep = sqrt(1.0 - spread * spread);
    for (size_t i = 0; i < b->n; i++) { /* two others, from the same half */
        const size_t half = b->n / 2, base = i < half ? 0 : half;
        one[i] = base + (size_t)(real_uniform(&b->random) * (double)half);
        two[i] = base + (size_t)(real_uniform(&b->random) * (double)half);
    }
    for (size_t i = 0; i < b->n; i++)
        old[i] = b->ln_air[from[i]];
    memcpy(b->ln_air, old, b->n * sizeof *old);
    for (size_t i = 0; i < b->n; i++)
        old[i] = b->crossed[from[i]];
    memcpy(b->crossed, old, b->n * sizeof *old);
    for (int r = 0; r < B_ROWS; r++) {
        double *x = b->x[r], mean = 0.0;
        for (size_t i = 0; i < b->n; i++)
            old[i] = x[from[i]];
        for (size_t i = 0; i < b->n; i++)
            mean += old[i] / (double)b->n;
        const int positive = r >= B_ALK && r <= B_CHLORINE && r != B_PH;
        for (size_t i = 0; i < b->n; i++) {
            x[i] = mean + keep * (old[i] - mean) + spread * 0.7071067811865476 * (old[one[i]] - old[two[i]]);
            if (positive && x[i] < 0.0)
                x[i] = 0.0;
        }
    }
    belief_dic(b);
}

typedef struct {
    int of;
    const real_tool *tool;
    double reading;
} belief_reading;

/* All readings of a retest, with those under air. */
static inline void belief_retest(belief *b, const belief_reading *reading, int n)
{
    double done = 0.0;
    (void)belief_freeze(b);
    for (int stage = 0; stage < 12 && done < 1.0 - 1e-9; stage++) {
        double top = -1e300, power = 1.0 - done;
        belief_ph(b);
        memcpy(b->ln_weight, b->ln_air, sizeof b->ln_air);
        for (int i = 0; i < n; i++)
            belief_weigh(b, reading[i].of, reading[i].tool, reading[i].reading, b->ln_weight);
        for (size_t i = 0; i < b->n; i++)
            top = b->ln_weight[i] > top ? b->ln_weight[i] : top;
        while (power > 0.02 && stage < 11 && belief_ess(b, power, top) < (double)b->n / 3.0)
            power *= 0.75;
        belief_stage(b, power, top);
        done += power;
    }
    for (size_t i = 0; i < b->n; i++)
        b->ln_air[i] = 0.0;
    belief_ph(b);
}

#endif
