/* answer/view_forecast.c: what the water will do. The fan that is drawn here is the one whose digest
 * stands on the card and on the sheet, unless another plan, or more than its 7 days, was asked for. */
#include <math.h>
#include <string.h>

#include "answer/fan.h"
#include "answer/plan.h"
#include "answer/views.h"
#include "estimate/use.h"

static tw_status asked_plan(const tw_belief *belief, const tw_ask *ask, tw_schedule *plan)
{
    *plan = tw_estimate_schedule_same(belief);
    if (ask->duty >= 0.0)
        plan->duty[0] = ask->duty;
    if (ask->has_temp)
        plan->temp_c[0] = ask->temp_c;
    return tw_answer_plan_read(ask->plan, plan);
}

/* What the parts of the answer need. */
typedef struct {
    tw_core *core;
    const tw_belief *belief;
    tw_time now;
    tw_sink *sink;
} telling;

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

/* What would be if everything stayed as it is, beside another plan. */
typedef struct {
    int shown;
    tw_spread end;                         /* free chlorine at the last hour, mg/L */
    double middle[TW_FAN_HOURS + 1];       /* hour by hour, mg/L                   */
} ghost;

/* One fan is kept at a time: this one is worked out before the plan's, and its middle copied. */
static void look_at_ghost(const telling *to, const tw_schedule *plan, uint32_t hours, ghost *out)
{
    const tw_schedule same = tw_estimate_schedule_same(to->belief);
    out->shown = memcmp(&same, plan, sizeof same) != 0;
    if (!out->shown)
        return;
    tw_status status = TW_OK;
    const tw_fan *fan = tw_answer_fan_over(to->core, to->belief, NULL, hours, &status);
    out->shown = fan != NULL;
    for (uint32_t h = 0; fan != NULL && h <= hours; h++)
        out->middle[h] = fan->chlorine[h].q50;
    if (fan != NULL)
        out->end = fan->chlorine[hours];
}

static void tell_ghost(const ghost *same, uint32_t hours, const telling *to)
{
    if (!same->shown)
        return;
    tw_said said = tw_units_say(TW_SAY_FORECAST_SAME);
    tw_units_say_number(&said, "then", same->end.q50);
    tw_units_say_number(&said, "low", same->end.q05);
    tw_units_say_number(&said, "high", same->end.q95);
    tw_units_say_time(&said, "at", after(to->now, hours));
    tw_answer_words(to->sink, TW_KEY_SAME_SAID, &said);
}

/* The duty of the plan at an hour, 0..1. */
static double duty_at(const tw_schedule *plan, uint32_t hour)
{
    size_t k = plan->settings - 1;
    while (k > 0 && plan->set_hour[k] > hour)
        k--;
    return plan->duty[k];
}

static void tell_hours(const tw_fan *fan, const tw_schedule *plan, const ghost *same, const tw_ask *ask, const tw_fan_scale *scale, uint32_t hours,
                       uint32_t step, tw_sink *sink)
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
        tw_answer_number(sink, TW_KEY_FC_Q25, fan->chlorine[h].q25);
        tw_answer_number(sink, TW_KEY_FC_Q75, fan->chlorine[h].q75);
        tell_spread(sink, TW_KEY_FC_MADE, &fan->made[h]);
        tell_spread(sink, TW_KEY_FC_REMNANT, &fan->remnant[h]);
        tell_spread(sink, TW_KEY_FAN_PH, &fan->ph[h]);
        tw_answer_number(sink, TW_KEY_DUTY, 100.0 * duty_at(plan, h));
        if (same->shown)
            tw_answer_number(sink, TW_KEY_FC_SAME, same->middle[h]);
        n = tw_answer_fan_line(scale, fan, h, line);
        tw_answer_drawing(sink, TW_KEY_FAN, (tw_text){line, n});
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* The plan by its numbers; nothing when nothing is planned. */
static void tell_plan(const tw_schedule *plan, telling *to)
{
    if (plan->settings == 1 && plan->doses == 0 && plan->bathers == 0)
        return;
    double person_h = 0.0;
    for (size_t i = 0; i < plan->bathers; i++)
        person_h += plan->bather[i].person_h;
    tw_said said = tw_units_say(TW_SAY_FORECAST_PLAN);
    tw_units_say_number(&said, "settings", (double)(plan->settings - 1));
    tw_units_say_number(&said, "doses", (double)plan->doses);
    tw_units_say_number(&said, "bathing", person_h);
    tw_answer_words(to->sink, TW_KEY_PLAN_SAID, &said);
}

/* Which duty keeps the band: nobody in, and with the planned use. */
static void tell_duties(const tw_schedule *plan, uint32_t hours, const tw_answer_limits *limits, telling *to)
{
    tw_duty duty;
    tw_use use;
    const double target = limits->floor_mg_per_l + 1.0;
    const int bathers = plan->bathers > 0;
    if (tw_estimate_duty(to->belief, target, limits->floor_mg_per_l, limits->ceiling_mg_per_l, plan->temp_c[0], to->core->work,
                         to->core->work_bytes, &duty) != TW_OK ||
        (bathers && tw_estimate_use(to->belief, plan, hours, limits->floor_mg_per_l, limits->ceiling_mg_per_l, to->core->work,
                                    to->core->work_bytes, &use) != TW_OK))
        return;
    const double most = duty.highest > 1.0 ? 1.0 : duty.highest;
    tw_answer_open(to->sink, TW_KEY_DUTIES);
    tw_answer_number(to->sink, TW_KEY_DUTY_LOWEST, duty.lowest > 1.0 ? (double)NAN : 100.0 * duty.lowest);
    tw_answer_number(to->sink, TW_KEY_DUTY_HIGHEST, 100.0 * most);
    if (bathers) {
        tw_answer_number(to->sink, TW_KEY_DUTY_USE, use.lowest > 1.0 ? (double)NAN : 100.0 * use.lowest);
        tw_answer_number(to->sink, TW_KEY_DUTY_UNUSED, 100.0 * use.highest);
    }
    tw_answer_close(to->sink);
    tw_said said = tw_units_say(duty.lowest > 1.0 ? TW_SAY_DUTY_NONE_HOLDS : duty.lowest <= most ? TW_SAY_DUTY_RANGE : TW_SAY_DUTY_APART);
    tw_units_say_number(&said, "low", duty.lowest);
    tw_units_say_number(&said, "high", most);
    tw_units_say_number(&said, "floor", limits->floor_mg_per_l);
    tw_units_say_number(&said, "ceiling", limits->ceiling_mg_per_l);
    tw_answer_words(to->sink, TW_KEY_DUTY_SAID, &said);
    if (!bathers)
        return;
    said = tw_units_say(use.lowest > 1.0 ? TW_SAY_DUTY_USE_NONE : TW_SAY_DUTY_USE);
    tw_units_say_number(&said, "low", use.lowest);
    tw_units_say_number(&said, "high", use.highest);
    tw_units_say_number(&said, "floor", limits->floor_mg_per_l);
    tw_units_say_number(&said, "ceiling", limits->ceiling_mg_per_l);
    tw_units_say_number(&said, "p", use.p_lowest);
    tw_units_say_time(&said, "at", after(to->now, hours));
    tw_answer_words(to->sink, TW_KEY_DUTY_USE_SAID, &said);
}

/* What the planned people bring for chlorine to burn. */
static void tell_use(const tw_schedule *plan, telling *to)
{
    const tw_belief *b = to->belief;
    double person_h = 0.0, *each = to->core->room;
    for (size_t i = 0; i < plan->bathers; i++)
        person_h += plan->bather[i].person_h;
    for (size_t i = 0; i < b->n; i++)
        each[i] = 1e3 * person_h * b->column[TW_COLUMN_BATHER_G_PER_H][i] / b->column[TW_COLUMN_WATER_KG][i] * b->density_kg_per_l;
    const tw_spread mg_per_l = tw_estimate_spread(each, b->n, each + b->n);
    tw_said said = tw_units_say(TW_SAY_DUTY_USE_DEMAND);
    tell_spread(to->sink, TW_KEY_USE_DEMAND, &mg_per_l);
    tw_units_say_number(&said, "low", mg_per_l.q05);
    tw_units_say_number(&said, "high", mg_per_l.q95);
    tw_units_say_number(&said, "grams", person_h * tw_estimate_column(b, TW_COLUMN_BATHER_G_PER_H).q50);
    tw_answer_words(to->sink, TW_KEY_USE_DEMAND_SAID, &said);
}

/* How long chlorine lasts without power. */
static void tell_power_cut(telling *to)
{
    const tw_spread hours = tw_estimate_hours_to(to->belief, 1.0);
    tell_spread(to->sink, TW_KEY_POWER_CUT_HOURS, &hours);
    tw_said said = tw_units_say(hours.q50 >= 0.5 ? TW_SAY_POWER_CUT : TW_SAY_POWER_CUT_NOW);
    tw_units_say_number(&said, "h", hours.q50);
    tw_units_say_number(&said, "low", hours.q05);
    tw_units_say_number(&said, "high", hours.q95);
    tw_answer_words(to->sink, TW_KEY_POWER_CUT_SAID, &said);
}

void tw_answer_view_forecast(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    const tw_belief *belief = tw_answer_tell_belief(core, ask, tub, sink);
    if (belief == NULL)
        return;
    tw_status status = TW_OK;
    tw_schedule plan;
    telling to = {core, belief, ask->now, sink};
    status = asked_plan(belief, ask, &plan);
    if (status != TW_OK) { /* the whole answer is refused */
        sink->status = status == TW_ERR_UNKNOWN ? TW_ERR_FORMAT : status;
        return;
    }
    if (tw_answer_tell_withheld(core, ask, tub, belief, sink))
        return;
    uint32_t hours = ask->hours == 0 ? 48 : ask->hours;
    const uint32_t planned = tw_answer_plan_end(&plan);
    if (ask->hours == 0 && planned + 24 > hours) /* what is planned last is seen for a day */
        hours = planned + 24 > TW_FAN_HOURS ? TW_FAN_HOURS : planned + 24;
    ghost same;
    look_at_ghost(&to, &plan, hours, &same);
    const tw_fan *fan = tw_answer_fan_over(core, belief, &plan, hours, &status);
    if (fan == NULL) {
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
        return;
    }
    const uint32_t step = ask->step == 0 ? (hours <= 48 ? 2 : hours / 24) : ask->step;
    tw_answer_limits limits;
    tw_answer_limits_of(ask, tub, &limits);
    if (limits.profile.n > 0)
        tw_answer_text(sink, TW_KEY_PROFILE, limits.profile);
    tell_sentence(fan, &plan, hours, ask->now, sink);
    tell_ghost(&same, hours, &to);
    tell_plan(&plan, &to);
    tw_answer_number(sink, TW_KEY_FC_FLOOR, limits.floor_mg_per_l > 0.0 ? limits.floor_mg_per_l : (double)NAN);
    tw_answer_number(sink, TW_KEY_FC_CEILING, limits.ceiling_mg_per_l > 0.0 ? limits.ceiling_mg_per_l : (double)NAN);
    tw_answer_tell_lately(core, ask, tub, belief, sink);
    const tw_fan_scale scale = tw_answer_fan_scale(fan, hours, ask->width - 8, limits.floor_mg_per_l, limits.ceiling_mg_per_l);
    tell_hours(fan, &plan, &same, ask, &scale, hours, step, sink);
    tw_answer_message(sink, TW_KEY_LEGEND, TW_SAY_FAN_LEGEND);
    const tw_held_ask wanted = {.duty = plan.duty[0], .floor_mg_per_l = limits.floor_mg_per_l,
                                .ceiling_mg_per_l = limits.ceiling_mg_per_l};
    tw_held held;
    const tw_status verdict = tw_estimate_held(belief, &wanted, core->work, core->work_bytes, &held);
    if (verdict == TW_OK)
        tw_answer_tell_held(&held, ask->now, sink);
    tell_duties(&plan, hours, &limits, &to);
    if (plan.bathers > 0)
        tell_use(&plan, &to);
    tell_power_cut(&to);
    tw_answer_tell_forecast(belief, &plan, fan->hours, 1, sink);
}
