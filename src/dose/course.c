/* dose/course.c: a course of visits: freeze, find, judge, tell, move on. See course.h. */
#include "dose/course.h"

#include <math.h>
#include <string.h>

#include "dose/course_free.h"
#include "dose/course_judge.h"
#include "dose/course_set.h"
#include "dose/course_tell.h"
#include "dose/course_visit.h"
#include "num/pick.h"

#define THIN 256                       /* members that stand for all where visits are counted          */
#define SPREAD 250                     /* members looked at for the spread of a visit only foretold    */
#define JUDGE_SEED 0x9E3779B97F4A7C15u /* judges draw their errors from other streams                  */

typedef struct {
    tw_course_ask ask; /* stock and what went in before change from visit to visit */
    tw_course_set chooser, judge;
    tw_search search;
    tw_rows rows;
    size_t value_bytes; /* of search.value */
    double members; /* ESS of the judges */
} course;

void tw_dose_course_defaults(tw_course_ask *a)
{
    const double nan = (double)NAN;
    memset(a, 0, sizeof *a);
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        a->band[q] = (tw_course_band){nan, nan, nan, nan, nan};
    for (int j = 0; j < TW_COURSE_STOCK; j++) {
        a->stock[j].left_g = nan;
        a->stock[j].weighing_sd_ln = 0.01;
    }
    a->si_high = nan;
    a->air_to_ph = 7.6;
    a->air_read_sd = 0.1;
    a->kla_jets_per_h = 2.0; /* common practice: excess carbon dioxide is gone in an hour or two */
    a->kla_sd_ln = 0.4;
    a->air_co2_atm = 4.2e-4;
    a->source.temp_k = 283.15;
    a->exchange_l_per_min = 15.0;
    a->risk = 0.05;
    a->reach = 0.9;
    a->test[TW_OF_PH] = (tw_course_test){0.1, 0.0, 0.2};
    a->test[TW_OF_ALKALINITY] = (tw_course_test){5.0, 0.03, 10.0};
    a->test[TW_OF_CALCIUM] = (tw_course_test){5.0, 0.03, 10.0};
    a->test[TW_OF_SALT] = (tw_course_test){5.0, 0.02, 10.0};
    a->test[TW_OF_CHLORINE] = (tw_course_test){0.25, 0.0, 0.5};
    a->test[TW_OF_CYANURATE] = (tw_course_test){10.0, 0.1, 5.0};
    a->test[TW_OF_PHOSPHATE] = (tw_course_test){0.15, 0.2, 0.1};
    a->pour_min = 5.0;
    a->test_min = 10.0;
    a->way_min = 10.0;
    a->ready_by_min = nan;
}

/* ------------------------------------------------------------------------------------ room */

/* Two indices lie in the room of a double. */
static size_t doubles_of_indices(size_t n)
{
    return (n + 1) / 2;
}

size_t tw_dose_course_bytes(size_t n)
{
    const size_t thin = n < 2 * THIN ? n : 2 * THIN;
    return sizeof(double) * (doubles_of_indices(n) + 2 * tw_dose_set_doubles(n, TW_COURSE_STOCK) + TW_COLUMNS_DOUBLES(n) +
                             3 * TW_COLUMNS_DOUBLES(thin)) + tw_dose_waters_bytes(n);
}

static size_t stride_of(size_t n, size_t most)
{
    return (n + most - 1) / most;
}

static void lay_out(const tw_course_ask *ask, void *mem, course *c)
{
    const tw_waters *w = ask->waters, *j = ask->judges != NULL ? ask->judges : w;
    const size_t most = w->n > j->n ? w->n : j->n, thin = (w->n + stride_of(w->n, THIN) - 1) / stride_of(w->n, THIN);
    double *room = mem;
    c->search.order = mem;
    room += doubles_of_indices(most);
    tw_dose_set_init(&c->ask, w, ask->seed, room, &c->chooser);
    room += tw_dose_set_doubles(w->n, ask->stocks);
    tw_dose_set_init(&c->ask, j, ask->seed ^ JUDGE_SEED, room, &c->judge);
    room += tw_dose_set_doubles(j->n, ask->stocks);
    room = tw_dose_columns_in(room, w->n, &c->search.full);
    room = tw_dose_columns_in(room, thin, &c->search.thin);
    room = tw_dose_columns_in(room, thin, &c->search.post);
    room = tw_dose_columns_in(room, thin, &c->search.trial);
    c->search.value = room; /* and more behind it, for the moment in which waters are frozen */
    c->value_bytes = tw_dose_waters_bytes(most);
}

/* ------------------------------------------------------------------------------------ checks */

static int crosses(double low, double high)
{
    return low > high; /* not when one of them is NaN */
}

static int can_ask(const tw_course_ask *a)
{
    if (a->waters == NULL || a->waters->n == 0 || (a->judges != NULL && a->judges->n == 0) || a->stocks > TW_COURSE_STOCK ||
        a->befores > TW_COURSE_BEFORE || !(a->risk >= 0.0 && a->risk <= 1.0) || !(a->reach >= 0.0 && a->reach <= 1.0) ||
        !(a->exchange_most >= 0.0 && a->exchange_most <= 1.0) || !(a->air_hours >= 0.0) || a->pours >= TW_WHO_CALCULATOR)
        return 0;
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        const tw_course_band *b = &a->band[q];
        if (crosses(b->low, b->target) || crosses(b->target, b->high) || crosses(b->hard_low, b->hard_high) ||
            crosses(b->hard_low, b->low) || crosses(b->high, b->hard_high) ||
            (b->target == b->target && !(b->low == b->low && b->high == b->high)))
            return 0;
    }
    for (size_t j = 0; j < a->stocks; j++)
        if (!(a->stock[j].grid_g >= 0.0) || !(a->stock[j].weighing_sd_ln >= 0.0) || !(a->stock[j].single_g >= 0.0))
            return 0;
    return 1;
}

/* ------------------------------------------------------------------------------------ one visit */

/* Rows and columns of the waters as they are now. */
static tw_status freeze(course *c)
{
    tw_water middle;
    double kg;
    tw_reduced acids;
    const tw_status status = tw_dose_frozen(&c->chooser.view, c->search.value, c->value_bytes, &middle, &kg, &acids);
    if (status != TW_OK)
        return status;
    tw_dose_rows_init(&c->ask, &acids, &middle, kg, &c->rows);
    tw_dose_set_columns(&c->rows, &c->chooser, &c->search.full);
    tw_dose_set_thinned(&c->rows, &c->search.full, stride_of(c->chooser.view.n, THIN), &c->search.thin);
    return TW_OK;
}

/* What is to move. The first visit is begun only for what is worth one; those foretold go on until all is settled. */
static int open_now(const course *c, int first)
{
    int open = 0;
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        if (tw_dose_rows_banded(&c->rows, q)) {
            const tw_standing s = tw_dose_rows_standing(&c->rows, &c->search.full, q);
            open += first ? s.needed : s.way != 0;
        }
    return open;
}

static void tell_limits(const course *c, const tw_course_judged *judged, tw_course_visit *v)
{
    v->limits = 0;
    for (size_t l = 0; l < c->rows.limits; l++) {
        const tw_row_limit *m = &c->rows.limit[l];
        const tw_course_band *b = &c->ask.band[m->quantity];
        v->limit[v->limits++] = (tw_course_limit){m->quantity, m->is_floor, m->is_floor ? b->hard_low : b->hard_high, judged->chance[l]};
    }
    if (c->ask.si_high == c->ask.si_high)
        v->limit[v->limits++] = (tw_course_limit){TW_OF_QUANTITIES, 0, c->ask.si_high, judged->chance[c->rows.limits]};
    v->chance_any = judged->chance_any;
}

/* What a visit takes off the risk: the chance that the judges find. They did not choose the dose, so it is fair, and the
 * margin for their number is kept once, out of what is left for the visits to come. */
static void spend(const course *c, double left, double share, tw_course_visit *v)
{
    v->risk_worked_at = share * tw_dose_worked_at(left, c->members);
    v->risk_spent = tw_min(v->chance_any, left);
    v->risk_left = tw_max(left - v->risk_spent, 0.0);
}

static void spreads(course *c, const tw_course_doing *d, int first, tw_course_visit *v)
{
    const size_t n = d->visit.additions, stride = first ? 1 : stride_of(c->chooser.view.n, SPREAD);
    for (size_t k = 0; k < n; k++)
        tw_dose_set_spread(&c->rows, d, k + 1, stride, &c->chooser, c->search.order, &v->addition[k].after);
    tw_dose_set_spread(&c->rows, d, n + 1, stride, &c->chooser, c->search.order, &v->after);
}

static void other_of(const course *c, const tw_candidate *best, const tw_candidate *next, tw_course_other *out)
{
    tw_course_moves moves;
    (void)tw_dose_tell_moves(&c->rows, &next->visit, &moves);
    out->is = 1;
    out->additions = next->visit.additions;
    for (size_t k = 0; k < next->visit.additions; k++) {
        out->stock[k] = next->visit.stock[k];
        out->grams[k] = next->visit.grams[k];
    }
    out->exchange_share = next->visit.share;
    out->air_hours = moves.air_hours;
    out->more_visits = next->visits - best->visits;
    out->more_attended_min = next->attended_min - best->attended_min;
    out->more_grams = next->grams - best->grams;
}

/* What the marks of scale and jug cost: the same products sized again with any amount. */
static void rounding_of(course *c, const tw_candidate *best, double left, tw_course *out)
{
    double grid[TW_COURSE_ADDITIONS];
    int marks = 0;
    for (size_t k = 0; k < best->visit.additions; k++) {
        grid[k] = c->ask.stock[best->visit.stock[k]].grid_g;
        marks = marks || grid[k] > 0.0;
        c->ask.stock[best->visit.stock[k]].grid_g = 0.0;
    }
    if (marks) {
        tw_candidate any = *best;
        tw_dose_visit_unrounded(&c->rows, &c->search, left, c->members, &any);
        out->rounding_visits = best->visits - tw_dose_visit_worth(&c->rows, &c->search, left, c->members, TW_COURSE_RETESTS, &any);
        out->rounding_grams = best->grams - any.grams;
    }
    for (size_t k = 0; k < best->visit.additions; k++)
        c->ask.stock[best->visit.stock[k]].grid_g = grid[k];
}

/* Time goes on: what is left in the boxes, how long ago things went in. */
static void go_on(course *c, const tw_visit *visit, double minutes)
{
    for (size_t k = 0; k < visit->additions; k++)
        c->ask.stock[visit->stock[k]].left_g -= visit->grams[k];
    for (size_t b = 0; b < c->ask.befores; b++)
        c->ask.before[b].minutes_ago += minutes;
}

static void in_bands(const course *c, tw_course_visit *v)
{
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        v->in_band[q] = tw_dose_rows_banded(&c->rows, q) ? tw_dose_rows_standing(&c->rows, &c->search.full, q).in : (double)NAN;
    v->in_band_all = tw_dose_rows_in_all(&c->rows, &c->search.full, TW_OF_QUANTITIES);
}

/* Find, judge, tell and carry out one visit. 0 when nothing goes. */
static int visit(course *c, double *left, double start_min, tw_course *out)
{
    tw_candidate found[TW_COURSE_SHORTLIST];
    tw_course_doing doing;
    tw_course_judged judged;
    const int first = out->visits == 0;
    size_t n = 0, taken = 0;
    for (int acid_first = 0; acid_first < 2 && taken == n; acid_first++) {
        n = tw_dose_visit_find(&c->rows, &c->search, *left, c->members, first, acid_first, found);
        taken = n > 0 && !first && found[0].small /* nothing more can be foretold before the retest */
                    ? n : tw_dose_judge_first(&c->rows, &c->judge, first, n, found, &doing, &judged);
    }
    if (taken == n)
        return 0;
    tw_candidate *best = &found[taken];
    tw_course_visit *v = &out->visit[out->visits];
    memset(v, 0, sizeof *v);
    tw_dose_tell_visit(&c->rows, best, v);
    tell_limits(c, &judged, v);
    spend(c, *left, best->arrives ? 1.0 : TW_COURSE_SHARE, v);
    spreads(c, &doing, first, v);
    v->start_min = start_min;
    if (first) {
        out->expected_visits = best->visits;
        out->promised_visits = best->most_visits;
        if (taken + 1 < n)
            other_of(c, best, &found[taken + 1], &out->other);
        rounding_of(c, best, *left, out);
    }
    *left = v->risk_left;
    tw_dose_set_judge(&c->rows, &doing, 1, &c->judge, &judged);
    tw_dose_set_judge(&c->rows, &doing, 1, &c->chooser, &judged);
    go_on(c, &best->visit, v->retest_min + c->ask.test_min + c->ask.between_min);
    out->visits++;
    return 1;
}

/* ------------------------------------------------------------------------------------ the course */

static double crossed_share(const tw_course_set *s)
{
    double over = 0.0;
    for (size_t i = 0; i < s->view.n; i++)
        over += s->crossed[i] * (s->view.weight != NULL ? s->view.weight[i] : 1.0);
    return over / s->weights;
}

/* Backwards from the hour: the last start of each visit that still leaves time for those after it. */
static void times(const tw_course_ask *a, tw_course *out)
{
    double end = a->ready_by_min;
    for (size_t i = out->visits; i-- > 0;) {
        tw_course_visit *v = &out->visit[i];
        v->last_start_min = end - v->retest_min - a->test_min;
        end = v->last_start_min - a->between_min;
        out->attended_min += v->attended_min;
        out->unattended_min += v->unattended_min;
        out->grams += v->grams;
    }
    if (out->visits > 0) {
        const tw_course_visit *last = &out->visit[out->visits - 1];
        out->ready_min = last->start_min + last->retest_min + a->test_min;
    }
    out->cannot_be_ready = out->ready_min > a->ready_by_min; /* not without an hour */
}

static size_t most_visits(const tw_course_ask *a)
{
    return a->visits_most > 0 && a->visits_most < TW_COURSE_VISITS ? a->visits_most : TW_COURSE_VISITS;
}

static void stand(course *c, double left, int open, tw_course *out)
{
    if (out->visits == 0) {
        if (open == 0)
            out->stands = TW_COURSE_IN_BAND;
        else
            tw_dose_course_free(&c->rows, &c->search, left, c->members, out);
        return;
    }
    const int sure = out->visit[out->visits - 1].in_band_all >= c->ask.reach;
    if (out->visits < most_visits(&c->ask))
        tw_dose_course_free(&c->rows, &c->search, left, c->members, out);
    out->stands = open == 0 && sure ? TW_COURSE_GOES : TW_COURSE_GOES_ON;
}

tw_status tw_dose_course(const tw_course_ask *ask, void *mem, size_t bytes, tw_course *out)
{
    course c;
    memset(out, 0, sizeof *out);
    out->blocked = TW_OF_QUANTITIES;
    if (!can_ask(ask))
        return TW_ERR_RANGE;
    const tw_waters *judges = ask->judges != NULL ? ask->judges : ask->waters;
    if (bytes < tw_dose_course_bytes(ask->waters->n > judges->n ? ask->waters->n : judges->n))
        return TW_ERR_CAPACITY;
    /* Both sets must be waters: tw_dose_middle checks them. */
    tw_water middle;
    double kg, left = ask->risk, start = 0.0;
    tw_status status = tw_dose_middle(ask->waters, mem, bytes, &middle, &kg);
    if (status == TW_OK)
        status = tw_dose_middle(judges, mem, bytes, &middle, &kg);
    if (status != TW_OK)
        return status;
    c.ask = *ask;
    lay_out(ask, mem, &c);
    c.members = out->members = tw_dose_effective(judges);
    int open = 0;
    for (;;) {
        status = freeze(&c);
        if (status != TW_OK)
            return status;
        open = open_now(&c, out->visits == 0);
        if (out->visits > 0)
            in_bands(&c, &out->visit[out->visits - 1]);
        if (open == 0 || out->visits == most_visits(ask) || !visit(&c, &left, start, out))
            break;
        const tw_course_visit *v = &out->visit[out->visits - 1];
        start = v->start_min + v->retest_min + ask->test_min + ask->between_min;
    }
    stand(&c, left, open, out);
    times(ask, out);
    out->chance_ever = crossed_share(&c.judge);
    out->risk_left = out->visits > 0 ? out->visit[0].risk_left : ask->risk;
    return TW_OK;
}
