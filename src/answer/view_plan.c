/* answer/view_plan.c: the whole course: visit after visit, what bound it, what was not taken, what to take along. */
#include <math.h>
#include <string.h>

#include "answer/act.h"
#include "answer/views.h"
#include "dose/load.h"
#include "procedure/dose.h"
#include "procedure/free.h"

#define NEEDS_COVER 0.9 /* of the days drawn                             */
#define ROOM_ARRAYS 7   /* of a belief's members, as core.h keeps beside the work */

typedef struct {
    tw_core *core;
    const tw_ask *ask;
    tw_sink *sink;
    tw_scene scene;
    tw_course_of_tub asked;
    tw_course course;
} view;

static tw_time minutes_on(const view *v, double minutes)
{
    return tw_procedure_later(v->ask->now, minutes / 60.0);
}

/* An amount as it is measured, to the sink and into a sentence. */
static void say_amount(const tw_substance *sub, double grams, tw_said *said)
{
    int decimals;
    const char *unit;
    const double amount = tw_procedure_measured(sub, grams, &decimals, &unit);
    tw_units_say_amount(said, "amount", amount, decimals, tw_units_text(unit));
    tw_units_say_text(said, "name", tw_units_text(sub->plain));
}

static void tell_amount(const tw_substance *row, double grams, tw_sink *sink)
{
    int decimals;
    const char *unit;
    const double amount = tw_procedure_measured(row, grams, &decimals, &unit);
    tw_answer_string(sink, TW_KEY_SUBSTANCE, row->id);
    tw_answer_number(sink, TW_KEY_AMOUNT, amount);
    tw_answer_string(sink, TW_KEY_AMOUNT_UNIT, unit);
    tw_answer_number(sink, TW_KEY_AMOUNT_G, grams);
}

/* ------------------------------------------------------------------------------------ one visit */

static void tell_pours(const view *v, const tw_course_visit *visit)
{
    tw_sink *sink = v->sink;
    tw_answer_open_list(sink, TW_KEY_POURS);
    for (size_t k = 0; k < visit->additions; k++) {
        const tw_course_addition *a = &visit->addition[k];
        tw_answer_item(sink);
        tell_amount(v->asked.row[a->stock], a->grams, sink);
        tw_answer_time(sink, TW_KEY_POUR_AT, minutes_on(v, visit->start_min + a->start_min));
        tw_answer_flag(sink, TW_KEY_POUR_APART, a->apart);
        tw_answer_number(sink, TW_KEY_POUR_LEFT_G, a->left_g);
        tw_answer_number(sink, TW_KEY_POUR_OFF_GRID_G, a->off_grid_g);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
    if (visit->additions == 0)
        return;
    tw_answer_open_list(sink, TW_KEY_POURS_SAID);
    for (size_t k = 0; k < visit->additions; k++) {
        const tw_course_addition *a = &visit->addition[k];
        tw_said said = tw_units_say(a->apart ? TW_SAY_COURSE_POUR_APART : TW_SAY_COURSE_POUR);
        say_amount(v->asked.row[a->stock], a->grams, &said);
        tw_units_say_time(&said, "at", minutes_on(v, visit->start_min + a->start_min));
        tw_answer_words(sink, TW_KEY_POURS_SAID, &said);
    }
    tw_answer_close(sink);
}

static void tell_moves(const view *v, const tw_course_visit *visit)
{
    tw_answer_open_list(v->sink, TW_KEY_MOVES);
    if (visit->moves.exchange_share > 0.0) {
        tw_said said = tw_units_say(TW_SAY_COURSE_EXCHANGE);
        tw_units_say_number(&said, "share", visit->moves.exchange_share);
        tw_units_say_number(&said, "litres", visit->moves.exchange_l);
        tw_answer_words(v->sink, TW_KEY_MOVES, &said);
    }
    if (visit->moves.air_hours > 0.0) {
        tw_said said = tw_units_say(TW_SAY_COURSE_AIR);
        tw_units_say_number(&said, "hours", visit->moves.air_hours);
        tw_units_say_number(&said, "ph", visit->moves.air_to_ph);
        tw_answer_words(v->sink, TW_KEY_MOVES, &said);
    }
    tw_said said = tw_units_say(TW_SAY_COURSE_RETEST);
    tw_units_say_time(&said, "at", minutes_on(v, visit->start_min + visit->retest_min));
    tw_answer_words(v->sink, TW_KEY_MOVES, &said);
    tw_answer_close(v->sink);
}

static void tell_after(const view *v, const tw_course_spread *after)
{
    static const struct { tw_quantity_of_water of; tw_key key; } ROWS[] = {
        {TW_OF_PH, TW_KEY_AFTER_PH}, {TW_OF_ALKALINITY, TW_KEY_AFTER_ALKALINITY}, {TW_OF_CALCIUM, TW_KEY_AFTER_CALCIUM},
        {TW_OF_SALT, TW_KEY_AFTER_SALT}, {TW_OF_PHOSPHATE, TW_KEY_AFTER_PHOSPHATE}, {TW_OF_CHLORINE, TW_KEY_AFTER_CHLORINE}};
    tw_answer_open(v->sink, TW_KEY_AFTER);
    for (size_t k = 0; k < sizeof ROWS / sizeof *ROWS; k++) {
        const tw_course_band *b = &v->asked.ask.band[ROWS[k].of];
        if (b->target == b->target || ROWS[k].of == TW_OF_PH)
            tw_answer_spread(v->sink, ROWS[k].key, after->of[ROWS[k].of][0], after->of[ROWS[k].of][1], after->of[ROWS[k].of][2]);
    }
    tw_answer_close(v->sink);
}

static size_t first_limit(const tw_course_visit *visit)
{
    size_t first = 0;
    for (size_t l = 1; l < visit->limits; l++)
        if (visit->limit[l].chance > visit->limit[first].chance)
            first = l;
    return visit->bound == TW_COURSE_BOUND_LIMIT ? visit->bound_limit : first;
}

static void tell_limits(const view *v, const tw_course_visit *visit)
{
    const size_t first = first_limit(visit);
    tw_answer_open_list(v->sink, TW_KEY_LIMITS);
    for (size_t turn = 0; turn < visit->limits; turn++) {
        const tw_course_limit *l = &visit->limit[turn == 0 ? first : turn <= first ? turn - 1 : turn];
        const tw_said what = tw_units_say(tw_procedure_limit_message(l->quantity, l->is_floor));
        tw_said said = tw_units_say(TW_SAY_REASON_CHANCE);
        tw_answer_item(v->sink);
        tw_answer_words(v->sink, TW_KEY_LIMIT, &what);
        tw_answer_number(v->sink, TW_KEY_LIMIT_AT, l->value);
        tw_answer_number(v->sink, TW_KEY_CHANCE, l->chance);
        tw_units_say_number(&said, "p", l->chance);
        tw_answer_words(v->sink, TW_KEY_LIMIT_CHANCE, &said);
        tw_answer_close(v->sink);
    }
    tw_answer_close(v->sink);
}

static void tell_bound(const view *v, const tw_course_visit *visit)
{
    static const tw_message BOUND[] = {[TW_COURSE_BOUND_NOTHING] = TW_SAY_COURSE_BOUND_NOTHING, [TW_COURSE_BOUND_LIMIT] = TW_SAY_COURSE_BOUND_LIMIT,
        [TW_COURSE_BOUND_CAP] = TW_SAY_COURSE_BOUND_CAP, [TW_COURSE_BOUND_STOCK] = TW_SAY_COURSE_BOUND_STOCK, [TW_COURSE_BOUND_ROOM] = TW_SAY_COURSE_BOUND_ROOM};
    tw_said said = tw_units_say(BOUND[visit->bound]);
    if (visit->bound == TW_COURSE_BOUND_LIMIT) {
        const tw_course_limit *l = &visit->limit[visit->bound_limit];
        tw_units_say_message(&said, "what", tw_procedure_limit_message(l->quantity, l->is_floor));
        tw_units_say_number(&said, "chance", l->chance);
    }
    tw_answer_words(v->sink, TW_KEY_BOUND_SAID, &said);
}

static void tell_visit(const view *v, size_t i)
{
    const tw_course_visit *visit = &v->course.visit[i];
    tw_answer_item(v->sink);
    tw_said head = tw_units_say(i == 0 ? TW_SAY_COURSE_VISIT : TW_SAY_COURSE_VISIT_FORETOLD);
    tw_units_say_number(&head, "n", (double)(i + 1));
    tw_units_say_time(&head, "at", minutes_on(v, visit->start_min));
    tw_answer_words(v->sink, TW_KEY_VISIT_HEAD, &head);
    tw_answer_number(v->sink, TW_KEY_VISIT_NUMBER, (double)(i + 1));
    tw_answer_time(v->sink, TW_KEY_VISIT_AT, minutes_on(v, visit->start_min));
    if (visit->last_start_min == visit->last_start_min)
        tw_answer_time(v->sink, TW_KEY_VISIT_LAST_START, minutes_on(v, visit->last_start_min));
    tw_answer_time(v->sink, TW_KEY_VISIT_RETEST_AT, minutes_on(v, visit->start_min + visit->retest_min));
    tell_pours(v, visit);
    tell_moves(v, visit);
    tell_after(v, &visit->after);
    if (i == 0)
        tell_limits(v, visit);
    tell_bound(v, visit);
    tw_answer_number(v->sink, TW_KEY_IN_BAND, visit->in_band_all);
    tw_answer_number(v->sink, TW_KEY_ATTENDED_MIN, visit->attended_min);
    tw_answer_number(v->sink, TW_KEY_UNATTENDED_MIN, visit->unattended_min);
    tw_answer_number(v->sink, TW_KEY_RISK_SPENT, visit->risk_spent);
    tw_answer_close(v->sink);
}

/* ------------------------------------------------------------------------------------ the course */

static void tell_ready(const view *v)
{
    const tw_course *c = &v->course;
    const tw_spread wants = tw_estimate_column_mg_per_l(v->scene.belief, TW_COLUMN_DEMAND_MG_PER_KG);
    if (v->asked.jobs == 1u << TW_JOB_BRIDGE && wants.q50 >= 1.0) { /* each step is eaten, until nothing is left to eat it */
        tw_said open = tw_units_say(TW_SAY_COURSE_READY_DEMAND);
        tw_units_say_number(&open, "low", wants.q05);
        tw_units_say_number(&open, "high", wants.q95);
        tw_answer_words(v->sink, TW_KEY_READY_SAID, &open);
        return;
    }
    const double by = v->asked.ask.ready_by_min;
    tw_said said = tw_units_say(!(by == by) ? TW_SAY_COURSE_READY : c->cannot_be_ready ? TW_SAY_COURSE_READY_NOT : TW_SAY_COURSE_READY_BY);
    tw_units_say_time(&said, "at", minutes_on(v, c->ready_min));
    if (by == by) {
        tw_units_say_time(&said, "by", minutes_on(v, by));
        if (!c->cannot_be_ready)
            tw_units_say_time(&said, "last", minutes_on(v, c->visit[0].last_start_min));
        tw_answer_flag(v->sink, TW_KEY_CANNOT_BE_READY, c->cannot_be_ready);
    }
    tw_answer_time(v->sink, TW_KEY_READY_AT, minutes_on(v, c->ready_min));
    tw_answer_words(v->sink, TW_KEY_READY_SAID, &said);
}

static void tell_other(const view *v)
{
    const tw_course_other *o = &v->course.other;
    if (!o->is || (o->more_visits < 0.05 && fabs(o->more_attended_min) < 0.5)) /* as good: nothing to tell */
        return;
    tw_said said = tw_units_say(o->additions == 0 ? TW_SAY_COURSE_OTHER_AIR : o->additions > 1 ? TW_SAY_COURSE_OTHER_TWO : TW_SAY_COURSE_OTHER);
    if (o->additions > 0)
        say_amount(v->asked.row[o->stock[0]], o->grams[0], &said);
    tw_units_say_number(&said, "visits", o->more_visits);
    tw_units_say_number(&said, "minutes", o->more_attended_min);
    tw_answer_words(v->sink, TW_KEY_OTHER_SAID, &said);
    tw_answer_number(v->sink, TW_KEY_OTHER_VISITS, o->more_visits);
    tw_answer_number(v->sink, TW_KEY_OTHER_MINUTES, o->more_attended_min);
    tw_answer_number(v->sink, TW_KEY_OTHER_G, o->more_grams);
}

static void tell_free(const view *v)
{
    static const char *const BY[] = {"not", "product", "exchange", "stock", "grid", "test", "limit", "air"};
    tw_said said;
    if (!tw_procedure_say_free(&v->asked, &v->course, &said))
        return;
    tw_answer_string(v->sink, TW_KEY_COURSE_BLOCKED, tw_units_message_id(tw_procedure_quantity_message(v->course.blocked)));
    tw_answer_string(v->sink, TW_KEY_COURSE_FREE, BY[v->course.free.by]);
    tw_answer_words(v->sink, TW_KEY_COURSE_FREE_SAID, &said);
}

/* What nine days in ten need of each product, and the boxes it may share. */
static void tell_needs(view *v, tw_job_set jobs)
{
    const tw_belief *b = v->scene.belief;
    if (tw_procedure_course(&v->scene, jobs, 1, &v->asked, &v->course) != TW_OK)
        return;
    const size_t products = v->asked.ask.stocks;
    double *need = v->core->room, grams[TW_COURSE_STOCK];
    tw_family family[TW_COURSE_STOCK];
    uint32_t box[TW_COURSE_STOCK];
    size_t of[TW_COURSE_STOCK], n = 0;
    const tw_load_tub tub = {b->n, need};
    if (products == 0 || products > ROOM_ARRAYS || tw_dose_load_bytes(products) > v->core->work_bytes ||
        tw_dose_needs(&v->asked.ask, v->core->work, v->core->work_bytes, need) != TW_OK ||
        tw_dose_load(&tub, 1, products, NEEDS_COVER, b->seed, v->core->work, v->core->work_bytes, grams) != TW_OK)
        return;
    for (size_t j = 0; j < products; j++)
        if (grams[j] > 0.5) {
            of[n] = j;
            family[n++] = v->asked.row[j]->family;
        }
    const size_t boxes = n > 0 ? tw_dose_boxes(family, n, box) : 0;
    tw_answer_open_list(v->sink, TW_KEY_NEEDS);
    for (size_t k = 0; k < n; k++) {
        tw_answer_item(v->sink);
        tell_amount(v->asked.row[of[k]], grams[of[k]], v->sink);
        tw_answer_number(v->sink, TW_KEY_NEED_BOX, (double)(box[k] + 1));
        tw_answer_close(v->sink);
    }
    tw_answer_close(v->sink);
    if (n == 0)
        return;
    tw_answer_open_list(v->sink, TW_KEY_NEEDS_SAID);
    for (size_t k = 0; k < n; k++) {
        tw_said said = tw_units_say(boxes > 1 ? TW_SAY_COURSE_NEED_BOX : TW_SAY_COURSE_NEED);
        say_amount(v->asked.row[of[k]], grams[of[k]], &said);
        if (boxes > 1)
            tw_units_say_number(&said, "box", (double)(box[k] + 1));
        tw_answer_words(v->sink, TW_KEY_NEEDS_SAID, &said);
    }
    tw_answer_close(v->sink);
}

static void tell_course(const view *v)
{
    static const char *const STANDS[] = {"in-band", "goes", "goes-on", "no-product", "no-room"};
    const tw_course *c = &v->course;
    tw_said said = tw_units_say(c->stands == TW_COURSE_IN_BAND ? TW_SAY_COURSE_NONE : c->visits == 0 ? TW_SAY_COURSE_STUCK
                                : c->promised_visits > 0 ? TW_SAY_COURSE_VISITS : TW_SAY_COURSE_VISITS_OPEN);
    tw_units_say_number(&said, "visits", c->expected_visits);
    tw_units_say_number(&said, "promised", (double)c->promised_visits);
    tw_answer_words(v->sink, TW_KEY_COURSE_SAID, &said);
    tw_answer_string(v->sink, TW_KEY_COURSE_STANDS, STANDS[c->stands]);
    tw_answer_number(v->sink, TW_KEY_RISK_LEFT, c->risk_left);
    if (c->visits > 0) {
        tw_answer_number(v->sink, TW_KEY_EXPECTED_VISITS, c->expected_visits);
        tw_answer_number(v->sink, TW_KEY_PROMISED_VISITS, c->promised_visits > 0 ? (double)c->promised_visits : (double)NAN);
        tw_answer_number(v->sink, TW_KEY_CHANCE_EVER, c->chance_ever);
        tw_answer_number(v->sink, TW_KEY_ROUNDING_VISITS, c->rounding_visits);
        tw_answer_number(v->sink, TW_KEY_ROUNDING_G, c->rounding_grams);
        tw_answer_open_list(v->sink, TW_KEY_VISITS);
        for (size_t i = 0; i < c->visits; i++)
            tell_visit(v, i);
        tw_answer_close(v->sink);
        if (c->blocked == TW_OF_QUANTITIES)
            tell_ready(v);
        tell_other(v);
    }
    tell_free(v);
}

void tw_answer_view_plan(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    view v = {.core = core, .ask = ask, .sink = sink};
    const tw_belief *belief = tw_answer_tell_belief(core, ask, tub, sink);
    const tw_act *act = tw_answer_act(core, tub, ask->now, &status);
    if (belief == NULL || act == NULL)
        return;
    tw_procedure_scene(core->book, tub, ask->now, belief, tw_answer_profile(ask, tub), core->work, core->work_bytes, &v.scene);
    if (!v.scene.water_in) {
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_COURSE_NOT_YET);
        return;
    }
    /* The first visit is the card's: for the same jobs. Where the card asks for something else first, what is foreseen. */
    const int job = tw_procedure_job_of(act->id, act->unmet);
    v.scene.prefer = act->substance >= 0 ? &tw_dose_substances[act->substance] : NULL; /* with the card's product */
    const tw_job_set foreseen = tw_procedure_jobs_foreseen(&v.scene);
    const int bridges = (job == TW_JOB_HOLDING || job == TW_JOB_BRIDGE) && foreseen != 0; /* a dose to gain time, before the course */
    const tw_job_set jobs = job < TW_JOBS && !bridges ? tw_procedure_jobs_of_card(&v.scene, job) : foreseen;
    if (jobs == 0) {
        tw_answer_message(sink, TW_KEY_COURSE_SAID, TW_SAY_COURSE_NONE);
        tw_answer_string(sink, TW_KEY_COURSE_STANDS, "in-band");
    } else if (tw_procedure_course(&v.scene, jobs, 0, &v.asked, &v.course) == TW_OK) {
        if (bridges || (act->verb != TW_VERB_STOP && act->verb != TW_VERB_ADD && act->id != TW_ACT_EXCHANGE)) {
            tw_said said = tw_units_say(TW_SAY_COURSE_FIRST);
            tw_answer_open_list(sink, TW_KEY_COURSE_FIRST);
            tw_answer_words(sink, TW_KEY_COURSE_FIRST, &said);
            tw_answer_words(sink, TW_KEY_COURSE_FIRST, &act->head);
            tw_answer_close(sink);
        }
        tell_course(&v);
        tell_needs(&v, jobs | foreseen);
    }
    tw_answer_digest(sink, TW_KEY_BELIEF, belief->digest);
}
