/* procedure/dose.c: acts that pour something: which substance, which limits, how much of the plan's
 * risk, on what scale it is measured, and what the sentences say of it. */
#include "procedure/dose.h"

#include <math.h>
#include <string.h>

#include "dose/hazard.h"
#include "dose/pairs.h"
#include "dose/series.h"
#include "dose/size.h"
#include "estimate/events.h"
#include "procedure/air.h"
#include "procedure/refuse.h"
#include "procedure/sentence.h"

#define PLAN_RISK 0.05 /* chance that a whole plan ever crosses a hard limit */
#define WORTH_SAYING 1.1 /* a table dose that is this much more than ours */
#define FIRST_SALT_SHARE 0.85 /* of the dose for the rough volume; common practice: half to nine tenths */

/* A job of pouring: what is aimed at, the hard limits, the largest change of one step. The last column
 * is the cap that no mistake in what is believed can lift, for the rough volume of the tub. */
typedef struct {
    tw_effect effect;
    tw_quantity_of_water aim;
    int by_steps;         /* 1: the risk of the plan is shared over several steps  */
    double largest_change; /* of the aim, in its unit                              */
} job;

static job job_of(tw_act_id id)
{
    switch ((int)id) {
    case TW_ACT_ACID_STEP: return (job){TW_EFFECT_TA_DOWN, TW_OF_ALKALINITY, 1, 45.0};
    case TW_ACT_ACID_TRIM: return (job){TW_EFFECT_TA_DOWN, TW_OF_PH, 0, 15.0};
    case TW_ACT_BICARBONATE: return (job){TW_EFFECT_TA_UP, TW_OF_ALKALINITY, 0, 60.0};
    case TW_ACT_CALCIUM_CHLORIDE: return (job){TW_EFFECT_CH_UP, TW_OF_CALCIUM, 0, 80.0};
    case TW_ACT_LANTHANUM: return (job){TW_EFFECT_PO4_DOWN, TW_OF_PHOSPHATE, 0, 5.0};
    case TW_ACT_SALT_STEP: return (job){TW_EFFECT_SALT_UP, TW_OF_SALT, 1, 2600.0};
    default: return (job){TW_EFFECT_FC_UP, TW_OF_CHLORINE, 0, 10.0};
    }
}

static void limit(tw_dose_ask *ask, tw_quantity_of_water of, double value, int is_floor)
{
    if (ask->limits < TW_DOSE_LIMITS && value == value)
        ask->limit[ask->limits++] = (tw_dose_limit){of, value, is_floor};
}

static void limits_of(const tw_scene *s, tw_act_id id, tw_dose_ask *ask)
{
    const tw_band ph = tw_procedure_bands[TW_BAND_PH], ta = tw_procedure_band(s, TW_BAND_TA);
    switch ((int)id) {
    case TW_ACT_ACID_STEP:
        ask->target = ta.target;
        limit(ask, TW_OF_PH, ph.hard_low, 1);
        limit(ask, TW_OF_ALKALINITY, ta.hard_low, 1);
        break;
    case TW_ACT_ACID_TRIM:
        ask->target = ph.target;
        limit(ask, TW_OF_PH, ph.hard_low, 1);
        limit(ask, TW_OF_ALKALINITY, ta.hard_low, 1);
        break;
    case TW_ACT_BICARBONATE:
        ask->target = ta.target;
        limit(ask, TW_OF_PH, ph.hard_high, 0);
        limit(ask, TW_OF_ALKALINITY, ta.hard_high, 0);
        break;
    case TW_ACT_CALCIUM_CHLORIDE:
        ask->target = tw_procedure_band(s, TW_BAND_CH).target;
        limit(ask, TW_OF_CALCIUM, tw_procedure_band(s, TW_BAND_CH).high, 0);
        break;
    case TW_ACT_LANTHANUM:
        ask->target = tw_procedure_bands[TW_BAND_PO4].target;
        limit(ask, TW_OF_ALKALINITY, ta.hard_low, 1);
        break;
    case TW_ACT_SALT_STEP:
        ask->target = tw_procedure_band(s, TW_BAND_SALT).target;
        limit(ask, TW_OF_SALT, tw_procedure_band(s, TW_BAND_SALT).hard_high, 0);
        break;
    case TW_ACT_HOLDING_DOSE:
        ask->target = tw_procedure_bands[TW_BAND_HOLD].target;
        limit(ask, TW_OF_CHLORINE, tw_procedure_bands[TW_BAND_HOLD].hard_high, 0);
        break;
    default:
        ask->target = id == TW_ACT_BRIDGE_DOSE ? s->profile->fc_min_mg_per_l + 1.0 : tw_procedure_bands[TW_BAND_FC].target;
        limit(ask, TW_OF_CHLORINE, tw_procedure_bands[TW_BAND_FC].hard_high, 0);
        limit(ask, TW_OF_CYANURATE, 30.0, 0);
        break;
    }
}

/* Grams that move the aim by the largest change in the tub's rough volume: a cap that does not rest on
 * what the estimate believes. */
static double cap_g(const tw_scene *s, const job *j, const tw_substance *sub)
{
    double litres = tw_estimate_volume_l(s->belief).q50;
    if (s->tub->has_volume && litres > 1.25 * s->tub->volume_l)
        litres = 1.25 * s->tub->volume_l;
    double change = j->largest_change;
    /* Salt comes out only with water, and its first step teaches the volume: never the whole dose of the plate. */
    if (j->effect == TW_EFFECT_SALT_UP && s->pours[TW_EFFECT_SALT_UP] == 0) {
        const double whole = tw_procedure_band(s, TW_BAND_SALT).target - tw_procedure_middle(s, TW_OBSERVED_CHLORIDE);
        litres = s->tub->has_volume ? s->tub->volume_l : litres;
        change = FIRST_SALT_SHARE * (whole > 0.0 ? whole : 0.0);
    }
    /* The cap of a trim is one of alkalinity: a straight line, which pH is not. */
    return tw_dose_grams_for_change(litres * s->belief->density_kg_per_l, sub, j->aim == TW_OF_PH ? TW_OF_ALKALINITY : j->aim,
                                    change, s->belief->density_kg_per_l);
}

/* Liquids are measured by a jug (5 mL, 1 mL under 50), solids on a scale of 1 g. */
static double grid_g(const tw_substance *sub, double grams)
{
    if (!sub->liquid)
        return grams > 400.0 ? 10.0 : 1.0;
    return sub->density_kg_per_l * (grams / sub->density_kg_per_l > 50.0 ? 5.0 : 1.0);
}

/* As the person measures it: kilograms from 1 kg, millilitres of liquids. */
static void measured(const tw_substance *sub, double grams, tw_act *out)
{
    out->amount_g = grams;
    if (sub->liquid) {
        out->amount = floor(grams / sub->density_kg_per_l + 0.5);
        out->amount_unit = "mL";
    } else if (grams >= 1000.0) {
        out->amount = floor(grams / 10.0 + 0.5) / 100.0;
        out->amount_decimals = 2;
        out->amount_unit = "kg";
    } else {
        out->amount = floor(grams + 0.5);
        out->amount_unit = "g";
    }
}

static tw_message limit_message(const tw_dose_limit *l)
{
    switch (l->of) {
    case TW_OF_PH: return l->is_floor ? TW_SAY_LIMIT_PH_LOW : TW_SAY_LIMIT_PH_HIGH;
    case TW_OF_ALKALINITY: return l->is_floor ? TW_SAY_LIMIT_TA_LOW : TW_SAY_LIMIT_TA_HIGH;
    case TW_OF_CALCIUM: return TW_SAY_LIMIT_CALCIUM;
    case TW_OF_SALT: return TW_SAY_LIMIT_SALT;
    case TW_OF_CHLORINE: return TW_SAY_LIMIT_CHLORINE;
    case TW_OF_CYANURATE: return TW_SAY_LIMIT_CYANURATE;
    case TW_OF_SULFATE: case TW_OF_PHOSPHATE: case TW_OF_QUANTITIES: break;
    }
    return TW_MESSAGES;
}

/* The limit that bound first, then the others. */
static void tell_limits(const tw_dose_ask *ask, const tw_dose_step *step, tw_act *out)
{
    for (size_t turn = 0; turn < ask->limits; turn++) {
        const size_t l = turn == 0 ? step->bound_limit : turn <= step->bound_limit ? turn - 1 : turn;
        if (out->limits < TW_ACT_LIMITS) {
            tw_act_limit *to = &out->limit[out->limits++];
            to->what = tw_units_say(limit_message(&ask->limit[l]));
            to->limit = ask->limit[l].value;
            to->chance = step->chance[l];
        }
    }
    if (ask->limits == 0)
        return;
    out->chance = step->chance[step->bound_limit];
    tw_said said = tw_units_say(TW_SAY_SURE_LIMIT);
    tw_units_say_message(&said, "what", limit_message(&ask->limit[step->bound_limit]));
    tw_units_say_number(&said, "chance", out->chance);
    out->sure.line[out->sure.n++] = said;
}

static void tell_numbers(const tw_scene *s, const tw_dose_ask *ask, const tw_dose_step *step, tw_act *out, tw_facts *f)
{
    double before[3];
    const tw_waters w = tw_procedure_waters(s);
    if (tw_dose_spread_of(&w, ask->aim, s->mem, s->bytes, before) == TW_OK)
        f->now = before[1];
    f->after = step->after[ask->aim][1];
    f->low = step->after[ask->aim][0];
    f->high = step->after[ask->aim][2];
    f->phlow = step->after[TW_OF_PH][0];
    f->ph = step->after[TW_OF_PH][1];
    f->phhigh = step->after[TW_OF_PH][2];
    memcpy(out->predicted_ph, step->after[TW_OF_PH], sizeof out->predicted_ph);
    memcpy(out->predicted_ta, step->after[TW_OF_ALKALINITY], sizeof out->predicted_ta);
    memcpy(out->predicted_salt, step->after[TW_OF_SALT], sizeof out->predicted_salt);
    memcpy(out->predicted_chlorine, step->after[TW_OF_CHLORINE], sizeof out->predicted_chlorine);
}

/* The whole table dose beside ours, when ours is smaller. */
static void tell_single(const tw_substance *sub, const tw_dose_step *step, const job *j, tw_act *out)
{
    tw_act single = *out;
    measured(sub, step->to_target_g, &single);
    out->label_amount = single.amount * (tw_units_text_is(tw_units_text(single.amount_unit), "kg") && tw_units_text_is(tw_units_text(out->amount_unit), "g") ? 1000.0 : 1.0);
    if (step->to_target_g <= WORTH_SAYING * step->grams || out->why.n == TW_ACT_LINES)
        return;
    const int acid_or_base = j->effect == TW_EFFECT_TA_DOWN || j->effect == TW_EFFECT_TA_UP;
    tw_said said = tw_units_say(acid_or_base ? TW_SAY_LABEL_SINGLE : TW_SAY_LABEL_SINGLE_SALT);
    tw_units_say_amount(&said, "amount", single.amount, single.amount_decimals, tw_units_text(single.amount_unit));
    if (acid_or_base)
        tw_units_say_number(&said, "ph", step->single_ph);
    out->why.line[out->why.n++] = said;
}

static tw_status stop(const tw_scene *s, tw_act_id id, tw_effect wanted, tw_stage stage, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, id, stage, TW_STANDS_STOPPED, out);
    if (id == TW_ACT_NO_STOCK && tw_procedure_makes_milk(s, &tw_dose_substances[TW_SUBSTANCE_SODIUM_CARBONATE]) && wanted == TW_EFFECT_TA_UP)
        tw_procedure_line(&out->why, TW_SAY_WHY_SODA_MILK);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* Steps already taken have spent half of what was left each; the planner shares out the rest. */
static tw_status plan(const tw_waters *w, tw_dose_ask *ask, const job *j, uint32_t taken, const tw_scene *s,
                      tw_dose_step *step)
{
    double left = PLAN_RISK;
    ask->risk = left;
    if (!j->by_steps)
        return tw_dose_plan(w, ask, s->mem, s->bytes, step);
    for (uint32_t i = 0; i < taken && i < 6; i++)
        left *= 0.5;
    return tw_dose_plan_share(w, ask, &left, s->mem, s->bytes, step);
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

static tw_status wait_for_bathers(const tw_scene *s, double left_h, tw_stage stage, tw_act *out)
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
static double air_after(const tw_scene *s, const tw_dose_step *step, const tw_substance *acid)
{
    const double aim = step->bound == TW_BOUND_TARGET ? tw_procedure_bands[TW_BAND_PH].target : TW_DOSE_PH_AT_REST;
    return tw_procedure_air_hours(s, aim, 1e3 * step->grams * tw_dose_alk_eq_per_g(acid));
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

tw_status tw_procedure_make_dose(const tw_scene *s, tw_act_id id, tw_stage stage, tw_act *out)
{
    const job j = job_of(id);
    int listed = 0;
    tw_substance sub;
    double left_h = 0.0;
    if (tw_procedure_bathing(s, &left_h))
        return wait_for_bathers(s, left_h, stage, out);
    const tw_entry *taken = tw_procedure_taken_back(s, j.effect);
    if (taken != NULL)
        return read_what_may_have_gone_in(s, taken, j.effect, stage, out);
    const tw_substance *row = tw_procedure_substance(s, j.effect, &listed, &sub);
    if (row == NULL)
        return stop(s, TW_ACT_NO_STOCK, j.effect, stage, out);
    if (s->belief == NULL)
        return stop(s, TW_ACT_CANNOT_DOSE, j.effect, stage, out);
    const tw_entry *before = NULL;
    const tw_dose_pair *pair = must_not_meet(s, row, &before, &left_h);
    if (pair != NULL)
        return keep_apart(s, pair, before, left_h, stage, out);
    const tw_waters w = tw_procedure_waters(s);
    tw_dose_ask ask;
    memset(&ask, 0, sizeof ask);
    ask.substance = &sub;
    ask.aim = j.aim;
    ask.aim_quantile = 0.5;
    ask.margin = 1;
    ask.weighing_sd_ln = 0.01;
    ask.seed = s->belief->seed;
    ask.cap_g = cap_g(s, &j, &sub);
    limits_of(s, id, &ask);
    tw_dose_step step;
    tw_status status = plan(&w, &ask, &j, s->pours[j.effect], s, &step);
    if (status == TW_OK) {
        ask.grid_g = grid_g(&sub, step.grams);
        status = plan(&w, &ask, &j, s->pours[j.effect], s, &step);
    }
    if (status != TW_OK || !(step.grams > 0.0))
        return stop(s, TW_ACT_CANNOT_DOSE, j.effect, stage, out);
    tw_facts f = tw_procedure_no_facts();
    tw_procedure_begin(s, id, stage, TW_STANDS_TO_DO, out);
    out->substance = (int)(row - tw_dose_substances);
    measured(&sub, step.grams, out);
    tell_cautions(row, out);
    out->next = out->until = tw_procedure_later(s->now, tw_dose_waits[j.effect].test_min / 60.0 +
                                                            (id == TW_ACT_ACID_STEP ? air_after(s, &step, &sub) : 0.0));
    out->step = j.by_steps ? s->pours[j.effect] + 1 : 0;
    out->steps = j.by_steps ? s->pours[j.effect] + step.steps : 0;
    f.has_amount = 1;
    f.name = tw_units_text(row->plain);
    tell_numbers(s, &ask, &step, out, &f);
    tell_limits(&ask, &step, out);
    tell_single(&sub, &step, &j, out);
    if (!listed)
        tw_procedure_line(&out->how, TW_SAY_NOT_IN_STOCK);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}
