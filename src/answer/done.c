/* answer/done.c: what "done" writes. */
#include "answer/done.h"

#include <string.h>

#include "answer/act.h"
#include "procedure/tables.h"

static void put(tw_done_entry *entry, const char *field, tw_text value)
{
    if (entry->n < TW_DONE_FIELDS)
        entry->field[entry->n++] = (tw_typed){tw_units_text(field), value};
}

static tw_done_entry *add_fact(tw_done *out, tw_kind kind)
{
    tw_done_entry *fact = &out->fact[out->facts++];
    fact->kind = kind;
    return fact;
}

/* ---- what was announced -------------------------------------------------------------------------- */

/* The dose of the intent becomes an addition. */
static void of_intent(tw_done *out)
{
    static const tw_field COPIED[] = {TW_FIELD_SUBSTANCE, TW_FIELD_AMOUNT, TW_FIELD_AMOUNT_UNIT, TW_FIELD_STRENGTH};
    const tw_entry *intent = out->intent;
    out->answerable = out->enough = 1;
    put(&out->response, "intent", intent->id);
    if (!tw_logbook_has(intent, TW_FIELD_SUBSTANCE))
        return;
    tw_done_entry *fact = add_fact(out, TW_KIND_ADDITION);
    for (size_t i = 0; i < sizeof COPIED / sizeof COPIED[0]; i++)
        if (tw_logbook_has(intent, COPIED[i]))
            put(fact, tw_logbook_field_name(COPIED[i]), tw_logbook_text(intent, COPIED[i]));
    put(fact, "intent", intent->id);
}

/* ---- what the card says -------------------------------------------------------------------------- */

static void of_dose(const tw_act *act, tw_done *out)
{
    tw_done_entry *fact = add_fact(out, TW_KIND_ADDITION);
    (void)tw_units_decimal_write(act->amount, act->amount_decimals, out->amount, sizeof out->amount);
    put(fact, "substance", tw_units_text(tw_answer_act_substance(act)));
    put(fact, "amount", tw_units_text(out->amount));
    put(fact, "amount_unit", tw_units_text(act->amount_unit));
}

static void of_setting(const tw_act *act, tw_done *out)
{
    const int duty = act->setting == TW_SETTING_DUTY;
    tw_done_entry *fact = add_fact(out, TW_KIND_SETTING);
    put(fact, "what", tw_units_text(tw_logbook_word_name(TW_SET_SETTING, act->setting)));
    if (!tw_logbook_settings[act->setting].number) {
        put(fact, "state", tw_units_text(act->setting_value > 0.5 ? "on" : "off"));
        return;
    }
    (void)tw_units_decimal_write(duty ? act->setting_value * 100.0 : act->setting_value, 0, out->amount, sizeof out->amount);
    put(fact, "value", tw_units_text(out->amount));
    put(fact, "unit", tw_units_text(duty ? "pct" : "Cel"));
}

static void pair(tw_done *out, tw_kind kind, const char *a, const char *a_value, const char *b, const char *b_value)
{
    tw_done_entry *fact = add_fact(out, kind);
    put(fact, a, tw_units_text(a_value));
    put(fact, b, tw_units_text(b_value));
}

/* As much in as out, from the source that the card names. */
static void of_exchange(const tw_act *act, tw_done *out)
{
    tw_done_entry *fact = add_fact(out, TW_KIND_EXCHANGE);
    (void)tw_units_decimal_write(act->amount, act->amount_decimals, out->amount, sizeof out->amount);
    put(fact, "cause", tw_units_text("swap"));
    put(fact, "out", tw_units_text(out->amount));
    put(fact, "in", tw_units_text(out->amount));
    put(fact, "volume_unit", tw_units_text(act->amount_unit));
    if (act->source.n > 0)
        put(fact, "source", act->source);
}

/* What the condition behind an act wants to see written when it is done: a job, a part, a yes. */
static void of_condition(const tw_act *act, tw_done *out)
{
    if ((unsigned)act->unmet >= TW_CONDITIONS || (act->verb != TW_VERB_DO && act->verb != TW_VERB_ASK))
        return;
    const tw_condition_row *row = &tw_procedure_conditions[act->unmet];
    if (row->predicate == TW_PREDICATE_CARE_DONE)
        pair(out, TW_KIND_CARE, "job", row->subject, "state", "done");
    if (row->predicate == TW_PREDICATE_FITTED)
        pair(out, TW_KIND_PART, "part", row->subject, "act", "fitted");
    if (row->predicate == TW_PREDICATE_CONFIRMED)
        pair(out, TW_KIND_REPLY, "question", row->subject, "reply", "yes");
}

/* "Done" does not say what was read, how much water, how warm, or what the answer is. */
static int says_all(const tw_act *act)
{
    const int known = (unsigned)act->unmet < TW_CONDITIONS;
    const tw_predicate predicate = known ? tw_procedure_conditions[act->unmet].predicate : TW_PREDICATES;
    return act->verb != TW_VERB_TEST && !(act->verb == TW_VERB_DO && (predicate == TW_PREDICATE_FILLED || predicate == TW_PREDICATE_WARM)) &&
           !(act->verb == TW_VERB_ASK && predicate != TW_PREDICATE_CONFIRMED);
}

static void of_act(const tw_act *act, tw_done *out)
{
    out->answerable = act->verb != TW_VERB_NONE && act->verb != TW_VERB_WAIT;
    out->enough = out->answerable && says_all(act);
    tw_sha256_hex(act->digest, out->digest);
    put(&out->response, "act", tw_units_text(tw_answer_act_name(act)));
    put(&out->response, "advice", tw_units_text(out->digest));
    if (act->verb == TW_VERB_ADD && act->substance >= 0)
        of_dose(act, out);
    if (act->id == TW_ACT_EXCHANGE)
        of_exchange(act, out);
    if (act->verb == TW_VERB_SET && act->setting >= 0)
        of_setting(act, out);
    if (act->verb == TW_VERB_AIR)
        pair(out, TW_KIND_CARE, "job", "aerate", "state", "done");
    of_condition(act, out);
}

void tw_answer_done(const tw_core *core, const tw_tub *tub, tw_time now, const tw_act *act, tw_done *out)
{
    const tw_entry *open[1];
    size_t count = 0;
    memset(out, 0, sizeof *out);
    out->response.kind = TW_KIND_RESPONSE;
    (void)tw_logbook_book_open_intents(core->book, tub->id, now, open, 1, &count);
    if (count > 0) {
        out->intent = open[0];
        of_intent(out);
    } else {
        of_act(act, out);
    }
}

/* ---- as data -------------------------------------------------------------------------------------- */

static void tell_entry(const tw_done_entry *entry, tw_sink *sink)
{
    tw_answer_string(sink, TW_KEY_KIND, tw_logbook_kind_name(entry->kind));
    tw_answer_open_list(sink, TW_KEY_FIELDS);
    for (size_t i = 0; i < entry->n; i++) {
        tw_answer_item(sink);
        tw_answer_text(sink, TW_KEY_FIELD, entry->field[i].field);
        tw_answer_text(sink, TW_KEY_VALUE, entry->field[i].value);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
}

void tw_answer_tell_done(const tw_done *done, tw_sink *sink)
{
    if (!done->answerable)
        return;
    tw_answer_flag(sink, TW_KEY_DONE_ENOUGH, done->enough);
    tw_answer_open_list(sink, TW_KEY_DONE);
    for (size_t i = 0; i < done->facts; i++) {
        tw_answer_item(sink);
        tell_entry(&done->fact[i], sink);
        tw_answer_close(sink);
    }
    tw_answer_close(sink);
    tw_answer_open(sink, TW_KEY_RESPONSE);
    tell_entry(&done->response, sink);
    tw_answer_close(sink);
}
