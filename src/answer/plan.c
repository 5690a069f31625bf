/* answer/plan.c: see plan.h. */
#include "answer/plan.h"

#include <math.h>

#include "dose/substance.h"
#include "units/convert.h"
#include "units/decimal.h"

#define MOST_G 1e5
#define MG_PER_MOL_CL2 70906.0

/* What stands before a character, which is passed over; 0: it is not there. */
static int before(tw_text *rest, char stop, tw_text *out)
{
    for (size_t i = 0; i < rest->n; i++)
        if (rest->at[i] == stop) {
            *out = (tw_text){rest->at, i};
            rest->at += i + 1;
            rest->n -= i + 1;
            return 1;
        }
    return 0;
}

static int number(tw_text text, double low, double high, double *out, tw_status *status)
{
    if (tw_units_decimal_read(text, out, NULL) != TW_OK)
        *status = TW_ERR_FORMAT;
    else if (!(*out >= low && *out <= high))
        *status = TW_ERR_RANGE;
    else
        return 1;
    return 0;
}

/* "24h" or "24": a whole hour, not before what stands there already. */
static int hour_of(tw_text text, const tw_schedule *plan, uint32_t *out)
{
    double value = 0.0;
    int decimals = 0;
    if (text.n > 0 && text.at[text.n - 1] == 'h')
        text.n--;
    if (tw_units_decimal_read(text, &value, &decimals) != TW_OK || decimals != 0 || value < 0.0 ||
        value > (double)TW_FAN_HOURS)
        return 0;
    *out = (uint32_t)value;
    return *out >= tw_answer_plan_end(plan);
}

/* The step of settings that begins at this hour: as before until then. NULL: no room. */
static size_t step_at(tw_schedule *plan, uint32_t hour)
{
    const size_t last = plan->settings - 1;
    if (plan->set_hour[last] == hour)
        return last;
    if (plan->settings == TW_PLAN_STEPS)
        return TW_PLAN_STEPS;
    const size_t next = plan->settings++;
    plan->set_hour[next] = hour;
    plan->duty[next] = plan->duty[last];
    plan->temp_c[next] = plan->temp_c[last];
    plan->jets[next] = plan->jets[last];
    return next;
}

static tw_status take_setting(tw_text name, tw_text value, uint32_t hour, tw_schedule *plan)
{
    tw_status status = TW_OK;
    double x = 0.0;
    double *which = tw_units_text_is(name, "duty") ? plan->duty : tw_units_text_is(name, "temperature") ? plan->temp_c : plan->jets;
    if (which == plan->jets) {
        x = tw_units_text_is(value, "on") ? 1.0 : 0.0;
        if (x < 1.0 && !tw_units_text_is(value, "off"))
            return TW_ERR_FORMAT;
    } else if (!number(value, 0.0, which == plan->duty ? 100.0 : 45.0, &x, &status)) {
        return status;
    } else if (which == plan->duty) {
        x *= 0.01;
    }
    const size_t at = step_at(plan, hour);
    if (at == TW_PLAN_STEPS)
        return TW_ERR_CAPACITY;
    which[at] = x;
    return TW_OK;
}

/* "4x90": four for 90 minutes. */
static tw_status take_bathers(tw_text value, uint32_t hour, tw_schedule *plan)
{
    tw_status status = TW_OK;
    tw_text count;
    double n = 0.0, minutes = 0.0;
    if (!before(&value, 'x', &count))
        return TW_ERR_FORMAT;
    if (!number(count, 1.0, 50.0, &n, &status) || !number(value, 1.0, 600.0, &minutes, &status))
        return status;
    if (plan->bathers == TW_PLAN_DOSES)
        return TW_ERR_CAPACITY;
    plan->bather[plan->bathers].hour = hour;
    plan->bather[plan->bathers++].person_h = n * minutes / 60.0;
    return TW_OK;
}

/* A forecast follows chlorine, alkalinity and carbon. What brings an acid of its own (cyanurate, borate, phosphate)
 * would show a wrong pH. */
static int can_follow(const tw_substance *s)
{
    const double *m = s->total_mol_per_g;
    return !(m[TW_TOTAL_CYANURATE] > 0.0) && !(m[TW_TOTAL_BORATE] > 0.0) && !(fabs(m[TW_TOTAL_PHOSPHATE]) > 0.0);
}

/* "49mL" or "97g" of a row of the substances, in the strength of the table. */
static tw_status take_dose(tw_text name, tw_text value, uint32_t hour, tw_schedule *plan)
{
    tw_status status = TW_OK;
    double amount = 0.0;
    size_t n = 0;
    const tw_substance *s = tw_dose_substance_find(name);
    if (s == NULL || !can_follow(s))
        return TW_ERR_UNKNOWN;
    while (n < value.n && ((value.at[n] >= '0' && value.at[n] <= '9') || value.at[n] == '.'))
        n++;
    const tw_text unit_word = {value.at + n, value.n - n};
    tw_unit unit;
    if (tw_units_find(unit_word, &unit) != TW_OK)
        return TW_ERR_FORMAT;
    if (!number((tw_text){value.at, n}, 1e-3, MOST_G, &amount, &status))
        return status;
    const tw_quantity quantity = tw_units_row(unit)->quantity;
    double g = tw_units_inside(unit, amount);
    if (quantity == TW_QUANTITY_VOLUME && s->liquid)
        g *= 1e3 * s->density_kg_per_l;
    else if (quantity != TW_QUANTITY_MASS)
        return TW_ERR_FORMAT;
    if (!(g > 0.0 && g <= MOST_G))
        return TW_ERR_RANGE;
    if (plan->doses == TW_PLAN_DOSES)
        return TW_ERR_CAPACITY;
    tw_planned_dose *dose = &plan->dose[plan->doses++];
    dose->hour = hour;
    dose->chlorine_mg = g * s->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE] * MG_PER_MOL_CL2;
    dose->alk_meq = g * tw_dose_alk_eq_per_g(s) * 1e3;
    dose->dic_mmol = g * s->total_mol_per_g[TW_TOTAL_DIC] * 1e3;
    return TW_OK;
}

tw_status tw_answer_plan_item(tw_text item, tw_schedule *plan)
{
    tw_text hour_word, name;
    uint32_t hour = 0;
    if (!before(&item, ':', &hour_word) || !before(&item, '=', &name) || !hour_of(hour_word, plan, &hour))
        return TW_ERR_FORMAT;
    if (tw_units_text_is(name, "duty") || tw_units_text_is(name, "temperature") || tw_units_text_is(name, "jets"))
        return take_setting(name, item, hour, plan);
    return tw_units_text_is(name, "bathers") ? take_bathers(item, hour, plan) : take_dose(name, item, hour, plan);
}

tw_status tw_answer_plan_read(tw_text items, tw_schedule *plan)
{
    tw_status status = TW_OK;
    tw_text item;
    while (status == TW_OK && items.n > 0) {
        if (!before(&items, ';', &item)) {
            item = items;
            items.n = 0;
        }
        status = tw_answer_plan_item(item, plan);
    }
    return status;
}

uint32_t tw_answer_plan_end(const tw_schedule *plan)
{
    uint32_t last = plan->settings > 0 ? plan->set_hour[plan->settings - 1] : 0;
    for (size_t i = 0; i < plan->doses; i++)
        last = plan->dose[i].hour > last ? plan->dose[i].hour : last;
    for (size_t i = 0; i < plan->bathers; i++)
        last = plan->bather[i].hour > last ? plan->bather[i].hour : last;
    return last;
}
