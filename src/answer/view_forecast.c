/* answer/view_forecast.c: what the water will do. The fan that is drawn here is the one whose digest
 * stands on the card and on the sheet, unless another duty or temperature was asked for. */
#include "answer/fan.h"
#include "answer/views.h"

static tw_schedule asked_plan(const tw_belief *belief, const tw_ask *ask)
{
    tw_schedule plan = tw_estimate_schedule_same(belief);
    for (size_t i = 0; i < plan.settings; i++) {
        if (ask->duty >= 0.0)
            plan.duty[i] = ask->duty;
        if (ask->has_temp)
            plan.temp_c[i] = ask->temp_c;
    }
    return plan;
}

static tw_time after(tw_time now, uint32_t hours)
{
    now.utc_s += (int64_t)hours * 3600;
    return now;
}

static void tell_spread(tw_sink *sink, tw_key key, const tw_spread *s)
{
    tw_answer_spread(sink, key, s->q05, s->q50, s->q95);
}

/* The answer in words, before the drawing. */
static void tell_sentence(const tw_fan *fan, const tw_schedule *plan, uint32_t hours, tw_time now, tw_sink *sink)
{
    tw_said said = tw_units_say(TW_SAY_FORECAST_SENTENCE);
    tw_units_say_number(&said, "now", fan->chlorine[0].q50);
    tw_units_say_number(&said, "then", fan->chlorine[hours].q50);
    tw_units_say_number(&said, "low", fan->chlorine[hours].q05);
    tw_units_say_number(&said, "high", fan->chlorine[hours].q95);
    tw_units_say_time(&said, "at", after(now, hours));
    tw_units_say_number(&said, "duty", plan->duty[0]);
    tw_answer_words(sink, TW_KEY_SENTENCE, &said);
}

static void tell_hours(const tw_fan *fan, const tw_ask *ask, const tw_fan_scale *scale, uint32_t hours, uint32_t step, tw_sink *sink)
{
    char line[TW_FAN_LINE];
    size_t n = tw_answer_fan_axis(scale, line);
    tw_answer_drawing(sink, TW_KEY_AXIS, (tw_text){line, n});
    tw_answer_open_list(sink, TW_KEY_HOURS);
    for (uint32_t h = 0; h <= hours; h += step) {
        tw_answer_item(sink);
        tw_civil civil;
        const int first = h == 0 || (tw_units_time_civil(after(ask->now, h), &civil) == TW_OK && civil.hour < (int32_t)step);
        if (first) {
            tw_said day = tw_units_say(TW_SAY_DAY);
            tw_units_say_time(&day, "at", after(ask->now, h));
            tw_answer_words(sink, TW_KEY_FAN_DAY, &day);
        }
        tw_answer_time(sink, TW_KEY_ENTRY_AT, after(ask->now, h));
        tell_spread(sink, TW_KEY_FC, &fan->chlorine[h]);
        tell_spread(sink, TW_KEY_FC_MADE, &fan->made[h]);
        tell_spread(sink, TW_KEY_FC_REMNANT, &fan->remnant[h]);
        tell_spread(sink, TW_KEY_FAN_PH, &fan->ph[h]);
        n = tw_answer_fan_line(scale, fan, h, line);
        tw_answer_drawing(sink, TW_KEY_FAN, (tw_text){line, n});
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

void tw_answer_view_forecast(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    const tw_belief *belief = tw_answer_tell_belief(core, ask, tub, sink);
    if (belief == NULL)
        return;
    tw_status status = TW_OK;
    const tw_schedule plan = asked_plan(belief, ask);
    const tw_fan *fan = tw_answer_fan(core, belief, &plan, &status);
    if (fan == NULL) {
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
        return;
    }
    uint32_t hours = ask->hours == 0 ? 48 : ask->hours;
    const uint32_t step = ask->step == 0 ? (hours <= 48 ? 2 : hours / 24) : ask->step;
    if (hours > fan->hours)
        hours = fan->hours;
    tw_answer_limits limits;
    tw_answer_limits_of(ask, tub, &limits);
    if (limits.profile.n > 0)
        tw_answer_text(sink, TW_KEY_PROFILE, limits.profile);
    tell_sentence(fan, &plan, hours, ask->now, sink);
    const tw_fan_scale scale = tw_answer_fan_scale(fan, hours, ask->width - 8, limits.floor_mg_per_l, limits.ceiling_mg_per_l);
    tell_hours(fan, ask, &scale, hours, step, sink);
    tw_answer_message(sink, TW_KEY_LEGEND, TW_SAY_FAN_LEGEND);
    const tw_held_ask wanted = {.duty = plan.duty[0], .floor_mg_per_l = limits.floor_mg_per_l,
                                .ceiling_mg_per_l = limits.ceiling_mg_per_l};
    tw_held held;
    const tw_status verdict = tw_estimate_held(belief, &wanted, core->work, core->work_bytes, &held);
    if (verdict == TW_OK)
        tw_answer_tell_held(&held, ask->now, sink);
    tw_answer_digest(sink, TW_KEY_FORECAST, fan->digest);
    tw_answer_tell_digest(fan->digest, sink);
}
