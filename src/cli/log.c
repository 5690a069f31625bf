/* cli/log.c: the words of a person become entries: read, put to the tub, checked, asked back about,
 * written, answered. Nothing is written unless everything is. */
#include <stdlib.h>
#include <string.h>

#include "answer/odd.h"
#include "answer/say.h"
#include "cli/taken.h"
#include "gen/cli_words.h"

static tw_text value_of(const tw_draft *draft, const char *name)
{
    for (size_t i = 0; i < draft->n; i++)
        if (tw_units_text_is(draft->field[i].field, name))
            return draft->field[i].value;
    return (tw_text){"", 0};
}

/* ---- composing --------------------------------------------------------------------------------- */

/* A tub entry needs its name; one that is described again has it already. */
static void complete(tw_taken *t, tw_draft *draft, size_t readings)
{
    if (draft->kind == TW_KIND_TUB && value_of(draft, "name").n == 0 && t->tub.name.n > 0)
        (void)tw_cli_taken_field(draft, "name", t->tub.name);
    if (draft->kind == TW_KIND_READING && readings > 1 && value_of(draft, "sample").n == 0)
        (void)tw_cli_taken_field(draft, "sample", tw_units_text(t->sample));
    if (draft->kind == TW_KIND_INTENT && value_of(draft, "act").n == 0)
        (void)tw_cli_taken_field(draft, "act", tw_units_text("add"));
}

/* "Nothing was written.", and what was probably meant by a reading that cannot be. */
static void say_refused(tw_cli *cli, tw_core *core, const tw_taken *t, const tw_draft *draft, const tw_fault *fault,
                        char *out, size_t cap)
{
    const tw_text analyte = value_of(draft, "analyte");
    char meant[TW_DECIMAL_BYTES];
    double typed = 0.0;
    double instead = 0.0;
    const int outside = strcmp(tw_logbook_fault_name(fault->id), "above") == 0 || strcmp(tw_logbook_fault_name(fault->id), "below") == 0;
    const int found = outside && draft->kind == TW_KIND_READING && tw_units_text_is(tw_units_text(fault->field), "value") &&
                      tw_units_decimal_read(tw_units_text(fault->value), &typed, NULL) == TW_OK &&
                      tw_answer_odd_instead(core, &t->tub, cli->now, analyte, typed, &instead) &&
                      tw_units_decimal_write(instead, tw_logbook_analyte(tw_logbook_find_word(TW_SET_ANALYTE, analyte))->decimals, meant, sizeof meant) > 0;
    if (found)
        (void)snprintf(out, cap, "Did you mean %s? Nothing was written.", meant);
    else
        (void)snprintf(out, cap, "Nothing was written.");
}

static int compose_one(tw_cli *cli, tw_core *core, tw_taken *t, tw_draft *draft)
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
        (void)tw_logbook_fault_text(&fault, tw_answer_language(core), text, sizeof text);
        const char *const members[][2] = {{"field", fault.field}, {"value", fault.value}, {"allowed", fault.allowed},
                                          {"fault", tw_logbook_fault_name(fault.id)}};
        char detail[96];
        say_refused(cli, core, t, draft, &fault, detail, sizeof detail);
        return tw_cli_problem_with(cli, TW_EXIT_BAD_INPUT, "entry", text, detail, 4, members);
    }
    t->draft[t->drafts++] = (tw_text){t->room[k], length};
    return 0;
}

static int compose_all(tw_cli *cli, tw_core *core, tw_taken *t)
{
    size_t readings = 0;
    for (size_t i = 0; i < t->words.drafts; i++)
        readings += t->words.draft[i].kind == TW_KIND_READING;
    tw_cli_new_id(cli, t->sample);
    if (tw_units_time_write(t->words.at, t->at, sizeof t->at) != TW_OK || tw_units_time_write(cli->now, t->entered, sizeof t->entered) != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "time", "the time is outside the years 1970 to 2199", NULL);
    for (size_t i = 0; i < t->words.drafts; i++) {
        complete(t, &t->words.draft[i], readings);
        const int trouble = compose_one(cli, core, t, &t->words.draft[i]);
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
static int ask_back(tw_cli *cli, tw_cli_book *book, const tw_taken *t)
{
    if (cli->yes || t->drafts == 0)
        return 0;
    tw_said question[TW_ODD_QUESTIONS];
    tw_tub known;
    if (tw_answer_odd_questions(book->core, &t->tub, cli->now, t->draft, t->drafts, question) == 0)
        return 0;
    if (tw_logbook_book_tub(book->core->book, t->tub.id, cli->now, &known) != TW_OK) { /* a new tub has no card yet */
        char text[TW_SENTENCE_BYTES];
        size_t length = 0;
        (void)tw_answer_say(&question[0], tw_answer_language(book->core), cli->shown, cli->now, text, sizeof text, &length);
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "asked-back", text, "Write it again as it is meant, or as it is with --yes.");
    }
    return ask_with(cli, book, "check", t->draft, t->drafts);
}

static int write_down(tw_cli *cli, tw_cli_book *book, tw_taken *t)
{
    int trouble = tw_cli_who(cli, book->store, book->store != NULL, t->role, t->by);
    if (trouble == 0)
        trouble = tw_cli_settle(cli, book->core, t);
    if (trouble == 0)
        trouble = compose_all(cli, book->core, t);
    if (trouble == 0)
        trouble = tw_cli_waivers_may(cli, t);
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
static void begin_tub(tw_cli *cli, tw_taken *t, char id[TW_ID_BYTES])
{
    tw_cli_new_id(cli, id);
    memset(&t->tub, 0, sizeof t->tub);
    t->tub.id = tw_units_text(id);
}

int tw_cli_take_words(tw_cli *cli, tw_cli_book *book, size_t n, const char *const *word)
{
    char new_id[TW_ID_BYTES];
    const char *tub_before = cli->tub;
    tw_taken *t = calloc(1, sizeof *t);
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
        (void)fprintf(cli->out, "%-32s %s\n", tw_cli_log_words[i].example, tw_cli_say(cli, tw_cli_log_words[i].meaning));
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
