/* Whole courses as they stand, many waters by many limits by many stocks, against tests/vectors/dose/courses.csv: any change
 * of a gram, a chance, a time or a reason shows. PIN=FILE writes the table anew. What is right is for the other tests to say. */
#include "ask_course.h"

#include <stdio.h>
#include <stdlib.h>

#define CASES 96
#define MEMBERS 144
#define LINE 640

static waters judges;

/* ---------------------------------------------------------------------------------------------- the cases */

static double between(uint64_t *s, double low, double high)
{
    return check_uniform(s, low, high);
}

static int once_in(uint64_t *s, int n)
{
    return (int)between(s, 0.0, (double)n) == 0;
}

static void bands(uint64_t *s, const kit *k)
{
    const double nan = (double)NAN, ta = between(s, 70, 110), salt = between(s, 500, 2800), wide = between(s, 0.15, 0.45), ph = between(s, 7.3, 7.6);
    A.band[TW_OF_PH] = (tw_course_band){ph - 0.3, ph, ph + 0.3, once_in(s, 6) ? nan : 6.8, once_in(s, 6) ? nan : 8.25};
    A.band[TW_OF_ALKALINITY] = (tw_course_band){ta * (1 - wide), ta, ta * (1 + wide), ta * 0.4, ta * 2.2};
    A.band[TW_OF_CALCIUM] = (tw_course_band){60, 100, 150, nan, 250};
    A.band[TW_OF_SALT] = (tw_course_band){0.9 * salt, salt, 1.1 * salt, nan, 1.18 * salt};
    A.band[TW_OF_CHLORINE] = (tw_course_band){2, 4, 8, nan, 10};
    A.band[TW_OF_CYANURATE] = (tw_course_band){15, 25, 40, nan, 50};
    A.band[TW_OF_PHOSPHATE] = (tw_course_band){0, 0.05, 0.2, nan, nan};
    A.band[TW_OF_SULFATE] = (tw_course_band){0, 60, 150, nan, 300};
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        if (once_in(s, q == TW_OF_CYANURATE || q == TW_OF_PHOSPHATE || q == TW_OF_SULFATE ? 1 : 3) && !once_in(s, 4))
            A.band[q].low = A.band[q].target = A.band[q].high = nan;
    if (once_in(s, 4))
        A.si_high = k->ch > 120 ? 0.6 : 0.3;
}

static void shelf(uint64_t *s)
{
    static const tw_substance_id HAS[] = {TW_SUBSTANCE_SODIUM_BISULFATE_93, TW_SUBSTANCE_HYDROCHLORIC_ACID_14_5, TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45,
        TW_SUBSTANCE_SODIUM_BICARBONATE, TW_SUBSTANCE_SODIUM_CARBONATE, TW_SUBSTANCE_CALCIUM_CHLORIDE_DIHYDRATE, TW_SUBSTANCE_CALCIUM_CHLORIDE_ANHYDROUS,
        TW_SUBSTANCE_SODIUM_CHLORIDE, TW_SUBSTANCE_SODIUM_HYPOCHLORITE_120, TW_SUBSTANCE_CALCIUM_HYPOCHLORITE_65, TW_SUBSTANCE_DICHLOR_DIHYDRATE,
        TW_SUBSTANCE_CYANURIC_ACID, TW_SUBSTANCE_SODIUM_THIOSULFATE_PENTAHYDRATE, TW_SUBSTANCE_LANTHANUM_CHLORIDE_HEPTAHYDRATE};
    for (size_t j = 0; j < sizeof HAS / sizeof *HAS; j++) {
        if (once_in(s, 3))
            continue;
        tw_course_stock *to = &A.stock[A.stocks];
        stock(HAS[j], once_in(s, 4) ? 0.0 : between(s, 0.5, 12));
        to->left_g = once_in(s, 6) ? between(s, 5, 300) : to->left_g;
        to->single_g = once_in(s, 8) ? between(s, 20, 400) : 0.0;
        to->weighing_sd_ln = between(s, 0.0, 0.04);
        to->barred = once_in(s, 12);
    }
}

static void moves(uint64_t *s)
{
    A.air_hours = once_in(s, 5) ? 0.0 : between(s, 0.3, 4);
    A.kla_jets_per_h = once_in(s, 10) ? 0.0 : between(s, 0.8, 4);
    A.jets_stop_min = once_in(s, 3) ? 20 : 0;
    A.air_read_sd = once_in(s, 4) ? 0.0 : 0.12;
    A.exchange_most = once_in(s, 5) ? between(s, 0.1, 0.6) : 0.0;
    A.source = kit_water((kit){12, 7.7, between(s, 60, 240), between(s, 40, 200), 10, 30, 25});
    A.loss_per_h = once_in(s, 3) ? 0.05 : 0.0;
    A.pours = once_in(s, 3) ? TW_WHO_ANYONE : TW_WHO_TRAINED;
    A.rough_water_kg = once_in(s, 2) ? 1300 : 0;
    A.largest_change[TW_OF_ALKALINITY] = once_in(s, 2) ? 60 : 0;
    A.largest_change[TW_OF_SALT] = once_in(s, 3) ? 1500 : 0;
    A.risk = once_in(s, 4) ? 0.05 : between(s, 0.02, 0.3); /* large, for few members leave little to work at */
    A.reach = once_in(s, 4) ? 0.8 : 0.9;
    A.between_min = once_in(s, 2) ? 120 : 0;
    A.ready_by_min = once_in(s, 3) ? between(s, 60, 900) : A.ready_by_min;
    if (once_in(s, 3))
        A.before[A.befores++] = (tw_course_before){once_in(s, 2) ? TW_FAMILY_ACID : TW_FAMILY_HYPOCHLORITE, once_in(s, 3) ? (double)NAN : between(s, 0, 90)};
}

static void extra(waters *w, uint64_t *s, int cyanurate, int phosphate, int chlorine, int weighed)
{
    for (size_t i = 0; i < w->view.n; i++) {
        const double u = between(s, 0.6, 1.4);
        w->total[TW_TOTAL_CYANURATE][i] = cyanurate ? 1e-4 * u : 0.0;
        w->total[TW_TOTAL_PHOSPHATE][i] = phosphate ? 2e-5 * u : 0.0;
        w->total[TW_TOTAL_NA][i] += phosphate ? 4e-5 * u : 0.0;
        w->total[TW_TOTAL_ACTIVE_CHLORINE][i] = chlorine ? 2e-4 * u : 0.0;
        w->weight[i] = between(s, 0.2, 1.0);
    }
    w->view.weight = weighed ? w->weight : NULL;
}

static void ask_of(int n)
{
    uint64_t s = UINT64_C(0x9E3779B97F4A7C15) * (uint64_t)(n + 1);
    for (int i = 0; i < 4; i++)
        (void)check_uniform(&s, 0, 1);
    const kit k = {between(&s, 10, 39), between(&s, 6.9, 8.4), between(&s, 25, 270), between(&s, 20, 220), 10, between(&s, 20, 1800), between(&s, 5, 120)};
    const int coarse = once_in(&s, 2), cyanurate = once_in(&s, 3), phosphate = once_in(&s, 6), chlorine = once_in(&s, 4), weighed = once_in(&s, 4);
    const double kg = between(&s, 900, 2000), kg_rel = between(&s, 0.0, 0.18);
    const size_t members = once_in(&s, 8) ? 1 : MEMBERS;
    possible(&W, s ^ 5, members, k, coarse ? 0.2 : 0.06, coarse ? 18 : 5, 8, coarse ? 60 : 15, kg, kg_rel);
    possible(&judges, s ^ 77, members, k, coarse ? 0.2 : 0.06, coarse ? 18 : 5, 8, coarse ? 60 : 15, kg, kg_rel);
    extra(&W, &s, cyanurate, phosphate, chlorine, weighed);
    extra(&judges, &s, cyanurate, phosphate, chlorine, weighed);
    usual(&W);
    A.judges = once_in(&s, 2) ? &judges.view : NULL;
    A.seed = s;
    bands(&s, &k);
    shelf(&s);
    moves(&s);
}

/* --------------------------------------------------------------------------------------------- what is told */

/* All numbers of a course in the order of its parts, nine digits each, as one (FNV-1a). */
static uint64_t digest;

static void feed(double x)
{
    char text[40];
    const int n = snprintf(text, sizeof text, "%.9g;", x == x ? x + 0.0 : 0.5e300);
    for (int i = 0; i < n; i++)
        digest = (digest ^ (uint64_t)(unsigned char)text[i]) * UINT64_C(1099511628211);
}

static void feed_all(const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        feed(x[i]);
}

static void feed_limit(const tw_course_limit *l)
{
    feed(l->quantity);
    feed(l->is_floor);
    feed(l->value);
    feed(l->chance);
}

static void feed_addition(const tw_course_addition *a)
{
    assert_true(a->grams > 0.0); /* what the judges left nothing of does not go in */
    const double own[] = {(double)a->stock, a->grams, a->start_min, a->wait_min, a->test_min, a->apart, (double)a->apart_from, a->off_grid_g, a->left_g};
    feed_all(own, sizeof own / sizeof *own);
    feed_all(a->moved, TW_OF_QUANTITIES);
    feed_all(a->spent, TW_OF_QUANTITIES);
    feed_all(a->after.of[0], 3 * TW_OF_QUANTITIES);
}

static void feed_visit(const tw_course_visit *v)
{
    const tw_course_moves *m = &v->moves;
    const double own[] = {m->exchange_share, m->exchange_l, m->air_hours, m->air_hours_slow, m->air_to_ph, (double)m->air_after, (double)m->air_presses, m->wait_hours,
        v->chance_any, v->risk_worked_at, v->risk_spent, v->risk_left, v->bound, (double)v->bound_limit, (double)v->bound_at, v->in_band_all, v->start_min,
        v->last_start_min, v->retest_min, v->attended_min, v->unattended_min, v->grams};
    for (size_t k = 0; k < v->additions; k++)
        feed_addition(&v->addition[k]);
    feed_all(own, sizeof own / sizeof *own);
    for (size_t l = 0; l < v->limits; l++)
        feed_limit(&v->limit[l]);
    feed_all(v->after.of[0], 3 * TW_OF_QUANTITIES);
    feed_all(v->in_band, TW_OF_QUANTITIES);
}

static void feed_course(void)
{
    const tw_course_free *f = &C.free;
    const tw_course_other *o = &C.other;
    const double own[] = {C.stands, C.blocked, f->by, (double)f->of_stock, f->of_substance, f->quantity, f->grams, f->share, f->sd, f->value, C.expected_visits,
        C.attended_min, C.unattended_min, C.grams, C.chance_ever, C.risk_left, C.rounding_visits, C.rounding_grams, C.ready_min, C.cannot_be_ready, C.members,
        (double)C.promised_visits, o->is, (double)o->additions, o->exchange_share, o->air_hours, o->more_visits, o->more_attended_min, o->more_grams};
    digest = UINT64_C(14695981039346656037);
    feed_all(own, sizeof own / sizeof *own);
    feed_limit(&f->limit);
    for (size_t k = 0; k < o->additions; k++) {
        feed(o->stock[k]);
        feed(o->grams[k]);
    }
    for (size_t i = 0; i < C.visits; i++)
        feed_visit(&C.visit[i]);
}

/* "stock:grams@minute ..." of a visit, with its moves. */
static int tell(char *out, size_t cap, const tw_course_visit *v)
{
    size_t n = 0;
    for (size_t k = 0; k < v->additions; k++)
        n += (size_t)snprintf(out + n, cap - n, "%s:%.1f@%.0f ", A.stock[v->addition[k].stock].substance.id, v->addition[k].grams, v->addition[k].start_min);
    if (v->moves.exchange_share > 0.0)
        n += (size_t)snprintf(out + n, cap - n, "exchange:%.2f ", v->moves.exchange_share);
    if (v->moves.air_to_ph > 0.0)
        n += (size_t)snprintf(out + n, cap - n, "air:%.2f>%.2f ", v->moves.air_hours, v->moves.air_to_ph);
    if (v->moves.wait_hours > 0.0)
        n += (size_t)snprintf(out + n, cap - n, "wait:%.1f ", v->moves.wait_hours);
    return (int)n;
}

static void row_of(int n, char line[LINE])
{
    static const char *const STANDS[] = {"in-band", "goes", "goes-on", "no-product", "no-room"};
    ask_of(n);
    plan();
    feed_course();
    int at = snprintf(line, LINE, "%d,%s,%d,%d,%zu,%.3f,%zu,", n, STANDS[C.stands], C.blocked, C.free.by, C.visits, C.expected_visits, C.promised_visits);
    if (C.visits > 0)
        at += tell(line + at, LINE - (size_t)at, &C.visit[0]);
    (void)snprintf(line + at, LINE - (size_t)at, ",%.4f,%.4f,%016llx", C.visits > 0 ? C.visit[0].chance_any : 0.0, C.chance_ever, (unsigned long long)digest);
}

#define HEAD "case,stands,blocked,freed_by,visits,expected,promised,first,chance,chance_ever,all"

static void courses_stand_as_they_were(void **state)
{
    (void)state;
    char line[LINE], want[LINE];
    const char *pin = getenv("PIN");
    FILE *f = pin != NULL ? fopen(pin, "w") : check_open("tests/vectors/dose/courses.csv");
    assert_non_null(f);
    if (pin != NULL)
        (void)fprintf(f, "%s\n", HEAD);
    else
        assert_true(fgets(want, sizeof want, f) != NULL && strncmp(want, HEAD, strlen(HEAD)) == 0);
    int differ = 0, stood[5] = {0};
    for (int n = 0; n < CASES; n++) {
        row_of(n, line);
        stood[C.stands]++;
        if (pin != NULL) {
            (void)fprintf(f, "%s\n", line);
            continue;
        }
        assert_non_null(fgets(want, sizeof want, f));
        want[strcspn(want, "\n")] = '\0';
        if (strcmp(want, line) != 0) {
            printf("# was %s\n# is  %s\n", want, line);
            differ++;
        }
    }
    (void)fclose(f);
    for (int i = TW_COURSE_GOES; i <= TW_COURSE_NO_ROOM; i++)
        assert_true(stood[i] > 0); /* the cases reach every way that a course with something to do can stand */
    assert_int_equal(differ, 0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(courses_stand_as_they_were)};
    return check_run(argc, argv, tests, sizeof tests / sizeof *tests);
}
