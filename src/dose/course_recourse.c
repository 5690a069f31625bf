/* dose/course_recourse.c: what a first visit is worth, its retest counted in: tw_dose_recourse of course_visit.h.
 *
 * Some of the members (sixteen for the first visit) are taken in turn as the truth; each gives the reading that the retest's own errors make of it;
 * each reading reweighs the members that stand for the water after the visit; from there the plainest visit that the
 * risk left allows follows until nothing is to move. What comes out is an order among first visits and a fair guess of
 * the visits, not a plan: no tree of scenarios is solved. */
#include "dose/course_visit.h"

#include <math.h>
#include <string.h>

#include "num/elementary.h"
#include "num/philox.h"
#include "num/pick.h"

#define VISITS_MOST TW_COURSE_VISITS
#define BINS 128
#define STREAM_RETEST 0x72657465u /* "rete" */

/* pH of a column by its rows, a straight line between the two whose zero it lies between: within 0.02, which is under
 * what a kit reads. */
static double ph_of(const tw_rows *r, const tw_columns *c, size_t i)
{
    double below = 0.0, above = 0.0, at_below = -1.0, at_above = 0.0;
    for (int row = TW_ROW_PH_FLOOR; row <= TW_ROW_PH_CEILING; row++) {
        const double v = c->row[row][i];
        if (!(r->has[row] > 0.0))
            continue;
        if (v >= 0.0 && (at_below < 0.0 || r->ph[row] > at_below)) {
            at_below = r->ph[row];
            below = v;
        }
        if (v < 0.0 && (at_above == 0.0 || r->ph[row] < at_above)) {
            at_above = r->ph[row];
            above = v;
        }
    }
    if (at_below < 0.0)
        return at_above - 0.1;
    if (at_above == 0.0)
        return at_below + 0.1;
    return at_below + (at_above - at_below) * below / (below - above);
}

static double value_of(const tw_rows *r, const tw_columns *c, int q, size_t i)
{
    return q == TW_OF_PH ? ph_of(r, c, i) : c->row[q][i];
}

/* Which member stands at a share of the weights. */
static size_t member_at(const tw_columns *c, double share)
{
    double sum = 0.0;
    size_t i = 0;
    for (; i + 1 < c->n; i++) {
        sum += c->weight[i];
        if (sum > share)
            break;
    }
    return i;
}

/* Reweigh by what the retest would read if member `truth` were the water. */
static void retest(const tw_rows *r, const tw_columns *post, size_t truth, uint32_t outcome, double *weight)
{
    double top = -1e300, sum = 0.0;
    tw_stream stream = tw_stream_make(r->ask->seed, 0, STREAM_RETEST, outcome);
    for (size_t i = 0; i < post->n; i++)
        weight[i] = 0.0;
    for (int q = 0; q < TW_OF_QUANTITIES; q++) {
        const tw_course_test *t = &r->ask->test[q];
        const double z = tw_stream_normal(&stream);
        if (!tw_dose_rows_banded(r, q) || !(t->sd_abs > 0.0 || t->sd_rel > 0.0))
            continue;
        const double is = value_of(r, post, q, truth);
        const double var = t->sd_abs * t->sd_abs + t->sd_rel * t->sd_rel * is * is + t->step * t->step / 12.0;
        double read = is + z * sqrt(t->sd_abs * t->sd_abs + t->sd_rel * t->sd_rel * is * is);
        if (t->step > 0.0)
            read = floor(read / t->step + 0.5) * t->step;
        for (size_t i = 0; i < post->n; i++) {
            const double off = value_of(r, post, q, i) - read;
            weight[i] -= 0.5 * off * off / var;
        }
    }
    for (size_t i = 0; i < post->n; i++)
        top = weight[i] > top && post->weight[i] > 0.0 ? weight[i] : top;
    for (size_t i = 0; i < post->n; i++) {
        const double l = weight[i] - top;
        weight[i] = l > -40.0 ? post->weight[i] * tw_exp(l) : 0.0;
        sum += weight[i];
    }
    for (size_t i = 0; i < post->n; i++)
        weight[i] /= sum;
}

/* Means of the rows, by weight. */
static double means_of(const tw_columns *c, double row[TW_ROWS])
{
    double per_kg = 0.0;
    for (int a = 0; a < TW_ROWS; a++) {
        row[a] = 0.0;
        for (size_t i = 0; i < c->n; i++)
            row[a] += c->weight[i] * c->row[a][i];
    }
    for (size_t i = 0; i < c->n; i++)
        per_kg += c->weight[i] * c->per_kg[i];
    return 1.0 / per_kg;
}

/* Members that so much of a visit brings over a limit have crossed it from then on. */
static void mark(tw_columns *c, const double *factor, double done)
{
    for (size_t i = 0; i < c->n; i++)
        c->crossed[i] = factor[i] < done ? 1.0 : c->crossed[i];
}

/* The factor of the grams that a share `risk` of the weights cannot bear: by bins, the lower edge taken. *spent: what
 * cannot bear that either. */
static double factor_at(const tw_rows *r, const tw_visit *v, const tw_columns *c, double risk, double *room, double *spent)
{
    double bin[BINS + 1] = {0.0};
    tw_dose_rows_factors(r, v, c, room);
    for (size_t i = 0; i < c->n; i++) {
        const double f = room[i];
        bin[f < 1.0 ? (size_t)(f * BINS) : BINS] += c->weight[i];
    }
    *spent = 0.0;
    for (size_t b = 0; b < BINS; b++) {
        if (*spent + bin[b] > risk)
            return (double)b / BINS;
        *spent += bin[b];
    }
    return 1.0;
}

typedef enum { SETTLED, GOES, STUCK } outlook;

/* The plainest visit from the columns as they are, within the risk that may be worked at, and what it spends of it. SETTLED:
 * nothing is to move; STUCK: nothing goes. acid_first as of tw_dose_visit_find. */
static outlook plain_visit(const tw_rows *r, tw_columns *c, double may, int acid_first, double *room, tw_visit *v, double *spent)
{
    static const int ORDER[] = {TW_OF_ALKALINITY, TW_OF_PH,   TW_OF_PHOSPHATE, TW_OF_CYANURATE,
                                TW_OF_CALCIUM,    TW_OF_SALT, TW_OF_CHLORINE};
    int way[TW_OF_QUANTITIES] = {0}, open = 0, served = 0;
    double row[TW_ROWS];
    const double kg = means_of(c, row);
    memset(v, 0, sizeof *v);
    v->keeps = 1.0;
    for (int q = 0; q < TW_OF_QUANTITIES; q++)
        if (tw_dose_rows_banded(r, q)) {
            const tw_standing s = tw_dose_rows_standing(r, c, q);
            way[q] = s.way;
            open += s.needed && (tw_dose_visit_plainest(r, q, way[q], 0) >= 0 || (q == TW_OF_PH && way[q] > 0 && r->ask->air_hours > 0.0));
        }
    if (open == 0)
        return SETTLED;
    if (acid_first && !(way[TW_OF_ALKALINITY] > 0 && way[TW_OF_PH] < 0))
        return STUCK;
    for (size_t a = 0; a < sizeof ORDER / sizeof *ORDER; a++) {
        const int q = ORDER[a];
        if (way[q] == 0 || v->additions == TW_COURSE_ADDITIONS || (q == TW_OF_ALKALINITY && acid_first) ||
            (q == TW_OF_PH && way[TW_OF_ALKALINITY] != 0 && !acid_first) ||
            (q == TW_OF_PH && way[q] > 0 && r->ask->air_hours > 0.0))
            continue;
        const int j = tw_dose_visit_plainest(r, q, way[q], 0);
        if (j < 0)
            continue;
        const int at = q == TW_OF_PH ? TW_ROW_PH_TARGET : q;
        const double target = q == TW_OF_PH ? 0.0 : r->ask->band[q].target, each = r->per_g[at][j] / kg;
        tw_course_bound by;
        const double want = (target - row[at]) / each, cap = tw_dose_visit_cap(r, (size_t)j, q, &by);
        if (!(want > 0.0))
            continue;
        v->stock[v->additions] = (uint32_t)j;
        v->serves[v->additions] = q;
        v->grams[v->additions++] = tw_min(want, cap);
        served += want <= cap;
        for (int i = 0; i < TW_ROWS; i++) /* what the next one finds */
            row[i] += r->per_g[i][j] / kg * want;
    }
    v->air = tw_dose_visit_air(r, row, way);
    if (v->additions == 0 && v->air == 0)
        return STUCK;
    const int arrives = served == open || (v->air != 0 && served + 1 >= open);
    double f = factor_at(r, v, c, arrives ? may : TW_COURSE_SHARE * may, room, spent);
    if (f < 1.0 && arrives)
        f = factor_at(r, v, c, TW_COURSE_SHARE * may, room, spent);
    mark(c, room, f);
    for (size_t k = 0; k < v->additions; k++)
        v->grams[k] *= f;
    return f < 1.0 / BINS && v->air == 0 ? STUCK : GOES;
}

double tw_dose_recourse(const tw_rows *r, const tw_visit *visit, double left, double members, uint32_t outcomes,
                        tw_search *s, size_t *most)
{
    double sum = 0.0, longest = 0.0;
    for (size_t a = 0; a < TW_ROWS; a++)
        memcpy(s->post.row[a], s->thin.row[a], s->thin.n * sizeof(double));
    for (size_t j = 0; j < r->ask->stocks; j++)
        memcpy(s->trial.rate[j], s->thin.rate[j], s->thin.n * sizeof(double));
    memcpy(s->trial.per_kg, s->thin.per_kg, s->thin.n * sizeof(double));
    s->post.n = s->trial.n = s->thin.n;
    memcpy(s->post.weight, s->thin.weight, s->thin.n * sizeof(double));
    memcpy(s->post.crossed, s->thin.crossed, s->thin.n * sizeof(double));
    for (size_t j = 0; j < r->ask->stocks; j++)
        memcpy(s->post.rate[j], s->thin.rate[j], s->thin.n * sizeof(double));
    tw_dose_rows_factors(r, visit, &s->post, s->value);
    mark(&s->post, s->value, 1.0);
    tw_dose_rows_move(r, visit, &s->post);
    for (uint32_t o = 0; o < outcomes; o++) {
        double now_left = left, visits = 1.0;
        for (int a = 0; a < TW_ROWS; a++)
            memcpy(s->trial.row[a], s->post.row[a], s->post.n * sizeof(double));
        memcpy(s->trial.crossed, s->post.crossed, s->post.n * sizeof(double));
        retest(r, &s->post, member_at(&s->post, ((double)o + 0.5) / (double)outcomes), o, s->trial.weight);
        while (visits < VISITS_MOST) {
            tw_visit v;
            double spent = 0.0;
            const double may = tw_dose_worked_at(now_left, members);
            outlook now = plain_visit(r, &s->trial, may, 0, s->value, &v, &spent);
            if (now == STUCK)
                now = plain_visit(r, &s->trial, may, 1, s->value, &v, &spent);
            if (now == SETTLED)
                break;
            if (now == STUCK) {
                visits = VISITS_MOST;
                break;
            }
            tw_dose_rows_move(r, &v, &s->trial);
            now_left -= spent;
            visits += 1.0;
        }
        sum += visits;
        longest = tw_max(visits, longest);
    }
    *most = longest < VISITS_MOST ? (size_t)longest : 0;
    return sum / (double)outcomes;
}
