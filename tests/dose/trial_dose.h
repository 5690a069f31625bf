/* tests/dose/trial_dose.h: the same random tubs brought into their bands in four ways, judged by what truly happened.
 *
 *   course   dose/course.h on the members of belief_dose.h
 *   table    the label's table for the volume on the plate, the whole of it
 *   half     half of that, read, half of what is missing then, and so on
 *   oracle   knows the real tub and its products exactly; same caps, same grid, same three additions a visit, same air
 *
 * A visit is a test, up to three additions with their waits, and air. Crossed: a hard limit that the water kept before an act
 * is behind it after the act, or the act led further beyond one. In band: the truth, an hour after the last act of a visit. */
#ifndef TW_TESTS_TRIAL_DOSE_H
#define TW_TESTS_TRIAL_DOSE_H

#include <stdio.h>
#include <stdlib.h>

#include "belief_dose.h"
#include "dose/course.h"
#include "dose/size.h"

#define TRIAL_VISITS 10
enum { TRIAL_COURSE, TRIAL_TABLE, TRIAL_HALF, TRIAL_ORACLE, TRIAL_WAYS };
static const char *const TRIAL_WAY[TRIAL_WAYS] = {"course", "table", "half", "oracle"};

typedef struct {
    double low, target, high, hard_low, hard_high; /* NaN: none */
} trial_band;

typedef struct {
    char id[40];
    tw_substance row;
    real_product product;
    double grid_g, weighing_sd_ln;
} trial_stock;

/* What anybody knows of the tub, and the tub. */
typedef struct {
    uint64_t seed;
    real_random random;
    real_tub tub;
    int drops, meter_ph, meter_salt, wrong;
    double said_kg, volume_sd, borate_said, plate;
    real_tool tool[REAL_QUANTITIES];
    double bias[REAL_QUANTITIES];
    trial_band band[REAL_QUANTITIES];
    int stocks;
    trial_stock stock[BELIEF_STOCK];
    double kla_still_said, kla_jets_said, loss_said, air_hours, gap_h;
    double first[REAL_QUANTITIES]; /* readings before the first visit */
} trial_world;

/* Nearest rows of a planner's quantities. */
static const tw_quantity_of_water TRIAL_OF[REAL_QUANTITIES] = {TW_OF_PH, TW_OF_ALKALINITY, TW_OF_CALCIUM, TW_OF_SALT, TW_OF_CHLORINE, TW_OF_CYANURATE};

/* ------------------------------------------------------------------------------------------------- the worlds */

/* What a water may be before it is read, told to the members too; each by itself. salt_most: of this tub. */
static inline double trial_draw(real_random *r, int of, double salt_most)
{
    const double u = real_uniform(r), v = real_uniform(r);
    switch (of) {
    case REAL_PH: return 6.8 + 1.8 * v;
    case REAL_ALK: return 20.0 + 280.0 * v;
    case REAL_CALCIUM: return 15.0 + 245.0 * v;
    case REAL_SALT: return 20.0 + (salt_most - 20.0) * v;
    case REAL_CHLORINE: return u < 0.6 ? 0.6 * v : 6.0 * v;
    default: return u < 0.6 ? 2.0 * v : 60.0 * v;
    }
}

static inline void trial_put(real_tub *w, const double x[REAL_QUANTITIES], double so4, double borate)
{
    w->ca = real_mol_per_kg(x[REAL_CALCIUM], REAL_CACO3);
    w->alk = real_mol_per_kg(x[REAL_ALK], 0.5 * REAL_CACO3);
    w->so4 = real_mol_per_kg(so4, 96.06);
    w->cl = real_mol_per_kg(x[REAL_SALT], REAL_NACL);
    w->chlorine = real_mol_per_kg(x[REAL_CHLORINE], REAL_CL2);
    w->cyanurate = real_mol_per_kg(x[REAL_CYANURATE], REAL_CYA);
    w->borate = borate;
}

/* No water with less sodium than none; no alkalinity that borate and rings alone exceed. */
static inline int trial_is_water(real_tub *w, double ph)
{
    if (w->alk + w->cl + 2.0 * w->so4 - 2.0 * w->ca < 0.0)
        return 0;
    real_set_ph(w, ph);
    return w->dic > 2e-4 && w->dic < 0.02;
}

static inline void trial_stock_add(trial_world *w, const char *id)
{
    if (w->stocks == BELIEF_STOCK)
        return;
    trial_stock *s = &w->stock[w->stocks];
    const tw_substance *row = tw_dose_substance_find(tw_units_text(id));
    if (row == NULL || !real_product_of(id, &s->product)) {
        fprintf(stderr, "no product %s\n", id);
        exit(2);
    }
    snprintf(s->id, sizeof s->id, "%s", id);
    s->row = *row;
    s->grid_g = tw_dose_measure_g(row) > 5.0 && !row->liquid ? 10.0 : tw_dose_measure_g(row);
    s->weighing_sd_ln = row->liquid ? 0.03 : 0.01;
    w->tub.strength[w->stocks] = exp(row->assay_sd_ln * real_normal(&w->random)) * (w->wrong ? 0.8 : 1.0);
    w->stocks++;
}

static inline double trial_read(trial_world *w, int of)
{
    double value = real_value(&w->tub, of);
    if (w->wrong && !w->drops && of != REAL_PH && of != REAL_SALT)
        value *= 1.5; /* the bottle reads half more than there is */
    return real_read(&w->tool[of], value, w->bias[of], &w->random);
}

static inline void trial_bands(trial_world *w, double plate)
{
    const double none = (double)NAN;
    const int d = w->drops, meter = w->meter_salt;
    real_random *r = &w->random;
    w->band[REAL_PH] = d || w->meter_ph ? (trial_band){7.2, 7.5, 7.8, 6.8, 8.2} : (trial_band){7.0, 7.4, 7.8, 6.7, 8.3};
    w->band[REAL_ALK] = d ? (trial_band){60, 80, 100, 40, 180} : (trial_band){45, 85, 135, 30, 200};
    w->band[REAL_CALCIUM] = d ? (trial_band){60, 100, 150, none, 250} : (trial_band){50, 110, 250, none, 400};
    w->band[REAL_SALT] = meter ? (trial_band){0.9 * plate, plate, 1.1 * plate, none, 1.15 * plate}
                       : d ? (trial_band){0.87 * plate, plate, 1.15 * plate, none, 1.2 * plate}
                           : (trial_band){0.8 * plate, plate, 1.25 * plate, none, 1.35 * plate};
    w->band[REAL_CHLORINE] = (trial_band){2, 5, 9, none, 10};
    w->band[REAL_CYANURATE] = (trial_band){none, none, none, none, 40};
    const double x = real_uniform(r), y = real_uniform(r), z = real_uniform(r);
    const int calcium = x < 0.5, salt = y < 0.6, chlorine = z < 0.6;
    if (!calcium || real_value(&w->tub, REAL_CALCIUM) > w->band[REAL_CALCIUM].target)
        w->band[REAL_CALCIUM].low = w->band[REAL_CALCIUM].target = w->band[REAL_CALCIUM].high = none;
    if (!salt || real_value(&w->tub, REAL_SALT) > plate)
        w->band[REAL_SALT].low = w->band[REAL_SALT].target = w->band[REAL_SALT].high = none;
    if (!chlorine)
        w->band[REAL_CHLORINE].low = w->band[REAL_CHLORINE].target = w->band[REAL_CHLORINE].high = none;
}

static inline void trial_begin(trial_world *w, uint64_t seed, int wrong)
{
    static const char *const ACIDS[] = {"sodium-bisulfate-93", "hydrochloric-acid-10", "hydrochloric-acid-14.5"};
    static const char *const CHLORINES[] = {"sodium-hypochlorite-50", "sodium-hypochlorite-100", "sodium-hypochlorite-120", "dichlor-dihydrate", "calcium-hypochlorite-65"};
    memset(w, 0, sizeof *w);
    w->seed = seed;
    w->wrong = wrong;
    real_random *r = &w->random;
    r->state = seed * UINT64_C(0x2545F4914F6CDD1D) + 7;
    w->volume_sd = real_between(r, 0.02, 0.20);
    w->tub.kg = real_between(r, 900.0, 2000.0);
    w->said_kg = w->tub.kg * exp(w->volume_sd * real_normal(r));
    w->tub.temp_c = real_between(r, 10.0, 39.0);
    w->drops = real_uniform(r) < 0.5;
    w->meter_ph = real_uniform(r) < 0.2;
    w->meter_salt = real_uniform(r) < 0.6;
    const double plate = real_between(r, 1500.0, 3000.0), u = real_uniform(r);
    w->plate = plate;
    w->borate_said = u < 0.15 ? real_mol_per_kg(real_between(r, 20.0, 50.0), 10.81) : 1e-6;
    const double borate = w->borate_said * exp(0.1 * real_normal(r));
    double x[REAL_QUANTITIES], so4;
    do {
        for (int of = 0; of < REAL_QUANTITIES; of++)
            x[of] = trial_draw(r, of, plate);
        so4 = real_between(r, 5.0, 150.0);
        trial_put(&w->tub, x, so4, borate);
    } while (!trial_is_water(&w->tub, x[REAL_PH]));
    w->kla_still_said = 0.03;
    w->kla_jets_said = 2.0;
    w->loss_said = 0.02;
    w->tub.kla_still = w->kla_still_said * exp(0.6 * real_normal(r));
    w->tub.kla_jets = w->kla_jets_said * exp(0.4 * real_normal(r));
    w->tub.loss_per_h = w->loss_said * exp(0.5 * real_normal(r));
    const double d = exp(-0.9 + 0.7 * real_normal(r)), part = real_uniform(r); /* 0.4 mg/L, in ln within 0.7 */
    w->tub.fast = real_mol_per_kg(d * part, REAL_CL2);
    w->tub.slow = real_mol_per_kg(d * (1.0 - part), REAL_CL2);
    w->tub.weigh = 1.0;
    for (int of = 0; of < REAL_QUANTITIES; of++) {
        w->tool[of] = real_tool_of(of, w->drops, (of == REAL_PH && w->meter_ph) || (of == REAL_SALT && w->meter_salt));
        w->bias[of] = w->tool[of].bias_sd * real_normal(r);
    }
    trial_bands(w, plate);
    trial_stock_add(w, ACIDS[(int)(3.0 * real_uniform(r))]);
    trial_stock_add(w, "sodium-bicarbonate");
    if (real_uniform(r) < 0.3)
        trial_stock_add(w, "sodium-carbonate");
    if (w->band[REAL_CALCIUM].target > 0.0)
        trial_stock_add(w, real_uniform(r) < 0.5 ? "calcium-chloride-dihydrate" : "calcium-chloride-anhydrous");
    if (w->band[REAL_SALT].target > 0.0)
        trial_stock_add(w, "sodium-chloride");
    if (w->band[REAL_CHLORINE].target > 0.0) { /* where cyanurate stands over its cap already, one without */
        const int high = real_value(&w->tub, REAL_CYANURATE) > 30.0;
        trial_stock_add(w, CHLORINES[(int)((high ? 3.0 : 5.0) * real_uniform(r))]);
    }
    w->air_hours = 2.0;
    w->gap_h = real_between(r, 1.0, 4.0);
    for (int of = 0; of < REAL_QUANTITIES; of++)
        w->first[of] = trial_read(w, of);
}

/* The largest that the likelihood of a number can be, so that fewer draws are thrown away. */
static inline double trial_top(const real_tool *tool, double reading)
{
    return tool->blocks > 0 || tool->counted ? 1.0 : fmin(1.0, 1.2 * real_likelihood(tool, reading, reading, 0.0));
}

/* Members from what is known before and from the first readings; never from the tub. */
static inline void trial_believe(const trial_world *w, belief *b, size_t n)
{
    b->n = n;
    b->temp_c = w->tub.temp_c; /* a thermometer */
    b->random.state = w->seed * UINT64_C(0x9E6C63D0876A9A47) + 11;
    real_random *r = &b->random;
    double ph[BELIEF_MOST], top[REAL_QUANTITIES];
    for (int of = 0; of < REAL_QUANTITIES; of++)
        top[of] = trial_top(&w->tool[of], w->first[of]);
    for (size_t i = 0; i < n; i++) {
        b->x[B_LN_KG][i] = log(w->said_kg) - w->volume_sd * real_normal(r);
        double x[REAL_QUANTITIES];
        real_tub like;
        memset(&like, 0, sizeof like);
        do {
            for (int of = 0; of < REAL_QUANTITIES; of++)
                for (int turn = 0;; turn++) {
                    x[of] = trial_draw(r, of, w->plate);
                    const double bias = w->tool[of].bias_sd * real_normal(r), keep = top[of] * real_uniform(r);
                    if (real_likelihood(&w->tool[of], w->first[of], x[of], bias) > keep || turn > 20000) {
                        b->x[B_BIAS + of][i] = bias;
                        break;
                    }
                }
            const double so4 = real_between(r, 5.0, 150.0);
            trial_put(&like, x, so4, w->borate_said * exp(0.1 * real_normal(r)));
        } while (like.alk + like.cl + 2.0 * like.so4 - 2.0 * like.ca < 0.0);
        b->x[B_ALK][i] = like.alk;
        b->x[B_CA][i] = like.ca;
        b->x[B_CL][i] = like.cl;
        b->x[B_SO4][i] = like.so4;
        b->x[B_BORATE][i] = like.borate;
        b->x[B_CYANURATE][i] = like.cyanurate;
        b->x[B_CHLORINE][i] = like.chlorine;
        b->dic[i] = like.alk;
        ph[i] = x[REAL_PH];
        b->x[B_LN_LOSS][i] = log(w->loss_said) + 0.8 * real_normal(r); /* another law than the tub's: wider */
        b->x[B_LN_RATE][i] = log(5e3) + 1.5 * real_normal(r);          /* kg/mol/h: 0.07 kg/mg/h */
        b->x[B_LN_DEMAND][i] = log(real_mol_per_kg(0.4, REAL_CL2)) + 0.8 * real_normal(r);
        b->x[B_LN_STILL][i] = log(w->kla_still_said) + 0.6 * real_normal(r);
        b->x[B_LN_JETS][i] = log(w->kla_jets_said) + 0.4 * real_normal(r);
        for (int s = 0; s < w->stocks; s++)
            b->x[B_STRENGTH + s][i] = w->stock[s].row.assay_sd_ln * real_normal(r);
        b->ln_air[i] = b->crossed[i] = 0.0;
    }
    memcpy(b->x[B_PH], ph, n * sizeof *ph);
    for (int turn = 0; turn < 2; turn++) {
        (void)belief_freeze(b);
        belief_dic(b);
    }
}

/* --------------------------------------------------------------------------------------------------- a visit */

typedef struct {
    int n, stock[3];
    double grams[3], wait_min[3];
    int air_after; /* after how many additions */
    double air_hours, air_most, air_to_ph, wait_hours; /* as foretold; at most; ended by a reading */
    int air_falls; /* 1: carbon dioxide comes in, and the reading ends it from above */
} trial_visit;

typedef struct {
    int visits, crossed, crossed_first, crossed_of[REAL_QUANTITIES];
    int promised, reached_at, stuck; /* reached_at: the visit after which all was in band, and stayed what was done; 0: never */
    int planned_more;                /* the first plan had two visits or more */
    double minutes, grams, grams_of[TW_SUBSTANCES];
    double expected_visits;
    int looked, held[REAL_QUANTITIES + 1]; /* 90 % intervals of the members after a retest: how many held the truth */
} trial_result;

static inline int trial_is_over(const trial_band *b, int of, double before, double after)
{
    const double tiny = of == REAL_PH ? 1e-4 : 1e-6;
    return (after > b->hard_high && after > before + tiny) || (after < b->hard_low && after < before - tiny);
}

static inline int trial_over(const trial_world *w, const double before[], const double after[], trial_result *out)
{
    int any = 0;
    for (int of = 0; of < REAL_QUANTITIES; of++) {
        const int over = trial_is_over(&w->band[of], of, before[of], after[of]);
        out->crossed_of[of] |= over;
        any |= over;
    }
    return any;
}

static inline void trial_values(const real_tub *t, double out[REAL_QUANTITIES])
{
    for (int of = 0; of < REAL_QUANTITIES; of++)
        out[of] = real_value(t, of);
}

static inline int trial_truly_in_band(const trial_world *w)
{
    for (int of = 0; of < REAL_QUANTITIES; of++) {
        const double v = real_value(&w->tub, of);
        if (w->band[of].target == w->band[of].target && !(v >= w->band[of].low && v <= w->band[of].high))
            return 0;
    }
    return 1;
}

/* A pour as each member lives through it, and who of them crosses by it. */
static inline void trial_pour_members(const trial_world *w, belief *b, const trial_stock *s, size_t stock, double grams)
{
    static double before[REAL_QUANTITIES][BELIEF_MOST];
    for (int of = 0; of < REAL_QUANTITIES; of++)
        for (size_t i = 0; i < b->n; i++)
            before[of][i] = belief_value(b, of, i);
    belief_pour(b, &s->row, stock, grams);
    belief_ph(b);
    for (int of = 0; of < REAL_QUANTITIES; of++)
        for (size_t i = 0; i < b->n; i++)
            if (trial_is_over(&w->band[of], of, before[of][i], belief_value(b, of, i)))
                b->crossed[i] = 1.0;
}

static inline void trial_air(trial_world *w, const trial_visit *v, belief *b, trial_result *out)
{
    double before[REAL_QUANTITIES], after[REAL_QUANTITIES];
    trial_values(&w->tub, before);
    const double mixed = trial_read(w, REAL_PH);
    out->minutes += 3.0;
    if (b != NULL)
        belief_weigh(b, REAL_PH, &w->tool[REAL_PH], mixed, b->ln_air);
    /* Read before the jets go on, at half of the time that was foretold, then after each fifth of it, not oftener than every six minutes. */
    for (double gone = 0.0; gone < v->air_most - 1e-9;) {
        const double fifth = 0.2 * v->air_hours > 0.1 ? 0.2 * v->air_hours : 0.1, part = gone > 0.0 || 0.5 * v->air_hours < fifth ? fifth : 0.5 * v->air_hours;
        const double h = v->air_most - gone < part ? v->air_most - gone : part;
        real_run(&w->tub, h, 1);
        gone += h;
        const double ph = trial_read(w, REAL_PH);
        out->minutes += 3.0;
        if (b != NULL) {
            belief_wait(b, h, 1);
            belief_weigh(b, REAL_PH, &w->tool[REAL_PH], ph, b->ln_air);
        }
        if (v->air_falls ? ph <= v->air_to_ph : ph >= v->air_to_ph)
            break;
    }
    trial_values(&w->tub, after);
    /* Chlorine that is lost meanwhile takes alkalinity with it: beyond a limit already, that is not led further by the air. */
    for (int of = 0; of < REAL_QUANTITIES; of++)
        if (of != REAL_PH && (before[of] < w->band[of].hard_low || before[of] > w->band[of].hard_high))
            after[of] = before[of];
    out->crossed |= trial_over(w, before, after, out);
}

static inline void trial_do(trial_world *w, const trial_visit *v, belief *b, trial_result *out)
{
    out->visits++;
    out->minutes += 15.0 + (w->drops ? 16.0 : 4.0);
    for (int i = 0; i <= v->n; i++) {
        if (v->air_hours > 0.0 && v->air_after == i)
            trial_air(w, v, b, out);
        if (i == v->n)
            break;
        double before[REAL_QUANTITIES], after[REAL_QUANTITIES];
        const trial_stock *s = &w->stock[v->stock[i]];
        const double z = real_normal(&w->random);
        trial_values(&w->tub, before);
        real_pour(&w->tub, &s->product, v->grams[i] * w->tub.strength[v->stock[i]] * exp(s->weighing_sd_ln * z));
        trial_values(&w->tub, after);
        out->crossed |= trial_over(w, before, after, out);
        out->minutes += 5.0;
        out->grams += v->grams[i];
        out->grams_of[(int)(tw_dose_substance_find(tw_units_text(s->id)) - tw_dose_substances)] += v->grams[i];
        const double wait = v->wait_min[i] / 60.0;
        real_run(&w->tub, wait > 0.1 ? wait : 0.1, 0);
        if (b != NULL) {
            trial_pour_members(w, b, s, (size_t)v->stock[i], v->grams[i]);
            belief_wait(b, wait > 0.1 ? wait : 0.1, 0);
        }
    }
    real_run(&w->tub, 1.0 + v->wait_hours, 0);
    if (b != NULL)
        belief_wait(b, 1.0 + v->wait_hours, 0);
    if (out->visits == 1)
        out->crossed_first = out->crossed;
    out->reached_at = trial_truly_in_band(w) ? (out->reached_at > 0 ? out->reached_at : out->visits) : 0;
}

/* The next visit's readings; the members learn from them. */
static inline void trial_retest(trial_world *w, belief *b, double got[REAL_QUANTITIES])
{
    belief_reading readings[REAL_QUANTITIES];
    real_run(&w->tub, w->gap_h, 0);
    for (int of = 0; of < REAL_QUANTITIES; of++) {
        got[of] = trial_read(w, of);
        readings[of] = (belief_reading){of, &w->tool[of], got[of]};
    }
    if (b != NULL) {
        belief_wait(b, w->gap_h, 0);
        belief_retest(b, readings, REAL_QUANTITIES);
    }
}

#include "trial_ways.h"

#endif
