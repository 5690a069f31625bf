/* procedure/exchange.c: see exchange.h. */
#include "procedure/exchange.h"

#include <math.h>

#include "estimate/events.h"
#include "procedure/dose.h"
#include "procedure/refuse.h"
#include "procedure/sentence.h"

#define MARK_L 10.0 /* litres by a hose and a meter; common practice */

/* What is over its band: why other water, which number of the belief, what reads it. */
static const struct { int job, observed, analyte; tw_band_id band; tw_message why; } OVER[] = {
    {TW_JOB_LESS_SALT, TW_OBSERVED_CHLORIDE, TW_ANALYTE_CONDUCTIVITY, TW_BAND_SALT, TW_SAY_WHY_SALT_HIGH},
    {TW_JOB_LESS_CYANURATE, TW_OBSERVED_CYANURATE, TW_ANALYTE_CYANURIC_ACID, TW_BAND_CYA, TW_SAY_WHY_CYANURATE_HIGH}};

/* The name of the source that was written last; n 0: none. */
static tw_text source_name(const tw_scene *s)
{
    const tw_entry *source = tw_logbook_book_latest(s->book, s->tub->id, s->now, TW_KIND_SOURCE);
    if (source == NULL)
        source = s->source_read[TW_ANALYTE_PH];
    return source != NULL ? tw_logbook_text(source, TW_FIELD_SOURCE) : (tw_text){NULL, 0};
}

static void amount(const tw_scene *s, const tw_course_visit *v, tw_act *out)
{
    out->amount = MARK_L * floor(v->moves.exchange_l / MARK_L + 0.5);
    out->amount_unit = "L";
    out->amount_g = 1e3 * out->amount * s->belief->density_kg_per_l;
}

tw_status tw_procedure_make_exchange(const tw_scene *s, tw_stage stage, tw_condition unmet, tw_act *out)
{
    tw_course_of_tub asked;
    tw_course course;
    double left_h = 0.0;
    size_t k = 0;
    const int job = tw_procedure_job_of(TW_ACT_EXCHANGE, unmet);
    while (k + 1 < sizeof OVER / sizeof *OVER && OVER[k].job != job)
        k++;
    if (tw_procedure_bathing(s, &left_h))
        return tw_procedure_wait_for_bathers(s, left_h, stage, out);
    const tw_status status = tw_procedure_course(s, 1u << job, 1, &asked, &course);
    const tw_course_visit *v = &course.visit[0];
    if (status != TW_OK || course.visits == 0 || !(v->moves.exchange_l > 0.0))
        return tw_procedure_stop_course(s, TW_ACT_CANNOT_DOSE, TW_EFFECTS, NULL, NULL, stage, out);
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, TW_ACT_EXCHANGE, stage, TW_STANDS_TO_DO, out);
    tw_procedure_line(&out->why, OVER[k].why);
    tw_procedure_ask_test(OVER[k].analyte, out);
    amount(s, v, out);
    tw_procedure_predict(&v->after, out);
    out->unmet = unmet;
    out->may_waive = tw_procedure_conditions[unmet].waivable;
    out->source = f.name = source_name(s);
    out->chance = v->chance_any;
    f.has_amount = 1;
    f.fraction = v->moves.exchange_share;
    f.now = tw_procedure_middle(s, OVER[k].observed);
    f.after = v->after.of[tw_procedure_jobs[job].of][1];
    f.high = tw_procedure_band(s, OVER[k].band).high;
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}
