/* cli/prompt.c: a plain guided prompt on the person's own logbook. It shows the card, takes the words
 * of log, answers, and leaves on q. Other commands may be typed as well. */
#include <stdlib.h>
#include <string.h>

#include "cli/answers.h"
#include "cli/clock.h"
#include "cli/words.h"

#define MOST_WORDS 64

/* Commands that only ask may be typed instead of words. */
static int is_view(const char *word)
{
    static const char *const VIEWS[] = {"now", "why", "water", "forecast", "logbook", "bathing", "sheet", "tubs"};
    for (size_t i = 0; i < sizeof VIEWS / sizeof VIEWS[0]; i++)
        if (strcmp(word, VIEWS[i]) == 0)
            return 1;
    return 0;
}

static void help(tw_cli *cli)
{
    (void)fprintf(cli->out, "  ph=7.4 ta=120 th=60..120 fc=0 by strips    what was read\n"
                            "  added 97 g dry acid                        what was put in\n"
                            "  adding   done   couldn't 'no acid left'    the card's act\n"
                            "  duty=42%%   cover=open   note 'windy'       settings, notes\n"
                            "  now  why  water  forecast  logbook  bathing  sheet\n"
                            "  q                                          leave\n");
}

/* The first tub: a name and a rough volume are enough. 0: there is a tub now. */
static int first_tub(tw_cli *cli, tw_cli_book *book, char *line, size_t cap)
{
    char name[64];
    const char *words[4] = {"tub", "new", name, NULL};
    char volume[64];
    (void)fprintf(cli->out, "No tub yet. What is it called? ");
    (void)fflush(cli->out);
    if (fgets(line, (int)cap, cli->in) == NULL)
        return 1;
    line[strcspn(line, "\r\n")] = '\0';
    if (line[0] == '\0' || strcmp(line, "q") == 0)
        return 1;
    (void)snprintf(name, sizeof name, "%.60s", line);
    (void)fprintf(cli->out, "About how much water (1300 L, 350 gal-us)? Empty: don't know. ");
    (void)fflush(cli->out);
    if (fgets(line, (int)cap, cli->in) == NULL)
        return 1;
    line[strcspn(line, "\r\n")] = '\0';
    (void)snprintf(volume, sizeof volume, "volume=%.50s", line);
    words[3] = volume;
    return tw_cli_take_words(cli, book, line[0] != '\0' ? 4 : 3, words);
}

static int any_tub(tw_cli *cli, tw_cli_book *book)
{
    tw_tub tub[1];
    size_t count = 0;
    (void)tw_logbook_book_tubs(book->core->book, cli->now, tub, 1, &count);
    return count > 0;
}

/* One line of the person. 1: leave. */
static int take_line(tw_cli *cli, tw_cli_book *book, char *line)
{
    char room[4096];
    const char *word[MOST_WORDS];
    line[strcspn(line, "\r\n")] = '\0';
    const int n = tw_cli_words_split(line, room, sizeof room, word, MOST_WORDS);
    if (n < 0) {
        (void)tw_cli_problem(cli, TW_EXIT_USAGE, "words", "a quote is not closed, or there are too many words", NULL);
        return 0;
    }
    if (n == 0)
        return 0;
    if (strcmp(word[0], "q") == 0 || strcmp(word[0], "quit") == 0 || strcmp(word[0], "exit") == 0)
        return 1;
    cli->yes = 0;
    int count = n;
    if (strcmp(word[count - 1], "--yes") == 0) {
        cli->yes = 1;
        count--;
    }
    const int from = strcmp(word[0], "log") == 0 ? 1 : 0;
    if (strcmp(word[0], "help") == 0 || strcmp(word[0], "?") == 0)
        help(cli);
    else if (count == 1 && is_view(word[0]))
        (void)tw_cli_answer(cli, book, word[0], NULL, NULL);
    else if (count > from)
        (void)tw_cli_take_words(cli, book, (size_t)(count - from), word + from);
    return 0;
}

int tw_cli_prompt(tw_cli *cli, int argc, char **argv)
{
    char line[2048];
    tw_cli_book book;
    (void)argv;
    if (argc > 1)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "words", "this command takes no words", argv[1]);
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_WRITE, &book);
    if (code != 0) {
        tw_cli_book_close(&book);
        return code;
    }
    if (!any_tub(cli, &book) && first_tub(cli, &book, line, sizeof line) != 0) {
        tw_cli_book_close(&book);
        return TW_EXIT_OK;
    }
    code = tw_cli_answer(cli, &book, "now", NULL, NULL);
    while (cli->option[TW_OPTION_ONCE] == NULL) {
        (void)fprintf(cli->out, "> ");
        (void)fflush(cli->out);
        if (fgets(line, sizeof line, cli->in) == NULL || take_line(cli, &book, line))
            break;
        if (!cli->at_given)
            cli->now = tw_cli_clock();
    }
    tw_cli_book_close(&book);
    return cli->option[TW_OPTION_ONCE] != NULL ? code : TW_EXIT_OK;
}
