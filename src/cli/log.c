/* cli/log.c: the words of a person become entries: read, put to the tub, checked, asked back about,
 * written, answered. Nothing is written unless everything is. */
#include <stdlib.h>
#include <string.h>

#include "answer/act.h"
#include "cli/answers.h"
#include "cli/words.h"
#include "gen/cli_words.h"
#include "logbook/book.h"
#include "num/sha256.h"
#include "units/decimal.h"

#define MOST_LINES (2 * TW_DRAFTS)

/* Everything of one line of words; large, so it is allocated. */
typedef struct {
    tw_words words;
    char id[MOST_LINES][TW_ID_BYTES];
    char room[MOST_LINES][TW_LINE_BYTES];
    tw_text draft[MOST_LINES];
    size_t drafts;
    char sample[TW_ID_BYTES];
    char at[TW_TIME_BYTES], entered[TW_TIME_BYTES], good_until[TW_TIME_BYTES];
    char digest[TW_SHA256_HEX], seal[TW_SHA256_HEX];
    char amount[TW_DECIMAL_BYTES];
    char role[17], by[97];
    tw_tub tub;
} taken;

static int field(tw_draft *draft, const char *name, tw_text value)
{
    if (draft->n == TW_DRAFT_FIELDS)
        return 1;
    draft->field[draft->n++] = (tw_typed){tw_units_text(name), value};
    return 0;
}

static tw_text value_of(const tw_draft *draft, const char *name)
{
    for (size_t i = 0; i < draft->n; i++)
        if (tw_units_text_is(draft->field[i].field, name))
            return draft->field[i].value;
    return (tw_text){"", 0};
}

static tw_draft *add_draft(taken *t, tw_kind kind)
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

/* What was announced is done: the dose of the intent becomes an addition. */
static void add_from_intent(taken *t, const tw_entry *intent)
{
    static const tw_field COPIED[] = {TW_FIELD_SUBSTANCE, TW_FIELD_AMOUNT, TW_FIELD_AMOUNT_UNIT, TW_FIELD_STRENGTH};
    const int other = t->words.amount.n > 0;
    tw_draft *draft = add_draft(t, TW_KIND_ADDITION);
    if (draft == NULL)
        return;
    for (size_t i = 0; i < sizeof COPIED / sizeof COPIED[0]; i++)
        if (tw_logbook_has(intent, COPIED[i]) && !(other && (COPIED[i] == TW_FIELD_AMOUNT || COPIED[i] == TW_FIELD_AMOUNT_UNIT)))
            (void)field(draft, tw_logbook_field_name(COPIED[i]), tw_logbook_text(intent, COPIED[i]));
    if (other) {
        (void)field(draft, "amount", t->words.amount);
        (void)field(draft, "amount_unit", t->words.unit.n > 0 ? t->words.unit : tw_logbook_text(intent, TW_FIELD_AMOUNT_UNIT));
    }
    (void)field(draft, "intent", intent->id);
}

/* What was advised is done: its dose or setting is written as a fact of its own. */
static void add_from_act(taken *t, const tw_act *act)
{
    if (act->verb == TW_VERB_ADD && act->substance >= 0) {
        tw_draft *draft = add_draft(t, TW_KIND_ADDITION);
        if (draft == NULL)
            return;
        (void)tw_units_decimal_write(act->amount, act->amount_decimals, t->amount, sizeof t->amount);
        (void)field(draft, "substance", tw_units_text(tw_answer_act_substance(act)));
        (void)field(draft, "amount", t->words.amount.n > 0 ? t->words.amount : tw_units_text(t->amount));
        (void)field(draft, "amount_unit", t->words.unit.n > 0 ? t->words.unit : tw_units_text(act->amount_unit));
    }
    if (act->verb == TW_VERB_SET && act->setting >= 0) {
        const int duty = act->setting == TW_SETTING_DUTY;
        tw_draft *draft = add_draft(t, TW_KIND_SETTING);
        if (draft == NULL)
            return;
        (void)field(draft, "what", tw_units_text(tw_logbook_word_name(TW_SET_SETTING, act->setting)));
        if (tw_logbook_settings[act->setting].number) {
            (void)tw_units_decimal_write(duty ? act->setting_value * 100.0 : act->setting_value, 0, t->amount, sizeof t->amount);
            (void)field(draft, "value", tw_units_text(t->amount));
            (void)field(draft, "unit", tw_units_text(duty ? "pct" : "Cel"));
        } else {
            (void)field(draft, "state", tw_units_text(act->setting_value > 0.5 ? "on" : "off"));
        }
    }
    if (act->verb == TW_VERB_AIR) {
        tw_draft *draft = add_draft(t, TW_KIND_CARE);
        if (draft != NULL) {
            (void)field(draft, "job", tw_units_text("aerate"));
            (void)field(draft, "state", tw_units_text("done"));
        }
    }
}

static int really_done(const taken *t)
{
    return t->words.outcome == TW_OUTCOME_DONE || t->words.outcome == TW_OUTCOME_DONE_DIFFERENTLY;
}

static int add_response(taken *t, const char *about, tw_text which, const tw_act *act)
{
    tw_draft *draft = add_draft(t, TW_KIND_RESPONSE);
    if (draft == NULL)
        return 1;
    (void)field(draft, about, which);
    (void)field(draft, "outcome", tw_units_text(tw_logbook_word_name(TW_SET_OUTCOME, t->words.outcome)));
    if (t->words.reason.n > 0)
        (void)field(draft, "reason", t->words.reason);
    if (t->words.amount.n > 0) {
        (void)field(draft, "amount", t->words.amount);
        if (t->words.unit.n > 0)
            (void)field(draft, "amount_unit", t->words.unit);
    }
    if (act != NULL) {
        tw_sha256_hex(act->digest, t->digest);
        (void)field(draft, "advice", tw_units_text(t->digest));
    }
    return 0;
}

/* done, couldn't, later, ...: of what was announced, or else of what the card says. */
static int settle_outcome(tw_cli *cli, tw_core *core, taken *t)
{
    const tw_entry *open[8];
    size_t count = 0;
    tw_status status = TW_OK;
    (void)tw_logbook_book_open_intents(core->book, t->tub.id, cli->now, open, 8, &count);
    if (count > 0) {
        if (t->words.outcome == TW_OUTCOME_DONE_DIFFERENTLY && t->words.amount.n == 0 && tw_logbook_has(open[0], TW_FIELD_AMOUNT))
            return asks(cli, "how much was it?", "Write: tubwright log differently 79 g");
        if (really_done(t) && tw_logbook_has(open[0], TW_FIELD_SUBSTANCE))
            add_from_intent(t, open[0]);
        return add_response(t, "intent", open[0]->id, NULL);
    }
    const tw_act *act = tw_answer_act(core, &t->tub, cli->now, &status);
    if (act == NULL)
        return tw_cli_trouble(cli, (int)status, "the next act");
    if (act->verb == TW_VERB_NONE || act->verb == TW_VERB_WAIT)
        return asks(cli, "there is nothing to answer now", "Write what was done: tubwright log added 97 g dry acid");
    if (act->verb == TW_VERB_TEST && really_done(t))
        return asks(cli, "what was read?", "Write it: tubwright log ph=7.4 ta=120 by drops");
    if (act->verb == TW_VERB_ASK && really_done(t))
        return asks(cli, "the card asks a question", "Answer it: tubwright log reply QUESTION=yes, no or unknown");
    if (act->verb == TW_VERB_ADD && t->words.outcome == TW_OUTCOME_DONE_DIFFERENTLY && t->words.amount.n == 0)
        return asks(cli, "how much was it?", "Write: tubwright log differently 79 g");
    if (really_done(t))
        add_from_act(t, act);
    return add_response(t, "act", tw_units_text(tw_answer_act_name(act)), act);
}

/* "adding" alone: what the card says is about to be done. Acting on old advice asks first. */
static int settle_announced(tw_cli *cli, tw_core *core, taken *t)
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
    (void)field(draft, "act", tw_units_text(tw_answer_act_name(act)));
    (void)field(draft, "substance", tw_units_text(tw_answer_act_substance(act)));
    (void)field(draft, "amount", tw_units_text(t->amount));
    (void)field(draft, "amount_unit", tw_units_text(act->amount_unit));
    (void)field(draft, "advice", tw_units_text(t->digest));
    (void)field(draft, "version", tw_units_text(TW_VERSION));
    (void)field(draft, "logbook", tw_units_text(t->seal));
    (void)field(draft, "good_until", tw_units_text(t->good_until));
    return 0;
}

/* ---- taking back ------------------------------------------------------------------------------- */

/* The last line that was written: every entry of the tub with the latest time of writing. */
static int settle_void(tw_cli *cli, tw_core *core, taken *t)
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
        (void)field(draft, "target", entry->id);
        if (t->words.reason.n > 0)
            (void)field(draft, "reason", t->words.reason);
        found++;
    }
    return found > 0 ? 0 : asks(cli, "no such entry", "Ids are shown by: tubwright logbook --json");
}

/* ---- composing --------------------------------------------------------------------------------- */

/* A tub entry needs its name; one that is described again has it already. */
static void complete(taken *t, tw_draft *draft, size_t readings)
{
    if (draft->kind == TW_KIND_TUB && value_of(draft, "name").n == 0 && t->tub.name.n > 0)
        (void)field(draft, "name", t->tub.name);
    if (draft->kind == TW_KIND_READING && readings > 1 && value_of(draft, "sample").n == 0)
        (void)field(draft, "sample", tw_units_text(t->sample));
    if (draft->kind == TW_KIND_INTENT && value_of(draft, "act").n == 0)
        (void)field(draft, "act", tw_units_text("add"));
}

static int compose_one(tw_cli *cli, taken *t, tw_draft *draft)
{
    tw_typed typed[TW_DRAFT_FIELDS + 8];
    size_t n = 0;
    size_t length = 0;
    tw_fault fault;
    memset(&fault, 0, sizeof fault);
    const size_t k = t->drafts;
    tw_cli_new_id(cli, t->id[k]);
    typed[n++] = (tw_typed){{"id", 2}, tw_units_text(t->id[k])};
    typed[n++] = (tw_typed){{"kind", 4}, tw_units_text(tw_logbook_kind_name(draft->kind))};
    typed[n++] = (tw_typed){{"tub", 3}, t->tub.id};
    typed[n++] = (tw_typed){{"at", 2}, tw_units_text(t->at)};
    typed[n++] = (tw_typed){{"entered", 7}, tw_units_text(t->entered)};
    if (t->role[0] != '\0')
        typed[n++] = (tw_typed){{"role", 4}, tw_units_text(t->role)};
    if (t->by[0] != '\0')
        typed[n++] = (tw_typed){{"by", 2}, tw_units_text(t->by)};
    for (size_t i = 0; i < draft->n; i++)
        typed[n++] = draft->field[i];
    const tw_status status = tw_logbook_compose(typed, n, TW_CHECK_DRAFT, t->room[k], TW_LINE_BYTES, &length, &fault);
    if (status != TW_OK) {
        char text[TW_FAULT_TEXT_BYTES];
        (void)tw_logbook_fault_text(&fault, text, sizeof text);
        const char *const members[][2] = {{"field", fault.field}, {"value", fault.value}, {"allowed", fault.allowed},
                                          {"fault", tw_logbook_fault_name(fault.id)}};
        return tw_cli_problem_with(cli, TW_EXIT_BAD_INPUT, "entry", text, "Nothing was written.", 4, members);
    }
    t->draft[t->drafts++] = (tw_text){t->room[k], length};
    return 0;
}

static int compose_all(tw_cli *cli, taken *t)
{
    size_t readings = 0;
    for (size_t i = 0; i < t->words.drafts; i++)
        readings += t->words.draft[i].kind == TW_KIND_READING;
    tw_cli_new_id(cli, t->sample);
    if (tw_units_time_write(t->words.at, t->at, sizeof t->at) != TW_OK || tw_units_time_write(cli->now, t->entered, sizeof t->entered) != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "time", "the time is outside the years 1970 to 2199", NULL);
    for (size_t i = 0; i < t->words.drafts; i++) {
        complete(t, &t->words.draft[i], readings);
        const int trouble = compose_one(cli, t, &t->words.draft[i]);
        if (trouble != 0)
            return trouble;
    }
    return 0;
}

/* Lines one under another, for the payload of a question. Freed by the caller. */
static char *joined(const tw_text *line, size_t n)
{
    size_t bytes = 1;
    for (size_t i = 0; i < n; i++)
        bytes += line[i].n + 1;
    char *text = malloc(bytes);
    if (text == NULL)
        return NULL;
    size_t at = 0;
    for (size_t i = 0; i < n; i++) {
        memcpy(text + at, line[i].at, line[i].n);
        at += line[i].n;
        text[at++] = '\n';
    }
    text[at] = '\0';
    return text;
}

static int ask_with(tw_cli *cli, tw_cli_book *book, const char *word, const tw_text *line, size_t n)
{
    char *payload = joined(line, n);
    if (payload == NULL)
        return tw_cli_trouble(cli, TW_ERR_CAPACITY, "the memory of this machine");
    const int code = tw_cli_answer(cli, book, word, NULL, payload);
    free(payload);
    return code;
}

/* What is odd is asked back, unless the person insists. 0: nothing was asked. */
static int ask_back(tw_cli *cli, tw_cli_book *book, const taken *t)
{
    if (cli->yes || t->drafts == 0)
        return 0;
    if (!tw_answer_odd(book->core, &t->tub, cli->now, t->draft, t->drafts))
        return 0;
    return ask_with(cli, book, "check", t->draft, t->drafts);
}

static int settle(tw_cli *cli, tw_cli_book *book, taken *t)
{
    tw_core *core = book->core;
    int trouble = 0;
    if (t->words.outcome >= 0)
        trouble = settle_outcome(cli, core, t);
    if (trouble == 0 && t->words.announces)
        trouble = settle_announced(cli, core, t);
    if (trouble == 0 && t->words.voids.n > 0)
        trouble = settle_void(cli, core, t);
    if (trouble == 0 && t->words.drafts == 0)
        trouble = tw_cli_problem(cli, TW_EXIT_USAGE, "nothing", "there is nothing to write", "See tubwright log --help.");
    return trouble;
}

static int write_down(tw_cli *cli, tw_cli_book *book, taken *t)
{
    int trouble = tw_cli_who(cli, book->store, book->store != NULL, t->role, t->by);
    if (trouble == 0)
        trouble = settle(cli, book, t);
    if (trouble == 0)
        trouble = compose_all(cli, t);
    if (trouble != 0)
        return trouble;
    if (cli->option[TW_OPTION_DRY_RUN] != NULL) {
        for (size_t i = 0; i < t->drafts; i++)
            (void)fprintf(cli->out, "%.*s\n", (int)t->draft[i].n, t->draft[i].at);
        return TW_EXIT_OK;
    }
    trouble = ask_back(cli, book, t);
    if (trouble == 0)
        trouble = tw_cli_book_write(cli, book, t->draft, t->drafts, NULL, NULL);
    if (trouble != 0)
        return trouble;
    return ask_with(cli, book, "logged", t->draft, t->drafts);
}

/* A new tub: its own id, its name. */
static void begin_tub(tw_cli *cli, taken *t, char id[TW_ID_BYTES])
{
    tw_cli_new_id(cli, id);
    memset(&t->tub, 0, sizeof t->tub);
    t->tub.id = tw_units_text(id);
}

int tw_cli_take_words(tw_cli *cli, tw_cli_book *book, size_t n, const char *const *word)
{
    char new_id[TW_ID_BYTES];
    const char *tub_before = cli->tub;
    taken *t = calloc(1, sizeof *t);
    if (t == NULL)
        return tw_cli_trouble(cli, TW_ERR_CAPACITY, "the memory of this machine");
    int trouble = 0;
    const int makes = n >= 2 && strcmp(word[0], "tub") == 0 && strcmp(word[1], "new") == 0;
    if (makes) {
        static const char *const TUB = "tub";
        const char *words[64] = {TUB};
        size_t m = 1;
        for (size_t i = 2; i < n && m < 64; i++)
            words[m++] = word[i];
        trouble = tw_cli_words_read(m, words, cli->now, &t->words);
        begin_tub(cli, t, new_id);
        cli->tub = new_id;
    } else {
        trouble = tw_cli_words_read(n, word, cli->now, &t->words);
    }
    if (trouble != 0)
        trouble = tw_cli_problem(cli, TW_EXIT_USAGE, "words", t->words.problem, "Nothing was written.");
    else if (!makes)
        trouble = tw_cli_the_tub(cli, book, &t->tub);
    if (trouble == 0)
        trouble = write_down(cli, book, t);
    if (makes)
        cli->tub = tub_before;
    free(t);
    return trouble;
}

/* ---- the command ------------------------------------------------------------------------------- */

static int show_words(tw_cli *cli)
{
    for (int i = 0; i < TW_LOG_WORDS; i++)
        (void)fprintf(cli->out, "%-32s %s\n", tw_cli_log_words[i].example, tw_cli_log_words[i].meaning);
    return TW_EXIT_OK;
}

int tw_cli_log(tw_cli *cli, int argc, char **argv)
{
    tw_cli_book book;
    if (cli->option[TW_OPTION_WORDS] != NULL)
        return show_words(cli);
    if (argc < 2)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "nothing", "there is nothing to write", "See tubwright log --help.");
    int code = tw_cli_book_open(cli, cli->option[TW_OPTION_DRY_RUN] == NULL ? TW_CLI_BOOK_WRITE : TW_CLI_BOOK_READ, &book);
    if (code == 0)
        code = tw_cli_take_words(cli, &book, (size_t)argc - 1, (const char *const *)(argv + 1));
    tw_cli_book_close(&book);
    return code;
}
