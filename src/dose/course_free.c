/* dose/course_free.c: see course_free.h. */
#include "dose/course_free.h"

#include <math.h>
#include <string.h>

#include "dose/course_tell.h"
#include "dose/size.h"
#include "num/pick.h"
#include "num/sort.h"

#define TO_REST 0.75  /* of the carbon dioxide that the air would give: the rest takes as long again and more */
#define SEEN_PH 0.1   /* less of a fall is not seen by a reading */
#define DAY_H 24.0    /* longer is no help */

static const int ORDER[TW_OF_QUANTITIES] = {TW_OF_ALKALINITY, TW_OF_PH,   TW_OF_PHOSPHATE, TW_OF_CYANURATE,
                                            TW_OF_CALCIUM,    TW_OF_SALT, TW_OF_SULFATE,   TW_OF_CHLORINE};

/* Nobody barred its family, and whom the plan is for may pour it. */
static int may_be_had(const tw_course_ask *a, const tw_substance *s)
{
    for (size_t j = 0; j < a->stocks; j++)
        if (a->stock[j].barred && a->stock[j].substance.family == s->family)
            return 0;
    return s->who <= a->pours && s->who != TW_WHO_CALCULATOR;
}

/* A product of the table that would do it and that whom the plan is for may pour: fewest grams. */
static int by_product(const tw_rows *r, int q, int way, tw_course_free *f)
{
    const double target = r->ask->band[q].target;
    int found = 0;
    for (int id = 0; id < TW_SUBSTANCES; id++) {
        double grams = 0.0;
        if (tw_dose_visit_meant(tw_dose_substances[id].effect, q) != way || !may_be_had(r->ask, &tw_dose_substances[id]) ||
            tw_dose_grams_to(&r->middle_water, r->middle_kg, &tw_dose_substances[id], (tw_quantity_of_water)q, target,
                             r->ask->waters->solvent_kg_per_l, &grams) != TW_OK ||
            !(grams > 0.0) || (found && grams >= f->grams))
            continue;
        found = 1;
        f->by = TW_COURSE_FREED_BY_PRODUCT;
        f->of_substance = (tw_substance_id)id;
        f->grams = grams;
    }
    return found;
}

static void by_exchange(const tw_rows *r, int q, tw_course_free *f)
{
    double share = 0.0;
    if (q == TW_OF_PH || tw_dose_swap_fraction(r->middle[q], r->source[q], r->ask->band[q].target, &share) != TW_OK || !(share > 0.0))
        return;
    f->by = TW_COURSE_FREED_BY_EXCHANGE;
    f->share = share;
}

/* Nothing may be used that moves it: more of an empty box, a product of the table, other water. */
static void no_product(const tw_rows *r, int q, int way, tw_course_free *f)
{
    const int empty = tw_dose_visit_plainest(r, q, way, 1);
    f->quantity = q;
    if (empty >= 0 && !r->ask->stock[empty].barred && r->ask->stock[empty].left_g <= 0.0) {
        f->by = TW_COURSE_FREED_BY_STOCK;
        f->of_stock = (uint32_t)empty;
        f->grams = tw_dose_visit_whole(r, (uint32_t)empty, q);
    } else if (!by_product(r, q, way, f)) {
        by_exchange(r, q, f);
    }
}

/* Value of a limit that the one dose of the visit would need: the quantity after it, at the risk, on the limit's side. */
static double limit_needed(const tw_rows *r, const tw_visit *v, tw_search *s, const tw_row_limit *m, double risk)
{
    if (m->quantity == TW_OF_PH) {
        /* The middle water's pH, less the same distance that today's limit keeps from the members' quantile. */
        const tw_water after = tw_dose_tell_middle(r, v, 1);
        return tw_dose_value(&r->acids, TW_OF_PH, &after, r->ask->waters->solvent_kg_per_l);
    }
    for (size_t i = 0; i < s->full.n; i++)
        s->value[i] = s->full.row[m->row][i] + r->per_g[m->row][v->stock[0]] * s->full.rate[v->stock[0]][i] * v->grams[0];
    return tw_quantile_picked(s->value, s->full.weight, s->full.n, m->is_floor ? risk : 1.0 - risk, s->order);
}

/* Which limit stands before a visit in most members, and in what share. */
static size_t in_the_way(const tw_rows *r, const tw_visit *v, const tw_search *s, double *chance)
{
    double held[TW_COURSE_LIMITS + 1] = {0.0};
    size_t best = r->limits;
    for (size_t i = 0; i < s->full.n; i++) {
        size_t bound;
        if (tw_dose_rows_factor(r, v, &s->full, i, &bound) < 1.0)
            held[bound] += s->full.weight[i];
    }
    for (size_t l = 0; l < r->limits; l++)
        if (held[l] > 0.0 && (best == r->limits || held[l] > held[best]))
            best = l;
    *chance = best < r->limits ? held[best] : 0.0;
    return best;
}

/* pH by its ceiling because the water has less carbon dioxide than the air gives: air brings it down, and then there is room.
 * Borate makes that a matter of many hours: then as far as one visit's air goes. */
static int by_air(const tw_rows *r, const tw_visit *v, tw_course_free *f)
{
    const tw_course_ask *a = r->ask;
    const double kg_per_l = a->waters->solvent_kg_per_l, now = tw_dose_value(&r->acids, TW_OF_PH, &r->middle_water, kg_per_l);
    double rest, ph;
    if (!(a->air_hours > 0.0))
        return 0;
    (void)tw_dose_air_in_hours(&r->acids, &r->middle_water, a->kla_jets_per_h, a->air_co2_atm, TO_REST, DAY_H, &rest);
    f->hours = tw_dose_air_in_hours(&r->acids, &r->middle_water, a->kla_jets_per_h, a->air_co2_atm, TO_REST, a->air_hours, &ph);
    tw_water aired = r->middle_water;
    const tw_reduced_water q = tw_water_reduced_acids(aired.total_mol_per_kg);
    aired.total_mol_per_kg[TW_TOTAL_DIC] = tw_water_reduced_dic_at_ph(&r->acids, &q, rest);
    const tw_water after = tw_dose_apply(aired, r->middle_kg, &a->stock[v->stock[0]].substance, v->grams[0]);
    if (!(ph < now - SEEN_PH) || !(tw_dose_value(&r->acids, TW_OF_PH, &after, kg_per_l) < r->ph[TW_ROW_PH_CEILING]))
        return 0;
    f->by = TW_COURSE_FREED_BY_AIR;
    f->value = ph;
    return 1;
}

/* There is a product, and yet no measurable amount of it may go in. */
static void no_room(const tw_rows *r, tw_search *s, int q, int j, double left, double members, tw_course_free *f)
{
    const double wanted = tw_dose_visit_whole(r, (uint32_t)j, q);
    tw_visit v = {.additions = 1, .stock = {(uint32_t)j}, .serves = {q}, .grams = {wanted}, .keeps = 1.0};
    const double risk = tw_dose_worked_at(left, members), grid = r->ask->stock[j].grid_g;
    tw_course_bound by;
    const double cap = tw_dose_visit_cap(r, (size_t)j, q, &by);
    f->of_stock = (uint32_t)j;
    f->quantity = q;
    tw_dose_rows_factors(r, &v, &s->full, s->value);
    const double admissible = wanted * tw_quantile_picked(s->value, s->full.weight, s->full.n, risk, s->order);
    if (by == TW_COURSE_BOUND_STOCK && cap < wanted && cap < admissible) {
        f->by = TW_COURSE_FREED_BY_STOCK;
        f->grams = wanted - cap;
        return;
    }
    if (grid > 0.0 && (admissible < grid || cap < grid) && admissible > 0.05 * wanted && cap > 0.05 * wanted) {
        f->by = TW_COURSE_FREED_BY_GRID;
        f->grams = tw_min(admissible, cap);
        return;
    }
    v.grams[0] = grid > 0.0 && grid < wanted ? grid : 0.05 * wanted;
    size_t l = in_the_way(r, &v, s, &f->limit.chance);
    if (l == r->limits) { /* the least goes in, but no more than is worth a visit: what stops the whole of it? */
        v.grams[0] = wanted;
        l = in_the_way(r, &v, s, &f->limit.chance);
    }
    if (l == r->limits)
        return;
    const tw_row_limit *m = &r->limit[l];
    const tw_course_band *b = &r->ask->band[m->quantity];
    f->limit.quantity = m->quantity;
    f->limit.is_floor = m->is_floor;
    f->limit.value = m->is_floor ? b->hard_low : b->hard_high;
    if (m->row == TW_ROW_PH_CEILING && by_air(r, &v, f))
        return;
    /* Is it the water, or what is known of it? When the middle water bears a mark of the measure, a better reading
     * frees it: one whose sd leaves 1.645 of itself between the middle and the limit. */
    double row[TW_ROWS];
    tw_dose_rows_middle(r, &v, row);
    if (m->sign * (row[m->row] - m->value) > 0.0) {
        const tw_water after = tw_dose_tell_middle(r, &v, 1);
        const double is = tw_dose_value(&r->acids, (tw_quantity_of_water)m->quantity, &after, r->ask->waters->solvent_kg_per_l);
        f->by = TW_COURSE_FREED_BY_TEST;
        f->quantity = m->quantity;
        f->sd = fabs(is - f->limit.value) / 1.645;
        return;
    }
    v.grams[0] = tw_min(wanted, cap);
    f->by = TW_COURSE_FREED_BY_LIMIT;
    f->value = limit_needed(r, &v, s, m, risk);
}

void tw_dose_course_free(const tw_rows *r, tw_search *s, double left, double members, tw_course *out)
{
    memset(&out->free, 0, sizeof out->free);
    out->stands = TW_COURSE_IN_BAND;
    out->blocked = TW_OF_QUANTITIES;
    for (int pass = 0; pass < 2; pass++) /* what nothing moves comes before what has no room */
        for (int a = 0; a < TW_OF_QUANTITIES; a++) {
            const int q = ORDER[a];
            if (!tw_dose_rows_banded(r, q))
                continue;
            const int way = tw_dose_rows_standing(r, &s->full, q).way;
            if (way == 0 || (q == TW_OF_PH && way > 0 && r->ask->air_hours > 0.0))
                continue;
            const int j = tw_dose_visit_plainest(r, q, way, 0);
            if ((j < 0) != (pass == 0))
                continue;
            out->blocked = q;
            if (j >= 0) {
                out->stands = TW_COURSE_NO_ROOM;
                no_room(r, s, q, j, left, members, &out->free);
                return;
            }
            out->stands = TW_COURSE_NO_PRODUCT;
            no_product(r, q, way, &out->free);
            return;
        }
}
