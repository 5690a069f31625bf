/* dose/course_judge.c: see course_judge.h. */
#include "dose/course_judge.h"

#include <math.h>

#include "dose/course_tell.h"
#include "num/pick.h"

#define ROUNDING 1e-12 /* of a sum of weights */

static double to_mark(const tw_course_ask *a, uint32_t stock, double grams)
{
    const double grid = a->stock[stock].grid_g;
    return grid > 0.0 ? grid * floor(grams / grid + 1e-9) : grams;
}

/* The limit that most judges cross. */
static size_t worst_of(const tw_rows *r, const tw_course_judged *judged)
{
    size_t worst = 0;
    for (size_t l = 1; l <= r->limits; l++)
        worst = judged->chance[l] > judged->chance[worst] ? l : worst;
    return worst;
}

/* The products that push towards a limit: those of a tenth of the push at least; towards the saturation index all of them. */
static void pushing(const tw_rows *r, const tw_visit *asked, size_t worst, int push[TW_COURSE_ADDITIONS])
{
    double all = 0.0, each[TW_COURSE_ADDITIONS];
    const tw_row_limit *m = &r->limit[worst];
    for (size_t k = 0; k < asked->additions; k++) {
        each[k] = worst == r->limits ? 0.0 : tw_max(-m->sign * r->per_g[m->row][asked->stock[k]] * asked->grams[k], 0.0);
        all += each[k];
    }
    for (size_t k = 0; k < asked->additions; k++)
        push[k] = each[k] >= 0.1 * all;
}

static void by_factor(const tw_rows *r, const tw_visit *asked, const tw_candidate *best, const int push[TW_COURSE_ADDITIONS],
                      double factor, tw_visit *out)
{
    for (size_t k = 0; k < asked->additions; k++) {
        tw_course_bound by;
        const double cap = tw_dose_visit_cap(r, asked->stock[k], asked->serves[k], &by);
        double grams = factor * asked->grams[k], most = tw_min(best->wanted[k], cap);
        most = tw_max(most, asked->grams[k]);
        out->grams[k] = push == NULL || push[k] ? to_mark(r->ask, asked->stock[k], tw_min(grams, most)) : asked->grams[k];
    }
}

/* A bracket of the factor still holds another mark of some measure. */
static int is_wide(const tw_rows *r, const tw_visit *asked, double bracket)
{
    int wide = 0;
    for (size_t k = 0; k < asked->additions; k++)
        wide = wide || bracket * asked->grams[k] > 0.5 * r->ask->stock[asked->stock[k]].grid_g;
    return wide;
}

/* The largest factor of the pushing products with which the judges find no more than may be spent, to a mark: halving the
 * factor's bracket, below 1 when it was too much and above when it was not. 0: none is small enough. */
static double factor_for_judges(const tw_rows *r, tw_course_set *judge, int first, int over, const tw_candidate *best,
                                const tw_visit *asked, const int push[TW_COURSE_ADDITIONS], tw_course_doing *d)
{
    double low = over ? 0.0 : 1.0, high = over ? 1.0 : 1.25, probe = over ? 0.98 : 1.02;
    const int halvings = first ? 9 : 5;
    for (int i = 0; i < halvings && is_wide(r, asked, high - low); i++) {
        tw_course_judged now;
        by_factor(r, asked, best, push, probe, &d->visit);
        tw_dose_set_judge(r, d, 0, judge, &now);
        if (now.chance_any > best->risk + ROUNDING)
            high = probe;
        else
            low = probe;
        /* From the near end outward first: 2, 4, 8 per cent; then halves. */
        if (over && low == 0.0)
            probe = 1.0 - 2.0 * (1.0 - probe) > 0.0 ? 1.0 - 2.0 * (1.0 - probe) : 0.5 * probe;
        else if (!over && high == 1.25)
            probe = 1.0 + 2.0 * (probe - 1.0) < 1.25 ? 1.0 + 2.0 * (probe - 1.0) : 0.5 * (low + high);
        else
            probe = 0.5 * (low + high);
    }
    return low;
}

/* Those products, all of them without `push`, brought to the factor that the judges let. */
static void bring(const tw_rows *r, tw_course_set *judge, int first, int over, const tw_candidate *best, const tw_visit *asked,
                  const int push[TW_COURSE_ADDITIONS], tw_course_doing *d, tw_course_judged *judged)
{
    const double factor = factor_for_judges(r, judge, first, over, best, asked, push, d);
    by_factor(r, asked, best, push, factor, &d->visit);
    tw_dose_set_judge(r, d, 0, judge, judged);
}

/* What the search chose is judged by others. More than the visit may spend: less of the products that push; where that
 * opens another limit (less acid lets chlorine lift pH too far), less of all. Fewer crossings than it may spend, and a
 * limit had held it: more, as far. */
static void let_judges(const tw_rows *r, tw_course_set *judge, int first, tw_candidate *best, tw_course_doing *d,
                       tw_course_judged *judged)
{
    const tw_visit asked = best->visit;
    const double may = best->risk + ROUNDING;
    tw_dose_set_judge(r, d, 0, judge, judged);
    const int over = judged->chance_any > may;
    if (!over && (!first || best->bound != TW_COURSE_BOUND_LIMIT))
        return;
    int push[TW_COURSE_ADDITIONS];
    const size_t worst = worst_of(r, judged);
    pushing(r, &asked, worst, push);
    bring(r, judge, first, over, best, &asked, push, d, judged);
    if (judged->chance_any > may)
        bring(r, judge, first, over, best, &asked, NULL, d, judged);
    best->visit = d->visit;
    if (over && best->bound != TW_COURSE_BOUND_LIMIT) {
        best->bound = TW_COURSE_BOUND_LIMIT;
        best->bound_limit = worst;
    }
}

/* As it is carried out, with the pH that its air reaches. */
static tw_course_doing doing_of(const tw_rows *r, const tw_candidate *best)
{
    tw_course_moves moves;
    (void)tw_dose_tell_moves(r, &best->visit, &moves);
    tw_course_doing d = {.visit = best->visit, .before_air = tw_dose_visit_before_air(r, &best->visit), .air_to_ph = moves.air_to_ph};
    tw_dose_rows_acids(r, &best->visit, d.acids);
    return d;
}

/* What is left over the risk is the exchange's: less of the water. */
static void less_water(const tw_rows *r, tw_course_set *judge, tw_candidate *best, tw_course_doing *d, tw_course_judged *judged)
{
    while (best->visit.share > 0.0 && judged->chance_any > best->risk + ROUNDING) {
        best->visit.share = tw_dose_visit_less_water(best->visit.share);
        *d = doing_of(r, best);
        tw_dose_set_judge(r, d, 0, judge, judged);
    }
}

size_t tw_dose_judge_first(const tw_rows *r, tw_course_set *judge, int first, size_t n, tw_candidate found[TW_COURSE_SHORTLIST],
                           tw_course_doing *d, tw_course_judged *judged)
{
    for (size_t a = 0; a < n; a++) {
        tw_candidate *best = &found[a];
        int keep[TW_COURSE_ADDITIONS] = {0}, pours = 0;
        *d = doing_of(r, best);
        let_judges(r, judge, first, best, d, judged);
        less_water(r, judge, best, d, judged);
        for (size_t k = 0; k < best->visit.additions; k++)
            pours += keep[k] = best->visit.grams[k] > 0.0;
        if (pours == 0 && best->visit.share == 0.0 && (best->visit.additions > 0 || (best->visit.air == 0 && best->visit.keeps >= 1.0)))
            continue;
        if (pours < (int)best->visit.additions) {
            tw_dose_visit_keep(best, keep);
            *d = doing_of(r, best);
            tw_dose_set_judge(r, d, 0, judge, judged);
        }
        return a;
    }
    return n;
}
