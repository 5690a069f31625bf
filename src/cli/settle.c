/* cli/settle.c: answers to the card, announcements and what is taken back become entries. What they mean
 * depends on what was written before, so the book is looked at. */
#include <stdio.h>
#include <string.h>

#include "answer/act.h"
#include "cli/substance.h"
#include "cli/taken.h"
#include "dose/substance.h"
#include "logbook/book.h"
#include "procedure/tables.h"

int tw_cli_taken_field(tw_draft *draft, const char *name, tw_text value)
{
    if (draft->n == TW_DRAFT_FIELDS)
        return 1;
    draft->field[draft->n++] = (tw_typed){tw_units_text(name), value};
    return 0;
}

static tw_draft *add_draft(tw_taken *t, tw_kind kind)
{
    if (t->words.drafts == TW_DRAFTS)
        return NULL;
    tw_draft *draft = &t->words.draft[t->words.drafts++];
    draft->kind = kind;
    draft->n = 0;
    return draft;
}

/* ---- answers to the card ----------------------------------------------------------------------- */

static int asks(tw_cli *cli, const char *title, const char *detail)
{
    return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "asked-back", title, detail);
}

/* What "done" alone does not say: what was read, how warm, how much, or the answer. */
static const char *left_open(const tw_act *act)
{
    if (act->verb == TW_VERB_TEST)
        return "Write what was read: tubwright log ph=7.4 ta=120 by drops";
    if (act->verb == TW_VERB_DO)
        return tw_procedure_conditions[act->unmet].predicate == TW_PREDICATE_WARM ? "Write the temperature: tubwright log temp=38"
                                                                                 : "Write how much: tubwright log filled 1180 L of hose";
    return "The card asks a question; HOW says the words that answer it.";
}

/* What the core says that "done" writes, with another amount of a dose where the person gave one. */
static void add_facts(tw_taken *t)
{
    for (size_t i = 0; i < t->done.facts; i++) {
        const tw_done_entry *fact = &t->done.fact[i];
        tw_draft *draft = add_draft(t, fact->kind);
        if (draft == NULL)
            return;
        for (size_t k = 0; k < fact->n; k++) {
            tw_text value = fact->field[k].value;
            if (fact->kind == TW_KIND_ADDITION && t->words.amount.n > 0 && tw_units_text_is(fact->field[k].field, "amount"))
                value = t->words.amount;
            if (fact->kind == TW_KIND_ADDITION && t->words.unit.n > 0 && tw_units_text_is(fact->field[k].field, "amount_unit"))
                value = t->words.unit;
            draft->field[draft->n++] = (tw_typed){fact->field[k].field, value};
        }
    }
}

static int really_done(const tw_taken *t)
{
    return t->words.outcome == TW_OUTCOME_DONE || t->words.outcome == TW_OUTCOME_DONE_DIFFERENTLY;
}

static int add_response(tw_taken *t)
{
    tw_draft *draft = add_draft(t, TW_KIND_RESPONSE);
    if (draft == NULL)
        return 1;
    for (size_t k = 0; k < t->done.response.n; k++)
        draft->field[draft->n++] = t->done.response.field[k];
    (void)tw_cli_taken_field(draft, "outcome", tw_units_text(tw_logbook_word_name(TW_SET_OUTCOME, t->words.outcome)));
    if (t->words.reason.n > 0)
        (void)tw_cli_taken_field(draft, "reason", t->words.reason);
    if (t->words.amount.n > 0) {
        (void)tw_cli_taken_field(draft, "amount", t->words.amount);
        if (t->words.unit.n > 0)
            (void)tw_cli_taken_field(draft, "amount_unit", t->words.unit);
    }
    return 0;
}

/* How much was it? Where done differently says so little. */
static int lacks_amount(const tw_taken *t, const tw_act *act)
{
    const int dose = t->done.intent != NULL ? tw_logbook_has(t->done.intent, TW_FIELD_AMOUNT) : act->verb == TW_VERB_ADD;
    return dose && t->words.outcome == TW_OUTCOME_DONE_DIFFERENTLY && t->words.amount.n == 0;
}

/* done, couldn't, later, ...: of what was announced, or else of what the card says. */
static int settle_outcome(tw_cli *cli, tw_core *core, tw_taken *t)
{
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(core, &t->tub, cli->now, &status);
    if (act == NULL)
        return tw_cli_trouble(cli, (int)status, "the next act");
    tw_answer_done(core, &t->tub, cli->now, act, &t->done);
    if (!t->done.answerable)
        return asks(cli, "there is nothing to answer now", "Write what was done: tubwright log added 97 g dry acid");
    if (really_done(t) && !t->done.enough)
        return asks(cli, "done is not enough here", left_open(act));
    if (lacks_amount(t, act))
        return asks(cli, "how much was it?", "Write: tubwright log differently 79 g");
    const int trouble = t->done.intent == NULL && t->words.outcome == TW_OUTCOME_NOT_APPLICABLE ? tw_cli_may_not_apply(cli, t, act) : 0;
    if (trouble != 0)
        return trouble;
    if (really_done(t))
        add_facts(t);
    return add_response(t);
}

/* "adding" alone: what the card says is about to be done. Acting on old advice asks first. */
static int settle_announced(tw_cli *cli, tw_core *core, tw_taken *t)
{
    uint8_t seal[TW_SHA256_BYTES];
    tw_status status = TW_OK;
    const tw_act *act = tw_answer_act(core, &t->tub, cli->now, &status);
    if (act == NULL)
        return tw_cli_trouble(cli, (int)status, "the next act");
    if (act->verb != TW_VERB_ADD || act->substance < 0)
        return asks(cli, "nothing is to be added now", "See: tubwright now. Another dose is announced by: log adding 97 g dry acid");
    tw_draft *draft = add_draft(t, TW_KIND_INTENT);
    if (draft == NULL)
        return 1;
    (void)tw_units_decimal_write(act->amount, act->amount_decimals, t->amount, sizeof t->amount);
    (void)tw_units_time_write(act->good_until, t->good_until, sizeof t->good_until);
    tw_sha256_hex(act->digest, t->digest);
    tw_logbook_book_digest_tub(core->book, t->tub.id, cli->now, seal);
    tw_sha256_hex(seal, t->seal);
    (void)tw_cli_taken_field(draft, "act", tw_units_text(tw_answer_act_name(act)));
    (void)tw_cli_taken_field(draft, "substance", tw_units_text(tw_answer_act_substance(act)));
    (void)tw_cli_taken_field(draft, "amount", tw_units_text(t->amount));
    (void)tw_cli_taken_field(draft, "amount_unit", tw_units_text(act->amount_unit));
    (void)tw_cli_taken_field(draft, "advice", tw_units_text(t->digest));
    (void)tw_cli_taken_field(draft, "version", tw_units_text(TW_VERSION));
    (void)tw_cli_taken_field(draft, "logbook", tw_units_text(t->seal));
    (void)tw_cli_taken_field(draft, "good_until", tw_units_text(t->good_until));
    return 0;
}

/* ---- taking back ------------------------------------------------------------------------------- */

/* The last line that was written: every entry of the tub with the latest time of writing. */
static int settle_void(tw_cli *cli, tw_core *core, tw_taken *t)
{
    const size_t count = tw_logbook_book_count(core->book);
    const int last = tw_units_text_is(t->words.voids, "last");
    int64_t latest = INT64_MIN;
    size_t found = 0;
    for (size_t i = 0; i < count; i++) {
        const tw_entry *entry = tw_logbook_book_at(core->book, i);
        if (tw_units_text_equal(entry->tub, t->tub.id) && tw_logbook_book_used(core->book, i, cli->now) && entry->entered.utc_s > latest)
            latest = entry->entered.utc_s;
    }
    for (size_t i = 0; i < count; i++) {
        const tw_entry *entry = tw_logbook_book_at(core->book, i);
        const int meant = last ? tw_logbook_book_used(core->book, i, cli->now) && entry->entered.utc_s == latest
                               : tw_units_text_equal(entry->id, t->words.voids);
        if (!meant || !tw_units_text_equal(entry->tub, t->tub.id) || entry->kind == TW_KIND_TUB)
            continue;
        tw_draft *draft = add_draft(t, TW_KIND_VOID);
        if (draft == NULL)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "too-many", "that line has more entries than can be taken back at once", NULL);
        (void)tw_cli_taken_field(draft, "target", entry->id);
        if (t->words.reason.n > 0)
            (void)tw_cli_taken_field(draft, "reason", t->words.reason);
        found++;
    }
    return found > 0 ? 0 : asks(cli, "no such entry", "Ids are shown by: tubwright logbook --json");
}

/* "one dose or two?" is asked about an entry: the reply names it. */
static void name_what_is_asked(tw_cli *cli, tw_core *core, tw_taken *t)
{
    tw_doubt doubt[16];
    size_t count = 0;
    for (size_t i = 0; i < t->words.drafts; i++) {
        tw_draft *draft = &t->words.draft[i];
        int asked = 0;
        for (size_t k = 0; k < draft->n; k++)
            asked += tw_units_text_is(draft->field[k].field, "question") && tw_units_text_is(draft->field[k].value, "same-dose");
        if (draft->kind != TW_KIND_REPLY || !asked)
            continue;
        (void)tw_logbook_book_doubts(core->book, t->tub.id, cli->now, doubt, 16, &count);
        for (size_t k = 0; k < count && k < 16; k++)
            if (doubt[k].kind == TW_DOUBT_SAME_DOSE) {
                (void)tw_cli_taken_field(draft, "about", doubt[k].entry->id);
                break;
            }
    }
}

static int has_field(const tw_draft *draft, const char *name)
{
    for (size_t k = 0; k < draft->n; k++)
        if (tw_units_text_is(draft->field[k].field, name))
            return 1;
    return 0;
}

/* ---- names of the user's own ------------------------------------------------------------------- */

/* The scoop or substance that was defined under this name, last; NULL when there is none. */
static const tw_entry *defined(tw_cli *cli, tw_core *core, const tw_taken *t, int what, tw_text name)
{
    const tw_entry *found = NULL, *e;
    size_t cursor = 0;
    while ((e = tw_logbook_book_next(core->book, t->tub.id, cli->now, &cursor)) != NULL)
        if (e->kind == TW_KIND_DEFINITION && tw_logbook_word(e, TW_FIELD_DEFINES) == what &&
            tw_units_text_equal(tw_logbook_text(e, TW_FIELD_NAME), name))
            found = e;
    return found;
}

/* "2 scoops red cup": the definition says which scoop, and what it is filled with. An id, or a substance
 * beside it, is an entry written field by field, as an export has it: the check of the entry has its word. */
static int settle_scoop(tw_cli *cli, tw_core *core, tw_taken *t, tw_draft *draft, tw_typed *scoop)
{
    const tw_entry *e = defined(cli, core, t, TW_DEFINES_SCOOP, scoop->value);
    if (e == NULL && scoop->value.n == TW_ID_CHARS)
        return 0;
    if (e == NULL)
        return asks(cli, "no scoop of that name", "Weigh one full scoop, then write: tubwright log define scoop 'red cup' full=60g substance=salt");
    scoop->value = e->id;
    if (!tw_logbook_has(e, TW_FIELD_SUBSTANCE))
        return asks(cli, "what fills that scoop?", "Define it with what it is filled with: tubwright log define scoop 'red cup' full=60g substance=salt");
    return tw_cli_taken_field(draft, "substance", tw_logbook_text(e, TW_FIELD_SUBSTANCE));
}

/* A word that stands on boxes of several products: what the box names as its substance decides. */
static int which_of(tw_cli *cli, const char *ids)
{
    char detail[200];
    (void)snprintf(detail, sizeof detail, "Boxes of several products say that. Write the substance that the box names: %s", ids);
    return asks(cli, "which product is it?", detail);
}

/* A product like a known one: its totals follow the strength, so its charges balance as the row's; its mass must too. */
static int is_too_strong(const tw_draft *draft)
{
    tw_text like = {NULL, 0}, strength = {NULL, 0};
    double percent = 0.0;
    int decimals = 0;
    for (size_t k = 0; k < draft->n; k++) {
        if (tw_units_text_is(draft->field[k].field, "substance"))
            like = draft->field[k].value;
        if (tw_units_text_is(draft->field[k].field, "strength"))
            strength = draft->field[k].value;
    }
    const tw_substance *row = tw_dose_substance_find(like);
    if (row == NULL || tw_units_decimal_read(strength, &percent, &decimals) != TW_OK)
        return 0;
    const tw_substance made = tw_dose_substance_of_strength(row, percent / 100.0);
    return !tw_dose_substance_holds(&made);
}

static int settle_names(tw_cli *cli, tw_core *core, tw_taken *t)
{
    for (size_t i = 0; i < t->words.drafts; i++) {
        tw_draft *draft = &t->words.draft[i];
        for (size_t k = 0, n = draft->n; k < n; k++) {
            tw_typed *typed = &draft->field[k];
            if (tw_units_text_is(typed->field, "scoop") && !has_field(draft, "substance") && settle_scoop(cli, core, t, draft, typed))
                return TW_EXIT_ASKED_BACK;
            const tw_entry *own = tw_units_text_is(typed->field, "substance") && draft->kind != TW_KIND_DEFINITION
                                      ? defined(cli, core, t, TW_DEFINES_SUBSTANCE, typed->value) : NULL;
            if (own != NULL)
                typed->value = own->id;
            else if (tw_units_text_is(typed->field, "substance") && tw_cli_substance_choice(typed->value) != NULL)
                return which_of(cli, tw_cli_substance_choice(typed->value));
            if (is_too_strong(draft))
                return asks(cli, "no product is that strong", "A gram would hold more than a gram of what it brings. Write the strength of its own substance, as its label says.");
        }
    }
    return 0;
}

int tw_cli_settle(tw_cli *cli, tw_core *core, tw_taken *t)
{
    name_what_is_asked(cli, core, t);
    int trouble = settle_names(cli, core, t);
    if (trouble == 0 && t->words.outcome >= 0)
        trouble = settle_outcome(cli, core, t);
    if (trouble == 0 && t->words.announces)
        trouble = settle_announced(cli, core, t);
    if (trouble == 0 && t->words.voids.n > 0)
        trouble = settle_void(cli, core, t);
    if (trouble == 0)
        trouble = tw_cli_settle_waivers(cli, t);
    if (trouble == 0 && t->words.drafts == 0)
        trouble = tw_cli_problem(cli, TW_EXIT_USAGE, "nothing", "there is nothing to write", "See tubwright log --help.");
    return trouble;
}
