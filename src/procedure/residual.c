/* procedure/residual.c: see residual.h. */
#include "procedure/residual.h"

#include <math.h>

#include "estimate/burn.h"
#include "procedure/refuse.h"

#define USUAL_HALF_H 12.0
#define TIME_TO_COME_H 1.0
#define AFTER_PEOPLE_H 24.0 /* what people brought is looked after for a day              */
#define READ_EACH_H 1.0    /* until that is used up (common practice)                   */
#define LITTLE_DEMAND 1.0  /* mg/L                                                      */
#define STILL 0.8           /* a proof once given stands down to here                     */
#define NARROW_MG_PER_L 3.0 /* a band not wider than this has its target in the middle    */
#define NEAR_SHARE 0.25     /* of the band, 1 mg/L at the most: near enough to the target */

int tw_procedure_generating(const tw_scene *s)
{
    const tw_entry *on = tw_logbook_book_setting(s->book, s->tub->id, s->now, TW_SETTING_GENERATOR);
    const tw_entry *duty = tw_logbook_book_setting(s->book, s->tub->id, s->now, TW_SETTING_DUTY);
    double value = 0.0;
    if (on != NULL && tw_logbook_word(on, TW_FIELD_STATE) == TW_STATE_OFF && (duty == NULL || duty->at.utc_s <= on->at.utc_s))
        return 0;
    return duty != NULL && duty->at.utc_s >= s->start_s && tw_logbook_si(duty, TW_FIELD_VALUE, &value) == TW_OK && value > 0.0;
}

/* The entry by which the generator went on again after the hold test began; NULL: none. */
static const tw_entry *on_again(const tw_scene *s, const tw_entry *begun)
{
    const tw_entry *on = tw_logbook_book_setting(s->book, s->tub->id, s->now, TW_SETTING_GENERATOR);
    return on != NULL && on->at.utc_s > begun->at.utc_s && tw_logbook_word(on, TW_FIELD_STATE) == TW_STATE_ON ? on : NULL;
}

int tw_procedure_hold_test(const tw_scene *s, tw_hold_test *out)
{
    const tw_entry *begun = tw_procedure_care(s, TW_CARE_JOB_HOLD_TEST, TW_JOB_STATE_STARTED, 1);
    const tw_entry *done = tw_procedure_care(s, TW_CARE_JOB_HOLD_TEST, TW_JOB_STATE_DONE, 1);
    if (begun == NULL || (done != NULL && done->at.utc_s >= begun->at.utc_s))
        return 0;
    const tw_entry *on = on_again(s, begun);
    if (tw_logbook_si(begun, TW_FIELD_HOURS, &out->hours) != TW_OK)
        out->hours = USUAL_HALF_H;
    out->on = on != NULL;
    out->since_h = tw_procedure_hours_since(s, on != NULL ? on : begun);
    return out->since_h < out->hours + TIME_TO_COME_H;
}

double tw_procedure_hours_after_people(const tw_scene *s)
{
    const tw_entry *read = s->read[TW_ANALYTE_FREE_CHLORINE];
    double left_h = 0.0;
    if (s->bathers == NULL || s->belief == NULL || tw_procedure_hours_since(s, s->bathers) > AFTER_PEOPLE_H)
        return TW_NO_PEOPLE_H;
    const double over = 1.0 - tw_estimate_below(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG, s->profile->fc_min_mg_per_l / s->belief->density_kg_per_l);
    if ((read == NULL || read->at.utc_s <= s->bathers->at.utc_s) && over < 0.95)
        return tw_procedure_bathing(s, &left_h) ? left_h : 0.0;
    if (tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_DEMAND_MG_PER_KG).q50 < LITTLE_DEMAND ||
        tw_estimate_left_after(s->belief, 0.0, AFTER_PEOPLE_H).q50 >= s->profile->fc_min_mg_per_l)
        return TW_NO_PEOPLE_H;
    const double left = READ_EACH_H - tw_procedure_hours_since(s, read);
    return left > 0.0 ? left : 0.0;
}

double tw_procedure_chlorine_target(const tw_scene *s)
{
    const double low = s->profile->fc_min_mg_per_l, high = s->profile->fc_max_mg_per_l;
    return high - low <= NARROW_MG_PER_L ? 0.5 * (low + high) : low + 1.0;
}

tw_status tw_procedure_balance(const tw_scene *s, tw_duty *out)
{
    return tw_estimate_duty(s->belief, tw_procedure_chlorine_target(s), s->profile->fc_min_mg_per_l, s->profile->fc_max_mg_per_l,
                            s->belief->temp_set_c, s->mem, s->bytes, out);
}

double tw_procedure_duty_wanted(const tw_duty *balance)
{
    double d = balance->for_target.q50;
    if (balance->lowest <= balance->highest)
        d = d < balance->lowest ? balance->lowest : d > balance->highest ? balance->highest : d;
    d = floor(d * 100.0 + 0.5) / 100.0;
    return d > 1.0 ? 1.0 : d < 0.01 ? 0.01 : d;
}

int tw_procedure_settles(const tw_scene *s, double settled)
{
    const double width = s->profile->fc_max_mg_per_l - s->profile->fc_min_mg_per_l;
    const double target = tw_procedure_chlorine_target(s), near = NEAR_SHARE * width < 1.0 ? NEAR_SHARE * width : 1.0;
    return settled >= 0.5 * (s->profile->fc_min_mg_per_l + target) && settled <= target + near;
}

/* The monitor was fitted on a proof of this duty: it was given once, and falls when it is refuted rather than shaken. */
static int proven_before(const tw_scene *s, const tw_entry *duty_set)
{
    const tw_entry *fitted = tw_procedure_fitted(s, TW_PART_MONITOR);
    return fitted != NULL && fitted->at.utc_s >= s->start_s && (duty_set == NULL || fitted->at.utc_s >= duty_set->at.utc_s);
}

static tw_held_ask ask_of(const tw_scene *s, double duty, int seven_days)
{
    return (tw_held_ask){.duty = duty, .floor_mg_per_l = s->profile->fc_min_mg_per_l,
                         .ceiling_mg_per_l = s->profile->fc_max_mg_per_l > 0.0 ? s->profile->fc_max_mg_per_l : 0.0,
                         .seven_days = seven_days};
}

tw_status tw_procedure_verdict(const tw_scene *s, double duty, tw_held *out)
{
    const tw_held_ask ask = ask_of(s, duty, 1);
    tw_scene_verdict *kept = duty < 0.0 ? s->verdict : NULL;
    if (kept == NULL)
        return tw_estimate_held(s->belief, &ask, s->mem, s->bytes, out);
    if (!kept->is) {
        kept->status = tw_estimate_held(s->belief, &ask, s->mem, s->bytes, &kept->of);
        kept->is = 1;
    }
    *out = kept->of;
    return kept->status;
}

tw_status tw_procedure_verdict_far(const tw_scene *s, double duty, tw_held *out)
{
    const tw_held_ask ask = ask_of(s, duty, 0);
    return tw_estimate_held(s->belief, &ask, s->mem, s->bytes, out);
}

int tw_procedure_held(const tw_scene *s)
{
    tw_held verdict;
    tw_duty duty;
    const tw_held_ask ask = ask_of(s, -1.0, 1);
    if (s->belief == NULL || tw_procedure_verdict(s, -1.0, &verdict) != TW_OK)
        return 0;
    const tw_entry *set = tw_logbook_book_setting(s->book, s->tub->id, s->now, TW_SETTING_DUTY);
    const tw_entry *read = s->read[TW_ANALYTE_FREE_CHLORINE];
    if (proven_before(s, set) && verdict.p_now >= STILL && verdict.p_floor_7d >= STILL && verdict.p_ceiling >= STILL)
        return 1;
    /* A changed duty needs one confirming reading. */
    if (!verdict.held || read == NULL || (set != NULL && read->at.utc_s <= set->at.utc_s))
        return 0;
    /* Full duty that would settle above the target is not the one to hand over. */
    return s->belief->duty < 1.0 ||
           tw_estimate_duty(s->belief, tw_procedure_chlorine_target(s), ask.floor_mg_per_l, ask.ceiling_mg_per_l,
                            s->belief->temp_set_c, s->mem, s->bytes, &duty) != TW_OK ||
           duty.level_full.q50 <= tw_procedure_chlorine_target(s) || tw_procedure_settles(s, duty.level_full.q50);
}
