/* dose/course_visit.c: see course_visit.h. */
#include "dose/course_visit.h"

#include <math.h>
#include <string.h>

#include "dose/course_choice.h"
#include "dose/course_size.h"
#include "dose/course_tell.h"

/* Fewest visits to a sixteenth, a half band that is left counted as a tenth of a visit (sixteen retests see no more); then
 * attended minutes, a half band that is left counted as the pour that it will cost later; then nearness to a twentieth of a half band, then mass. */
static int is_better(const tw_candidate *a, const tw_candidate *b)
{
    const double va = floor(16.0 * (a->visits + 0.1 * a->distance) + 0.5), vb = floor(16.0 * (b->visits + 0.1 * b->distance) + 0.5);
    if (va != vb)
        return va < vb;
    if (a->open != b->open)
        return a->open < b->open;
    if (fabs(a->minutes - b->minutes) > 0.5)
        return a->minutes < b->minutes;
    const double da = floor(20.0 * a->distance + 0.5), db = floor(20.0 * b->distance + 0.5);
    if (da != db)
        return da < db;
    return a->grams < b->grams;
}

void tw_dose_visit_unrounded(const tw_rows *r, tw_search *s, double left, double members, tw_candidate *c)
{
    tw_needs w;
    tw_dose_choice_look(r, &s->full, 1, 0, &w);
    memcpy(c->visit.grams, c->wanted, sizeof c->visit.grams);
    tw_dose_visit_size(r, w.way, s, left, members, c);
}

double tw_dose_visit_worth(const tw_rows *r, tw_search *s, double left, double members, uint32_t retests, tw_candidate *c)
{
    const double spent = tw_dose_rows_chance(r, &c->visit, &s->full, s->value);
    return tw_dose_recourse(r, &c->visit, left > spent ? left - spent : 0.0, members, retests, s, &c->most_visits);
}

size_t tw_dose_visit_find(const tw_rows *r, tw_search *s, double left, double members, int all, int acid_first,
                          tw_candidate out[TW_COURSE_SHORTLIST])
{
    tw_needs w;
    tw_dose_choice_look(r, &s->full, all ? TW_COURSE_OPTIONS : 1, acid_first, &w);
    if (acid_first && !(w.way[TW_OF_ALKALINITY] > 0 && w.way[TW_OF_PH] < 0))
        return 0;
    const size_t n = tw_dose_choice_list(r, &w, all ? TW_COURSE_SHORTLIST : 2, out);
    size_t kept = 0;
    for (size_t a = 0; a < n; a++) {
        tw_candidate c = out[a];
        tw_dose_visit_size(r, w.way, s, left, members, &c);
        if (c.visit.additions == 0 && c.visit.share == 0.0 && c.visit.air == 0 && c.visit.keeps >= 1.0)
            continue;
        c.visits = tw_dose_visit_worth(r, s, left, members, all ? TW_COURSE_RETESTS : TW_COURSE_RETESTS_LATER, &c);
        tw_course_moves moves;
        c.attended_min = tw_dose_tell_moves(r, &c.visit, &moves);
        c.minutes = c.attended_min + r->ask->pour_min * c.distance;
        size_t at = kept++;
        while (at > 0 && is_better(&c, &out[at - 1])) {
            out[at] = out[at - 1];
            at--;
        }
        out[at] = c;
    }
    return kept;
}
