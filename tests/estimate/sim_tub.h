/* tests/estimate/sim_tub.h: a start-up that never happened, with known truth.
 *
 * The hidden truth is drawn from the estimator's priors (that is what calibration means), and the schedule
 * depends on readings only, never on the truth. Water and readings: sim_water.h, sim_read.h. */
#ifndef TW_TESTS_SIM_TUB_H
#define TW_TESTS_SIM_TUB_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "estimate/model.h"
#include "estimate/recalled.h"
#include "estimate/segment.h"
#include "gen/estimate_tables.h"
#include "gen/tail_tables.h"
#include "sim_read.h"

static inline void sim_setting(sim_tub *s, double temp_end)
{
    tw_setting_event *e = &s->problem.setting[s->problem.settings++];
    memset(e, 0, sizeof *e);
    e->at_h = s->t;
    e->duty = s->duty;
    e->stirred = s->jets > 0.5 ? 5.0 : 1.0;
    e->still = 1.0 - s->jets;
    e->jets = s->jets;
    e->dries = !s->dries ? 0.0 : s->jets > 0.5 ? 1.0 : 0.07;
    e->temp_c = s->temp;
    e->temp_end_c = temp_end;
}

/* Announce the settings, run, and note the end of the stretch. */
static inline void sim_stretch(sim_tub *s, double until, double duty, double jets, double temp_end)
{
    s->duty = duty;
    s->jets = jets;
    sim_setting(s, temp_end);
    sim_run(s, until, temp_end);
}

/* A minute after what was read: at one and the same time the dose would come first. */
static inline tw_dose_event *sim_dose(sim_tub *s)
{
    sim_run(s, s->t + 1.0 / 60.0, s->temp);
    tw_dose_event *d = &s->problem.dose[s->problem.doses++];
    memset(d, 0, sizeof *d);
    d->at_h = s->t;
    d->product = -1;
    return d;
}

static inline void sim_chlorine(sim_tub *s, double mg)
{
    tw_dose_event *d = sim_dose(s);
    d->mmol[TW_TOTAL_ACTIVE_CHLORINE] = mg / 70.906;
    d->mmol[TW_TOTAL_CL] = mg / 70.906;
    d->mmol[TW_TOTAL_NA] = 2.05 * mg / 70.906;
    d->alk_meq = 1.05 * mg / 70.906;
    d->product = 0;
    s->ionic += 0.5e-3 * 3.05 * mg / 70.906 / s->nominal;
    const double got = mg * s->strength / s->water;
    s->c += got;
    s->remnant += got;
    s->cl += 2.0 * got / 70.906;
    s->alk += 0.05 * got / 70.906;
}

static inline void sim_acid(sim_tub *s, double mmol)
{
    tw_dose_event *d = sim_dose(s);
    d->mmol[TW_TOTAL_CL] = mmol;
    d->alk_meq = -mmol;
    s->cl += mmol / s->water;
    s->alk -= mmol / s->water;
    s->ionic += 0.5e-3 * mmol / s->nominal;
}

static inline void sim_salt(sim_tub *s, double g)
{
    tw_dose_event *d = sim_dose(s);
    d->mmol[TW_TOTAL_CL] = d->mmol[TW_TOTAL_NA] = g / 58.443 * 1e3;
    d->solid_salt = 1;
    s->heap += g;
    s->stirred_h = 0.0;
    s->ionic += 1e-3 * g / 58.443 * 1e3 / s->nominal;
}

/* What a product holds, in its sd, of a standard normal (data/tails.csv). */
static inline double sim_holds(double z)
{
    return z - TW_TAIL_PRODUCT_WEAK * log((1.0 + exp(-3.0 * z - 1.5)) / (1.0 + exp(-1.5)));
}

/* The coordinate at which a rising shape has a value. */
static inline double sim_inverse(double (*shape)(double), double value)
{
    double low = -10.0, high = 10.0;
    while (high - low > 1e-12) {
        const double z = 0.5 * (low + high);
        *(shape(z) < value ? &low : &high) = z;
    }
    return low;
}

static inline double sim_prior(const tw_prior *p, double x)
{
    if (p->kind == TW_PRIOR_SOFT)
        return p->middle * log(1.0 + exp(p->sd * x)) / log(2.0);
    if (p->kind == TW_PRIOR_SHARE)
        return 1.0 / (1.0 + exp(-p->middle - p->sd * x));
    return p->kind == TW_PRIOR_PLAIN ? p->middle + p->sd * x : exp(p->middle + p->sd * x);
}

static inline void sim_draw(sim_tub *s)
{
    sim_random *r = &s->random;
    sim_random part = {r->state ^ UINT64_C(0x40C1)}; /* a stream of its own */
    for (int i = 0; i < TW_X_EVAPORATION; i++)
        s->fixed_x[i] = sim_normal(r);
    s->fixed_x[TW_X_HOCL_PART] = sim_normal(&part);
    s->fixed_x[TW_X_SCALE_RATE] = sim_normal(&part);
    s->cell_x = sim_normal(r);
    for (int i = 0; i < TW_MAX_BIASES; i++)
        s->bias_x[i] = sim_normal(r);
    s->product_x = sim_normal(r);
    sim_random later = {r->state ^ UINT64_C(0xDA75)};
    for (int i = 0; i < SIM_MOST_DAYS; i++) {
        s->loss_z[i] = sim_normal(i < SIM_DAYS ? r : &later);
        s->made_z[i] = sim_normal(i < SIM_DAYS ? r : &later);
        s->loss_day[i] = i == 0 ? s->loss_z[0] : 0.8 * s->loss_day[i - 1] + 0.6 * s->loss_z[i];
        s->made_day[i] = i == 0 ? s->made_z[0] : 0.8 * s->made_day[i - 1] + 0.6 * s->made_z[i];
    }
    s->fixed_x[TW_X_EVAPORATION] = sim_normal(&later);
}

/* The loss that was seen, 1/h at 38 C: what a first-order loss must be to take as much from this water. */
static inline double sim_loss_seen(const sim_tub *s)
{
    return s->wrong == SIM_OTHER_DECAY ? s->loss38 * s->lost / s->seen : s->loss38;
}

/* The truth in natural units. */
static inline void sim_make(sim_tub *s)
{
#define SIM_LN(i) sim_prior(&s->problem.prior[i], s->fixed_x[i])
    s->water = SIM_LN(TW_X_WATER);
    s->loss38 = SIM_LN(TW_X_LOSS);
    s->ea = s->problem.prior[TW_X_LOSS_EA].middle + s->problem.prior[TW_X_LOSS_EA].sd * s->fixed_x[TW_X_LOSS_EA];
    s->film = SIM_LN(TW_X_FILM);
    s->film_h = SIM_LN(TW_X_FILM_HOURS);
    s->rate = SIM_LN(TW_X_DEMAND_RATE);
    s->inflow = SIM_LN(TW_X_INFLOW);
    s->kla_still = SIM_LN(TW_X_KLA_STILL);
    s->kla_jets = SIM_LN(TW_X_KLA_JETS);
    s->dissolve = SIM_LN(TW_X_DISSOLVE);
    s->factor = exp(0.18 * s->cell_x - 0.3 * log(1.0 + exp(-3.0 * (s->cell_x + 1.1))));
    s->strength = exp(s->problem.product_sd[0] * sim_holds(s->product_x));
    s->c = s->remnant = SIM_LN(TW_X_CHLORINE0);
    s->d = SIM_LN(TW_X_DEMAND0);
    s->alk = SIM_LN(TW_X_ALKALINITY);
    const double r = SIM_LN(TW_X_CARBON); /* CO2 over bicarbonate; K2/K1 of 25 C */
    s->dic = s->alk * (1.0 + r + 1.054e-4 / r) / (1.0 + 2.0 * 1.054e-4 / r);
    s->ca = SIM_LN(TW_X_HARDNESS) * SIM_LN(TW_X_CALCIUM_SHARE);
    s->mg = SIM_LN(TW_X_HARDNESS) - s->ca;
    s->cl = SIM_LN(TW_X_CHLORIDE);
    s->so4 = SIM_LN(TW_X_SULFATE);
    s->cya = SIM_LN(TW_X_CYANURATE);
    s->borate = SIM_LN(TW_X_BORATE);
    s->po4 = SIM_LN(TW_X_PHOSPHATE);
    s->ions = SIM_LN(TW_X_IONS);
    s->evaporation = SIM_LN(TW_X_EVAPORATION);
    s->source_alk = s->alk;
    s->source_dic = s->dic;
    s->source_ca = s->ca;
    s->source_mg = s->mg;
    s->source_cl = s->cl;
    s->source_so4 = s->so4;
    s->hocl_part = SIM_LN(TW_X_HOCL_PART);
    s->scale_rate = SIM_LN(TW_X_SCALE_RATE);
#undef SIM_LN
}

/* An empty tub with its priors. */
static inline void sim_begin(sim_tub *s, uint64_t seed)
{
    memset(s, 0, sizeof *s);
    s->act = -1;
    s->random.state = seed * UINT64_C(0xD1342543DE82EF95) + 1;
    tw_estimate_problem_init(&s->problem, TW_WATER_FRESH);
    tw_problem *p = &s->problem;
    p->biases = SIM_BIASES;
    for (int i = 0; i < SIM_BIASES; i++)
        p->bias_sd[i] = 0.1;
    p->products = 1;
    p->product_sd[0] = 0.1; /* hypochlorite */
    p->film_from_h = p->days_from_h = 30.0;
    p->plate_salt_mmol_per_kg = 34.0; /* 2,000 mg/L; the start-up salts to some 1,650 */
    sim_draw(s);
    sim_make(s);
}

/* Volume by geometry, 10 %; a tenth is of something else (data/tails.csv). */
static inline double sim_say_volume(sim_tub *s)
{
    tw_problem *p = &s->problem;
    sim_random other = {s->random.state ^ UINT64_C(0x3157EAD)};
    const double wide = sim_uniform(&other) < TW_TAIL_VOLUME_MISREAD ? TW_TAIL_VOLUME_MISREAD_WIDTH : 1.0;
    const double said = exp(log(s->water) + 0.0851 * wide * sim_normal(&s->random)) * (s->wrong == SIM_VOLUME_OFF ? 1.3 : 1.0);
    tw_reading *v = &p->reading[p->readings++];
    memset(v, 0, sizeof *v);
    v->observed = TW_OBSERVED_WATER;
    v->link = TW_LINK_LN;
    v->value = log(said);
    v->sd = 0.0851;
    v->misread = TW_TAIL_VOLUME_MISREAD;
    v->rubbish = 0.02;
    v->span = 4.0;
    v->bias = -1;
    v->bleach_low = 1e308;
    if (sim_uniform(&s->random) < 0.02)
        v->value = log(200.0) + 4.0 * sim_uniform(&s->random);
    return exp(v->value);
}

/* From the fill to the hour of the first chlorine: hose tested, alkalinity cut, salted, warm. Returns the litres that
 * doses are reckoned with. */
static inline double sim_before_chlorine(sim_tub *s, double said)
{
    tw_problem *p = &s->problem;
    s->temp = 12.0;
    s->ionic = 1e-3 * (1.5 * exp(p->prior[TW_X_ALKALINITY].middle) + exp(p->prior[TW_X_CHLORIDE].middle));
    const double nominal = said > 300.0 && said < 5000.0 ? said : 1250.0;
    s->nominal = said;
    const double ionic = s->ionic;
    s->ionic = 0.005; /* source water */
    sim_read(s, TW_TOOL_COMPARATOR, TW_OBSERVED_PH, sim_ph(s, 12.0, s->dic, s->alk, s->c), SIM_PH, 0.2, 1);
    s->ionic = ionic;
    const double ta = sim_alk_reading(s, 1);
    sim_read(s, TW_TOOL_DROPS, TW_OBSERVED_HARDNESS, s->ca + s->mg, -1, 10.0, 1);
    sim_read(s, TW_TOOL_METER, TW_OBSERVED_CONDUCTIVITY, sim_ec(s), SIM_EC, 1.0, 1);
    sim_stretch(s, 14.0, 0.0, 0.0, 37.0);
    if (ta > 110.0)
        sim_acid(s, (ta - 90.0) / 50.04 * nominal);
    sim_stretch(s, 16.0, 0.0, 0.9, 38.0);
    sim_ph_reading(s);
    sim_alk_reading(s, 0);
    sim_stretch(s, 20.0, 0.0, 0.02, 38.0);
    sim_salt(s, 1.6 * nominal);
    sim_stretch(s, 21.0, 0.0, 0.9, 38.0);
    sim_stretch(s, 24.0, 0.0, 0.02, 38.0);
    sim_read(s, TW_TOOL_METER, TW_OBSERVED_CONDUCTIVITY, sim_ec(s), SIM_EC, 1.0, 0);
    sim_stretch(s, 30.0, 0.0, 0.02, 38.0);
    sim_read(s, TW_TOOL_METER, TW_OBSERVED_CONDUCTIVITY, sim_ec(s), SIM_EC, 1.0, 0);
    return nominal;
}

/* Chlorine that nobody wrote comes as hypochlorite, what is used up comes as demand (bathers, dirt); acid is hydrochloric, base
 * soda ash, air jets of so many hours (not past `until`). */
static inline void sim_do(sim_tub *s, int act, double size, double until)
{
    const double jets = s->jets;
    switch (act) {
    case TW_UNLOGGED_CHLORINE_POURED:
        s->c += size;
        s->remnant += size;
        s->cl += 2.0 * size / 70.906;
        break;
    case TW_UNLOGGED_ACID_POURED:
        s->alk -= size;
        s->cl += size;
        break;
    case TW_UNLOGGED_BASE_POURED:
        s->alk += size;
        s->dic += 0.5 * size;
        break;
    case TW_UNLOGGED_AIRED:
        s->jets = 1.0;
        sim_run(s, s->t + size < until ? s->t + size : until, 38.0);
        s->jets = jets;
        break;
    default: s->d += size;
    }
}

/* Of a size log-normal with mean and variance of an even chance on ln from the least to the greatest. */
static inline double sim_act_size(int act, double z)
{
    const tw_unlogged_row *row = &tw_estimate_unlogged[act];
    return sqrt(row->low * row->high) * exp(log(row->high / row->low) / sqrt(12.0) * z);
}

/* Run on at these settings; what nobody wrote happens on the way. */
static inline void sim_on(sim_tub *s, double until)
{
    if (s->act >= 0 && s->t < s->act_h && s->act_h <= until) {
        sim_run(s, s->act_h, 38.0);
        sim_do(s, s->act, s->act_size, until);
    }
    sim_run(s, until, 38.0);
}

/* Hours more in which nothing is read or written; somebody may do something with the chlorine all the same. Settings as they are. */
static inline void sim_unread(sim_tub *s, uint64_t seed, double hours)
{
    sim_random r = {seed * UINT64_C(0x9FB21C651E98DF25) + 11};
    const double used = tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_USED].per_day / 24.0;
    const double poured = tw_estimate_unlogged[TW_UNLOGGED_CHLORINE_POURED].per_day / 24.0;
    const double until = s->t + hours, wait = -log(sim_uniform(&r)) / (used + poured);
    const int act = sim_uniform(&r) * (used + poured) < used ? TW_UNLOGGED_CHLORINE_USED : TW_UNLOGGED_CHLORINE_POURED;
    const double z = sim_normal(&r);
    if (wait < hours) {
        sim_run(s, s->t + wait, 38.0);
        sim_do(s, act, sim_act_size(act, z), until);
    }
    sim_run(s, until, 38.0);
}

/* A stretch at a duty that is announced; in truth the generator may be off. */
static inline void sim_announced(sim_tub *s, double until, double duty, int off)
{
    s->duty = duty;
    s->jets = 0.02;
    sim_setting(s, 38.0);
    s->duty = off ? 0.0 : duty;
    sim_on(s, until);
    s->duty = duty;
}

#define SIM_MOST_GAPS 64

/* The hours at which chlorine is read, from the first dose on. Returns how many. */
static inline int sim_hours_read(double days, double *hour)
{
    const double end = 30.0 + 24.0 * days;
    int n = 0;
    hour[n++] = 30.25;
    for (double t = 32.0; t < end - 1e-9 && n < SIM_MOST_GAPS; t += t < 41.0 ? 10.0 : 12.0)
        hour[n++] = t;
    hour[n++] = end;
    return n;
}

/* Hours at which the pH of the tub is read, as sim_go() reads it. */
static inline int sim_hours_ph(double days, double *hour)
{
    double chlorine[SIM_MOST_GAPS + 1];
    const int read = sim_hours_read(days, chlorine);
    int n = 0;
    hour[n++] = 16.0;
    for (int k = 1; k + 2 < read; k += 2)
        hour[n++] = chlorine[k + 2];
    return n;
}

/* An act that may have been, between two readings of what it moves. */
typedef struct {
    int act;
    double from_h, until_h;
} sim_chance;

static inline int sim_chances(const int *act, int acts, const double *hour, int hours, sim_chance *out)
{
    int n = 0;
    for (int i = 1; i < hours; i++)
        for (int a = 0; a < acts; a++)
            out[n++] = (sim_chance){act[a], hour[i - 1], hour[i]};
    return n;
}

/* What a start-up may hold that nobody wrote, as data/unlogged.csv has it: at its rates, one at most, in the middle between
 * two readings of what it moves. others: acid, base and air beside chlorine. */
static inline void sim_draw_act(sim_tub *s, uint64_t seed, double days, int others)
{
    static const int CHLORINE[2] = {TW_UNLOGGED_CHLORINE_POURED, TW_UNLOGGED_CHLORINE_USED};
    static const int PH[3] = {TW_UNLOGGED_ACID_POURED, TW_UNLOGGED_BASE_POURED, TW_UNLOGGED_AIRED};
    static sim_chance may[5 * SIM_MOST_GAPS];
    sim_random r = {seed * UINT64_C(0xA24BAED4963EE407) + 7};
    double hour[SIM_MOST_GAPS + 1], odds = 1.0;
    int n = sim_chances(CHLORINE, 2, hour, sim_hours_read(days, hour), may);
    if (others)
        n += sim_chances(PH, 3, hour, sim_hours_ph(days, hour), may + n);
#define SIM_ODDS(i) (-expm1(-tw_estimate_unlogged[may[i].act].per_day * (may[i].until_h - may[i].from_h) / 24.0))
    for (int i = 0; i < n; i++)
        odds += SIM_ODDS(i);
    double left = odds * sim_uniform(&r) - 1.0;
    const double z = sim_normal(&r);
    s->act = -1;
    for (int i = 0; i < n && left > 0.0; i++) {
        left -= SIM_ODDS(i);
        if (left > 0.0)
            continue;
        s->act = may[i].act;
        s->act_h = 0.5 * (may[i].from_h + may[i].until_h);
        s->act_size = sim_act_size(s->act, z);
    }
#undef SIM_ODDS
}

/* The problem with what nobody wrote, written. */
static inline void sim_write_act(const sim_tub *s, tw_problem *p)
{
    *p = s->problem;
    if (s->act < 0)
        return;
    tw_dose_event *d = &p->dose[p->doses++];
    memset(d, 0, sizeof *d);
    d->at_h = s->act_h;
    d->product = -1;
    if (s->act == TW_UNLOGGED_CHLORINE_POURED) {
        const double mmol = s->act_size * s->water / 70.906;
        d->mmol[TW_TOTAL_ACTIVE_CHLORINE] = d->mmol[TW_TOTAL_CL] = d->alk_meq = mmol;
        d->mmol[TW_TOTAL_NA] = 2.0 * mmol;
    } else if (s->act == TW_UNLOGGED_CHLORINE_USED) {
        d->demand_mg = s->act_size * s->water;
    } else if (s->act == TW_UNLOGGED_ACID_POURED) {
        d->mmol[TW_TOTAL_CL] = s->act_size * s->water;
        d->alk_meq = -s->act_size * s->water;
    } else if (s->act == TW_UNLOGGED_BASE_POURED) {
        d->mmol[TW_TOTAL_NA] = d->alk_meq = s->act_size * s->water;
        d->mmol[TW_TOTAL_DIC] = 0.5 * s->act_size * s->water;
    } else { /* air is a setting: it stays unwritten */
        p->doses--;
    }
}

/* The hour at which a recalled reading was really taken: normal around the one that is written, after the last reading before
 * and before the next one. */
static inline double sim_recalled_hour(sim_tub *s, double written, double from, double until)
{
    double hour = written;
    do
        hour = written + s->recalled_sd_h * sim_normal(&s->random);
    while (!(hour > from && hour < until));
    return hour;
}

/* The first reading after the first dose, at 30.25 by what is written, in truth at any hour from the reading before (30) to the next
 * one (32). Jets stop at 30.25 all the same. */
static inline void sim_first_recalled(sim_tub *s, double dose_h, double before)
{
    const double hour = sim_recalled_hour(s, 30.25, 29.5, 31.5);
    double now = s->c;
    s->duty = 0.0;
    s->jets = 0.9;
    sim_setting(s, 38.0);
    if (hour < dose_h)
        s->c = before, sim_drops_fc(s), s->c = now; /* chlorine of the mains hardly moves in half an hour */
    else if (hour <= 30.25)
        sim_run(s, hour, 38.0), sim_drops_fc(s);
    sim_run(s, 30.25, 38.0);
    s->jets = 0.02;
    sim_setting(s, 38.0);
    if (hour > 30.25)
        sim_run(s, hour, 38.0), sim_drops_fc(s);
    s->problem.reading[s->problem.readings - 1].at_h = 30.25;
    tw_estimate_recalled(&s->problem, s->problem.readings - 1, s->recalled_sd_h, &dose_h, 1, 29.5, 31.5);
}

/* A start-up of a tub that has begun. days: 2..12 after the first chlorine. */
static inline void sim_go(sim_tub *s, double days, double said)
{
    tw_problem *p = &s->problem;
    const double nominal = sim_before_chlorine(s, said);
    const double before = s->c;
    sim_chlorine(s, 5.0 * nominal);
    if (s->recalled_sd_h > 0.0) {
        sim_first_recalled(s, s->t, before);
    } else {
        sim_stretch(s, 30.25, 0.0, 0.9, 38.0);
        sim_drops_fc(s);
    }
    sim_announced(s, 32.0, 0.0, 0);
    double last = sim_drops_fc(s), duty = 1.0;
    const double end = 30.0 + 24.0 * days;
    int k = 0, off = 0;
    while (s->t < end - 1e-9) {
        const double next = s->t + (k == 0 ? 10.0 : 12.0);
        sim_announced(s, next < end ? next : end, off ? 0.0 : duty, s->wrong == SIM_UNLOGGED_OFF && (k == 3 || k == 4));
        if (s->wrong == SIM_UNLOGGED_DOSE && k == 3) {
            s->c += 3.0;
            s->remnant += 3.0;
        }
        if (s->wrong == SIM_UNLOGGED_USE && k == 3)
            s->d += 3.0;
        const int lot = k % 3 == 2 ? SIM_LOT_B : SIM_LOT_A;
        const double strip = sim_read(s, TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE, s->c, lot, 0.0, 0);
        if (k % 2 == 1) {
            last = sim_drops_fc(s);
            sim_ph_reading(s);
        }
        off = k == 7 && last > 3.0; /* an off-test, by what was read */
        duty = last > 5.0 ? 0.4 : 1.0;
        if (strip <= 0.5 && last < 1.0)
            sim_chlorine(s, 3.0 * nominal);
        if (k == 5)
            sim_alk_reading(s, 0);
        k++;
    }
    p->now_h = s->t;
    s->duty = duty;
    sim_setting(s, 38.0);
}

/* The whole start-up, from a tub nobody knew, whose truth is not as modelled. */
static inline void sim_start_up_wrong(sim_tub *s, uint64_t seed, double days, sim_wrong wrong)
{
    sim_begin(s, seed);
    s->wrong = wrong;
    if (wrong == SIM_LOT_HALF_HIGH)
        s->bias_x[SIM_LOT_A] = sim_inverse(sim_off, log(1.5) / tw_estimate_instrument(TW_TOOL_STRIP, TW_OBSERVED_FREE_CHLORINE)->bias_sd);
    if (wrong == SIM_WEAK_PRODUCT) {
        s->strength = 0.8;
        s->product_x = sim_inverse(sim_holds, log(0.8) / s->problem.product_sd[0]);
    }
    const double said = sim_say_volume(s);
    sim_go(s, days, said);
}

static inline void sim_start_up(sim_tub *s, uint64_t seed, double days)
{
    sim_start_up_wrong(s, seed, days, SIM_AS_MODELLED);
}

/* What calibrate.c may ask of scale: as modelled, the same in hard water, never. */
enum { SIM_SCALE, SIM_SCALE_HARD, SIM_SCALE_NEVER };

static inline void sim_set_scale(sim_tub *s, int scale)
{
    if (scale == SIM_SCALE_NEVER)
        s->scale_rate = 0.0;
    if (scale != SIM_SCALE_HARD)
        return;
    s->problem.prior[TW_X_HARDNESS].middle = log(3.5);
    s->problem.prior[TW_X_ALKALINITY].middle = log(3.0);
    sim_make(s);
}

/* The same with what nobody wrote, as the estimator expects it. others: with acid, base and air. recalled_sd_h: of the hour of the
 * first reading after the first dose, 0 when it was written at once. */
static inline void sim_start_up_unwritten(sim_tub *s, uint64_t seed, double days, int others, double recalled_sd_h, int dries, int scale)
{
    sim_begin(s, seed);
    sim_set_scale(s, scale);
    s->dries = dries;
    s->recalled_sd_h = recalled_sd_h;
    sim_draw_act(s, seed, days, others);
    const double said = sim_say_volume(s);
    sim_go(s, days, said);
}

#define SIM_MONTHS 1.0 /* from one water to the next */

/* How far the truth goes from one water to the next: data/carry.csv drawn as a normal. */
static inline double sim_drift(sim_tub *s, int what, double scale)
{
    const tw_drift *d = &tw_estimate_drifts[what];
    return sqrt(d->at_fill * d->at_fill + SIM_MONTHS * d->a_month * d->a_month) * sim_normal(&s->random) / scale;
}

/* The next water of the same tub: what belongs to the tub drifts, the water is another one, the second bottle
 * of strips is a new one. purged: the film is as after a purge. `taught` is what the advice goes by. */
static inline void sim_next_water(sim_tub *s, const sim_tub *first, const tw_taught *taught, uint64_t seed, double days,
                                  int purged)
{
    static const int SAME[] = {TW_X_WATER, TW_X_LOSS, TW_X_LOSS_EA, TW_X_FILM_HOURS, TW_X_BATHER, TW_X_KLA_STILL, TW_X_KLA_JETS,
                               TW_X_HOCL_PART, TW_X_SCALE_RATE};
    double volume_x = 0.0;
    sim_begin(s, seed ^ UINT64_C(0x5EC02D));
    for (size_t i = 0; i < sizeof SAME / sizeof *SAME; i++)
        if (SAME[i] != TW_X_FILM_HOURS || !purged)
            s->fixed_x[SAME[i]] = first->fixed_x[SAME[i]] + sim_drift(s, SAME[i], s->problem.prior[SAME[i]].sd);
    const double age = first->t - first->problem.film_from_h;
    const double left = first->film * exp(-age / first->film_h), middle = s->problem.prior[TW_X_FILM].middle;
    double film_x = log(expm1(left * log(2.0) / middle) + 1e-300) / s->problem.prior[TW_X_FILM].sd;
    film_x = film_x > -3.0 ? film_x : -3.0;
    if (!purged)
        s->fixed_x[TW_X_FILM] = film_x + sim_drift(s, TW_X_FILM, 1.0);
    const double tail = exp(-3.0 * (first->cell_x + 1.1));
    s->cell_x = first->cell_x + sim_drift(s, TW_CARRIED_CELL, 0.18 + 0.9 * tail / (1.0 + tail));
    for (int i = 0; i < SIM_BIASES; i++) {
        s->problem.bias_name[i] = i == SIM_LOT_B ? 99 : first->problem.bias_name[i];
        if (i != SIM_LOT_B)
            s->bias_x[i] = first->bias_x[i] + sim_drift(s, TW_CARRIED_BIAS, 1.0);
    }
    sim_make(s);
    for (size_t i = 0; i < taught->n; i++)
        volume_x = taught->what[i] == TW_X_WATER ? taught->mean[i] : volume_x;
    sim_go(s, days, sim_prior(&s->problem.prior[TW_X_WATER], volume_x));
}

/* Truth a day on, with everything left as it is. Call last: it moves the tub. */
static inline void sim_next_day(sim_tub *s, sim_tub *later)
{
    *later = *s;
    later->jets = 0.0;
    sim_run(later, s->t + 24.0, 38.0);
}

/* The hidden truth as coordinates of a model of this problem. */
static inline void sim_truth_x(const sim_tub *s, const tw_model *m, tw_lanes *x)
{
    for (int l = 0; l < TW_ESTIMATE_LANES; l++) {
        for (int i = 0; i < TW_X_FIXED; i++)
            x[i].v[l] = s->fixed_x[i];
        x[m->x_cell].v[l] = s->cell_x;
        for (size_t i = 0; i < s->problem.biases; i++)
            x[m->x_bias + i].v[l] = s->bias_x[i];
        x[m->x_product].v[l] = s->product_x;
        for (size_t i = 0; i < m->days; i++) {
            x[m->x_loss_day + i].v[l] = s->loss_z[i];
            x[m->x_made_day + i].v[l] = s->made_z[i];
        }
    }
}

#endif
