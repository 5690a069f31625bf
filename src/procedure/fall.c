/* procedure/fall.c: see fall.h. */
#include "procedure/fall.h"

#include <math.h>

#include "estimate/events.h"
#include "estimate/forecast.h"
#include "procedure/course.h"
#include "procedure/dose.h"
#include "procedure/sentence.h"

#define LONGEST_H 48u   /* forecast so far: later than that a reading says more                */
#define LONG_WAIT_H 24.0 /* a longer wait is worth a reducer, where there is one (common practice) */

/* The forecast's answer stands at the front of the working memory. */
static size_t front(void)
{
    const size_t unit = 64;
    return (sizeof(tw_fan) + unit - 1) / unit * unit;
}

size_t tw_procedure_fall_bytes(size_t members)
{
    return front() + tw_estimate_forecast_bytes(members, LONGEST_H);
}

/* Hours until the middle of what is possible is within the limit, of what is only near it three quarters, nothing made and nobody in; LONGEST_H when it is not by
 * then. *there: the middle at that hour. */
static double hours_to(const tw_scene *s, double limit, int near, double *there)
{
    tw_schedule plan = tw_estimate_schedule_same(s->belief);
    tw_fan *fan = s->mem;
    uint32_t h = 1;
    plan.duty[0] = 0.0;
    *there = (double)NAN;
    if (tw_estimate_forecast(s->belief, &plan, LONGEST_H, (char *)s->mem + front(), s->bytes - front(), fan) != TW_OK)
        return LONGEST_H;
    while (h < LONGEST_H && (near ? fan->chlorine[h].q75 : fan->chlorine[h].q50) > limit)
        h++;
    *there = fan->chlorine[h].q50;
    return h;
}

/* 1: somebody needs the water sooner than in so many hours, or it is long, and there is something to take it out with. */
static int is_taken_out(const tw_scene *s, double hours)
{
    int listed = 0;
    tw_substance sub;
    const double asked_h = tw_procedure_ready_by_min(s) / 60.0; /* NaN: no hour is asked for */
    return (hours > LONG_WAIT_H || asked_h < hours) && tw_procedure_substance(s, TW_EFFECT_FC_DOWN, &listed, &sub) != NULL && listed;
}

tw_status tw_procedure_make_fall(const tw_scene *s, tw_stage stage, tw_condition unmet, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    f.high = tw_procedure_bands[TW_BAND_FC].hard_high;
    f.now = tw_procedure_middle(s, TW_OBSERVED_FREE_CHLORINE);
    const int near = !(f.now > f.high);
    f.wait_h = hours_to(s, f.high, near, &f.after);
    if (is_taken_out(s, f.wait_h)) {
        const tw_status status = tw_procedure_make_dose(s, TW_ACT_DECHLORINATE, stage, out);
        if (status != TW_OK || out->verb != TW_VERB_STOP) {
            out->unmet = unmet;
            return status;
        }
    }
    tw_procedure_begin(s, TW_ACT_WAIT_CHLORINE, stage, TW_STANDS_WAITING, out);
    if (near) {
        out->why.n = 0;
        tw_procedure_line(&out->why, TW_SAY_WHY_CHLORINE_NEAR);
        f.chance = 1.0 - tw_estimate_below(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG, f.high / s->belief->density_kg_per_l);
    }
    out->unmet = unmet;
    out->may_waive = tw_procedure_conditions[unmet].waivable;
    out->next = out->until = tw_procedure_later(s->now, f.wait_h);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}
