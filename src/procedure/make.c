/* procedure/make.c: an act by its kind: a pour, the hold, or a plain one with its few numbers. */
#include "procedure/make.h"

#include <math.h>

#include "dose/size.h"
#include "estimate/events.h"
#include "num/elementary.h"
#include "procedure/air.h"
#include "procedure/course.h"
#include "procedure/dose.h"
#include "procedure/exchange.h"
#include "procedure/fall.h"
#include "procedure/hold.h"
#include "procedure/met.h"
#include "procedure/refuse.h"
#include "procedure/sentence.h"

/* Hours of heating from what the plate says; NaN when it does not. */
static double heat_hours(const tw_scene *s, double *now_c)
{
    const double kw = tw_procedure_plate(s, TW_FIELD_HEATER_POWER);
    double hours = (double)NAN, kwh = 0.0;
    *now_c = s->belief != NULL ? tw_estimate_column(s->belief, TW_COLUMN_TEMP_K).q50 - 273.15 : (double)NAN;
    if (kw > 0.0 && s->belief != NULL &&
        tw_dose_heat_hours(tw_estimate_column(s->belief, TW_COLUMN_WATER_KG).q50,
                           tw_procedure_bands[TW_BAND_WARM].target - *now_c, kw, 0.92, 0.0, &hours, &kwh) != TW_OK)
        hours = (double)NAN;
    return hours;
}

static double source_value(const tw_scene *s, int analyte)
{
    double value = (double)NAN;
    if (s->source_read[analyte] != NULL)
        (void)tw_logbook_si(s->source_read[analyte], TW_FIELD_VALUE, &value);
    return value;
}

/* What the fill needs: the share through the softener, the hardness it takes. */
static void facts_of_fill(const tw_scene *s, tw_facts *f)
{
    const tw_band band = tw_procedure_band(s, TW_BAND_CH);
    const double hard = source_value(s, TW_ANALYTE_CALCIUM_HARDNESS);
    f->low = f->high = s->tub->has_volume ? s->tub->volume_l : 0.0;
    if (s->belief != NULL) {
        const tw_spread litres = tw_estimate_volume_l(s->belief);
        f->low = litres.q05 + s->drained_l;
        f->high = litres.q95 + s->drained_l;
    }
    const double aim = 0.5 * (band.low + band.high);
    if (hard > band.high && tw_dose_blend_fraction(hard, 0.0, aim, &f->fraction) == TW_OK) {
        f->litres = f->fraction * f->high;
        f->resin = tw_dose_resin_g_caco3(hard, 0.0, f->fraction, f->high);
    }
}

/* The hour at which the pad went in, by the answers to its card; 0: it has not in this water. */
static int pad_since(const tw_scene *s, tw_time *since)
{
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_RESPONSE && e->at.utc_s >= s->start_s && tw_logbook_word(e, TW_FIELD_OUTCOME) == TW_OUTCOME_DONE &&
            tw_units_text_is(tw_logbook_text(e, TW_FIELD_ACT), tw_procedure_acts[TW_ACT_CALCIUM_PAD].id)) {
            *since = e->at;
            return 1;
        }
    return 0;
}

/* Hours of pad that are left, by what it took between the last reading before it and the last one: it works towards none with
 * one time constant. *took: mg/L so far. NaN: nothing tells yet. */
static double pad_hours(const tw_scene *s, double target, double *took)
{
    tw_time since, before_at = {0}, at = {0};
    double before = (double)NAN, now = (double)NAN, value, hours = (double)NAN, grams;
    size_t cursor = 0;
    const tw_entry *e;
    if (!pad_since(s, &since))
        return hours;
    while ((e = tw_procedure_next_reading(s, TW_ANALYTE_CALCIUM_HARDNESS, &cursor)) != NULL) {
        if (tw_logbook_si(e, TW_FIELD_VALUE, &value) != TW_OK)
            continue;
        const int is_before = e->at.utc_s <= since.utc_s;
        *(is_before ? &before : &now) = value;
        *(is_before ? &before_at : &at) = e->at;
    }
    *took = before - now;
    if (!(now > target && *took > 0.0)) /* nor when one is not read */
        return hours;
    const double tau_h = tw_units_hours_between(since, at) / tw_log(before / now);
    const double litres = tw_estimate_volume_l(s->belief).q50;
    return tw_dose_pad_hours(now, 0.0, target, tau_h, litres, &hours, &grams) == TW_OK ? hours : (double)NAN;
}

/* Hours without power since an hour. */
static double cut_hours(const tw_scene *s, tw_time since)
{
    double hours = 0.0;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_logbook_book_next(s->book, s->tub->id, s->now, &cursor)) != NULL) {
        tw_time until = s->now;
        if (e->kind != TW_KIND_POWER_CUT || e->at.utc_s < since.utc_s)
            continue;
        (void)tw_logbook_time(e, TW_FIELD_UNTIL, &until);
        hours += (double)((until.utc_s < s->now.utc_s ? until.utc_s : s->now.utc_s) - e->at.utc_s) / 3600.0;
    }
    return hours;
}

/* Heating that has begun is waited for: the temperature is read when it should be there. */
static void facts_of_heating(const tw_scene *s, tw_act_id id, tw_act *out, tw_facts *f)
{
    const tw_entry *begun = tw_procedure_care(s, TW_CARE_JOB_HEAT, TW_JOB_STATE_STARTED, 1);
    if (!(f->wait_h > 0.0))
        f->wait_h = 12.0; /* no power on the plate: half a day is usual */
    if (id == TW_ACT_HEAT) {
        out->next = out->until = tw_procedure_later(s->now, f->wait_h);
        return;
    }
    f->wait_h -= tw_procedure_hours_since(s, begun) - (begun != NULL ? cut_hours(s, begun->at) : 0.0);
    if (f->wait_h > 0.0) {
        out->verb = TW_VERB_WAIT;
        out->state = TW_STANDS_WAITING;
        out->next = out->until = tw_procedure_later(s->now, f->wait_h);
        out->head = tw_units_say(TW_SAY_WAIT_HEATING);
    }
}

static void facts_of(const tw_scene *s, tw_act_id id, tw_act *out, tw_facts *f)
{
    switch ((int)id) {
    case TW_ACT_FILL:
        facts_of_fill(s, f);
        break;
    case TW_ACT_TEST_SOURCE:
        f->now = source_value(s, TW_ANALYTE_TOTAL_ALKALINITY);
        out->tests = tw_procedure_source_missing(s, out->test);
        break;
    case TW_ACT_CALCIUM_PAD: case TW_ACT_TEST_CALCIUM:
        if (s->read[TW_ANALYTE_CALCIUM_HARDNESS] != NULL || s->read[TW_ANALYTE_TOTAL_HARDNESS] != NULL ||
            s->source_read[TW_ANALYTE_CALCIUM_HARDNESS] != NULL) /* what is assumed is not said of the water */
            f->now = tw_procedure_middle(s, TW_OBSERVED_CALCIUM);
        f->high = tw_procedure_band(s, TW_BAND_CH).high;
        if (id == TW_ACT_CALCIUM_PAD && s->belief != NULL)
            f->wait_h = pad_hours(s, f->high, &f->made);
        if (id == TW_ACT_CALCIUM_PAD && tw_procedure_is_warm(s)) { /* it is kept with chlorine: no pad, but other water */
            out->first.n = 0;
            tw_procedure_line(&out->first, TW_SAY_FIRST_WARM_PAD);
        }
        break;
    case TW_ACT_HEAT: case TW_ACT_TEST_TEMPERATURE:
        f->wait_h = heat_hours(s, &f->now);
        f->high = tw_procedure_bands[TW_BAND_WARM].target;
        if (id == TW_ACT_TEST_TEMPERATURE)
            f->now = (double)NAN; /* not read: what is assumed is not said of the water */
        facts_of_heating(s, id, out, f);
        break;
    case TW_ACT_AIR:
        f->now = tw_procedure_middle(s, TW_OBSERVED_PH);
        f->ta = tw_procedure_middle(s, TW_OBSERVED_ALKALINITY);
        f->wait_h = tw_procedure_air_hours(s, tw_procedure_air_aim(s), 0.0);
        out->next = out->until = tw_procedure_later(s->now, f->wait_h);
        break;
    case TW_ACT_START_GENERATOR: {
        tw_duty duty;
        f->duty = 1.0;
        out->setting = TW_SETTING_DUTY;
        out->setting_value = 1.0;
        if (s->belief != NULL && tw_estimate_duty(s->belief, s->profile->fc_min_mg_per_l + 1.0, s->profile->fc_min_mg_per_l,
                                                  0.0, s->belief->temp_set_c, s->mem, s->bytes, &duty) == TW_OK)
            f->after = duty.level_full.q50;
        break;
    }
    case TW_ACT_STIR_SALT:
        if (s->belief != NULL)
            f->now = tw_estimate_column(s->belief, TW_COLUMN_UNDISSOLVED_G).q50;
        break;
    case TW_ACT_RETEST_DILUTED:
        if (out->unmet == TW_CONDITION_CHLORINE_NOT_HIGH && !tw_procedure_may_be_bleached(s)) {
            out->why.n = 0;
            tw_procedure_line(&out->why, TW_SAY_WHY_OVER_SCALE);
        }
        if (s->belief != NULL && (s->fill != NULL || out->unmet == TW_CONDITION_CHLORINE_NOT_HIGH))
            f->chance = 1.0 - tw_estimate_below(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG, 10.0);
        else
            tw_procedure_line(&out->why, TW_SAY_WHY_BLEACHED_FOUND);
        break;
    default:
        break;
    }
}

tw_status tw_procedure_make(const tw_scene *s, tw_act_id id, tw_stage stage, tw_condition unmet, tw_act *out)
{
    const tw_act_row *row = &tw_procedure_acts[id];
    tw_facts f = tw_procedure_no_facts();
    if (row->verb == TW_VERB_ADD) {
        const tw_status status = tw_procedure_make_dose(s, id, stage, out);
        out->unmet = unmet;
        return status;
    }
    if (id == TW_ACT_EXCHANGE)
        return tw_procedure_make_exchange(s, stage, unmet, out);
    if (id == TW_ACT_WAIT_CHLORINE)
        return tw_procedure_make_fall(s, stage, unmet, out);
    if (id == TW_ACT_PROVE_HOLD) {
        const tw_status status = tw_procedure_make_hold(s, out);
        out->unmet = unmet;
        return status;
    }
    const int retest = row->verb == TW_VERB_TEST && s->last_pour != NULL;
    tw_procedure_begin(s, id, stage, retest ? TW_STANDS_RETEST_DUE : TW_STANDS_TO_DO, out);
    out->unmet = unmet;
    if (unmet < TW_CONDITIONS) {
        out->may_waive = tw_procedure_conditions[unmet].waivable;
        f.name = tw_units_text(tw_procedure_conditions[unmet].subject);
    }
    if (row->verb == TW_VERB_TEST)
        out->next = out->until = s->now;
    if (retest) {
        tw_visit_so_far visit;
        tw_procedure_visit(s, &visit);
        tw_procedure_ask_visit(&visit, out);
    }
    facts_of(s, id, out, &f);
    if (id == TW_ACT_FILL && s->drained_l > 0.0)
        tw_procedure_line(&out->first, TW_SAY_FIRST_POWER_OFF);
    if (s->belief != NULL && (stage == TW_STAGE_FILL || stage == TW_STAGE_SALT)) {
        const tw_spread litres = tw_estimate_volume_l(s->belief);
        tw_said said = tw_units_say(TW_SAY_SURE_VOLUME);
        tw_units_say_number(&said, "low", litres.q05 + s->drained_l);
        tw_units_say_number(&said, "high", litres.q95 + s->drained_l);
        out->sure.line[out->sure.n++] = said;
    }
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}
