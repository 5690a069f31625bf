/* dose/course_size.c: see course_size.h. */
#include "dose/course_size.h"

#include <math.h>
#include <string.h>

#include "dose/course_choice.h"
#include "num/pick.h"
#include "num/sort.h"

#define WORTHWHILE 0.05 /* of the way: less is not worth a visit   */
#define FAIR 0.25       /* chance that all but chlorine is settled */
#define OVER 0.025      /* chance to land over a band that nothing brings down again, while other things take visits yet */

/* ------------------------------------------------------------------------------------ how much */

static double on_grid(double grid, double grams, double cap, int nearest)
{
    if (!(grams > 0.0))
        return 0.0;
    if (!(grid > 0.0))
        return tw_min(grams, cap);
    double steps = floor(grams / grid + (nearest ? 0.5 : 1e-9));
    while (steps > 0.0 && steps * grid > cap)
        steps -= 1.0;
    return steps * grid;
}

/* Largest factor of a visit's grams that at most `risk` of the members cannot bear. */
static double factor_at(const tw_rows *r, const tw_visit *v, const tw_columns *c, tw_search *s, double risk)
{
    tw_dose_rows_factors(r, v, c, s->value);
    return tw_quantile_picked(s->value, c->weight, c->n, risk, s->order);
}

/* Which limit stands before most of the members that are stopped. */
static size_t bound_of(const tw_rows *r, const tw_visit *v, const tw_columns *c)
{
    double held[TW_COURSE_LIMITS + 1] = {0.0};
    size_t best = 0;
    for (size_t i = 0; i < c->n; i++) {
        size_t bound;
        if (tw_dose_rows_factor(r, v, c, i, &bound) < 1.0)
            held[bound] += c->weight[i];
    }
    for (size_t l = 1; l < r->limits; l++)
        best = held[l] > held[best] ? l : best;
    return best;
}

static void air_again(const tw_rows *r, const int way[TW_OF_QUANTITIES], tw_visit *v)
{
    double row[TW_ROWS];
    v->air = 0;
    tw_dose_rows_middle(r, v, row);
    v->air = tw_dose_visit_air(r, row, way);
}

/* Distance of the middle water after the visit, with what is still to come of the wanted grams left out of sight: salt
 * stays short of its target by the chloride of the acid that follows. */
static double distance_of(const tw_rows *r, const tw_candidate *c, const int way[TW_OF_QUANTITIES])
{
    double sum = 0.0, row[TW_ROWS];
    tw_visit whole = c->visit;
    memcpy(whole.grams, c->wanted, sizeof whole.grams);
    air_again(r, way, &whole);
    tw_dose_rows_middle(r, &whole, row);
    const double least = tw_dose_rows_distance(r, row, way);
    /* From the whole down to what is poured, each product by the share of its way that is left. */
    for (size_t k = 0; k < c->visit.additions; k++) {
        const double left = c->wanted[k] > 0.0 ? (c->wanted[k] - c->visit.grams[k]) / c->wanted[k] : 0.0;
        tw_visit without = whole;
        without.grams[k] = 0.0;
        tw_dose_rows_middle(r, &without, row);
        const double alone = tw_dose_rows_distance(r, row, way) - least;
        sum += tw_max(alone, 0.0) * fabs(left);
    }
    return least + sum;
}

/* Weights of the products for the steps: what the whole of each is worth, in half bands. */
static void worth_of(const tw_rows *r, const tw_candidate *c, const int way[TW_OF_QUANTITIES], double worth[TW_COURSE_ADDITIONS])
{
    tw_candidate one = *c;
    memcpy(one.visit.grams, c->wanted, sizeof one.visit.grams);
    const double least = distance_of(r, &one, way);
    for (size_t k = 0; k < c->visit.additions; k++) {
        one.visit.grams[k] = 0.0;
        worth[k] = distance_of(r, &one, way) - least;
        one.visit.grams[k] = c->wanted[k];
        if (!(worth[k] > 1e-3))
            worth[k] = 1e-3;
    }
}

typedef struct {
    const tw_rows *r;
    tw_search *s;
    tw_candidate *c;
    double worth[TW_COURSE_ADDITIONS], cap[TW_COURSE_ADDITIONS], mark[TW_COURSE_ADDITIONS];
} stepper;

static double gain(const stepper *t, const double grams[TW_COURSE_ADDITIONS])
{
    double sum = 0.0;
    for (size_t k = 0; k < t->c->visit.additions; k++)
        sum += t->worth[k] * (1.0 - fabs(t->c->wanted[k] - grams[k]) / t->c->wanted[k]);
    return sum;
}

/* Take the step if it gains and no limit forbids it. */
static int try_step(const stepper *t, size_t up, size_t down, double by)
{
    tw_visit v = t->c->visit;
    v.grams[up] += by * t->mark[up];
    if (down < v.additions)
        v.grams[down] -= by * t->mark[down];
    if (v.grams[up] > t->cap[up] || v.grams[up] > t->c->wanted[up] + 0.5 * t->mark[up] || (down < v.additions && v.grams[down] < 0.0))
        return 0;
    if (!(gain(t, v.grams) > gain(t, t->c->visit.grams) + 1e-12))
        return 0;
    if (tw_dose_rows_chance(t->r, &v, &t->s->full, t->s->value) > t->c->risk)
        return 0;
    t->c->visit = v;
    return 1;
}

/* Steps of the measure, large ones first: each product up, then one up against another down. */
static void climb(stepper *t)
{
    const size_t n = t->c->visit.additions;
    for (double by = 64.0; by >= 1.0; by *= 0.5)
        for (int sweep = 0, moved = 1; sweep < 4 && moved; sweep++) {
            moved = 0;
            for (size_t k = 0; k < n; k++)
                moved += try_step(t, k, n, by);
            for (size_t k = 0; k < n; k++)
                for (size_t d = 0; d < n; d++)
                    if (d != k)
                        moved += try_step(t, k, d, by);
        }
}

/* Start: each product as far as it may go alone, then all of them by one factor. */
static void start(const stepper *t)
{
    tw_candidate *c = t->c;
    tw_visit v = c->visit;
    const size_t n = v.additions;
    for (size_t k = 0; k < n; k++) {
        tw_visit alone = v;
        for (size_t a = 0; a < n; a++)
            alone.grams[a] = a == k ? tw_min(c->wanted[a], t->cap[a]) : 0.0;
        const double f = factor_at(t->r, &alone, &t->s->full, t->s, c->risk);
        c->visit.grams[k] = tw_min(f, 1.0) * alone.grams[k];
    }
    if (n > 1) {
        const double f = factor_at(t->r, &c->visit, &t->s->full, t->s, c->risk);
        for (size_t k = 0; k < n; k++)
            c->visit.grams[k] *= tw_min(f, 1.0);
    }
}

/* Columns after the visit, of some members. */
static void copy_columns(const tw_rows *r, const tw_columns *from, tw_columns *to)
{
    to->n = from->n;
    for (int i = 0; i < TW_ROWS; i++)
        memcpy(to->row[i], from->row[i], from->n * sizeof(double));
    for (size_t j = 0; j < r->ask->stocks; j++)
        memcpy(to->rate[j], from->rate[j], from->n * sizeof(double));
    memcpy(to->weight, from->weight, from->n * sizeof(double));
}

/* What is still to move after the visit, and can be: what nothing moves is no reason to hold back. */
static void open_after(const tw_rows *r, tw_search *s, tw_candidate *c)
{
    copy_columns(r, &s->thin, &s->post);
    tw_dose_rows_move(r, &c->visit, &s->post);
    c->open = c->others_open = 0.0;
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        if (tw_dose_rows_banded(r, q)) {
            const int way = tw_dose_rows_standing(r, &s->post, q).way;
            const double open = way != 0 && tw_dose_choice_can_move(r, q, way) ? 1.0 : 0.0;
            c->open += open;
            c->open_of[q] = open > 0.0;
            c->others_open += q != TW_OF_CHLORINE ? open : 0.0;
        }
    c->arrives = c->open == 0.0;
    c->others_in = tw_dose_rows_in_all(r, &s->post, TW_OF_CHLORINE);
}

/* What kept it from its targets. */
static void bound(const tw_rows *r, const stepper *t, tw_candidate *c)
{
    tw_visit more = c->visit;
    int held = 0;
    c->bound = c->open > 0.0 ? TW_COURSE_BOUND_ROOM : TW_COURSE_BOUND_NOTHING;
    for (size_t k = 0; k < c->visit.additions; k++) {
        const double mark = tw_max(t->mark[k], 0.01 * c->wanted[k]);
        if (c->visit.grams[k] >= c->wanted[k] - mark || held)
            continue;
        tw_course_bound by;
        const double cap = tw_dose_visit_cap(r, c->visit.stock[k], c->visit.serves[k], &by);
        c->bound_at = k;
        if (c->visit.grams[k] + mark > cap) {
            c->bound = by;
        } else {
            more.grams[k] += mark;
            c->bound = TW_COURSE_BOUND_LIMIT;
            c->bound_limit = bound_of(r, &more, &t->s->full);
            held = 1;
        }
    }
}

/* Grams of a candidate within a risk. */
static void size_it(const tw_rows *r, const int way[TW_OF_QUANTITIES], tw_search *s, double risk, tw_candidate *c)
{
    stepper t = {.r = r, .s = s, .c = c};
    const size_t n = c->visit.additions;
    int whole = 1;
    c->risk = risk;
    for (size_t k = 0; k < n; k++) {
        tw_course_bound by;
        const double grid = r->ask->stock[c->visit.stock[k]].grid_g;
        t.cap[k] = tw_dose_visit_cap(r, c->visit.stock[k], c->visit.serves[k], &by);
        t.mark[k] = grid > 0.0 ? grid : c->wanted[k] / 256.0;
        whole = whole && c->wanted[k] <= t.cap[k];
    }
    memcpy(c->visit.grams, c->wanted, sizeof c->visit.grams);
    whole = whole && (n == 0 || !(tw_dose_rows_chance(r, &c->visit, &s->full, s->value) > risk));
    if (!whole)
        start(&t);
    memcpy(c->unrounded, c->visit.grams, sizeof c->unrounded);
    for (size_t k = 0; k < n; k++)
        c->visit.grams[k] = on_grid(r->ask->stock[c->visit.stock[k]].grid_g, c->visit.grams[k], t.cap[k], whole);
    if (whole && n > 0 && tw_dose_rows_chance(r, &c->visit, &s->full, s->value) > risk) /* a mark up was one too many */
        for (size_t k = 0; k < n; k++)
            c->visit.grams[k] = on_grid(r->ask->stock[c->visit.stock[k]].grid_g, c->unrounded[k], t.cap[k], 0);
    if (!whole && n > 0) {
        worth_of(r, c, way, t.worth);
        climb(&t);
    }
    air_again(r, way, &c->visit);
    open_after(r, s, c);
    bound(r, &t, c);
    c->distance = distance_of(r, c, way);
}

void tw_dose_visit_keep(tw_candidate *c, const int keep[TW_COURSE_ADDITIONS])
{
    size_t n = 0;
    const size_t bound_at = c->bound_at;
    c->grams = 0.0;
    for (size_t k = 0; k < c->visit.additions; k++)
        if (keep[k]) {
            if (k == bound_at)
                c->bound_at = n;
            c->visit.stock[n] = c->visit.stock[k];
            c->visit.serves[n] = c->visit.serves[k];
            c->visit.grams[n] = c->visit.grams[k];
            c->wanted[n] = c->wanted[k];
            c->unrounded[n] = c->unrounded[k];
            c->grams += c->visit.grams[n++];
        } else if (k == bound_at && (c->bound == TW_COURSE_BOUND_CAP || c->bound == TW_COURSE_BOUND_STOCK)) {
            c->bound = TW_COURSE_BOUND_ROOM; /* its addition is no more */
            c->bound_at = 0;
        }
    c->visit.additions = n;
}

/* What is less than a twentieth of its way is not worth a visit's walk, unless it is all there is to do. */
static void drop_empty(tw_candidate *c)
{
    size_t large = 0;
    int keep[TW_COURSE_ADDITIONS] = {0};
    for (size_t k = 0; k < c->visit.additions; k++)
        large += c->visit.grams[k] >= WORTHWHILE * c->wanted[k];
    const int besides = large > 0 || c->visit.air != 0 || c->visit.share > 0.0;
    for (size_t k = 0; k < c->visit.additions; k++)
        keep[k] = c->visit.grams[k] > 0.0 && (!besides || c->visit.grams[k] >= WORTHWHILE * c->wanted[k]);
    c->small = !besides;
    tw_dose_visit_keep(c, keep);
}

/* Take out of a visit what goes in last. */
static int without_chlorine(const tw_rows *r, tw_visit *v)
{
    const size_t last = v->additions;
    if (last == 0 || r->ask->stock[v->stock[last - 1]].substance.effect != TW_EFFECT_FC_UP)
        return 0;
    v->additions--;
    return v->additions > 0 || v->share > 0.0 || v->air != 0;
}

/* What nothing on hand takes out again, salt mostly, need not be whole while something else takes more visits anyway:
 * then half of it, or as much as is over its band in few of the members, and the rest after a retest. */
static void draw_in(const tw_rows *r, tw_search *s, const tw_candidate *sized, tw_visit *v)
{
    for (size_t k = 0; k < v->additions; k++) {
        const int q = v->serves[k];
        const double each = q == TW_OF_PH || q == TW_OF_CHLORINE ? 0.0 : r->per_g[q][v->stock[k]], half = 0.5 * v->grams[k];
        int others = 0;
        for (int of = 0; of < TW_OF_QUANTITIES; of++)
            others = others || (of != q && sized->open_of[of]);
        if (!others || !(each > 0.0) || tw_dose_choice_can_move(r, q, -1))
            continue;
        for (size_t i = 0; i < s->full.n; i++)
            s->value[i] = (r->ask->band[q].high - s->full.row[q][i]) / (each * s->full.rate[v->stock[k]][i]);
        const double most = tw_quantile_picked(s->value, s->full.weight, s->full.n, OVER, s->order);
        if (most < v->grams[k])
            v->grams[k] = tw_max(most, half);
    }
}

double tw_dose_visit_less_water(double share)
{
    const double marks = floor(share / TW_COURSE_SWAP_FINEST - 1.0 + 0.5);
    return marks > 0.0 ? marks * TW_COURSE_SWAP_FINEST : 0.0;
}

/* Other water may lead over a limit by itself (soft water, under the floor of alkalinity): only as much as the risk allows. The
 * same visit without any is another choice. */
static void less_water(const tw_rows *r, tw_search *s, double risk, tw_visit *v)
{
    tw_visit alone = *v;
    alone.additions = 0;
    while (alone.share > 0.0 && tw_dose_rows_chance(r, &alone, &s->full, s->value) > risk)
        alone.share = tw_dose_visit_less_water(alone.share);
    if (alone.share == 0.0 && v->share > 0.0)
        v->additions = 0;
    v->share = alone.share;
}

/* All the risk when it arrives with this visit, else half, less the margin of the whole: the course pays it once.
 * Chlorine is lost with the hours: it goes in once there is a fair chance that nothing else is left to move. */
void tw_dose_visit_size(const tw_rows *r, const int way[TW_OF_QUANTITIES], tw_search *s, double left, double members, tw_candidate *c)
{
    less_water(r, s, TW_COURSE_SHARE * tw_dose_worked_at(left, members), &c->visit);
    tw_visit aimed = c->visit;
    memcpy(c->wanted, c->visit.grams, sizeof c->wanted);
    size_it(r, way, s, tw_dose_worked_at(left, members), c);
    tw_visit less = aimed;
    if (!c->arrives && c->others_open > 0.0 && c->others_in < FAIR && without_chlorine(r, &less)) {
        tw_candidate first = *c;
        first.visit = less;
        size_it(r, way, s, tw_dose_worked_at(left, members), &first);
        if (first.others_open > 0.0 && first.others_in < FAIR) { /* not for the pH that the chlorine itself lifts */
            aimed = less;
            *c = first;
        }
    }
    if (!c->arrives) {
        c->visit = aimed;
        draw_in(r, s, c, &c->visit);
        memcpy(c->wanted, c->visit.grams, sizeof c->wanted);
        size_it(r, way, s, TW_COURSE_SHARE * tw_dose_worked_at(left, members), c);
    }
    drop_empty(c);
}
