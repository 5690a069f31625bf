/* procedure/make.c: sentences and plain acts. */
#include "procedure/make.h"

#include <math.h>
#include <string.h>

#include "dose/size.h"
#include "estimate/events.h"
#include "num/require.h"
#include "procedure/met.h"

tw_facts tw_procedure_no_facts(void)
{
    tw_facts f;
    memset(&f, 0, sizeof f);
    f.now = f.after = f.low = f.high = f.ph = f.phlow = f.phhigh = f.ta = f.chance = (double)NAN;
    f.wait_h = f.duty = f.made = f.fraction = f.litres = f.resin = (double)NAN;
    return f;
}

void tw_procedure_line(tw_lines *lines, tw_message message)
{
    if (lines->n < TW_ACT_LINES && message != TW_MESSAGES)
        lines->line[lines->n++] = tw_units_say(message);
}

static void list(tw_lines *lines, const tw_message *message)
{
    for (int i = 0; i < TW_ACT_LIST; i++)
        tw_procedure_line(lines, message[i]);
}

void tw_procedure_begin(const tw_scene *s, tw_act_id id, tw_stage stage, tw_stands stands, tw_act *out)
{
    const tw_act_row *row = &tw_procedure_acts[id];
    memset(out, 0, sizeof *out);
    out->verb = row->verb;
    out->id = id;
    out->stage = stage;
    out->state = row->verb == TW_VERB_STOP ? TW_STANDS_STOPPED : stands;
    out->substance = -1;
    out->setting = -1;
    out->chance = -1.0;
    out->unmet = TW_CONDITIONS;
    out->head = tw_units_say(row->head);
    list(&out->first, row->first);
    list(row->verb == TW_VERB_STOP ? &out->lift : &out->how, row->how);
    list(&out->then_, row->then_);
    list(&out->why, row->why);
    for (int i = 0; i < 8 && row->test[i] >= 0; i++)
        out->test[out->tests++] = row->test[i];
    out->next = out->until = tw_procedure_later(s->now, row->next_min / 60.0);
    out->good_until = tw_procedure_later(s->now, 2.0);
    for (int i = 0; i < 3; i++)
        out->predicted_ph[i] = out->predicted_ta[i] = out->predicted_salt[i] = out->predicted_chlorine[i] = (double)NAN;
}

/* The facts that a sentence asks for. 0 when it asks for one that is not known. */
static int tell(const tw_facts *f, const tw_act *act, tw_said *said)
{
    const struct { const char *name; double value; } NUMBERS[] = {
        {"now", f->now}, {"after", f->after}, {"low", f->low}, {"high", f->high}, {"ph", f->ph},
        {"phlow", f->phlow}, {"phhigh", f->phhigh}, {"ta", f->ta}, {"chance", f->chance}, {"wait", f->wait_h},
        {"duty", f->duty}, {"made", f->made}, {"fraction", f->fraction}, {"litres", f->litres}, {"resin", f->resin}};
    const tw_message m = said->message;
    for (size_t i = 0; i < sizeof NUMBERS / sizeof *NUMBERS; i++) {
        if (!tw_units_message_uses(m, NUMBERS[i].name))
            continue;
        if (NUMBERS[i].value != NUMBERS[i].value)
            return 0;
        tw_units_say_number(said, NUMBERS[i].name, NUMBERS[i].value);
    }
    if (tw_units_message_uses(m, "amount")) {
        if (!f->has_amount)
            return 0;
        tw_units_say_amount(said, "amount", act->amount, act->amount_decimals, tw_units_text(act->amount_unit));
    }
    if (tw_units_message_uses(m, "name")) {
        if (f->name.n == 0)
            return 0;
        tw_units_say_text(said, "name", f->name);
    }
    if (tw_units_message_uses(m, "next"))
        tw_units_say_time(said, "next", act->next);
    if (tw_units_message_uses(m, "done"))
        tw_units_say_time(said, "done", f->done);
    return 1;
}

/* A sentence that would speak of something unknown is left out. */
static void tell_all(const tw_facts *f, const tw_act *act, tw_lines *lines)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < lines->n; i++) {
        tw_said said = lines->line[i];
        if (said.args > 0 || tell(f, act, &said))
            lines->line[kept++] = said;
    }
    lines->n = kept;
}

/* "12:50: test pH, alkalinity." One line, one or two analytes by name. */
static void tell_next(tw_act *act)
{
    static const tw_message BY_TESTS[] = {TW_SAY_NEXT_WHEN_DONE, TW_SAY_NEXT_TEST_ONE, TW_SAY_NEXT_TEST_TWO,
                                          TW_SAY_NEXT_TEST_THREE};
    const uint32_t n = act->tests > 3 ? 3 : act->tests;
    tw_said said = tw_units_say(act->verb == TW_VERB_ASK ? TW_SAY_NEXT_ANSWER : BY_TESTS[n]);
    if (act->verb != TW_VERB_ASK && n > 0) {
        static const char *const NAMES[] = {"a", "b", "c"};
        tw_units_say_time(&said, "next", act->next);
        for (uint32_t i = 0; i < n; i++)
            tw_units_say_message(&said, NAMES[i], tw_procedure_analyte_message(act->test[i]));
    }
    act->next_lines.line[act->next_lines.n++] = said;
}

void tw_procedure_finish(const tw_scene *s, const tw_facts *f, tw_act *act)
{
    (void)s;
    const int said = tell(f, act, &act->head);
    TW_REQUIRE(said); /* a head must never speak of what is not known */
    tell_all(f, act, &act->first);
    tell_all(f, act, &act->how);
    tell_all(f, act, &act->then_);
    tell_all(f, act, &act->why);
    tell_all(f, act, &act->sure);
    tell_all(f, act, &act->because);
    tell_all(f, act, &act->lift);
    if (act->verb != TW_VERB_STOP)
        tell_next(act);
}

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
    f->fraction = f->litres = f->resin = 0.0;
    f->low = f->high = s->tub->has_volume ? s->tub->volume_l : 0.0;
    if (s->belief != NULL) {
        const tw_spread litres = tw_estimate_volume_l(s->belief);
        f->low = litres.q05;
        f->high = litres.q95;
    }
    const double aim = 0.5 * (band.low + band.high);
    if (hard > band.high && tw_dose_blend_fraction(hard, 0.0, aim, &f->fraction) == TW_OK) {
        f->litres = f->fraction * f->high;
        f->resin = tw_dose_resin_g_caco3(hard, 0.0, f->fraction, f->high);
    }
}

/* Heating that has begun is waited for: the temperature is read when it should be there. */
static void facts_of_heating(const tw_scene *s, tw_act_id id, tw_act *out, tw_facts *f)
{
    const tw_entry *begun = tw_procedure_care(s, TW_CARE_JOB_HEAT, TW_JOB_STATE_STARTED, 1);
    if (!(f->wait_h > 0.0))
        f->wait_h = 12.0; /* no power on the plate: half a day is usual */
    if (id == TW_ACT_HEAT) {
        out->next = out->until = tw_procedure_later(s->now, f->wait_h);
    } else if (tw_procedure_hours_since(s, begun) < f->wait_h) {
        out->verb = TW_VERB_WAIT;
        out->state = TW_STANDS_WAITING;
        out->next = out->until = tw_procedure_later(begun->at, f->wait_h);
        f->wait_h -= tw_procedure_hours_since(s, begun);
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
        f->now = tw_procedure_middle(s, TW_OBSERVED_CALCIUM);
        f->high = tw_procedure_band(s, TW_BAND_CH).high;
        break;
    case TW_ACT_HEAT: case TW_ACT_TEST_TEMPERATURE:
        f->wait_h = heat_hours(s, &f->now);
        f->high = tw_procedure_bands[TW_BAND_WARM].target;
        facts_of_heating(s, id, out, f);
        break;
    case TW_ACT_AIR:
        f->now = tw_procedure_middle(s, TW_OBSERVED_PH);
        f->ta = tw_procedure_middle(s, TW_OBSERVED_ALKALINITY);
        f->wait_h = 2.0;
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
        if (s->belief != NULL)
            f->chance = 1.0 - tw_estimate_below(s->belief, TW_COLUMN_CHLORINE_MG_PER_KG, 10.0);
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
    facts_of(s, id, out, &f);
    if (s->belief != NULL && (stage == TW_STAGE_FILL || stage == TW_STAGE_SALT)) {
        const tw_spread litres = tw_estimate_volume_l(s->belief);
        tw_said said = tw_units_say(TW_SAY_SURE_VOLUME);
        tw_units_say_number(&said, "low", litres.q05);
        tw_units_say_number(&said, "high", litres.q95);
        out->sure.line[out->sure.n++] = said;
    }
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}
