/* cli/views.c: the commands that only ask: the core answers, this prints. */
#include <stdlib.h>
#include <string.h>

#include "cli/answers.h"

/* "name=value" for a question; blanks of the value become %20. Nothing when the option is not given. */
static void add_option(tw_cli *cli, char *text, size_t cap, tw_option option, const char *name)
{
    const char *value = cli->option[option];
    size_t n = strlen(text);
    if (value == NULL)
        return;
    n += (size_t)snprintf(text + n, cap - n, "%s%s=", n > 0 ? " " : "", name);
    for (; *value != '\0' && n + 4 < cap; value++) {
        if (*value == '%' && value[1] == '\0')
            break; /* "42%" is 42 */
        if (*value == ' ') {
            memcpy(text + n, "%20", 3);
            n += 3;
        } else {
            text[n++] = *value == ',' ? '.' : *value;
        }
    }
    text[n] = '\0';
}

static int view(tw_cli *cli, int argc, char **argv, const char *word)
{
    char options[512] = "";
    tw_cli_book book;
    if (argc > 1)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "words", "this command takes no words", argv[1]);
    add_option(cli, options, sizeof options, TW_OPTION_HOURS, "hours");
    add_option(cli, options, sizeof options, TW_OPTION_STEP, "step");
    add_option(cli, options, sizeof options, TW_OPTION_DUTY, "duty");
    add_option(cli, options, sizeof options, TW_OPTION_TEMPERATURE, "temperature");
    add_option(cli, options, sizeof options, TW_OPTION_LAST, "last");
    add_option(cli, options, sizeof options, TW_OPTION_PROFILE, "profile");
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_READ, &book);
    if (code == 0)
        code = tw_cli_answer(cli, &book, word, options, NULL);
    tw_cli_book_close(&book);
    return code;
}

int tw_cli_now(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "now");
}

int tw_cli_why(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "why");
}

int tw_cli_water(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "water");
}

int tw_cli_forecast(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "forecast");
}

int tw_cli_logbook(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "logbook");
}

int tw_cli_bathing(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "bathing");
}

int tw_cli_sheet(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "sheet");
}
