/* cli/prompt.c: a plain guided prompt on the person's own logbook. It shows the card, takes the words
 * of log, answers, and leaves on q. Views may be typed as well. Where the card asks a question, one word
 * is enough, and the words that are stand before the prompt. */
#include <stdlib.h>
#include <string.h>

#include "answer/act.h"
#include "cli/answers.h"
#include "cli/clock.h"
#include "cli/progress.h"
#include "cli/words.h"
#include "procedure/tables.h"

#define MOST_WORDS 64

/* Commands that only ask may be typed instead of words. */
static int is_view(const char *word)
{
    static const char *const VIEWS[] = {"now", "why", "water", "forecast", "logbook", "bathing", "sheet", "ahead", "plan", "worth", "tubs"};
    for (size_t i = 0; i < sizeof VIEWS / sizeof VIEWS[0]; i++)
        if (strcmp(word, VIEWS[i]) == 0)
            return 1;
    return 0;
}

static void help(tw_cli *cli)
{
    static const struct {
        const char *words, *meaning;
    } ROWS[] = {
        {"ph=7.4 ta=120 th=60..120 fc=0 by strips", "what was read"},
        {"added 97 g dry acid", "what was put in"},
        {"adding   done   couldn't 'no acid left'", "the card's act"},
        {"duty=42%   cover=open   note 'windy'", "settings, notes"},
        {"now  why  plan  water  forecast  ahead  worth  logbook  bathing  sheet", NULL},
        {"tub NAME   tub new Deck volume=900L", "another tub"},
        {"q", "leave"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++)
        if (ROWS[i].meaning != NULL)
            (void)fprintf(cli->out, "  %-43s%s\n", ROWS[i].words, tw_cli_say(cli, ROWS[i].meaning));
        else
            (void)fprintf(cli->out, "  %s\n", ROWS[i].words);
}

/* One line of the person into line, without its end. 0: it is there; 1: nothing more comes, or q. */
static int read_line(tw_cli *cli, const char *question, char *line, size_t cap)
{
    (void)fprintf(cli->out, "%s ", tw_cli_say(cli, question));
    (void)fflush(cli->out);
    if (fgets(line, (int)cap, cli->in) == NULL)
        return 1;
    line[strcspn(line, "\r\n")] = '\0';
    return strcmp(line, "q") == 0 || strcmp(line, "quit") == 0 || strcmp(line, "exit") == 0;
}

static int take(tw_cli *cli, tw_cli_book *book, size_t n, const char *const *word)
{
    tw_cli_progress_begin(cli, "estimating");
    const int code = tw_cli_take_words(cli, book, n, word);
    tw_cli_progress_end();
    return code;
}

static int show(tw_cli *cli, tw_cli_book *book, const char *view)
{
    tw_cli_progress_begin(cli, "estimating");
    const int code = tw_cli_answer(cli, book, view, NULL, NULL);
    tw_cli_progress_end();
    return code;
}

/* The first tub: a name and a rough volume are enough. 0: there is a tub now; 1: the person left. */
static int first_tub(tw_cli *cli, tw_cli_book *book, char *line, size_t cap)
{
    char name[64] = "";
    char volume[64];
    (void)fprintf(cli->out, "%s\n", tw_cli_say(cli, "A logbook for your tub begins here. Enter ends a line, q leaves."));
    while (name[0] == '\0') {
        if (read_line(cli, "What is the tub called?", line, cap))
            return 1;
        (void)snprintf(name, sizeof name, "%.40s", line);
    }
    for (;;) {
        const char *words[4] = {"tub", "new", name, NULL};
        if (read_line(cli, "About how much water (1300 L, 350 gal-us)? Empty: don't know.", line, cap))
            return 1;
        /* A bare number is litres, as everywhere. */
        (void)snprintf(volume, sizeof volume, "volume=%.50s", line);
        words[3] = volume;
        if (take(cli, book, line[0] != '\0' ? 4 : 3, words) == TW_EXIT_OK)
            return 0;
    }
}

/* ---- which tub ------------------------------------------------------------------------------------- */

#define MOST_TUBS 16

/* Names of the tubs in one line; how many there are. */
static size_t name_tubs(tw_cli *cli, tw_cli_book *book, char *buf, size_t cap)
{
    tw_tub tub[MOST_TUBS];
    size_t count = 0;
    size_t n = 0;
    (void)tw_logbook_book_tubs(book->core->book, cli->now, tub, MOST_TUBS, &count);
    buf[0] = '\0';
    for (size_t i = 0; i < count && i < MOST_TUBS && n + tub[i].name.n + 2 < cap; i++)
        n += (size_t)snprintf(buf + n, cap - n, "%s%.*s", i > 0 ? ", " : "", (int)tub[i].name.n, tub[i].name.at);
    return count;
}

/* Speak of this tub from now on. 0: it is there. */
static int choose(tw_cli *cli, tw_cli_book *book, char chosen[64], const char *name)
{
    tw_tub tub;
    const char *before = cli->tub;
    char kept[64];
    (void)snprintf(kept, sizeof kept, "%.60s", name);
    cli->tub = kept;
    if (tw_cli_the_tub(cli, book, &tub) != 0) {
        cli->tub = before;
        return 1;
    }
    memcpy(chosen, kept, sizeof kept);
    cli->tub = chosen;
    return 0;
}

static int ask_which(tw_cli *cli, tw_cli_book *book, char chosen[64], char *line, size_t cap)
{
    char names[800];
    while (name_tubs(cli, book, names, sizeof names) > 1 && cli->tub == NULL) {
        (void)fprintf(cli->out, "%s: %s.\n", tw_cli_say(cli, "Tubs"), names);
        if (read_line(cli, "Which one?", line, cap))
            return 1;
        if (line[0] != '\0')
            (void)choose(cli, book, chosen, line);
    }
    return 0;
}

/* ---- one word for the card's question ----------------------------------------------------------------- */

/* What the card asks for. NULL: no question of this kind. */
static const tw_condition_row *asked(tw_cli *cli, tw_cli_book *book, tw_act_id *id)
{
    tw_tub tub;
    tw_status status = TW_OK;
    tw_ask ask;
    memset(&ask, 0, sizeof ask);
    ask.now = cli->now;
    if (cli->tub != NULL)
        ask.tub = tw_units_text(cli->tub);
    if (tw_answer_tub(book->core, &ask, &tub) != TW_OK)
        return NULL;
    const tw_act *act = tw_answer_act(book->core, &tub, cli->now, &status);
    if (act == NULL || act->verb != TW_VERB_ASK || (unsigned)act->unmet >= TW_CONDITIONS)
        return NULL;
    *id = act->id;
    return &tw_procedure_conditions[act->unmet];
}

static const char *hint(const tw_condition_row *row, tw_act_id id)
{
    if (row == NULL)
        return "";
    if (id == TW_ACT_ASK_HISTORY)
        return "(none: none of the six; unknown; or the words of HOW)";
    if (row->predicate == TW_PREDICATE_CONFIRMED)
        return "(yes, no or unknown)";
    if (row->predicate == TW_PREDICATE_NAMED)
        return "(mains, well, tank, softened, rain or unknown)";
    return "";
}

static int one_of(const char *word, const char *const *words)
{
    for (; *words != NULL; words++)
        if (strcmp(word, *words) == 0)
            return 1;
    return 0;
}

/* A single word that answers the card, as the words of log. 0: it is none. */
static size_t spelled(const tw_condition_row *row, tw_act_id id, const char *word, char room[8][48], const char **out)
{
    static const char *const REPLIES[] = {"yes", "no", "unknown", "none", NULL};
    static const char *const ORIGINS[] = {"mains", "well", "tank", "softened", "rain", "unknown", NULL};
    size_t n = 0;
    if (row == NULL)
        return 0;
    if (id == TW_ACT_ASK_HISTORY && one_of(word, REPLIES) && strcmp(word, "yes") != 0) {
        out[n++] = "reply";
        for (int c = 0; c < TW_CONDITIONS && n < 8; c++) {
            if (tw_procedure_conditions[c].predicate != TW_PREDICATE_GONE)
                continue;
            (void)snprintf(room[n], sizeof room[n], "%.30s=%s", tw_procedure_conditions[c].subject, strcmp(word, "unknown") == 0 ? "unknown" : "no");
            out[n] = room[n];
            n++;
        }
    } else if (row->predicate == TW_PREDICATE_CONFIRMED && one_of(word, REPLIES) && strcmp(word, "none") != 0) {
        (void)snprintf(room[0], sizeof room[0], "%.30s=%.10s", row->subject, word);
        out[n++] = "reply";
        out[n++] = room[0];
    } else if (row->predicate == TW_PREDICATE_NAMED && one_of(word, ORIGINS)) {
        (void)snprintf(room[0], sizeof room[0], "origin=%.20s", word);
        out[n++] = "source";
        out[n++] = "hose";
        out[n++] = room[0];
    }
    return n;
}

/* ---- lines ----------------------------------------------------------------------------------------- */

/* tub: which there are; tub NAME: that one; tub new NAME ...: a new one; tub volume=...: about this one. */
static void take_tub(tw_cli *cli, tw_cli_book *book, char chosen[64], size_t n, const char *const *word)
{
    char names[800];
    const int makes = n >= 3 && strcmp(word[1], "new") == 0;
    if (n == 1) {
        (void)name_tubs(cli, book, names, sizeof names);
        (void)fprintf(cli->out, "%s: %s.\n", tw_cli_say(cli, "Tubs"), names);
    } else if (n == 2 && strchr(word[1], '=') == NULL) {
        if (choose(cli, book, chosen, word[1]) == 0)
            (void)show(cli, book, "now");
    } else if (take(cli, book, n, word) == TW_EXIT_OK && makes) {
        (void)choose(cli, book, chosen, word[2]);
    }
}

static void take_line(tw_cli *cli, tw_cli_book *book, char chosen[64], const char *line)
{
    char room[4096];
    char short_room[8][48];
    const char *word[MOST_WORDS];
    const char *answer[8];
    tw_act_id id = TW_ACT_CARE_REST;
    const int n = tw_cli_words_split(line, room, sizeof room, word, MOST_WORDS);
    if (n < 0) {
        (void)tw_cli_problem(cli, TW_EXIT_USAGE, "words", "a quote is not closed, or there are too many words", NULL);
        return;
    }
    if (n == 0)
        return;
    cli->yes = n > 1 && strcmp(word[n - 1], "--yes") == 0;
    const size_t count = (size_t)n - (size_t)cli->yes;
    const size_t from = strcmp(word[0], "log") == 0 ? 1 : 0;
    const tw_condition_row *row = count == 1 ? asked(cli, book, &id) : NULL;
    const size_t spelt = spelled(row, id, word[0], short_room, answer);
    if (spelt > 0)
        (void)take(cli, book, spelt, answer);
    else if (strcmp(word[0], "help") == 0 || strcmp(word[0], "?") == 0)
        help(cli);
    else if (strcmp(word[0], "tub") == 0)
        take_tub(cli, book, chosen, count, word);
    else if (count == 1 && is_view(word[0]))
        (void)show(cli, book, word[0]);
    else if (count > from && take(cli, book, count - from, word + from) == TW_EXIT_USAGE)
        (void)fprintf(cli->out, "%s\n", tw_cli_say(cli, "Type help for the words that may stand here, q to leave."));
}

/* The loop, from the first card on. The exit code of that card. */
static int converse(tw_cli *cli, tw_cli_book *book, char *line, size_t cap)
{
    char chosen[64] = "";
    char question[240];
    char names[800];
    const int fresh = name_tubs(cli, book, names, sizeof names) == 0;
    if (fresh ? first_tub(cli, book, line, cap) != 0 : ask_which(cli, book, chosen, line, cap) != 0)
        return TW_EXIT_OK;
    const int code = fresh ? TW_EXIT_OK : show(cli, book, "now");
    while (cli->option[TW_OPTION_ONCE] == NULL) {
        tw_act_id id = TW_ACT_CARE_REST;
        const tw_condition_row *row = asked(cli, book, &id);
        const char *said = hint(row, id);
        if (said[0] == '\0' && fresh)
            said = "(help: the words; q: leave)";
        (void)snprintf(question, sizeof question, "%s%s%.60s>", tw_cli_say(cli, said), said[0] != '\0' ? "\n" : "", chosen);
        if (read_line(cli, question, line, cap))
            break;
        take_line(cli, book, chosen, line);
        if (!cli->at_given)
            cli->now = tw_cli_clock();
    }
    return code;
}

int tw_cli_prompt(tw_cli *cli, int argc, char **argv)
{
    char line[2048];
    tw_cli_book book;
    (void)argv;
    if (argc > 1)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "words", "this command takes no words", argv[1]);
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_WRITE, &book);
    if (code == 0) {
        code = converse(cli, &book, line, sizeof line);
        if (cli->option[TW_OPTION_ONCE] == NULL)
            code = TW_EXIT_OK;
    }
    tw_cli_book_close(&book);
    return code;
}
