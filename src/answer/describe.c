/* answer/describe.c: one entry as one sentence, for the logbook and the questions back. */
#include <math.h>
#include <string.h>

#include "answer/views.h"
#include "dose/substance.h"
#include "logbook/entry.h"
#include "logbook/identity.h"

/* The message "<stem><word>", "analyte-ph"; TW_SAY_ENTRY_NEWER when the word is not known. */
static tw_message named(const char *stem, tw_text word)
{
    char id[64];
    const size_t n = strlen(stem);
    if (n + word.n > sizeof id)
        return TW_SAY_ENTRY_NEWER;
    memcpy(id, stem, n);
    memcpy(id + n, word.at, word.n);
    const tw_message found = tw_units_message_find((tw_text){id, n + word.n});
    return found == TW_MESSAGES ? TW_SAY_ENTRY_NEWER : found;
}

/* The unit as people write it: "%" for pct, nothing for pH and plain numbers. */
static tw_text shown_unit(tw_text unit)
{
    static const tw_text NONE = {"", 0};
    static const tw_text PERCENT = TW_TEXT("%");
    static const tw_text CELSIUS = TW_TEXT("\302\260C");
    static const tw_text FAHRENHEIT = TW_TEXT("\302\260F");
    if (tw_units_text_is(unit, "pct"))
        return PERCENT;
    if (tw_units_text_is(unit, "pH") || tw_units_text_is(unit, "1"))
        return NONE;
    if (tw_units_text_is(unit, "Cel"))
        return CELSIUS;
    if (tw_units_text_is(unit, "degF"))
        return FAHRENHEIT;
    return unit;
}

/* A number as typed, with its digits and its unit. */
static void say_in(tw_said *said, const char *name, const tw_entry *entry, tw_field field, tw_text unit)
{
    double value = 0.0;
    (void)tw_logbook_number(entry, field, &value);
    const int decimals = tw_logbook_decimals(entry, field);
    tw_units_say_amount(said, name, value, decimals < 0 ? 0 : decimals, unit);
}

static void say_typed(tw_said *said, const char *name, const tw_entry *entry, tw_field field, tw_field unit)
{
    say_in(said, name, entry, field, tw_logbook_word(entry, TW_FIELD_MEASURED) == TW_MEASURED_SCOOP && unit == TW_FIELD_AMOUNT_UNIT
                                         ? tw_units_text("scoops") : shown_unit(tw_logbook_text(entry, unit)));
}

static tw_said describe_reading(const tw_entry *entry)
{
    static const tw_message FORM[] = {
        [TW_READING_FORM_VALUE] = TW_SAY_ENTRY_READING_VALUE,
        [TW_READING_FORM_BETWEEN] = TW_SAY_ENTRY_READING_BETWEEN,
        [TW_READING_FORM_BELOW] = TW_SAY_ENTRY_READING_BELOW,
        [TW_READING_FORM_ABOVE] = TW_SAY_ENTRY_READING_ABOVE,
        [TW_READING_FORM_UNREADABLE] = TW_SAY_ENTRY_READING_UNREADABLE,
        [TW_READING_FORM_NOT_DONE] = TW_SAY_ENTRY_READING_NOT_DONE,
    };
    const int form = tw_logbook_word(entry, TW_FIELD_FORM);
    if (form < 0)
        return tw_units_say(TW_SAY_ENTRY_NEWER);
    tw_said said = tw_units_say(FORM[form]);
    tw_units_say_message(&said, "what", named("analyte-", tw_logbook_text(entry, TW_FIELD_ANALYTE)));
    tw_units_say_message(&said, "by", tw_logbook_has(entry, TW_FIELD_INSTRUMENT)
                                          ? named("by-", tw_logbook_text(entry, TW_FIELD_INSTRUMENT)) : TW_SAY_BY_NONE);
    if (tw_logbook_has(entry, TW_FIELD_VALUE))
        say_typed(&said, "value", entry, TW_FIELD_VALUE, TW_FIELD_UNIT);
    if (tw_logbook_has(entry, TW_FIELD_HIGH))
        say_typed(&said, "high", entry, TW_FIELD_HIGH, TW_FIELD_UNIT);
    return said;
}

static tw_said describe_response(const tw_entry *entry)
{
    const int has_amount = tw_logbook_has(entry, TW_FIELD_AMOUNT);
    const int has_reason = tw_logbook_has(entry, TW_FIELD_REASON);
    tw_said said = tw_units_say(has_reason ? TW_SAY_ENTRY_RESPONSE_REASON
                                : has_amount ? TW_SAY_ENTRY_RESPONSE_AMOUNT : TW_SAY_ENTRY_RESPONSE);
    tw_text act = tw_logbook_text(entry, TW_FIELD_ACT);
    if (act.n == 0)
        act = (tw_text){"announced act", 13};
    tw_units_say_text(&said, "act", act);
    tw_units_say_message(&said, "outcome", named("outcome-", tw_logbook_text(entry, TW_FIELD_OUTCOME)));
    tw_units_say_text(&said, "reason", tw_logbook_text(entry, TW_FIELD_REASON));
    if (has_amount)
        say_typed(&said, "amount", entry, TW_FIELD_AMOUNT, TW_FIELD_AMOUNT_UNIT);
    return said;
}

/* A substance as said to a person; one of the user's own is an id there, which says nothing. */
tw_text tw_answer_substance_name(const tw_entry *entry)
{
    const tw_text id = tw_logbook_text(entry, TW_FIELD_SUBSTANCE);
    const tw_substance *substance = tw_dose_substance_find(id);
    if (substance != NULL)
        return tw_units_text(substance->plain);
    return id.n == TW_ID_CHARS ? tw_units_text("of a product defined here") : id;
}

double tw_answer_addition_g(const tw_entry *entry)
{
    const double unknown = (double)NAN;
    double amount = unknown;
    tw_unit unit;
    if (tw_logbook_si(entry, TW_FIELD_AMOUNT, &amount) != TW_OK || tw_logbook_unit(entry, TW_FIELD_AMOUNT, &unit) != TW_OK)
        return unknown;
    if (tw_units_row(unit)->quantity == TW_QUANTITY_MASS)
        return amount;
    const tw_substance *substance = tw_dose_substance_find(tw_logbook_text(entry, TW_FIELD_SUBSTANCE));
    const int liquid = tw_units_row(unit)->quantity == TW_QUANTITY_VOLUME && substance != NULL && substance->density_kg_per_l > 0.0;
    return liquid ? amount * 1000.0 * substance->density_kg_per_l : unknown;
}

static tw_said describe_intent(const tw_entry *entry)
{
    const int dose = tw_logbook_has(entry, TW_FIELD_AMOUNT) && tw_logbook_has(entry, TW_FIELD_SUBSTANCE);
    tw_said said = tw_units_say(dose ? TW_SAY_ENTRY_INTENT : TW_SAY_ENTRY_INTENT_ACT);
    tw_units_say_text(&said, "what", dose ? tw_answer_substance_name(entry) : tw_logbook_text(entry, TW_FIELD_ACT));
    if (dose)
        say_typed(&said, "amount", entry, TW_FIELD_AMOUNT, TW_FIELD_AMOUNT_UNIT);
    return said;
}

static tw_said describe_setting(const tw_entry *entry)
{
    const int valued = tw_logbook_has(entry, TW_FIELD_VALUE);
    tw_said said = tw_units_say(valued ? TW_SAY_ENTRY_SETTING_VALUE : TW_SAY_ENTRY_SETTING_STATE);
    tw_units_say_message(&said, "what", named("setting-", tw_logbook_text(entry, TW_FIELD_WHAT)));
    if (valued)
        say_typed(&said, "value", entry, TW_FIELD_VALUE, TW_FIELD_UNIT);
    else
        tw_units_say_message(&said, "state", named("state-", tw_logbook_text(entry, TW_FIELD_STATE)));
    return said;
}

static tw_said describe_exchange(const tw_entry *entry)
{
    double out_l = 0.0;
    double in_l = 0.0;
    tw_said said = tw_units_say(TW_SAY_ENTRY_EXCHANGE);
    (void)tw_logbook_si(entry, TW_FIELD_OUT, &out_l);
    (void)tw_logbook_si(entry, TW_FIELD_IN, &in_l);
    tw_units_say_message(&said, "cause", named("cause-", tw_logbook_text(entry, TW_FIELD_CAUSE)));
    tw_units_say_number(&said, "out", out_l);
    tw_units_say_number(&said, "in", in_l);
    return said;
}

/* A word of a sentence and the field that it comes from; no name: there is none. */
typedef struct {
    const char *name;
    tw_field field;
} word;

/* Kinds whose sentence takes its words from fields: texts, a number as typed, an hour. */
typedef struct {
    tw_kind kind;
    tw_message message, without; /* without: said when its first text or its hour may lack and does */
    int may_lack;
    word text[2], typed, hour;
    tw_field unit;               /* of the number                                                    */
} plain;

static const plain PLAIN[] = {
    {.kind = TW_KIND_NOTE, .message = TW_SAY_ENTRY_NOTE, .text[0] = {"words", TW_FIELD_WORDS}},
    {.kind = TW_KIND_SYMPTOM, .message = TW_SAY_ENTRY_SYMPTOM, .text[0] = {"words", TW_FIELD_WORDS}},
    {.kind = TW_KIND_VISIT, .message = TW_SAY_ENTRY_VISIT, .text[0] = {"state", TW_FIELD_STATE}},
    {.kind = TW_KIND_VOID, .message = TW_SAY_ENTRY_VOID_REASON, .without = TW_SAY_ENTRY_VOID, .may_lack = 1, .text[0] = {"reason", TW_FIELD_REASON}},
    {.kind = TW_KIND_VOLUME, .message = TW_SAY_ENTRY_VOLUME, .text[0] = {"method", TW_FIELD_METHOD}, .typed = {"volume", TW_FIELD_VOLUME}, .unit = TW_FIELD_VOLUME_UNIT},
    {.kind = TW_KIND_CARE, .message = TW_SAY_ENTRY_CARE, .text[0] = {"job", TW_FIELD_JOB}, .text[1] = {"state", TW_FIELD_STATE}},
    {.kind = TW_KIND_REPLY, .message = TW_SAY_ENTRY_REPLY, .text[0] = {"question", TW_FIELD_QUESTION}, .text[1] = {"reply", TW_FIELD_REPLY}},
    {.kind = TW_KIND_DEFINITION, .message = TW_SAY_ENTRY_DEFINITION, .text[0] = {"name", TW_FIELD_NAME}, .text[1] = {"what", TW_FIELD_DEFINES}},
    {.kind = TW_KIND_PLATE, .message = TW_SAY_ENTRY_PLATE},
    {.kind = TW_KIND_SOURCE, .message = TW_SAY_ENTRY_SOURCE, .text[0] = {"source", TW_FIELD_SOURCE}},
    {.kind = TW_KIND_PART, .message = TW_SAY_ENTRY_PART, .text[0] = {"what", TW_FIELD_PART}, .text[1] = {"act", TW_FIELD_ACT}},
    {.kind = TW_KIND_WAIVER, .message = TW_SAY_ENTRY_WAIVER, .text[0] = {"condition", TW_FIELD_CONDITION}, .text[1] = {"reason", TW_FIELD_REASON}},
    {.kind = TW_KIND_POWER_CUT, .message = TW_SAY_ENTRY_POWER_CUT_UNTIL, .without = TW_SAY_ENTRY_POWER_CUT, .may_lack = 1, .hour = {"until", TW_FIELD_UNTIL}},
    {.kind = TW_KIND_READY_BY, .message = TW_SAY_ENTRY_READY_BY, .hour = {"at", TW_FIELD_BY_TIME}},
};

static int lacks(const word *of, const tw_entry *entry)
{
    return of->name != NULL && !tw_logbook_has(entry, of->field);
}

static tw_said describe_plain(const plain *row, const tw_entry *entry)
{
    const int bare = row->may_lack && (lacks(&row->text[0], entry) || lacks(&row->hour, entry));
    tw_said said = tw_units_say(bare ? row->without : row->message);
    tw_time at;
    for (int i = 0; i < 2; i++)
        if (row->text[i].name != NULL)
            tw_units_say_text(&said, row->text[i].name, tw_logbook_text(entry, row->text[i].field));
    if (row->typed.name != NULL)
        say_typed(&said, row->typed.name, entry, row->typed.field, row->unit);
    if (row->hour.name != NULL && tw_logbook_time(entry, row->hour.field, &at) == TW_OK)
        tw_units_say_time(&said, row->hour.name, at);
    return said;
}

/* An amount of a substance: added, or in stock; beside a strength that its box has of its own. */
static tw_said describe_amount(const tw_entry *entry, tw_message message, tw_message with_box)
{
    const int strength = tw_logbook_has(entry, TW_FIELD_STRENGTH), available = tw_logbook_has(entry, TW_FIELD_AVAILABLE);
    tw_said said = tw_units_say(strength || available ? with_box : message);
    tw_units_say_text(&said, "what", tw_answer_substance_name(entry));
    if (available)
        say_typed(&said, "box", entry, TW_FIELD_AVAILABLE, TW_FIELD_AVAILABLE_UNIT);
    else if (strength)
        say_in(&said, "box", entry, TW_FIELD_STRENGTH, tw_units_text("%"));
    if (tw_logbook_has(entry, TW_FIELD_AMOUNT))
        say_typed(&said, "amount", entry, TW_FIELD_AMOUNT, TW_FIELD_AMOUNT_UNIT);
    return said;
}

static tw_said describe_tub(const tw_entry *entry)
{
    const int has_volume = tw_logbook_has(entry, TW_FIELD_VOLUME);
    tw_said said = tw_units_say(has_volume ? TW_SAY_ENTRY_TUB_VOLUME : TW_SAY_ENTRY_TUB);
    tw_units_say_text(&said, "name", tw_logbook_text(entry, TW_FIELD_NAME));
    if (has_volume)
        say_typed(&said, "volume", entry, TW_FIELD_VOLUME, TW_FIELD_VOLUME_UNIT);
    return said;
}

static tw_said describe_bathers(const tw_entry *entry)
{
    tw_said said = tw_units_say(TW_SAY_ENTRY_BATHERS);
    double number = 0.0;
    (void)tw_logbook_number(entry, TW_FIELD_COUNT, &number);
    tw_units_say_number(&said, "count", number);
    (void)tw_logbook_number(entry, TW_FIELD_MINUTES, &number);
    tw_units_say_number(&said, "minutes", number);
    return said;
}

/* The median of an hour of the monitor. */
static tw_said describe_hour(const tw_entry *entry)
{
    tw_said said = tw_units_say(TW_SAY_ENTRY_MONITOR_HOUR);
    tw_units_say_message(&said, "what", named("analyte-", tw_logbook_text(entry, TW_FIELD_ANALYTE)));
    say_typed(&said, "value", entry, TW_FIELD_MEDIAN, TW_FIELD_UNIT);
    return said;
}

static tw_said describe_standard(const tw_entry *entry)
{
    tw_said said = tw_units_say(TW_SAY_ENTRY_STANDARD);
    tw_units_say_message(&said, "what", named("analyte-", tw_logbook_text(entry, TW_FIELD_ANALYTE)));
    tw_units_say_text(&said, "nominal", tw_logbook_text(entry, TW_FIELD_NOMINAL));
    tw_units_say_message(&said, "by", tw_logbook_has(entry, TW_FIELD_INSTRUMENT)
                                          ? named("by-", tw_logbook_text(entry, TW_FIELD_INSTRUMENT)) : TW_SAY_BY_NONE);
    say_typed(&said, "value", entry, TW_FIELD_VALUE, TW_FIELD_UNIT);
    return said;
}

tw_said tw_answer_describe(const tw_entry *entry)
{
    for (size_t i = 0; i < sizeof PLAIN / sizeof *PLAIN; i++)
        if (PLAIN[i].kind == entry->kind)
            return describe_plain(&PLAIN[i], entry);
    switch ((int)entry->kind) {
    case TW_KIND_READING: return describe_reading(entry);
    case TW_KIND_STANDARD: return describe_standard(entry);
    case TW_KIND_RESPONSE: return describe_response(entry);
    case TW_KIND_INTENT: return describe_intent(entry);
    case TW_KIND_SETTING: return describe_setting(entry);
    case TW_KIND_EXCHANGE: return describe_exchange(entry);
    case TW_KIND_ADDITION: return describe_amount(entry, TW_SAY_ENTRY_ADDITION, TW_SAY_ENTRY_ADDITION_BOX);
    case TW_KIND_STOCK:
        return tw_logbook_has(entry, TW_FIELD_AMOUNT) ? describe_amount(entry, TW_SAY_ENTRY_STOCK_AMOUNT, TW_SAY_ENTRY_STOCK_BOX)
                                                      : describe_amount(entry, TW_SAY_ENTRY_STOCK, TW_SAY_ENTRY_STOCK);
    case TW_KIND_TUB: return describe_tub(entry);
    case TW_KIND_BATHERS: return describe_bathers(entry);
    case TW_KIND_MONITOR_HOUR: return describe_hour(entry);
    default: return tw_units_say(TW_SAY_ENTRY_NEWER);
    }
}
