/* procedure/hold.c: the stage "hold proof": held or not, and what to do until it is. */
#include "procedure/hold.h"

#include <math.h>

#include "estimate/burn.h"
#include "estimate/events.h"
#include "estimate/instrument.h"
#include "estimate/trial.h"
#include "procedure/dose.h"
#include "procedure/met.h"
#include "procedure/residual.h"
#include "procedure/sentence.h"

#define SURE 0.95          /* of any proof (job of the verdict)                    */
#define SAME_DUTY 0.015    /* a dial is not set closer than a percent              */
#define CLEARLY 0.1        /* of a chance of proof: worth another reading         */
#define STEADY_H 24.0      /* before this a dip after the dose is demand burning off */
#define EATEN_H 2.0        /* what is under 1 mg/L by then is being eaten: a loss of 35 % an hour at the floor; assumed */

static void because(tw_act *out, const tw_said *said)
{
    if (out->because.n < TW_ACT_LINES)
        out->because.line[out->because.n++] = *said;
}

static void tell_rules(const tw_held *h, tw_act *out)
{
    tw_said trade = tw_units_say(TW_SAY_TRADE_RULE);
    tw_said remnant = tw_units_say(h->remnant_rule ? TW_SAY_REMNANT_RULE_MET : TW_SAY_REMNANT_RULE);
    tw_units_say_message(&trade, "name", h->trade_rule ? TW_SAY_WORD_MET : TW_SAY_WORD_NOT_MET);
    if (!h->remnant_rule)
        tw_units_say_number(&remnant, "wait", h->remnant_hours_q95);
    out->sure.line[out->sure.n++] = trade;
    out->sure.line[out->sure.n++] = remnant;
}

static void tell_sure(tw_message message, double chance, tw_act *out)
{
    tw_said said = tw_units_say(message);
    tw_units_say_number(&said, "chance", chance);
    out->sure.line[out->sure.n++] = said;
    out->chance = chance;
}

/* 1: every reading of free chlorine since the generator's water began is by strip. */
static int strips_alone(const tw_scene *s)
{
    size_t cursor = 0, strips = 0;
    const tw_entry *e;
    while ((e = tw_procedure_next_reading(s, TW_ANALYTE_FREE_CHLORINE, &cursor)) != NULL) {
        if (tw_logbook_word(e, TW_FIELD_INSTRUMENT) != TW_INSTRUMENT_STRIP)
            return 0;
        strips++;
    }
    return strips > 0;
}

/* The verdict of the duty that will stay: full duty is there to learn from. */
static const tw_held *to_stay(const tw_scene *s, const tw_held *now, const tw_held *handed)
{
    return s->belief->duty < 1.0 ? now : handed;
}

/* The reasons, the heaviest first. */
static void tell_because(const tw_scene *s, const tw_held *now, const tw_held *handed, double settled, tw_act *out)
{
    const double mg = s->belief->density_kg_per_l;
    if (now->remnant_mg_per_l.q50 >= 0.2) {
        tw_said said = tw_units_say(TW_SAY_BECAUSE_REMNANT);
        tw_units_say_number(&said, "low", now->remnant_mg_per_l.q50);
        tw_units_say_number(&said, "now", now->chlorine_mg_per_l.q50);
        because(out, &said);
    }
    const tw_held *left = to_stay(s, now, handed);
    if (left->p_floor_7d < SURE) {
        tw_said said = tw_units_say(TW_SAY_BECAUSE_MADE);
        tw_units_say_number(&said, "now", tw_estimate_column(s->belief, TW_COLUMN_MADE_MG_PER_KG).q50 * mg);
        tw_units_say_number(&said, "high", s->profile->fc_min_mg_per_l);
        tw_units_say_number(&said, "chance", left->p_floor_7d);
        because(out, &said);
    }
    if (now->p_ceiling < SURE) {
        const int over = settled > s->profile->fc_max_mg_per_l;
        tw_said said = tw_units_say(over ? TW_SAY_BECAUSE_DUTY : TW_SAY_BECAUSE_CEILING);
        tw_units_say_number(&said, "high", s->profile->fc_max_mg_per_l);
        if (over) {
            tw_units_say_number(&said, "duty", now->duty);
            tw_units_say_number(&said, "after", settled);
        } else
            tw_units_say_number(&said, "chance", now->p_ceiling);
        because(out, &said);
    }
    if (left->p_floor_7d < SURE && strips_alone(s)) {
        const tw_said said = tw_units_say(TW_SAY_BECAUSE_STRIPS);
        because(out, &said);
    }
    if (!now->no_product_24h) {
        const tw_said said = tw_units_say(TW_SAY_BECAUSE_RECENT);
        because(out, &said);
    } else if (now->p_unwritten_24h > 1.0 - SURE) {
        tw_said said = tw_units_say(TW_SAY_BECAUSE_UNWRITTEN);
        tw_units_say_number(&said, "chance", now->p_unwritten_24h);
        because(out, &said);
    }
}

static void facts(const tw_scene *s, const tw_held *now, double duty, double settled, tw_facts *f)
{
    const tw_spread made = tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_MADE_MG_PER_KG);
    f->now = now->chlorine_mg_per_l.q50;
    f->made = made.q50;
    f->low = made.q05;
    f->high = made.q95;
    f->duty = duty;
    f->after = settled;
}

/* When the next reading is worth most: a day on, or at the hour of hold where that comes sooner. Over the floor a
 * reading each twelve hours brought the proof a sixth sooner than one a day, for twice the visits (40 plays of S1
 * and S2: 213 h and 250 h). Never at once when there is a reading of the last six hours. */
static double next_hours(const tw_scene *s, const tw_held *handed)
{
    const double age = tw_procedure_hours_since(s, s->read[TW_ANALYTE_FREE_CHLORINE]);
    double next = handed->hours_q50 < 12.0 || handed->hours_q50 > 24.0 ? 24.0 : handed->hours_q50;
    next -= age;
    return next < 0.25 ? 0.0 : next;
}

/* The next full quarter of an hour: nobody sets an alarm for 06:07. Offsets of zones are whole quarters. */
static tw_time at_quarter(tw_time at)
{
    const int64_t over = at.utc_s % 900;
    at.utc_s += over > 0 ? 900 - over : 0;
    return at;
}

static void begin_act(const tw_scene *s, tw_act_id id, const tw_held *now, const tw_held *handed, double settled, tw_act *out)
{
    tw_procedure_begin(s, id, TW_STAGE_HOLD_PROOF, TW_STANDS_NOT_PROVEN, out);
    tell_because(s, now, handed, settled, out);
}

/* 1: the last reading of free chlorine is below the one before it. */
static int dipped(const tw_scene *s)
{
    double before = 0.0, last = 0.0, value;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_procedure_next_reading(s, TW_ANALYTE_FREE_CHLORINE, &cursor)) != NULL)
        if (tw_logbook_si(e, TW_FIELD_VALUE, &value) == TW_OK) {
            before = last;
            last = value;
        }
    return last < before;
}

/* The step of the drops that free chlorine was last read with; 0: not said. */
static double drop_step(const tw_scene *s)
{
    double step = 0.0;
    size_t cursor = 0;
    const tw_entry *e;
    while ((e = tw_procedure_next_reading(s, TW_ANALYTE_FREE_CHLORINE, &cursor)) != NULL)
        if (tw_logbook_word(e, TW_FIELD_INSTRUMENT) == TW_INSTRUMENT_DROPS)
            (void)tw_logbook_si(e, TW_FIELD_STEP, &step);
    return step;
}

/* The test that tells a weak cell from a thirsty tub: only where the residual will not hold and neither is sure, once, and
 * only one that decides (the card asks that nobody is booked). Its hours; 0: none. */
static double hold_test_hours(const tw_scene *s, const tw_held *now, const tw_duty *duty)
{
    tw_trial trial;
    const int asked = duty->level_full.q50 < s->profile->fc_min_mg_per_l && now->p_weak < SURE && now->p_demand < SURE &&
                      now->p_weak + now->p_demand > 0.5 && tw_procedure_care(s, TW_CARE_JOB_HOLD_TEST, TW_JOB_STATE_DONE, 1) == NULL;
    return asked && tw_estimate_trial(s->belief, TW_TOOL_DROPS, drop_step(s), s->mem, s->bytes, &trial) == TW_OK &&
                   trial.state == TW_TRIAL_PROPOSED ? trial.hours : 0.0;
}

/* A hold test that has begun: off until its hours are over, a reading, on as long, a reading. */
static tw_status go_on_with_hold_test(const tw_scene *s, const tw_hold_test *test, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    const double left = test->hours - test->since_h;
    tw_procedure_begin(s, TW_ACT_OFF_TEST, TW_STAGE_HOLD_PROOF, TW_STANDS_NOT_PROVEN, out);
    f.wait_h = test->hours;
    out->next = out->until = tw_procedure_later(s->now, left > 0.0 ? left : 0.0);
    if (left > 0.0) {
        out->verb = TW_VERB_WAIT;
        out->head = tw_units_say(test->on ? TW_SAY_OFF_TEST_ON : TW_SAY_OFF_TEST_RUNS);
    } else
        out->head = tw_units_say(test->on ? TW_SAY_OFF_TEST_END : TW_SAY_OFF_TEST_TURN);
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}

/* A hand dose, on a reading of the last hours: hardly any is left and the rest is going, or what is in the water eats it. */
static int bridging(const tw_scene *s, const tw_held *now)
{
    const double c = now->chlorine_mg_per_l.q50;
    return ((c < 1.0 && tw_estimate_hours_to(s->belief, 0.5).q50 < 12.0) ||
            (c < s->profile->fc_min_mg_per_l && tw_estimate_left_after(s->belief, 0.0, EATEN_H).q50 < 1.0)) &&
           tw_procedure_hours_since(s, s->read[TW_ANALYTE_FREE_CHLORINE]) < 6.0;
}

/* The dose, and what the water still wants where that is more than it gets. */
static tw_status bridge(const tw_scene *s, tw_act *out)
{
    const tw_status status = tw_procedure_make_dose(s, TW_ACT_BRIDGE_DOSE, TW_STAGE_HOLD_PROOF, out);
    const tw_spread wants = tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_DEMAND_MG_PER_KG);
    if (status == TW_OK && out->id == TW_ACT_BRIDGE_DOSE && wants.q50 >= 1.0 && out->why.n < TW_ACT_LINES) {
        tw_said said = tw_units_say(TW_SAY_WHY_BRIDGE_DEMAND);
        tw_units_say_number(&said, "low", wants.q05);
        tw_units_say_number(&said, "high", wants.q95);
        out->why.line[out->why.n++] = said;
    }
    return status;
}

/* Above the ceiling full duty proves nothing more: the duty to be handed over goes on with the proof. */
static int over_ceiling(const tw_scene *s, const tw_held *now)
{
    return s->profile->fc_max_mg_per_l > 0.0 && now->chlorine_mg_per_l.q50 > s->profile->fc_max_mg_per_l &&
           tw_estimate_column_mg_per_l(s->belief, TW_COLUMN_MADE_MG_PER_KG).q50 >= s->profile->fc_min_mg_per_l;
}

static double proof(const tw_held *h)
{
    return h->p_floor_7d < h->p_ceiling ? h->p_floor_7d : h->p_ceiling;
}

/* Is it time for the duty to be handed over? Full duty is left when the hold is proven at the lower one, or over the
 * ceiling. A duty that was handed over is changed for one that is sure where it is not, or clearly nearer to a proof, or when
 * it settles outside the band with three in four: each change asks for a reading of its own. None is raised near the limit. */
static int other_duty(const tw_scene *s, const tw_held *now, const tw_held *handed, const tw_duty *duty, double wanted)
{
    const double u = s->belief->duty, most = s->profile->fc_max_mg_per_l;
    if (fabs(wanted - u) <= SAME_DUTY || (wanted > u && tw_procedure_chlorine_near(s)))
        return 0;
    if (u >= 1.0)
        return !tw_procedure_settles(s, duty->level_full.q50) &&
               ((handed->p_floor_7d >= SURE && handed->no_product_24h) || over_ceiling(s, now));
    return (proof(handed) >= SURE && proof(now) < SURE) || proof(handed) - proof(now) >= CLEARLY ||
           u * duty->level_full.q75 < s->profile->fc_min_mg_per_l || (most > 0.0 && u * duty->level_full.q25 > most);
}

tw_status tw_procedure_make_hold(const tw_scene *s, tw_act *out)
{
    tw_facts f = tw_procedure_no_facts();
    tw_held now, handed;
    if (s->belief == NULL) {
        tw_procedure_begin(s, TW_ACT_PROVE_HOLD, TW_STAGE_HOLD_PROOF, TW_STANDS_NOT_PROVEN, out);
        out->head = tw_units_say(TW_SAY_HOLD_TEST_NOW);
        tw_procedure_finish(s, &f, out);
        return TW_OK;
    }
    tw_hold_test test;
    if (tw_procedure_hold_test(s, &test))
        return go_on_with_hold_test(s, &test, out);
    tw_duty duty;
    tw_status status = tw_procedure_balance(s, &duty);
    if (status != TW_OK)
        return status;
    /* Hours of hold and remnant are told of the duty to be handed over alone. */
    const double wanted = tw_procedure_duty_wanted(&duty);
    const int stays = fabs(wanted - s->belief->duty) <= SAME_DUTY;
    status = stays ? tw_procedure_verdict_far(s, -1.0, &now) : tw_procedure_verdict(s, -1.0, &now);
    handed = now;
    if (status == TW_OK && !stays)
        status = tw_procedure_verdict_far(s, wanted, &handed);
    if (status != TW_OK)
        return status;
    const double settled = duty.level_full.q50 * s->belief->duty;
    const int steady = s->belief->hours_since_dose >= STEADY_H;
    const double people_h = tw_procedure_hours_after_people(s);
    const int alone = people_h == TW_NO_PEOPLE_H;
    const int tested = tw_procedure_care(s, TW_CARE_JOB_HOLD_TEST, TW_JOB_STATE_DONE, 1) != NULL;
    if (bridging(s, &now)) { /* whatever is at fault: warm water is not left untreated */
        return bridge(s, out);
    } else if ((steady || tested) && now.p_weak >= SURE) {
        begin_act(s, TW_ACT_CHECK_CELL, &now, &handed, settled, out);
        facts(s, &now, wanted, settled, &f);
        f.now = tw_estimate_column(s->belief, TW_COLUMN_OUTPUT_G_PER_H).q50;
        f.high = s->belief->plate_output_g_per_h;
        tell_sure(TW_SAY_SURE_WEAK, now.p_weak, out);
    } else if (alone && steady && now.p_demand >= SURE && duty.level_full.q50 < s->profile->fc_min_mg_per_l) {
        begin_act(s, TW_ACT_FIND_DEMAND, &now, &handed, settled, out);
        tell_sure(TW_SAY_SURE_DEMAND, now.p_demand, out);
    } else if (alone && wanted < 1.0 && handed.p_now >= SURE && other_duty(s, &now, &handed, &duty, wanted)) {
        begin_act(s, TW_ACT_HAND_DUTY, &now, &handed, settled, out);
        out->setting = TW_SETTING_DUTY;
        out->setting_value = wanted;
        facts(s, &now, wanted, duty.level_full.q50 * wanted, &f);
        tell_sure(TW_SAY_SURE_HOLD, handed.p_floor_7d, out);
        tell_rules(&handed, out);
    } else if (alone && steady && (f.wait_h = hold_test_hours(s, &now, &duty)) > 0.0) {
        begin_act(s, TW_ACT_OFF_TEST, &now, &handed, settled, out);
        out->next = out->until = tw_procedure_later(s->now, f.wait_h);
        tell_sure(TW_SAY_SURE_WEAK, now.p_weak, out);
    } else {
        begin_act(s, TW_ACT_PROVE_HOLD, &now, &handed, settled, out);
        const double unhurried_h = next_hours(s, &handed), hours = people_h < unhurried_h ? people_h : unhurried_h;
        out->next = out->until = hours > 0.0 ? at_quarter(tw_procedure_later(s->now, hours)) : s->now;
        if (hours > 0.0)
            out->verb = TW_VERB_WAIT;
        else
            out->head = tw_units_say(TW_SAY_HOLD_TEST_NOW);
        facts(s, &now, wanted, settled, &f);
        if (!steady && dipped(s))
            tw_procedure_line(&out->why, TW_SAY_DIP_IS_DEMAND);
        tell_sure(TW_SAY_SURE_HOLD, to_stay(s, &now, &handed)->p_floor_7d, out);
        tell_rules(&handed, out);
    }
    tw_procedure_finish(s, &f, out);
    return TW_OK;
}
