/* cli/answers.c: a question is put together, the core answers, the answer is printed. */
#include "cli/answers.h"

#include <stdlib.h>
#include <string.h>

#define ANSWER_BYTES ((size_t)8 << 20) /* longest answer: a logbook of some 20,000 entries */

int tw_cli_the_tub(tw_cli *cli, tw_cli_book *book, tw_tub *out)
{
    char detail[400] = "";
    tw_ask ask;
    memset(&ask, 0, sizeof ask);
    ask.now = cli->now;
    if (cli->tub != NULL)
        ask.tub = tw_units_text(cli->tub);
    const tw_status status = tw_answer_tub(book->core, &ask, out);
    if (status == TW_OK)
        return 0;
    if (status == TW_ERR_MISSING)
        return tw_cli_problem(cli, TW_EXIT_ASKED_BACK, "no-tub", "there is no tub yet",
                              "Start with: tubwright tub new Barn volume=1300L");
    tw_tub tub[16];
    size_t count = 0;
    size_t n = 0;
    (void)tw_logbook_book_tubs(book->core->book, cli->now, tub, 16, &count);
    n = (size_t)snprintf(detail, sizeof detail, "Say which with --tub:");
    for (size_t i = 0; i < count && i < 16 && n < sizeof detail - 60; i++)
        n += (size_t)snprintf(detail + n, sizeof detail - n, " %.*s", (int)tub[i].name.n, tub[i].name.at);
    return tw_cli_problem(cli, status == TW_ERR_UNKNOWN ? TW_EXIT_USAGE : TW_EXIT_ASKED_BACK, "which-tub",
                          status == TW_ERR_UNKNOWN ? "there is no such tub" : "there is more than one tub", detail);
}

/* The act is bold on a terminal: the first line after the rule of the card. */
static void print(tw_cli *cli, const char *text, size_t n)
{
    if (!cli->colour) {
        (void)fwrite(text, 1, n, cli->out);
        return;
    }
    int after_rule = 0;
    for (size_t i = 0; i < n;) {
        const char *end = memchr(text + i, '\n', n - i);
        const size_t line = end != NULL ? (size_t)(end - text) - i + 1 : n - i;
        const int rule = line > 40 && (strncmp(text + i, "--------", 8) == 0 || strncmp(text + i, "========", 8) == 0);
        const int bold = after_rule && text[i] != ' ' && text[i] != '\n';
        (void)fprintf(cli->out, "%s%.*s%s%s", bold ? "\033[1m" : "", (int)(line - (end != NULL)), text + i,
                      bold ? "\033[0m" : "", end != NULL ? "\n" : "");
        after_rule = rule;
        i += line;
    }
}

/* "word at=... tub=... as=..." and the rest; NULL when there is no memory. Freed by the caller. */
static char *question(const tw_cli *cli, const char *word, const tw_tub *tub, const char *options, const char *payload)
{
    char at[TW_TIME_BYTES];
    const size_t cap = 400 + strlen(cli->units) + (options != NULL ? strlen(options) : 0) + (payload != NULL ? strlen(payload) : 0);
    char *text = malloc(cap);
    if (text == NULL || tw_units_time_write(cli->now, at, sizeof at) != TW_OK)
        return text;
    const char *form = cli->json ? "json" : "text";
    (void)snprintf(text, cap, "%s at=%s as=%s width=%d%s%s%s%.*s%s%s%s%s", word, at, form, cli->width, cli->shown != 0 ? " units=" : "",
                   cli->shown != 0 ? cli->units : "", tub != NULL ? " tub=" : "",
                   tub != NULL ? (int)tub->id.n : 0, tub != NULL ? tub->id.at : "", options != NULL && options[0] != '\0' ? " " : "",
                   options != NULL ? options : "", payload != NULL ? "\n" : "", payload != NULL ? payload : "");
    return text;
}

static int refused(tw_cli *cli, tw_status status)
{
    if (status == TW_ERR_RANGE || status == TW_ERR_FORMAT)
        return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "option", "an option is outside its range", "See --help of this command.");
    if (status == TW_ERR_MISSING || status == TW_ERR_UNKNOWN) /* a sentence that lacks its argument, or a word of this program */
        return tw_cli_problem(cli, TW_EXIT_INTERNAL, "internal", "the answer could not be put into words",
                              "This is a mistake in the program. The logbook is as it was.");
    return tw_cli_trouble(cli, (int)status, "the answer");
}

int tw_cli_answer(tw_cli *cli, tw_cli_book *book, const char *word, const char *options, const char *payload)
{
    tw_tub tub;
    size_t length = 0;
    const int of_tub = strcmp(word, "tubs") != 0;
    const int trouble = of_tub ? tw_cli_the_tub(cli, book, &tub) : 0;
    if (trouble != 0)
        return trouble;
    char *asked = question(cli, word, of_tub ? &tub : NULL, options, payload);
    char *text = malloc(ANSWER_BYTES);
    if (asked == NULL || text == NULL) {
        free(asked);
        free(text);
        return tw_cli_trouble(cli, TW_ERR_CAPACITY, "the memory of this machine");
    }
    if (of_tub)
        tw_cli_book_recall(book, tub.id);
    const int status = tw_core_ask(book->core, asked, strlen(asked), text, ANSWER_BYTES, &length);
    if (status == TW_OK)
        print(cli, text, length);
    if (of_tub && status == TW_OK)
        tw_cli_book_keep(book, tub.id);
    free(asked);
    free(text);
    if (status != TW_OK)
        return refused(cli, (tw_status)status);
    return tw_core_outcome(book->core);
}
