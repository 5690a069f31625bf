/* procedure/dose.c: acts that pour something: the first visit of the tub's course (procedure/course.h), its first
 * addition as the act, what follows it, and what the sentences say. */
#include "procedure/dose.h"

#include <math.h>
#include <string.h>

#include "dose/hazard.h"
#include "dose/pairs.h"
#include "dose/size.h"
#include "estimate/events.h"
#include "num/require.h"
#include "procedure/air.h"
#include "procedure/course.h"
#include "procedure/free.h"
#include "procedure/make.h"
#include "procedure/refuse.h"
#include "procedure/sentence.h"

#define SAVES_VISITS 0.5 /* expected visits for which another product than the usual one is taken */
#define WORTH_SAYING 1.1 /* a table dose that is this much more than ours */

tw_message tw_procedure_limit_message(int quantity, int is_floor)
{
    switch (quantity) {
    case TW_OF_PH: return is_floor ? TW_SAY_LIMIT_PH_LOW : TW_SAY_LIMIT_PH_HIGH;
    case TW_OF_ALKALINITY: return is_floor ? TW_SAY_LIMIT_TA_LOW : TW_SAY_LIMIT_TA_HIGH;
    case TW_OF_CALCIUM: return TW_SAY_LIMIT_CALCIUM;
    case TW_OF_SALT: return TW_SAY_LIMIT_SALT;
    case TW_OF_CHLORINE: return TW_SAY_LIMIT_CHLORINE;
    case TW_OF_CYANURATE: return TW_SAY_LIMIT_CYANURATE;
    default: return TW_MESSAGES;
    }
}

static void measured(const tw_substance *sub, double grams, tw_act *out)
{
    out->amount_g = grams;
    out->amount = tw_procedure_measured(sub, grams, &out->amount_decimals, &out->amount_unit);
}

/* The limit that bound, else the likeliest to be crossed, comes first. */
static void tell_limits(const tw_course_visit *v, tw_act *out)
{
    size_t first = 0;
    for (size_t l = 1; l < v->limits; l++)
        if (v->limit[l].chance > v->limit[first].chance)
            first = l;
    if (v->bound == TW_COURSE_BOUND_LIMIT)
        first = v->bound_limit;
    for (size_t turn = 0; turn < v->limits && out->limits < TW_ACT_LIMITS; turn++) {
        const tw_course_limit *l = &v->limit[turn == 0 ? first : turn <= first ? turn - 1 : turn];
        out->limit[out->limits++] = (tw_act_limit){tw_units_say(tw_procedure_limit_message(l->quantity, l->is_floor)), l->value, l->chance};
    }
    if (v->limits == 0)
        return;
    out->chance = v->limit[first].chance;
    tw_said said = tw_units_say(TW_SAY_SURE_LIMIT);
    tw_units_say_message(&said, "what", tw_procedure_limit_message(v->limit[first].quantity, v->limit[first].is_floor));
    tw_units_say_number(&said, "chance", out->chance);
    out->sure.line[out->sure.n++] = said;
}

void tw_procedure_predict(const tw_course_spread *after, tw_act *out)
{
    memcpy(out->predicted_ph, after->of[TW_OF_PH], sizeof out->predicted_ph);
    memcpy(out->predicted_ta, after->of[TW_OF_ALKALINITY], sizeof out->predicted_ta);
    memcpy(out->predicted_salt, after->of[TW_OF_SALT], sizeof out->predicted_salt);
    memcpy(out->predicted_chlorine, after->of[TW_OF_CHLORINE], sizeof out->predicted_chlorine);
}

/* What stands after this addition, nothing lost to the air yet. */
static void tell_numbers(const tw_scene *s, const tw_course_addition *a, tw_quantity_of_water aim, tw_act *out, tw_facts *f)
{
    double before[3];
    const tw_waters w = tw_procedure_waters(s);
    const tw_course_spread *after = &a->after;
    if (tw_dose_spread_of(&w, aim, s->mem, s->bytes, before) == TW_OK)
        f->now = before[1];
    f->low = after->of[aim][0];
    f->after = after->of[aim][1];
    f->high = after->of[aim][2];
    f->phlow = after->of[TW_OF_PH][0];
    f->ph = after->of[TW_OF_PH][1];
    f->phhigh = after->of[TW_OF_PH][2];
    tw_procedure_predict(after, out);
}

/* The whole table dose beside ours, when ours is smaller: what brings the middle water to the target at once. */
static void tell_single(const tw_scene *s, const tw_job *j, const tw_substance *sub, double target, tw_act *out)
{
    const int acid_or_base = j->effect == TW_EFFECT_TA_DOWN || j->effect == TW_EFFECT_TA_UP;
    const tw_waters w = tw_procedure_waters(s);
    tw_water middle;
    double kg, whole_g = 0.0;
    tw_reduced acids;
    tw_act single = *out;
    if (tw_dose_frozen(&w, s->mem, s->bytes, &middle, &kg, &acids) != TW_OK ||
        tw_dose_grams_to(&middle, kg, sub, j->of, target, w.solvent_kg_per_l, &whole_g) != TW_OK)
        return;
    measured(sub, whole_g, &single);
    out->label_amount = single.amount * (single.amount_unit[0] == 'k' && out->amount_unit[0] == 'g' ? 1000.0 : 1.0);
    if (whole_g <= WORTH_SAYING * out->amount_g || out->why.n == TW_ACT_LINES)
        return;
    tw_said said = tw_units_say(acid_or_base ? TW_SAY_LABEL_SINGLE : TW_SAY_LABEL_SINGLE_SALT);
    tw_units_say_amount(&said, "amount", single.amount, single.amount_decimals, tw_units_text(single.amount_unit));
    if (acid_or_base) {
        const tw_water after = tw_dose_apply(middle, kg, sub, whole_g);
        tw_units_say_number(&said, "ph", tw_dose_value(&acids, TW_OF_PH, &after, w.solvent_kg_per_l));
    }
    out->why.line[out->why.n++] = said;
}

/* What stands in the list and is not for this tub or this hand, and what would do. */
static void tell_lack(const tw_scene *s, tw_effect wanted, tw_act *out)
{
    const tw_substance *barred = NULL, *usual = tw_procedure_usual(s, wanted);
    const tw_message why = tw_procedure_barred(s, wanted, &barred);
    if (why != TW_MESSAGES) {
        out->why.line[0] = tw_units_say(why);
        tw_units_say_text(&out->why.line[0], "name", tw_units_text(barred->plain));
    }
    if (usual != NULL) {
        out->lift.line[0] = tw_units_say(TW_SAY_LIFT_GET);
        tw_units_say_text(&out->lift.line[0], "name", tw_units_text(usual->plain));
        tw_units_say_text(&out->lift.line[0], "id", tw_units_text(usual->id));
    }
}

tw_status tw_procedure_stop_course(const tw_scene *s, tw_act_id id, tw_effect wanted, const tw_course_of_tub *asked, const tw_course *course,
                                   tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, id, stage, TW_STANDS_STOPPED, out);
    if (id == TW_ACT_NO_STOCK && tw_procedure_makes_milk(s, &tw_dose_substances[TW_SUBSTANCE_SODIUM_CARBONATE]) && wanted == TW_EFFECT_TA_UP)
        tw_procedure_line(&out->why, TW_SAY_WHY_SODA_MILK);
    tw_procedure_finish(s, &f, out);
    if (id == TW_ACT_NO_STOCK)
        tell_lack(s, wanted, out);
    tw_said said;
    if (course != NULL && course->free.by != TW_COURSE_FREED_NOT && out->lift.n < TW_ACT_LINES &&
        tw_procedure_say_free(asked, course, &said)) {
        memmove(out->lift.line + 1, out->lift.line, out->lift.n++ * sizeof *out->lift.line);
        out->lift.line[0] = said;
    }
    return TW_OK;
}

/* What went in before and must not meet this: the longest wait, or a pair that waiting does not help. */
static const tw_dose_pair *must_not_meet(const tw_scene *s, const tw_substance *sub, const tw_entry **before, double *left_h)
{
    const tw_dose_pair *found = NULL;
    size_t cursor = 0;
    const tw_entry *e;
    *left_h = 0.0;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        const tw_substance *was = e->kind == TW_KIND_ADDITION && e->at.utc_s >= s->start_s ? tw_procedure_substance_of(s, e) : NULL;
        if (was == NULL)
            continue;
        const tw_dose_pair_verdict v = tw_dose_may_follow(was->family, 60.0 * tw_procedure_hours_since(s, e), sub->family, 0);
        if (v.may || (found != NULL && (*left_h < 0.0 || (v.wait_left_min > 0.0 && v.wait_left_min / 60.0 <= *left_h))))
            continue;
        found = v.pair;
        *before = e;
        *left_h = v.wait_left_min / 60.0;
    }
    return found;
}

/* A wait until the two may follow each other, or a stop where no wait does it. */
static tw_status keep_apart(const tw_scene *s, const tw_dose_pair *pair, const tw_entry *before, double left_h,
                            tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    const int never = left_h < 0.0;
    tw_procedure_begin(s, never ? TW_ACT_CANNOT_DOSE : TW_ACT_WAIT_MIXING, stage, never ? TW_STANDS_STOPPED : TW_STANDS_WAITING, out);
    out->why.n = 0;
    tw_procedure_line(&out->why, TW_SAY_WHY_WAIT);
    tw_procedure_line(&out->why, pair->why);
    f.name = tw_units_text(tw_procedure_substance_of(s, before)->plain);
    f.done = before->at;
    if (!never) {
        f.wait_h = left_h;
        out->next = out->until = tw_procedure_later(s->now, left_h);
    }
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

tw_status tw_procedure_wait_for_bathers(const tw_scene *s, double left_h, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, TW_ACT_WAIT_BATHERS, stage, TW_STANDS_WAITING, out);
    f.wait_h = left_h;
    f.done = s->bathers->at;
    f.name = tw_logbook_text(s->bathers, TW_FIELD_COUNT);
    out->next = out->until = tw_procedure_later(s->now, left_h);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* What may have gone in is read, when it has had its time to mix. */
static tw_status read_what_may_have_gone_in(const tw_scene *s, const tw_entry *taken, tw_effect effect, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    const tw_substance *sub = tw_procedure_substance_of(s, taken);
    const double left_h = tw_dose_waits[effect].test_min / 60.0 - tw_procedure_hours_since(s, taken);
    const int waits = left_h > 0.5 / 60.0;
    tw_procedure_begin(s, waits ? TW_ACT_WAIT_MIXING : TW_ACT_TAKEN_BACK, stage, waits ? TW_STANDS_WAITING : TW_STANDS_RETEST_DUE, out);
    out->why.n = 0;
    tw_procedure_line(&out->why, TW_SAY_WHY_TAKEN_BACK);
    tw_procedure_ask_tests(effect, out);
    f.done = taken->at;
    f.name = sub != NULL ? tw_units_text(sub->plain) : tw_logbook_text(taken, TW_FIELD_SUBSTANCE);
    f.wait_h = left_h;
    out->next = out->until = waits ? tw_procedure_later(s->now, left_h) : s->now;
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* Hours of air after a step of acid: to rest before the next one, to the target of pH after the last. */
static double air_after(const tw_scene *s, const tw_course_visit *v, const tw_substance *acid, double grams)
{
    const double aim = v->bound == TW_COURSE_BOUND_NOTHING ? tw_procedure_bands[TW_BAND_PH].target : TW_PROCEDURE_PH_AT_REST;
    return tw_procedure_air_hours(s, aim, 1e3 * grams * tw_dose_alk_eq_per_g(acid));
}

/* The cautions of what is poured stand among what must be so first; the label wins, and is said last. */
static void tell_cautions(const tw_substance *sub, tw_act *out)
{
    const tw_dose_hazard *hazard = tw_dose_hazard_of(sub);
    for (uint32_t i = 0; i < hazard->n; i++)
        if (hazard->caution[i] != TW_SAY_CAUTION_LABEL)
            tw_procedure_line(&out->first, hazard->caution[i]);
    tw_procedure_line(&out->first, TW_SAY_CAUTION_LABEL);
}

void tw_procedure_tell_following(const tw_substance *row, tw_time at, tw_act *out)
{
    tw_said said = tw_units_say(TW_SAY_NEXT_POUR);
    tw_units_say_text(&said, "name", tw_units_text(row->plain));
    tw_units_say_time(&said, "next", at);
    if (out->next_lines.n < TW_ACT_LINES)
        out->next_lines.line[out->next_lines.n++] = said;
}

/* What follows in the same visit, each with the hour before which it must not go in; the retest comes after the last. */
static void tell_visit(const tw_scene *s, const tw_course_of_tub *asked, const tw_course_visit *v, tw_act *out)
{
    if (v->additions < 2) { /* the last: now all that the visit has moved */
        tw_visit_so_far before;
        tw_procedure_visit(s, &before);
        tw_procedure_ask_visit(&before, out);
        return;
    }
    for (size_t k = 1; k < v->additions; k++)
        tw_procedure_tell_following(asked->row[v->addition[k].stock], tw_procedure_later(s->now, v->addition[k].start_min / 60.0), out);
    out->next = out->until = tw_procedure_later(s->now, v->addition[1].start_min / 60.0);
    out->tests = 0;
}

/* The card of the visit's first addition. */
static tw_status card(const tw_scene *s, const tw_course_of_tub *asked, const tw_course *c, int job, tw_stage stage, tw_act *out)
{
    const tw_course_visit *v = &c->visit[0];
    const tw_course_addition *a = &v->addition[0];
    const tw_job *j = &tw_procedure_jobs[job];
    const tw_substance *row = asked->row[a->stock], *sub = &asked->ask.stock[a->stock].substance;
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, j->act, stage, TW_STANDS_TO_DO, out);
    out->substance = (int)(row - tw_dose_substances);
    measured(sub, a->grams, out);
    tell_cautions(row, out);
    out->next = out->until = tw_procedure_later(s->now, tw_dose_waits[j->effect].test_min / 60.0 +
                                                            (j->act == TW_ACT_ACID_STEP ? air_after(s, v, sub, a->grams) : 0.0));
    tell_visit(s, asked, v, out);
    if (j->by_steps) {
        const uint32_t more = c->expected_visits > 1.0 ? (uint32_t)(c->expected_visits + 0.5) : 1;
        out->step = s->pours[j->effect] + 1;
        out->steps = s->pours[j->effect] + more;
    }
    f.has_amount = 1;
    f.name = tw_units_text(row->plain);
    tell_numbers(s, a, j->of, out, &f);
    tell_limits(v, out);
    tell_single(s, j, sub, asked->ask.band[j->of].target, out);
    if (job == TW_JOB_TRIM && asked->jobs >> TW_JOB_BICARBONATE & 1u)
        tw_procedure_line(&out->why, TW_SAY_WHY_ACID_FIRST);
    if (v->bound == TW_COURSE_BOUND_STOCK && v->bound_at == 0)
        tw_procedure_line(&out->why, TW_SAY_WHY_STOCK_LEFT);
    if (!asked->listed[a->stock])
        tw_procedure_line(&out->how, TW_SAY_NOT_IN_STOCK);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* Air that brings carbon dioxide in, where that makes room for the dose. A reading ends it. */
static tw_status air_first(const tw_scene *s, const tw_course_free *free, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, TW_ACT_AIR, stage, TW_STANDS_TO_DO, out);
    out->why.n = 0;
    tw_procedure_line(&out->why, TW_SAY_WHY_AIR_IN);
    f.now = tw_procedure_middle(s, TW_OBSERVED_PH);
    f.ta = tw_procedure_middle(s, TW_OBSERVED_ALKALINITY);
    f.ph = free->value;
    f.wait_h = ceil(4.0 * free->hours) / 4.0; /* in quarters, as all air is */
    out->next = out->until = tw_procedure_later(s->now, f.wait_h);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* 1: the visit pours for the job that was asked for: acid too, where it makes room for bicarbonate. */
static int serves(const tw_course_of_tub *asked, const tw_course *c, int job)
{
    const tw_course_visit *v = &c->visit[0];
    for (size_t k = 0; c->visits > 0 && k < v->additions; k++)
        if (asked->row[v->addition[k].stock]->effect == tw_procedure_jobs[job].effect ||
            (job == TW_JOB_BICARBONATE && asked->row[v->addition[k].stock]->effect == TW_EFFECT_TA_DOWN))
            return 1;
    return 0;
}

/* A course for these jobs. The order of the stages stands: a visit that leaves this one out is not gone on. */
static tw_status plan(const tw_scene *s, int job, tw_job_set jobs, tw_course_of_tub *asked, tw_course *course)
{
    const tw_job_set own = 1u << job;
    tw_status status = tw_procedure_course(s, own | jobs, 1, asked, course);
    if (status == TW_OK && !serves(asked, course, job) && (jobs | own) != own)
        status = tw_procedure_course(s, own, 1, asked, course);
    return status;
}

/* The course pours for the job. */
static int goes(tw_status status, const tw_course_of_tub *asked, const tw_course *course, int job)
{
    return status == TW_OK && serves(asked, course, job) && course->visit[0].addition[0].grams > 0.0;
}

/* The product of the list that was not taken, what of it would go in, and the visits with either. */
static void tell_other(const tw_course_of_tub *other, const tw_course *with, const tw_course *taken, int job, tw_act *out)
{
    const tw_course_addition *a = &with->visit[0].addition[0];
    tw_act shown = *out;
    if (out->verb != TW_VERB_ADD || out->id != tw_procedure_jobs[job].act || out->why.n == TW_ACT_LINES ||
        other->row[a->stock]->effect != tw_procedure_jobs[job].effect)
        return;
    measured(other->row[a->stock], a->grams, &shown);
    tw_said said = tw_units_say(TW_SAY_WHY_OTHER_PRODUCT);
    tw_units_say_text(&said, "name", tw_units_text(other->row[a->stock]->plain));
    tw_units_say_amount(&said, "amount", shown.amount, shown.amount_decimals, tw_units_text(shown.amount_unit));
    tw_units_say_number(&said, "visits", with->expected_visits);
    tw_units_say_number(&said, "best", taken->expected_visits);
    out->why.line[out->why.n++] = said;
}

/* The card of a course, its first addition kept apart from what went in before. */
static tw_status card_of(const tw_scene *s, const tw_course_of_tub *asked, const tw_course *course, int job, tw_stage stage, tw_act *out)
{
    const tw_entry *before = NULL;
    const tw_dose_pair *pair = NULL;
    double left_h = 0.0;
    const int first = tw_procedure_job_of_addition(asked, course->visit[0].addition[0].stock, job);
    if (first != job && (pair = must_not_meet(s, asked->row[course->visit[0].addition[0].stock], &before, &left_h)) != NULL)
        return keep_apart(s, pair, before, left_h, stage, out);
    return card(s, asked, course, first, first == job ? stage : tw_procedure_conditions[tw_procedure_jobs[first].condition].stage, out);
}

tw_status tw_procedure_make_visit(const tw_scene *s, int job, tw_job_set jobs, tw_stage stage, tw_act *out)
{
    const tw_job *j = &tw_procedure_jobs[job];
    int listed = 0;
    tw_substance sub;
    double left_h = 0.0;
    if (tw_procedure_bathing(s, &left_h))
        return tw_procedure_wait_for_bathers(s, left_h, stage, out);
    const tw_entry *taken = tw_procedure_taken_back(s, j->effect), *before = NULL;
    if (taken != NULL)
        return read_what_may_have_gone_in(s, taken, j->effect, stage, out);
    const tw_substance *row = tw_procedure_substance(s, j->effect, &listed, &sub);
    if (row == NULL)
        return tw_procedure_stop_course(s, TW_ACT_NO_STOCK, j->effect, NULL, NULL, stage, out);
    if (s->belief == NULL)
        return tw_procedure_stop_course(s, TW_ACT_CANNOT_DOSE, j->effect, NULL, NULL, stage, out);
    const tw_dose_pair *pair = must_not_meet(s, row, &before, &left_h);
    if (pair != NULL)
        return keep_apart(s, pair, before, left_h, stage, out);
    tw_course_of_tub asked, other;
    tw_course course, with;
    tw_status status = plan(s, job, jobs, &asked, &course);
    const int going = goes(status, &asked, &course, job);
    /* Two of the list serve: what the trade reaches for first, unless the other saves a visit, or goes alone. */
    tw_scene instead = *s;
    instead.prefer = listed ? tw_procedure_other_listed(s, j->effect, row) : NULL;
    const int two = instead.prefer != NULL && must_not_meet(s, instead.prefer, &before, &left_h) == NULL &&
                    goes(plan(&instead, job, jobs, &other, &with), &other, &with, job);
    if (two && (!going || with.expected_visits <= course.expected_visits - SAVES_VISITS)) {
        status = card_of(&instead, &other, &with, job, stage, out);
        if (going)
            tell_other(&asked, &course, &with, job, out);
        return status;
    }
    if (!going && status == TW_OK && course.free.by == TW_COURSE_FREED_BY_AIR)
        return air_first(s, &course.free, stage, out);
    if (!going)
        return tw_procedure_stop_course(s, TW_ACT_CANNOT_DOSE, j->effect, &asked, status == TW_OK ? &course : NULL, stage, out);
    status = card_of(s, &asked, &course, job, stage, out);
    if (two)
        tell_other(&other, &with, &course, job, out);
    return status;
}

tw_status tw_procedure_make_dose(const tw_scene *s, tw_act_id id, tw_stage stage, tw_act *out)
{
    const int job = tw_procedure_job_of(id, TW_CONDITIONS);
    TW_REQUIRE(job < TW_JOBS); /* every act that adds has one */
    return tw_procedure_make_visit(s, job, tw_procedure_jobs_of_card(s, job), stage, out);
}
