/* procedure/sentence.c: from a row of data/acts.csv and facts to the sentences of an act. */
#include "procedure/sentence.h"

#include <math.h>
#include <string.h>

#include "num/require.h"

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

/* "12:50: test pH, alkalinity." Three analytes a line, each by name. */
static void tell_next(tw_act *act)
{
    static const tw_message BY_TESTS[] = {TW_SAY_NEXT_TEST_ONE, TW_SAY_NEXT_TEST_TWO, TW_SAY_NEXT_TEST_THREE};
    static const char *const NAMES[] = {"a", "b", "c"};
    if (act->verb == TW_VERB_ASK || act->tests == 0) {
        act->next_lines.line[act->next_lines.n++] = tw_units_say(act->verb == TW_VERB_ASK ? TW_SAY_NEXT_ANSWER : TW_SAY_NEXT_WHEN_DONE);
        return;
    }
    for (uint32_t from = 0; from < act->tests; from += 3) {
        const uint32_t n = act->tests - from < 3 ? act->tests - from : 3;
        tw_said said = tw_units_say(BY_TESTS[n - 1]);
        tw_units_say_time(&said, "next", act->next);
        for (uint32_t i = 0; i < n; i++)
            tw_units_say_message(&said, NAMES[i], tw_procedure_analyte_message(act->test[from + i]));
        act->next_lines.line[act->next_lines.n++] = said;
    }
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
    if (act->verb != TW_VERB_STOP && act->next_lines.n == 0)
        tell_next(act);
}
