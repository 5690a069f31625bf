/* dose/course_tell.c: see course_tell.h. */
#include "dose/course_tell.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/pick.h"

#define PRESS_MIN 1.0     /* attended minutes of pressing a button; starting and ending air are two (assumed) */
#define STEPS 48          /* of carbon: midpoint rule, within 1 % of the hours */

static tw_reduced_answer solved(const tw_reduced *acids, const tw_water *w)
{
    const tw_reduced_water q = tw_water_reduced_acids(w->total_mol_per_kg);
    tw_reduced_answer a;
    tw_water_reduced_solve(acids, &q, &a);
    return a;
}

/* Hours until so much carbon has left in equal parts (below 0: has come in), at most `most`; *reached: pH. */
static double hours_for(const tw_reduced *acids, const tw_water *water, double kla_per_h, double co2_atm, double carbon, double to_ph,
                        double most, double *reached)
{
    const double each = carbon / STEPS;
    double hours = 0.0;
    tw_water w = *water;
    for (int step = 0; step < STEPS; step++) {
        w.total_mol_per_kg[TW_TOTAL_DIC] -= 0.5 * each;
        const double over = solved(acids, &w).co2 - co2_atm * acids->co2_per_atm;
        const double more = over * each > 0.0 ? each / (kla_per_h * over) : most + 1.0;
        if (hours + more > most)
            return most;
        hours += more;
        w.total_mol_per_kg[TW_TOTAL_DIC] -= 0.5 * each;
        *reached = solved(acids, &w).ph;
    }
    *reached = to_ph;
    return hours;
}

double tw_dose_air_hours(const tw_reduced *acids, const tw_water *water, double kla_per_h, double co2_atm, double to_ph,
                         double most, double *reached)
{
    const double *t = water->total_mol_per_kg;
    const tw_reduced_water q = tw_water_reduced_acids(t); /* its carbon is what is asked */
    const double end = tw_water_reduced_dic_at_ph(acids, &q, to_ph), carbon = t[TW_TOTAL_DIC] - end;
    *reached = solved(acids, water).ph;
    if (!(carbon > 0.0) || !(end >= 0.0) || !(kla_per_h > 0.0))
        return 0.0;
    return hours_for(acids, water, kla_per_h, co2_atm, carbon, to_ph, most, reached);
}

double tw_dose_air_in_hours(const tw_reduced *acids, const tw_water *water, double kla_per_h, double co2_atm, double share,
                            double most, double *reached)
{
    const tw_reduced_answer now = solved(acids, water);
    const tw_reduced_water q = tw_water_reduced_acids(water->total_mol_per_kg);
    const double wanted = now.co2 + share * (co2_atm * acids->co2_per_atm - now.co2);
    double low = 4.0, high = now.ph;
    tw_water w = *water;
    *reached = now.ph;
    if (!(wanted > now.co2) || !(kla_per_h > 0.0))
        return 0.0;
    /* Alkalinity stays, so carbon dioxide only grows as pH falls: 40 halvings pin it to 1e-11. */
    for (int turn = 0; turn < 40; turn++) {
        const double ph = 0.5 * (low + high);
        w.total_mol_per_kg[TW_TOTAL_DIC] = tw_water_reduced_dic_at_ph(acids, &q, ph);
        if (solved(acids, &w).co2 < wanted)
            high = ph;
        else
            low = ph;
    }
    w.total_mol_per_kg[TW_TOTAL_DIC] = tw_water_reduced_dic_at_ph(acids, &q, high);
    return hours_for(acids, water, kla_per_h, co2_atm, water->total_mol_per_kg[TW_TOTAL_DIC] - w.total_mol_per_kg[TW_TOTAL_DIC], high,
                     most, reached);
}

tw_water tw_dose_tell_middle(const tw_rows *r, const tw_visit *v, size_t additions)
{
    tw_water w = tw_dose_exchange(r->middle_water, &r->ask->source, v->share);
    for (size_t k = 0; k < v->additions && k < additions; k++)
        w = tw_dose_apply(w, r->middle_kg, &r->ask->stock[v->stock[k]].substance, v->grams[k]);
    return w;
}

static double quantity(const tw_rows *r, int q, const tw_water *w)
{
    return q == TW_OF_PH ? solved(&r->acids, w).ph
                         : tw_dose_quantity((tw_quantity_of_water)q, w->total_mol_per_kg, r->ask->waters->solvent_kg_per_l);
}

/* What the k-th addition changes, and what is left of that when the chlorine it brought has been used up. */
static void sides(const tw_rows *r, const tw_visit *v, size_t k, tw_course_addition *out)
{
    const tw_water before = tw_dose_tell_middle(r, v, k), after = tw_dose_tell_middle(r, v, k + 1);
    const double brought = after.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE] - before.total_mol_per_kg[TW_TOTAL_ACTIVE_CHLORINE];
    const tw_water used = brought > 0.0 ? tw_dose_spend_chlorine(after, brought) : after;
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        const double was = quantity(r, q, &before);
        out->moved[q] = quantity(r, q, &after) - was;
        out->spent[q] = quantity(r, q, &used) - was;
    }
}

static const tw_substance *product(const tw_rows *r, uint32_t stock)
{
    return &r->ask->stock[stock].substance;
}

/* When the k-th addition may go in, after what went in before and what this visit has had. */
static double start_of(const tw_rows *r, const tw_course_visit *v, size_t k, tw_course_addition *now)
{
    const tw_family family = product(r, now->stock)->family;
    double start = 0.0;
    now->apart_from = TW_COURSE_ADDITIONS;
    now->why = TW_MESSAGES;
    for (size_t b = 0; b < r->ask->befores; b++) {
        const tw_dose_pair_verdict m = tw_dose_may_follow(r->ask->before[b].family, r->ask->before[b].minutes_ago, family, 0);
        start = tw_max(m.wait_left_min, start);
        if (m.apart) {
            now->apart = 1;
            now->why = m.pair->why;
        }
    }
    for (size_t e = 0; e < k; e++) {
        const tw_course_addition *was = &v->addition[e];
        const tw_dose_pair *pair = tw_dose_pair_of(product(r, was->stock)->family, family);
        const double wait = pair != NULL ? tw_max(pair->wait_min, was->wait_min) : was->wait_min;
        start = tw_max(was->start_min + wait, start);
        if (pair != NULL && (pair->apart || now->why == TW_MESSAGES))
            now->why = pair->why;
        if (pair != NULL && pair->apart) {
            now->apart = 1;
            now->apart_from = (uint32_t)e;
        }
    }
    return start;
}

/* pH at which air ends: between steps of acid the one that was asked; else the one from which what goes in after it
 * brings the water to its target. */
static double ph_of_air(const tw_rows *r, const tw_visit *v, const tw_water *before)
{
    const double ph = r->ph[v->air];
    const tw_water all = tw_dose_tell_middle(r, v, v->additions);
    const tw_reduced_water q = tw_water_reduced_acids(all.total_mol_per_kg);
    tw_water w = *before;
    w.total_mol_per_kg[TW_TOTAL_DIC] -= all.total_mol_per_kg[TW_TOTAL_DIC] - tw_water_reduced_dic_at_ph(&r->acids, &q, ph);
    return v->air == TW_ROW_PH_AIR || !(w.total_mol_per_kg[TW_TOTAL_DIC] > 0.0) ? ph : solved(&r->acids, &w).ph;
}

/* Draining and filling. */
static double exchange_min(const tw_course_ask *a, const tw_course_moves *m)
{
    return a->exchange_l_per_min > 0.0 ? 2.0 * m->exchange_l / a->exchange_l_per_min : 0.0;
}

static void air_of(const tw_rows *r, const tw_visit *v, size_t before, tw_course_moves *out)
{
    const tw_course_ask *a = r->ask;
    const tw_water w = tw_dose_tell_middle(r, v, before);
    const double slow = tw_exp(1.645 * a->kla_sd_ln), end = ph_of_air(r, v, &w);
    out->air_hours = tw_dose_air_hours(&r->acids, &w, a->kla_jets_per_h, a->air_co2_atm, end, a->air_hours, &out->air_to_ph);
    if (!(a->kla_jets_per_h > 0.0)) {
        /* Nothing known of the exchange: a reading ends it, the hours are all that may be. */
        out->air_hours = a->air_hours;
        out->air_to_ph = end;
    }
    out->air_hours_slow = tw_min(out->air_hours * slow, a->air_hours);
    out->air_after = (uint32_t)before;
    if (a->jets_stop_min > 0.0)
        out->air_presses = (uint32_t)ceil(60.0 * out->air_hours / a->jets_stop_min - 1e-9);
}

double tw_dose_tell_moves(const tw_rows *r, const tw_visit *v, tw_course_moves *out)
{
    const tw_course_ask *a = r->ask;
    double attended = a->way_min + a->test_min + a->pour_min * (double)v->additions;
    memset(out, 0, sizeof *out);
    if (v->share > 0.0) {
        out->exchange_share = v->share;
        out->exchange_l = v->share * r->middle_kg / a->waters->solvent_kg_per_l;
        attended += exchange_min(a, out);
    }
    if (v->air != 0) {
        air_of(r, v, tw_dose_visit_before_air(r, v), out);
        attended += PRESS_MIN * (double)(out->air_presses > 2 ? out->air_presses : 2);
    }
    if (v->keeps < 1.0)
        out->wait_hours = -tw_log(v->keeps) / a->loss_per_h;
    return attended;
}

void tw_dose_tell_visit(const tw_rows *r, const tw_candidate *c, tw_course_visit *out)
{
    const tw_visit *v = &c->visit;
    const tw_course_ask *a = r->ask;
    const size_t before_air = tw_dose_visit_before_air(r, v);
    out->additions = v->additions;
    out->attended_min = tw_dose_tell_moves(r, v, &out->moves);
    double clock = exchange_min(a, &out->moves), end = clock, air_end = before_air == 0 ? clock + 60.0 * out->moves.air_hours_slow : 0.0;
    for (size_t k = 0; k < v->additions; k++) {
        tw_course_addition *now = &out->addition[k];
        const tw_effect effect = product(r, v->stock[k])->effect;
        now->stock = v->stock[k];
        now->grams = v->grams[k];
        now->wait_min = tw_dose_waits[effect].wait_min;
        now->test_min = tw_dose_waits[effect].test_min;
        now->off_grid_g = c->unrounded[k] - now->grams;
        now->left_g = a->stock[now->stock].left_g - now->grams;
        const double may = start_of(r, out, k, now);
        now->start_min = tw_max(may, clock);
        if (k >= before_air && air_end > now->start_min)
            now->start_min = air_end;
        if (k + 1 == before_air && v->air != 0)
            air_end = now->start_min + now->wait_min + 60.0 * out->moves.air_hours_slow;
        end = tw_max(now->start_min + now->test_min, end);
        out->grams += now->grams;
        sides(r, v, k, now);
    }
    end = tw_max(air_end, end);
    end = tw_max(60.0 * out->moves.wait_hours, end);
    out->retest_min = end;
    out->unattended_min = end + a->test_min > out->attended_min ? end + a->test_min - out->attended_min : 0.0;
    out->bound = c->bound;
    out->bound_limit = c->bound_limit;
    out->bound_at = c->bound_at;
}
