/* dose/course_rows.c: see course_rows.h. */
#include "dose/course_rows.h"

#include <math.h>
#include <string.h>

#include "dose/course_visit.h"
#include "num/pick.h"

#define PROBE_G_PER_KG 1e-2 /* 10 mg/L of product: far over rounding */
#define MOST_G_PER_KG 5.0

static int is_number(double x)
{
    return x == x;
}

static int is_ph_row(int row)
{
    return row >= TW_ROW_PH_FLOOR;
}

tw_ph_need tw_dose_ph_need(const tw_reduced *acids, double ph)
{
    const double mol = 1e-3; /* of each in turn */
    tw_reduced_water q = {.alk = 0.0};
    tw_ph_need n = {.ph = ph, .none = tw_water_reduced_alk_at_ph(acids, &q, ph)};
    q.dic = mol;
    n.dic = (tw_water_reduced_alk_at_ph(acids, &q, ph) - n.none) / mol;
    q = (tw_reduced_water){.borate = mol};
    n.borate = (tw_water_reduced_alk_at_ph(acids, &q, ph) - n.none) / mol;
    q = (tw_reduced_water){.cyanurate = mol};
    n.cyanurate = (tw_water_reduced_alk_at_ph(acids, &q, ph) - n.none) / mol;
    q = (tw_reduced_water){.active_chlorine = mol};
    n.chlorine = (tw_water_reduced_alk_at_ph(acids, &q, ph) - n.none) / mol;
    q = (tw_reduced_water){.phosphate = mol};
    n.phosphate = (tw_water_reduced_alk_at_ph(acids, &q, ph) - n.none) / mol;
    return n;
}

double tw_dose_over_need(const tw_reduced *acids, const tw_ph_need *n, const tw_reduced_water *q)
{
    if (q->cyanurate > 0.0 && q->active_chlorine > 0.0)
        return q->alk - tw_water_reduced_alk_at_ph(acids, q, n->ph);
    return q->alk - (n->none + n->dic * q->dic + n->borate * q->borate + n->cyanurate * q->cyanurate +
                     n->chlorine * q->active_chlorine + n->phosphate * q->phosphate);
}

static double value_by(const tw_rows *r, int row, const tw_reduced *acids, const tw_ph_need *need, const tw_water *water)
{
    if (!is_ph_row(row))
        return tw_dose_quantity((tw_quantity_of_water)row, water->total_mol_per_kg, r->ask->waters->solvent_kg_per_l);
    const tw_reduced_water q = tw_water_reduced_acids(water->total_mol_per_kg);
    return tw_dose_over_need(acids, need, &q);
}

static double value_of(const tw_rows *r, int row, const tw_water *water)
{
    return value_by(r, row, &r->acids, &r->need[row], water);
}

void tw_dose_rows_of(const tw_rows *r, const tw_water *water, double row[TW_ROWS])
{
    for (int i = 0; i < TW_ROWS; i++)
        row[i] = r->has[i] > 0.0 ? value_of(r, i, water) : 0.0;
}

int tw_dose_rows_banded(const tw_rows *r, int q)
{
    return is_number(r->ask->band[q].target);
}

static void limit(tw_rows *r, int row, int quantity, int is_floor, double value)
{
    r->has[row] = 1.0;
    r->limit[r->limits++] = (tw_row_limit){row, quantity, is_floor, is_floor ? 1.0 : -1.0, value};
}

static void limits_of(tw_rows *r)
{
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        const tw_course_band *b = &r->ask->band[q];
        if (is_number(b->hard_low))
            limit(r, q == TW_OF_PH ? TW_ROW_PH_FLOOR : q, q, 1, q == TW_OF_PH ? 0.0 : b->hard_low);
        if (is_number(b->hard_high))
            limit(r, q == TW_OF_PH ? TW_ROW_PH_CEILING : q, q, 0, q == TW_OF_PH ? 0.0 : b->hard_high);
        if (q != TW_OF_PH && is_number(b->target))
            r->has[q] = 1.0;
    }
    r->has[TW_OF_CHLORINE] = r->has[TW_OF_PHOSPHATE] = 1.0; /* what reducers and lanthanum find to act on */
}

static void ph_rows(tw_rows *r)
{
    const tw_course_band *b = &r->ask->band[TW_OF_PH];
    if (is_number(b->hard_low))
        r->ph[TW_ROW_PH_FLOOR] = b->hard_low + tw_dose_ph_gap(b->hard_low);
    if (is_number(b->hard_high))
        r->ph[TW_ROW_PH_CEILING] = b->hard_high - tw_dose_ph_gap(b->hard_high);
    r->ph[TW_ROW_PH_AIR] = r->ask->air_to_ph;
    r->has[TW_ROW_PH_AIR] = r->ask->air_hours > 0.0 ? 1.0 : 0.0;
    if (!is_number(b->target))
        return;
    r->ph[TW_ROW_PH_LOW] = b->low;
    r->ph[TW_ROW_PH_IN_LOW] = b->target - TW_COURSE_ABOUT * (b->target - b->low);
    r->ph[TW_ROW_PH_TARGET] = b->target;
    r->ph[TW_ROW_PH_IN_HIGH] = b->target + TW_COURSE_ABOUT * (b->high - b->target);
    r->ph[TW_ROW_PH_HIGH] = b->high;
    for (int row = TW_ROW_PH_LOW; row <= TW_ROW_PH_HIGH; row++)
        r->has[row] = 1.0;
}

/* Acids frozen at a water; those there were when it cannot be solved. */
static void frozen(const tw_rows *r, const tw_water *water, tw_reduced *acids)
{
    tw_speciation sp;
    if (tw_water_speciate(&r->at, water, &sp) == TW_OK)
        tw_water_reduced_from(&r->at, &sp, acids);
}

void tw_dose_rows_acids(const tw_rows *r, const tw_visit *v, tw_reduced acids[TW_COURSE_ADDITIONS + 1])
{
    tw_water w = r->middle_water;
    acids[0] = r->acids;
    if (v->share > 0.0) {
        w = tw_dose_exchange(w, &r->ask->source, v->share);
        w.temp_k = r->middle_water.temp_k; /* the heater brings it back */
        frozen(r, &w, &acids[0]);
    }
    for (size_t k = 0; k < v->additions; k++) {
        acids[k + 1] = acids[k];
        w = tw_dose_apply(w, r->middle_kg, &r->ask->stock[v->stock[k]].substance, v->grams[k]);
        frozen(r, &w, &acids[k + 1]);
    }
}

/* The chord of a product's vector goes to what brings the middle water to its target: grams in a kg. */
static double chord_to(const tw_rows *r, const tw_substance *s)
{
    double probe = PROBE_G_PER_KG;
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        const double each = tw_dose_quantity((tw_quantity_of_water)q, s->total_mol_per_g, r->ask->waters->solvent_kg_per_l);
        const double whole = q != TW_OF_PH && fabs(each) > 1e-6 && is_number(r->ask->band[q].target) &&
                                     tw_dose_visit_meant(s->effect, q) != 0
                                 ? (r->ask->band[q].target - r->middle[q]) / each
                                 : 0.0;
        probe = tw_max(whole, probe);
    }
    const double acting = tw_dose_acting_g(&r->middle_water, 1.0, s), most = tw_min(acting, MOST_G_PER_KG);
    return tw_min(probe, most);
}

/* What a gram in a kg moves: exact where the row is straight, else the chord at the middle water. What is salt enough
 * to move the acids (its chord adds a tenth to the ionic strength) has them frozen anew at its end. */
static void vectors_of(tw_rows *r, size_t j, double ionic_strength)
{
    const tw_substance *s = &r->ask->stock[j].substance;
    const double probe = chord_to(r, s);
    tw_reduced acids = r->acids;
    double ions = 0.0;
    for (int t = TW_TOTAL_NA; t <= TW_TOTAL_OTHER; t++)
        ions += 0.5 * fabs(s->total_mol_per_g[t]) * probe;
    const tw_water after = tw_dose_apply(r->middle_water, 1.0, s, probe);
    if (ions > 0.1 * ionic_strength)
        frozen(r, &after, &acids);
    for (int row = 0; row < TW_ROWS; row++) {
        if (!(r->has[row] > 0.0))
            continue;
        if (!is_ph_row(row)) {
            const double moved = tw_dose_quantity((tw_quantity_of_water)row, s->total_mol_per_g, r->ask->waters->solvent_kg_per_l);
            r->per_g[row][j] = fabs(moved) > 1e-6 ? moved : 0.0; /* sodium chloride leaves alkalinity alone */
        } else if (probe > 0.0) {
            const tw_ph_need need = tw_dose_ph_need(&acids, r->ph[row]);
            const double moved = (value_by(r, row, &acids, &need, &after) - value_of(r, row, &r->middle_water)) / probe;
            r->per_g[row][j] = fabs(moved) > 1e-11 ? moved : 0.0;
        }
    }
}

void tw_dose_rows_init(const tw_course_ask *ask, const tw_reduced *acids, const tw_water *middle, double middle_kg,
                       tw_rows *r)
{
    memset(r, 0, sizeof *r);
    r->ask = ask;
    r->acids = *acids;
    r->middle_water = *middle;
    r->middle_kg = middle_kg;
    limits_of(r);
    ph_rows(r);
    for (int row = TW_ROW_PH_FLOOR; row < TW_ROWS; row++)
        if (r->has[row] > 0.0) {
            r->need[row] = tw_dose_ph_need(acids, r->ph[row]);
            r->charge[row] = r->need[row].dic;
        }
    tw_dose_rows_of(r, middle, r->middle);
    tw_dose_rows_of(r, &ask->source, r->source);
    if (tw_water_constants_at(middle->temp_k, &r->at) != TW_OK)
        return; /* the caller froze them there: it is in range */
    for (size_t j = 0; j < ask->stocks; j++)
        vectors_of(r, j, acids->ionic_strength_mol_per_kg);
}

/* Grams in a kg that act, of the grams in a kg that went in: a reducer as far as the chlorine goes, lanthanum as far
 * as the phosphate. */
static double acting(const tw_rows *r, uint32_t stock, double there_chlorine, double there_phosphate, double gone_in)
{
    double x = gone_in;
    const double chlorine = -r->per_g[TW_OF_CHLORINE][stock], phosphate = -r->per_g[TW_OF_PHOSPHATE][stock];
    if (chlorine > 0.0 && there_chlorine < x * chlorine)
        x = there_chlorine > 0.0 ? there_chlorine / chlorine : 0.0;
    if (phosphate > 0.0 && there_phosphate < x * phosphate)
        x = there_phosphate > 0.0 ? there_phosphate / phosphate : 0.0;
    return x;
}

/* Carbon that air takes until the row of its pH stands at 0, and what that does to the other rows. */
static void air(const tw_rows *r, int to, double row[TW_ROWS])
{
    if (!(row[to] < 0.0))
        return;
    const double carbon = -row[to] / r->charge[to];
    for (int i = TW_ROW_PH_FLOOR; i < TW_ROWS; i++)
        row[i] += r->charge[i] * carbon;
}

/* A visit on one column, with so many grams acting a gram and kg. */
static void move_one(const tw_rows *r, const tw_visit *v, const double rate[TW_COURSE_ADDITIONS], double row[TW_ROWS])
{
    if (v->share > 0.0)
        for (int i = 0; i < TW_ROWS; i++)
            row[i] = (1.0 - v->share) * row[i] + v->share * r->source[i];
    for (size_t k = 0; k < v->additions; k++) {
        const double x = acting(r, v->stock[k], row[TW_OF_CHLORINE], row[TW_OF_PHOSPHATE], rate[k] * v->grams[k]);
        for (int i = 0; i < TW_ROWS; i++)
            row[i] += r->per_g[i][v->stock[k]] * x;
    }
    if (v->air != 0)
        air(r, v->air, row);
    row[TW_OF_CHLORINE] *= v->keeps;
}

void tw_dose_rows_middle(const tw_rows *r, const tw_visit *v, double row[TW_ROWS])
{
    const double rate = 1.0 / r->middle_kg, rates[TW_COURSE_ADDITIONS] = {rate, rate, rate};
    memcpy(row, r->middle, sizeof r->middle);
    move_one(r, v, rates, row);
}

static int takes_away(const tw_rows *r, const tw_visit *v)
{
    int takes = 0;
    for (size_t k = 0; k < v->additions; k++)
        takes = takes || r->per_g[TW_OF_CHLORINE][v->stock[k]] < 0.0 || r->per_g[TW_OF_PHOSPHATE][v->stock[k]] < 0.0;
    return takes;
}

/* One row of all members: loops that lanes can take. */
static void move_row(const tw_rows *r, const tw_visit *v, const tw_columns *c, int at)
{
    const double keeps = 1.0 - v->share, brings = v->share * r->source[at];
    double *row = c->row[at];
    for (size_t i = 0; i < c->n && v->share > 0.0; i++)
        row[i] = keeps * row[i] + brings;
    for (size_t k = 0; k < v->additions; k++) {
        const double *rate = c->rate[v->stock[k]], grams = v->grams[k], each = r->per_g[at][v->stock[k]];
        for (size_t i = 0; i < c->n && each != 0.0; i++)
            row[i] += each * (rate[i] * grams);
    }
}

void tw_dose_rows_move(const tw_rows *r, const tw_visit *v, tw_columns *c)
{
    if (!takes_away(r, v)) { /* all that goes in acts: row by row, in lanes */
        for (int a = 0; a < TW_ROWS; a++)
            if (r->has[a] > 0.0)
                move_row(r, v, c, a);
        for (size_t i = 0; i < c->n && v->air != 0; i++) {
            const double carbon = c->row[v->air][i] < 0.0 ? -c->row[v->air][i] / r->charge[v->air] : 0.0;
            for (int a = TW_ROW_PH_FLOOR; a < TW_ROWS; a++)
                c->row[a][i] += r->charge[a] * carbon;
        }
        for (size_t i = 0; i < c->n; i++)
            c->row[TW_OF_CHLORINE][i] *= v->keeps;
        return;
    }
    for (size_t i = 0; i < c->n; i++) {
        double row[TW_ROWS], rates[TW_COURSE_ADDITIONS] = {0.0, 0.0, 0.0};
        for (int a = 0; a < TW_ROWS; a++)
            row[a] = c->row[a][i];
        for (size_t k = 0; k < v->additions; k++)
            rates[k] = c->rate[v->stock[k]][i];
        move_one(r, v, rates, row);
        for (int a = 0; a < TW_ROWS; a++)
            c->row[a][i] = row[a];
    }
}

double tw_dose_rows_factor(const tw_rows *r, const tw_visit *v, const tw_columns *c, size_t i, size_t *bound)
{
    double least = TW_DOSE_NEVER, x[TW_COURSE_ADDITIONS];
    *bound = r->limits;
    if (c->crossed[i] > 0.0)
        return TW_DOSE_NEVER;
    for (size_t k = 0; k < v->additions; k++)
        x[k] = acting(r, v->stock[k], c->row[TW_OF_CHLORINE][i], c->row[TW_OF_PHOSPHATE][i], c->rate[v->stock[k]][i] * v->grams[k]);
    for (size_t l = 0; l < r->limits; l++) {
        const tw_row_limit *m = &r->limit[l];
        const double now = m->sign * (c->row[m->row][i] - m->value);
        double left = now, worst = 0.0, gone = 0.0;
        if (v->share > 0.0) {
            left = m->sign * ((1.0 - v->share) * c->row[m->row][i] + v->share * r->source[m->row] - m->value);
            if (left < 0.0 && left < now)
                worst = TW_DOSE_NEVER;
        }
        for (size_t k = 0; k < v->additions; k++) {
            gone -= m->sign * r->per_g[m->row][v->stock[k]] * x[k];
            worst = tw_max(gone, worst);
        }
        if (!(worst > 0.0))
            continue;
        const double factor = left > 0.0 ? left / worst : 0.0;
        if (factor < least) {
            least = factor;
            *bound = l;
        }
    }
    return least;
}

/* One limit on all members, three additions written out: a loop that lanes can take. */
static void factors_of(const tw_rows *r, const tw_row_limit *m, const tw_visit *v, const tw_columns *c,
                       const double away[TW_COURSE_ADDITIONS], double *factor)
{
    const double *row = c->row[m->row], *x0 = c->rate[v->stock[0]], *x1 = c->rate[v->stock[1]], *x2 = c->rate[v->stock[2]];
    const double keeps = 1.0 - v->share, brings = v->share * r->source[m->row];
    for (size_t i = 0; i < c->n; i++) {
        const double now = m->sign * (row[i] - m->value), left = m->sign * (keeps * row[i] + brings - m->value);
        const double one = away[0] * x0[i], two = one + away[1] * x1[i], three = two + away[2] * x2[i];
        double worst = tw_max(one, 0.0);
        worst = tw_max(two, worst);
        worst = tw_max(three, worst);
        worst = left < 0.0 && left < now ? TW_DOSE_NEVER : worst;
        const double can = left > 0.0 ? left / (worst > 0.0 ? worst : 1.0) : 0.0, f = worst > 0.0 ? can : TW_DOSE_NEVER;
        factor[i] = tw_min(f, factor[i]);
    }
}

void tw_dose_rows_factors(const tw_rows *r, const tw_visit *v, const tw_columns *c, double *factor)
{
    const int slow = takes_away(r, v) || v->additions == 0;
    tw_visit padded = *v;
    for (size_t k = v->additions; k < TW_COURSE_ADDITIONS; k++)
        padded.stock[k] = v->stock[0];
    for (size_t i = 0; i < c->n; i++) {
        size_t bound;
        factor[i] = slow && (v->additions > 0 || v->share > 0.0) ? tw_dose_rows_factor(r, v, c, i, &bound) : TW_DOSE_NEVER;
    }
    if (slow)
        return;
    for (size_t l = 0; l < r->limits; l++) {
        const tw_row_limit *m = &r->limit[l];
        double away[TW_COURSE_ADDITIONS] = {0.0, 0.0, 0.0};
        int moves = v->share > 0.0;
        for (size_t k = 0; k < v->additions; k++) {
            away[k] = -m->sign * r->per_g[m->row][v->stock[k]] * v->grams[k];
            moves = moves || away[k] > 0.0;
        }
        if (moves)
            factors_of(r, m, &padded, c, away, factor);
    }
    for (size_t i = 0; i < c->n; i++)
        factor[i] = c->crossed[i] > 0.0 ? TW_DOSE_NEVER : factor[i];
}

double tw_dose_rows_chance(const tw_rows *r, const tw_visit *v, const tw_columns *c, double *room)
{
    double over = 0.0;
    tw_dose_rows_factors(r, v, c, room);
    for (size_t i = 0; i < c->n; i++)
        over += room[i] < 1.0 ? c->weight[i] : 0.0;
    return over;
}

/* Is a member below, within, above the edges of a quantity? Edges: low, in-low, in-high, high. */
static void edges_of(const tw_rows *r, int q, int row[4], double edge[4])
{
    const tw_course_band *b = &r->ask->band[q];
    if (q == TW_OF_PH) {
        row[0] = TW_ROW_PH_LOW;
        row[1] = TW_ROW_PH_IN_LOW;
        row[2] = TW_ROW_PH_IN_HIGH;
        row[3] = TW_ROW_PH_HIGH;
        edge[0] = edge[1] = edge[2] = edge[3] = 0.0;
        return;
    }
    row[0] = row[1] = row[2] = row[3] = q;
    edge[0] = b->low;
    edge[1] = b->target - TW_COURSE_ABOUT * (b->target - b->low);
    edge[2] = b->target + TW_COURSE_ABOUT * (b->high - b->target);
    edge[3] = b->high;
}

tw_standing tw_dose_rows_standing(const tw_rows *r, const tw_columns *c, int q)
{
    tw_standing s = {0.0, 0, 0, 0.0};
    int row[4];
    double edge[4], low = 0.0, high = 0.0, over = 0.0;
    edges_of(r, q, row, edge);
    for (size_t i = 0; i < c->n; i++) {
        const double w = c->weight[i];
        low += c->row[row[0]][i] < edge[0] ? w : 0.0;
        high += c->row[row[3]][i] > edge[3] ? w : 0.0;
        s.low_share += c->row[row[1]][i] < edge[1] ? w : 0.0;
        over += c->row[row[2]][i] > edge[2] ? w : 0.0;
    }
    s.in = 1.0 - low - high;
    /* Outside by the median; or not sure enough of the band while the median is not about the target. A target at
     * the band's own edge has no other side to be missed on. */
    if (low > 0.5 || (s.in < r->ask->reach && s.low_share > 0.5))
        s.way = 1;
    else if (high > 0.5 || (s.in < r->ask->reach && over > 0.5))
        s.way = -1;
    s.needed = s.way != 0 && (low > 0.5 || high > 0.5 || s.in < TW_COURSE_STAY * r->ask->reach);
    return s;
}

double tw_dose_rows_in_all(const tw_rows *r, const tw_columns *c, int without)
{
    double in = 0.0;
    int row[TW_OF_QUANTITIES][4];
    double edge[TW_OF_QUANTITIES][4];
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        edges_of(r, q, row[q], edge[q]);
    for (size_t i = 0; i < c->n; i++) {
        int all = 1;
        for (int q = 0; q < TW_OF_QUANTITIES && all; q++)
            if (q != without && tw_dose_rows_banded(r, q))
                all = !(c->row[row[q][0]][i] < edge[q][0] || c->row[row[q][3]][i] > edge[q][3]);
        in += all ? c->weight[i] : 0.0;
    }
    return in;
}

/* Of one quantity, in half bands: under its target as negative. */
static double off_target(const tw_rows *r, int q, const double row[TW_ROWS])
{
    const tw_course_band *b = &r->ask->band[q];
    if (q != TW_OF_PH) {
        const double off = row[q] - b->target, half = off < 0.0 ? b->target - b->low : b->high - b->target;
        const double least = 0.02 * fabs(b->target) + 1e-9; /* a target at its edge */
        return off / tw_max(half, least);
    }
    /* Rows fall as pH rises: the band's width in alkalinity. */
    const double off = row[TW_ROW_PH_TARGET];
    const double half = off < 0.0 ? row[TW_ROW_PH_LOW] - row[TW_ROW_PH_TARGET] : row[TW_ROW_PH_TARGET] - row[TW_ROW_PH_HIGH];
    return off / tw_max(half, 1e-9);
}

double tw_dose_rows_distance(const tw_rows *r, const double row[TW_ROWS], const int way[TW_OF_QUANTITIES])
{
    double sum = 0.0;
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        if (!tw_dose_rows_banded(r, q))
            continue;
        const double off = fabs(off_target(r, q, row));
        sum += way[q] != 0 ? off : off > TW_COURSE_ABOUT ? off - TW_COURSE_ABOUT : 0.0;
    }
    return sum;
}

double *tw_dose_columns_in(double *room, size_t n, tw_columns *out)
{
    for (int i = 0; i < TW_ROWS; i++, room += n)
        out->row[i] = room;
    for (int j = 0; j < TW_COURSE_STOCK; j++, room += n)
        out->rate[j] = room;
    out->per_kg = room;
    out->weight = room + n;
    out->crossed = room + 2 * n;
    out->n = n;
    return room + 3 * n;
}
