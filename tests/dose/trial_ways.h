/* tests/dose/trial_ways.h: the ways of bringing a tub into its bands; see trial_dose.h. Included by it alone. */
#ifndef TW_TESTS_TRIAL_WAYS_H
#define TW_TESTS_TRIAL_WAYS_H

#include "water/inverse.h"

/* Of one way in one tub, between its visits. */
typedef struct {
    double risk_left;
    void *mem;
    size_t bytes;
} trial_state;

enum { TRIAL_DONE, TRIAL_GO, TRIAL_STUCK };

/* Largest change of one step, in the unit of the quantity: a cap of the person, the same for every planner. */
static inline double trial_largest_change(int of)
{
    return of == REAL_ALK ? 60.0 : of == REAL_CALCIUM ? 100.0 : of == REAL_SALT ? 2600.0 : of == REAL_CHLORINE ? 10.0 : 0.0;
}

static inline int trial_stock_for(const trial_world *w, tw_effect effect)
{
    for (int s = 0; s < w->stocks; s++)
        if (w->stock[s].row.effect == effect)
            return s;
    return -1;
}

static inline void trial_add(const trial_world *w, trial_visit *v, int stock, double grams, double wait_min)
{
    const double grid = w->stock[stock].grid_g, g = floor(grams / grid + 0.5) * grid;
    if (v->n == 3 || !(g > 0.0))
        return;
    v->stock[v->n] = stock;
    v->grams[v->n] = g;
    v->wait_min[v->n++] = wait_min;
}

/* ------------------------------------------------------------------------------- by the label, whole or half */

static inline int trial_by_label(const trial_world *w, const double reading[], double share, trial_visit *v)
{
    const double kg = w->said_kg, *r = reading;
    const trial_band *ta = &w->band[REAL_ALK], *ph = &w->band[REAL_PH], *ca = &w->band[REAL_CALCIUM], *salt = &w->band[REAL_SALT], *fc = &w->band[REAL_CHLORINE];
    const int acid = trial_stock_for(w, TW_EFFECT_TA_DOWN), bicarbonate = trial_stock_for(w, TW_EFFECT_TA_UP);
    const int soda = w->stocks > bicarbonate + 1 && w->stock[bicarbonate + 1].row.effect == TW_EFFECT_TA_UP ? bicarbonate + 1 : bicarbonate;
    int carbonate = 0;
    if (r[REAL_ALK] < ta->low || r[REAL_ALK] > ta->high) {
        const int stock = r[REAL_ALK] < ta->low ? bicarbonate : acid;
        const double mol = real_mol_per_kg(fabs(ta->target - r[REAL_ALK]), 0.5 * REAL_CACO3) * kg;
        trial_add(w, v, stock, share * mol / fabs(w->stock[stock].product.alk), stock == acid ? 15.0 : 60.0);
        carbonate = stock != acid;
    } else if (r[REAL_PH] > ph->high) /* pH minus: 10 g of dry acid for each m3 and 0.1, or as much of another */
        trial_add(w, v, acid, share * (r[REAL_PH] - ph->target) * 100.0 * kg / 1e3 * 7.746e-3 / -w->stock[acid].product.alk, 15.0);
    else if (r[REAL_PH] < ph->low) { /* pH plus: 10 g of soda for each m3 and 0.1 */
        trial_add(w, v, soda, share * (ph->target - r[REAL_PH]) * 100.0 * kg / 1e3, 60.0);
        carbonate = 1;
    }
    if (ca->target > 0.0 && r[REAL_CALCIUM] < ca->low && !carbonate) {
        const int s = trial_stock_for(w, TW_EFFECT_CH_UP);
        trial_add(w, v, s, share * real_mol_per_kg(ca->target - r[REAL_CALCIUM], REAL_CACO3) * kg / w->stock[s].product.ca, 60.0);
    }
    if (salt->target > 0.0 && r[REAL_SALT] < salt->low) {
        const int s = trial_stock_for(w, TW_EFFECT_SALT_UP);
        trial_add(w, v, s, share * real_mol_per_kg(salt->target - r[REAL_SALT], REAL_NACL) * kg / w->stock[s].product.cl, 60.0);
    }
    if (fc->target > 0.0 && r[REAL_CHLORINE] < fc->low) {
        const int s = trial_stock_for(w, TW_EFFECT_FC_UP);
        trial_add(w, v, s, share * real_mol_per_kg(fc->target - r[REAL_CHLORINE], REAL_CL2) * kg / w->stock[s].product.chlorine, 15.0);
    }
    return v->n > 0 ? TRIAL_GO : TRIAL_DONE;
}

/* ----------------------------------------------------------------------------------------- who knows the tub */

/* Who knows the tub still computes by the planner's chemistry: so much off a limit for what that is off. */
static inline double trial_oracle_keeps(const belief *b, int of)
{
    static const double OFF[REAL_QUANTITIES] = {0.04, 0.5, 0.5, 5.0, 0.05, 0.2};
    return b->n == 2 ? OFF[of] : 0.0;
}

/* What the oracle knows: the tub as one member, with the pH that it truly has. */
static inline void trial_know(const trial_world *w, belief *b)
{
    memset(b, 0, sizeof *b);
    b->n = 2;
    b->temp_c = w->tub.temp_c;
    for (size_t i = 0; i < 2; i++) {
        b->x[B_LN_KG][i] = log(w->tub.kg);
        b->x[B_ALK][i] = w->tub.alk;
        b->x[B_CA][i] = w->tub.ca;
        b->x[B_CL][i] = w->tub.cl;
        b->x[B_SO4][i] = w->tub.so4;
        b->x[B_BORATE][i] = w->tub.borate;
        b->x[B_CYANURATE][i] = w->tub.cyanurate;
        b->x[B_CHLORINE][i] = w->tub.chlorine;
        b->x[B_PH][i] = real_ph(&w->tub);
        b->dic[i] = w->tub.dic;
    }
    for (int turn = 0; turn < 2; turn++) {
        (void)belief_freeze(b);
        belief_dic(b);
    }
}

/* ------------------------------------------------------------------------------------------------- a course */

static inline tw_course_test trial_test_of(const real_tool *t, int of)
{
    static const double BLOCK[REAL_QUANTITIES] = {0.17, 13.0, 0.22, 0.0, 0.25, 0.25}; /* half the width of a block over sqrt 3 */
    const double width = t->blocks > 0 ? BLOCK[of] : 0.0;
    if (t->counted)
        return (tw_course_test){0.5 * t->step, t->sd_rel, t->step};
    if (t->ln)
        return (tw_course_test){0.0, sqrt(t->sd_abs * t->sd_abs + width * width), 0.0};
    return (tw_course_test){sqrt(t->sd_abs * t->sd_abs + width * width), t->sd_rel, t->step};
}

static inline int trial_by_course(const trial_world *w, belief *b, trial_state *s, trial_visit *v, tw_course *course)
{
    tw_course_ask ask;
    const int knows = b->n == 2;
    tw_waters first = belief_half(b, 0), second = belief_half(b, 1);
    tw_dose_course_defaults(&ask);
    if (knows)
        first.n = 1;
    ask.waters = &first;
    ask.judges = knows ? NULL : &second;
    for (int of = 0; of < REAL_QUANTITIES; of++) {
        const trial_band *band = &w->band[of];
        const double off = trial_oracle_keeps(b, of);
        ask.band[TRIAL_OF[of]] = (tw_course_band){band->low, band->target, band->high, band->hard_low + off, band->hard_high - off};
        ask.largest_change[TRIAL_OF[of]] = trial_largest_change(of);
        ask.test[TRIAL_OF[of]] = trial_test_of(&w->tool[of], of);
    }
    ask.si_high = (double)NAN;
    for (int i = 0; i < w->stocks; i++) {
        tw_course_stock *to = &ask.stock[ask.stocks++];
        to->substance = w->stock[i].row;
        to->left_g = (double)NAN;
        to->grid_g = w->stock[i].grid_g;
        to->weighing_sd_ln = knows ? 0.0 : w->stock[i].weighing_sd_ln;
        to->single_g = 0.0;
        to->barred = 0;
        if (knows) {
            for (int t = 0; t < TW_TOTALS; t++)
                to->substance.total_mol_per_g[t] *= w->tub.strength[i];
            to->substance.assay_sd_ln = 0.0;
        }
    }
    ask.pours = TW_WHO_TRAINED;
    ask.rough_water_kg = knows ? w->tub.kg : w->said_kg;
    ask.air_hours = w->air_hours;
    ask.air_to_ph = 7.6;
    ask.air_read_sd = knows ? 0.0 : w->meter_ph ? 0.05 : w->drops ? 0.12 : 0.2;
    ask.kla_jets_per_h = knows ? w->tub.kla_jets : w->kla_jets_said;
    ask.kla_sd_ln = knows ? 0.0 : 0.4;
    ask.air_co2_atm = 4.2e-4;
    ask.risk = s->risk_left;
    ask.reach = 0.9;
    ask.test_min = w->drops ? 16.0 : 4.0;
    ask.pour_min = 5.0;
    ask.way_min = 15.0;
    ask.ready_by_min = (double)NAN;
    ask.between_min = 60.0 * w->gap_h;
    ask.seed = w->seed;
    ask.visits_most = 1; /* the first visit and what it promises are the same: the others are planned anew after a retest */
    const size_t need = tw_dose_course_bytes(first.n > 1 ? first.n : 2);
    if (need > s->bytes || tw_dose_course(&ask, s->mem, s->bytes, course) != TW_OK)
        return TRIAL_STUCK;
    s->risk_left = course->risk_left;
    if (course->stands == TW_COURSE_IN_BAND)
        return TRIAL_DONE;
    if (course->visits == 0 && course->free.by == TW_COURSE_FREED_BY_AIR) { /* a visit of air alone, downwards */
        v->air_hours = course->free.hours;
        v->air_most = fmin(2.0 * v->air_hours, ask.air_hours);
        v->air_to_ph = course->free.value;
        v->air_falls = 1;
        return TRIAL_GO;
    }
    if (course->visits == 0)
        return TRIAL_STUCK;
    const tw_course_visit *one = &course->visit[0];
    for (size_t i = 0; i < one->additions && i < 3; i++) {
        v->stock[v->n] = (int)one->addition[i].stock;
        v->grams[v->n] = one->addition[i].grams;
        v->wait_min[v->n++] = one->addition[i].wait_min;
    }
    v->air_after = (int)one->moves.air_after;
    v->air_hours = one->moves.air_hours;
    v->air_most = one->moves.air_hours_slow;
    v->air_to_ph = one->moves.air_to_ph;
    v->wait_hours = one->moves.wait_hours;
    return v->n > 0 || v->air_hours > 0.0 || v->wait_hours > 0.0 ? TRIAL_GO : TRIAL_STUCK;
}

/* ------------------------------------------------------------------------------------------- from first to last */

static inline int trial_rises(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Are the members worth anything? Their 90 % intervals after a retest, against the tub. Last: the mass of the water. */
static inline void trial_cover(const trial_world *w, const belief *b, trial_result *out)
{
    static double v[BELIEF_MOST];
    for (int of = 0; of <= REAL_QUANTITIES; of++) {
        for (size_t i = 0; i < b->n; i++)
            v[i] = of < REAL_QUANTITIES ? belief_value(b, of, i) : exp(b->x[B_LN_KG][i]);
        qsort(v, b->n, sizeof *v, trial_rises);
        const double truth = of < REAL_QUANTITIES ? real_value(&w->tub, of) : w->tub.kg;
        out->held[of] += truth >= v[b->n / 20] && truth <= v[b->n - 1 - b->n / 20];
    }
    out->looked++;
}

static inline void trial_play(uint64_t seed, int way, int wrong, size_t members, void *mem, size_t bytes, trial_result *out)
{
    static trial_world w;
    static belief b;
    double reading[REAL_QUANTITIES];
    trial_state s = {0.05, mem, bytes};
    memset(out, 0, sizeof *out);
    trial_begin(&w, seed, wrong);
    memcpy(reading, w.first, sizeof reading);
    const int believes = way == TRIAL_COURSE;
    if (believes)
        trial_believe(&w, &b, 2 * members);
    for (int visit = 0; visit < TRIAL_VISITS; visit++) {
        trial_visit v;
        int promised = 0, go;
        memset(&v, 0, sizeof v);
        if (way == TRIAL_ORACLE)
            trial_know(&w, &b);
        if (way == TRIAL_TABLE || way == TRIAL_HALF)
            go = trial_by_label(&w, reading, way == TRIAL_TABLE ? 1.0 : 0.5, &v);
        else {
            static tw_course course;
            go = trial_by_course(&w, &b, &s, &v, &course);
            promised = (int)course.promised_visits;
            out->planned_more = visit == 0 ? course.expected_visits > 1.5 : out->planned_more;
            if (visit == 0)
                out->expected_visits = course.expected_visits;
        }
        if (visit == 0) {
            out->promised = go == TRIAL_GO ? promised : 0;
            out->planned_more |= promised > 1;
            out->reached_at = go == TRIAL_DONE && trial_truly_in_band(&w) ? -1 : 0; /* nothing to do, and rightly */
        }
        out->stuck = go == TRIAL_STUCK;
        if (go != TRIAL_GO)
            break;
        trial_do(&w, &v, believes ? &b : NULL, out);
        trial_retest(&w, believes ? &b : NULL, reading);
        if (believes)
            trial_cover(&w, &b, out);
    }
}

#endif
