/* answer/view_why.c: every number behind the card: what it rests on, the rule, the constants with their
 * sources, the limits with their chances (the one that bound first), the result, what would change it. */
#include <math.h>

#include "answer/act.h"
#include "answer/views.h"
#include "dose/substance.h"

/* The last reading of each analyte, with its age: the inputs as people know them. */
static void tell_inputs(const tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    const tw_entry *last[TW_ANALYTE_WORDS] = {NULL};
    const tw_entry *entry = NULL;
    size_t cursor = 0;
    while ((entry = tw_logbook_book_next(core->book, tub->id, ask->now, &cursor)) != NULL) {
        const int analyte = entry->kind == TW_KIND_READING ? tw_logbook_word(entry, TW_FIELD_ANALYTE) : -1;
        if (analyte >= 0 && !tw_logbook_has(entry, TW_FIELD_SOURCE))
            last[analyte] = entry;
    }
    tw_answer_open_list(sink, TW_KEY_INPUTS);
    for (int i = 0; i < TW_ANALYTE_WORDS; i++) {
        if (last[i] == NULL)
            continue;
        tw_answer_item(sink);
        tw_answer_text(sink, TW_KEY_ENTRY, last[i]->id);
        tw_answer_time(sink, TW_KEY_READ_AT, last[i]->at);
        const tw_said read = tw_answer_describe(last[i]);
        tw_answer_words(sink, TW_KEY_SAID, &read);
        tw_answer_number(sink, TW_KEY_AGE_H, tw_units_hours_between(last[i]->at, ask->now));
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

static void tell_known(const tw_belief *belief, tw_sink *sink)
{
    const tw_spread volume = tw_estimate_volume_l(belief);
    const tw_spread ph = tw_estimate_now(belief, TW_OBSERVED_PH);
    const tw_spread ta = tw_estimate_now(belief, TW_OBSERVED_ALKALINITY);
    const tw_spread salt = tw_estimate_now(belief, TW_OBSERVED_CHLORIDE);
    const tw_spread chlorine = tw_estimate_column_mg_per_l(belief, TW_COLUMN_CHLORINE_MG_PER_KG);
    const tw_spread kelvin = tw_estimate_column(belief, TW_COLUMN_TEMP_K);
    tw_answer_open(sink, TW_KEY_KNOWN);
    tw_answer_spread(sink, TW_KEY_VOLUME, volume.q05, volume.q50, volume.q95);
    tw_answer_spread(sink, TW_KEY_TEMPERATURE, kelvin.q05 - 273.15, kelvin.q50 - 273.15, kelvin.q95 - 273.15);
    tw_answer_spread(sink, TW_KEY_PH, ph.q05, ph.q50, ph.q95);
    tw_answer_spread(sink, TW_KEY_TOTAL_ALKALINITY, ta.q05, ta.q50, ta.q95);
    tw_answer_spread(sink, TW_KEY_SALT, salt.q05, salt.q50, salt.q95);
    tw_answer_spread(sink, TW_KEY_FREE_CHLORINE, chlorine.q05, chlorine.q50, chlorine.q95);
    tw_answer_close(sink);
}

/* The rule by which the act was computed. */
static tw_message rule_of(const tw_act *act)
{
    if (act->verb == TW_VERB_AIR)
        return TW_SAY_RULE_AIR;
    if (act->verb == TW_VERB_SET)
        return TW_SAY_RULE_DUTY;
    if (act->verb != TW_VERB_ADD || act->substance < 0)
        return TW_SAY_RULE_NO_AMOUNT;
    const tw_substance *s = &tw_dose_substances[act->substance];
    if (fabs(s->total_mol_per_g[TW_TOTAL_ACTIVE_CHLORINE]) > 0.0)
        return TW_SAY_RULE_CHLORINE;
    if (fabs(tw_dose_alk_eq_per_g(s)) > 1e-6)
        return TW_SAY_RULE_ALKALINITY;
    return s->total_mol_per_g[TW_TOTAL_CA] > 0.0 ? TW_SAY_RULE_CALCIUM : TW_SAY_RULE_SALT;
}

/* What 10 g in 1,000 L do, and where that comes from. */
static void tell_substance(const tw_act *act, tw_sink *sink)
{
    if (act->verb != TW_VERB_ADD || act->substance < 0)
        return;
    const tw_substance *s = &tw_dose_substances[act->substance];
    const double *m = s->total_mol_per_g;
    tw_said said = tw_units_say(TW_SAY_REASON_SUBSTANCE);
    tw_units_say_text(&said, "name", tw_units_text(s->plain));
    tw_units_say_number(&said, "alk", tw_dose_alk_eq_per_g(s) * 10.0 * 50043.0 / 1000.0);
    tw_units_say_number(&said, "chlorine", m[TW_TOTAL_ACTIVE_CHLORINE] * 10.0 * 70906.0 / 1000.0);
    tw_units_say_number(&said, "salt", m[TW_TOTAL_CL] * 10.0 * 58443.0 / 1000.0);
    tw_units_say_number(&said, "calcium", m[TW_TOTAL_CA] * 10.0 * 100087.0 / 1000.0);
    tw_answer_words(sink, TW_KEY_EFFECT, &said);
    tw_said source = tw_units_say(TW_SAY_REASON_SOURCE);
    tw_units_say_text(&source, "source", tw_units_text(tw_answer_sources[act->substance].source));
    tw_units_say_text(&source, "mark", tw_units_text(tw_answer_sources[act->substance].mark));
    tw_units_say_number(&source, "assay", s->assay_mass_fraction);
    tw_answer_words(sink, TW_KEY_SOURCE, &source);
}

static void tell_limits(const tw_act *act, tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_LIMITS);
    for (uint32_t i = 0; i < act->limits; i++) {
        tw_answer_item(sink);
        tw_answer_words(sink, TW_KEY_LIMIT, &act->limit[i].what);
        tw_answer_number(sink, TW_KEY_LIMIT_AT, act->limit[i].limit);
        tw_answer_number(sink, TW_KEY_CHANCE, act->limit[i].chance);
        tw_said said = tw_units_say(i == 0 ? TW_SAY_REASON_BOUND : TW_SAY_REASON_CHANCE);
        tw_units_say_number(&said, "p", act->limit[i].chance);
        tw_answer_words(sink, TW_KEY_LIMIT_CHANCE, &said);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

/* One predicted quantity after the act. */
static void tell_after(tw_sink *sink, tw_key key, const double q[3])
{
    if (q[1] == q[1])
        tw_answer_spread(sink, key, q[0], q[1], q[2]);
}

static void tell_result(const tw_act *act, tw_sink *sink)
{
    tw_answer_open(sink, TW_KEY_AFTER);
    tell_after(sink, TW_KEY_AFTER_PH, act->predicted_ph);
    tell_after(sink, TW_KEY_AFTER_ALKALINITY, act->predicted_ta);
    tell_after(sink, TW_KEY_AFTER_SALT, act->predicted_salt);
    tell_after(sink, TW_KEY_AFTER_CHLORINE, act->predicted_chlorine);
    tw_answer_close(sink);
    if (act->label_amount > 0.0 && act->verb == TW_VERB_ADD) {
        tw_said said = tw_units_say(TW_SAY_REASON_LABEL);
        tw_units_say_amount(&said, "label", act->label_amount, act->amount_decimals, tw_units_text(act->amount_unit));
        tw_units_say_amount(&said, "ours", act->amount, act->amount_decimals, tw_units_text(act->amount_unit));
        tw_answer_words(sink, TW_KEY_LABEL_BESIDE, &said);
    }
}

/* What would change the answer: a reading of what is only assumed, and time. */
static void tell_change(const tw_act *act, const tw_belief *belief, tw_sink *sink)
{
    tw_answer_open_list(sink, TW_KEY_WOULD_CHANGE);
    if (belief->learned[TW_KNOWN_WATER] < 0.5)
        tw_answer_message(sink, TW_KEY_WOULD_CHANGE, TW_SAY_CHANGE_VOLUME);
    if (belief->learned[TW_KNOWN_ALKALINITY] < 0.5)
        tw_answer_message(sink, TW_KEY_WOULD_CHANGE, TW_SAY_CHANGE_ALKALINITY);
    if (belief->chlorine_readings < 3)
        tw_answer_message(sink, TW_KEY_WOULD_CHANGE, TW_SAY_CHANGE_CHLORINE);
    tw_said until = tw_units_say(TW_SAY_CHANGE_UNTIL);
    tw_units_say_time(&until, "at", act->good_until);
    tw_answer_words(sink, TW_KEY_WOULD_CHANGE, &until);
    tw_answer_close(sink);
}

void tw_answer_view_why(tw_core *core, const tw_ask *ask, const tw_tub *tub, tw_sink *sink)
{
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(core, tub, ask->now, &status);
    const tw_belief *belief = tw_answer_belief(core, tub, ask->now, &status);
    tw_answer_string(sink, TW_KEY_WEIGHT, act != NULL && act->verb == TW_VERB_STOP ? "stop" : "plain");
    if (act == NULL || belief == NULL) {
        tw_answer_message(sink, TW_KEY_HINT, TW_SAY_NOT_FOLDED);
        return;
    }
    tw_answer_words(sink, TW_KEY_HEAD, &act->head);
    tell_inputs(core, ask, tub, sink);
    tell_known(belief, sink);
    tw_answer_message(sink, TW_KEY_RULE, rule_of(act));
    tw_answer_tell_terms(core, ask, tub, act, belief, sink);
    tell_substance(act, sink);
    tell_limits(act, sink);
    tell_result(act, sink);
    tw_answer_tell_lines(sink, TW_KEY_BECAUSE, &act->because);
    tw_answer_tell_lines(sink, TW_KEY_WHY, &act->why);
    tw_answer_tell_lines(sink, TW_KEY_LIFT, &act->lift);
    tell_change(act, belief, sink);
    tw_answer_digest(sink, TW_KEY_ADVICE, act->digest);
    tw_answer_digest(sink, TW_KEY_BELIEF, belief->digest);
    if (act->verb == TW_VERB_STOP)
        core->outcome = TW_ENDED_STOPPED;
}
