/* cli/views.c: the commands that only ask: the core answers, this prints. */
#include <stdlib.h>
#include <string.h>

#include "answer/plan.h"
#include "cli/answers.h"
#include "cli/substance.h"

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

#define OPTIONS_BYTES 4096

/* One word of a plan ("36h:dry acid=97g") as the core takes it ("36h:sodium-bisulfate-93=97g"): its length, 0 when
 * it does not fit. What is not understood stays as it is, and the core refuses it. */
static size_t plan_word(const char *word, char *out, size_t cap)
{
    const char *colon = strchr(word, ':'), *equals = colon != NULL ? strchr(colon, '=') : NULL;
    size_t n = 0;
    const char *value = word;
    if (equals != NULL) {
        char id[64];
        const tw_text name = {colon + 1, (size_t)(equals - colon - 1)};
        const size_t found = tw_cli_substance(name, id, sizeof id);
        n = (size_t)snprintf(out, cap, "%.*s%.*s", (int)(colon + 1 - word), word, (int)(found > 0 ? found : name.n), found > 0 ? id : name.at);
        value = equals;
    }
    for (; n + 1 < cap && *value != '\0'; value++)
        if (*value != '%' || value[1] != '\0') /* "42%" is 42 */
            out[n++] = *value == ',' ? '.' : *value;
    out[n < cap ? n : cap - 1] = '\0';
    return *value == '\0' && strpbrk(out, " ;") == NULL ? n : 0;
}

/* The words of a plan behind " plan=", each looked at by itself so that a problem names it. 0: all is well. */
static int add_plan(tw_cli *cli, int argc, char **argv, char *text, size_t cap)
{
    tw_schedule plan = {.settings = 1};
    for (int i = 1; i < argc; i++) {
        char word[256], detail[400];
        const size_t n = plan_word(argv[i], word, sizeof word), at = strlen(text);
        const tw_status status = n == 0 ? TW_ERR_FORMAT : tw_answer_plan_item((tw_text){word, n}, &plan);
        (void)snprintf(detail, sizeof detail, "\"%s\". Hours rise. For example: 12h:duty=42%% 24h:bathers=4x90 36h:hypochlorite=49mL", argv[i]);
        if (status == TW_ERR_RANGE)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "plan", "a number of the plan is outside its range", detail);
        if (status == TW_ERR_CAPACITY || n + at + 8 > cap)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "plan", "the plan is too long: 15 changes, 16 doses, 16 times of bathing", detail);
        if (status == TW_ERR_UNKNOWN)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "plan", "a forecast follows chlorine, sulfite, acid, soda and bicarbonate; this is none of them", detail);
        if (status != TW_OK)
            return tw_cli_problem(cli, TW_EXIT_BAD_INPUT, "plan", "this is no part of a plan", detail);
        (void)snprintf(text + at, cap - at, "%s%s", i > 1 ? ";" : at > 0 ? " plan=" : "plan=", word);
    }
    return 0;
}

static int view(tw_cli *cli, int argc, char **argv, const char *word)
{
    char options[OPTIONS_BYTES] = "";
    tw_cli_book book;
    const int planned = strcmp(word, "forecast") == 0;
    if (argc > 1 && !planned)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "words", "this command takes no words", argv[1]);
    add_option(cli, options, sizeof options, TW_OPTION_HOURS, "hours");
    add_option(cli, options, sizeof options, TW_OPTION_STEP, "step");
    add_option(cli, options, sizeof options, TW_OPTION_DUTY, "duty");
    add_option(cli, options, sizeof options, TW_OPTION_TEMPERATURE, "temperature");
    add_option(cli, options, sizeof options, TW_OPTION_LAST, "last");
    add_option(cli, options, sizeof options, TW_OPTION_BATHERS, "bathers");
    add_option(cli, options, sizeof options, TW_OPTION_PROFILE, "profile");
    int code = planned ? add_plan(cli, argc, argv, options, sizeof options) : 0;
    if (code != 0)
        return code;
    code = tw_cli_book_open(cli, TW_CLI_BOOK_READ, &book);
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

int tw_cli_plan(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "plan");
}

int tw_cli_worth(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "worth");
}

int tw_cli_ahead(tw_cli *cli, int argc, char **argv)
{
    return view(cli, argc, argv, "ahead");
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
