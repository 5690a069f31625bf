/* cli/run.c: the command line: options (GNU getopt_long), help, version, and the command. */
#define _POSIX_C_SOURCE 200809L

#include <getopt.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "answer/core.h"
#include "cli/cli.h"
#include "cli/clock.h"
#include "num/sha256.h"

#define MOST_OPTIONS 64
#define FIRST_LONG 256 /* values of long options start above the characters */

/* The rows of "*" and of one command as getopt_long wants them. */
typedef struct {
    struct option row[MOST_OPTIONS];
    char shorts[2 * MOST_OPTIONS + 2];
    const tw_option_row *of[MOST_OPTIONS];
    int count;
} option_table;

static void fill_options(option_table *table, const char *command)
{
    size_t shorts = 0;
    memset(table, 0, sizeof *table);
    for (unsigned i = 0; i < tw_cli_options && table->count < MOST_OPTIONS - 1; i++) {
        const tw_option_row *row = &tw_cli_option_rows[i];
        if (strcmp(row->command, "*") != 0 && (command == NULL || strcmp(row->command, command) != 0))
            continue;
        const int takes = row->argument[0] != '\0';
        table->of[table->count] = row;
        table->row[table->count] = (struct option){row->name, takes ? required_argument : no_argument, NULL,
                                                   FIRST_LONG + table->count};
        table->count++;
        if (row->short_name != 0) {
            table->shorts[shorts++] = row->short_name;
            if (takes)
                table->shorts[shorts++] = ':';
        }
    }
}

static const tw_option_row *found_option(const option_table *table, int value)
{
    if (value >= FIRST_LONG && value < FIRST_LONG + table->count)
        return table->of[value - FIRST_LONG];
    for (int i = 0; i < table->count; i++)
        if (table->of[i]->short_name == value)
            return table->of[i];
    return NULL;
}

/* Take the options out of argv; what is left starts at *first. 0 or an exit code. */
static int take_options(tw_cli *cli, int argc, char **argv, const char *command, int stop_at_word, int *first)
{
    option_table table;
    char shorts[2 * MOST_OPTIONS + 4] = "";
    fill_options(&table, command);
    (void)snprintf(shorts, sizeof shorts, "%s%s", stop_at_word ? "+" : "", table.shorts);
    optind = 0; /* glibc: start again, also its own state */
    opterr = 0;
    int value = 0;
    while ((value = getopt_long(argc, argv, shorts, table.row, NULL)) != -1) {
        const tw_option_row *row = found_option(&table, value);
        if (row == NULL) {
            char detail[256];
            const char *word = optopt > 0 && optopt < FIRST_LONG ? "-?" : argv[optind > 0 ? optind - 1 : 0];
            char short_word[3] = {'-', (char)optopt, '\0'};
            (void)snprintf(detail, sizeof detail, "%s: see tubwright%s%s --help",
                           optopt > 0 && optopt < FIRST_LONG ? short_word : word, command != NULL ? " " : "",
                           command != NULL ? command : "");
            return tw_cli_problem(cli, TW_EXIT_USAGE, "option", "an option is not known or lacks its argument", detail);
        }
        cli->option[row->option] = row->argument[0] != '\0' ? optarg : "";
    }
    *first = optind;
    return 0;
}

static const tw_command_row *find_command(const char *name)
{
    for (int i = 0; i < TW_COMMANDS; i++)
        if (strcmp(tw_cli_commands[i].name, name) == 0)
            return &tw_cli_commands[i];
    return NULL;
}

/* Letters of the first n bytes: those that go on a UTF-8 letter are none. */
static size_t letters(const char *text, size_t n)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        count += ((unsigned char)text[i] & 0xC0u) != 0x80u;
    return count;
}

/* Write words, breaking before 60 columns; lines go on after an indent. */
static void wrap(FILE *file, const char *text, size_t column, size_t indent)
{
    while (*text != '\0') {
        const size_t n = strcspn(text, " ");
        if (column > indent && column + letters(text, n) > 60) {
            (void)fprintf(file, "\n%*s", (int)indent, "");
            column = indent;
        }
        (void)fprintf(file, "%.*s", (int)n, text);
        column += letters(text, n);
        text += n;
        if (*text == ' ') {
            text++;
            if (*text != '\0' && column + 1 + letters(text, strcspn(text, " ")) <= 60) {
                (void)fputc(' ', file);
                column++;
            } else if (*text != '\0') {
                (void)fprintf(file, "\n%*s", (int)indent, "");
                column = indent;
            }
        }
    }
    (void)fputc('\n', file);
}

static void help_options(const tw_cli *cli, const char *command)
{
    for (unsigned i = 0; i < tw_cli_options; i++) {
        const tw_option_row *row = &tw_cli_option_rows[i];
        char left[64];
        if (strcmp(row->command, command) != 0)
            continue;
        (void)snprintf(left, sizeof left, "  %c%c%s--%s%s%s", row->short_name ? '-' : ' ',
                       row->short_name ? row->short_name : ' ', row->short_name ? ", " : "  ", row->name,
                       row->argument[0] != '\0' ? "=" : "", row->argument);
        (void)fprintf(cli->out, "%-26s", left);
        wrap(cli->out, tw_cli_say(cli, row->meaning), strlen(left) > 25 ? strlen(left) + 1 : 26, 26);
    }
}

/* The help of one command: an example first. */
static int help_command(const tw_cli *cli)
{
    const tw_command_row *row = cli->command;
    const char *at = row->example;
    while (*at != '\0') {
        const size_t n = strcspn(at, "\n");
        (void)fprintf(cli->out, "  %.*s\n", (int)n, at);
        at += n + (at[n] == '\n');
    }
    (void)fprintf(cli->out, "\n%s: tubwright %s [%s]\n\n", tw_cli_say(cli, "usage"), row->usage, tw_cli_say(cli, "OPTIONS"));
    wrap(cli->out, tw_cli_say(cli, row->about), 0, 0);
    (void)fprintf(cli->out, "\n");
    help_options(cli, row->name);
    help_options(cli, "*");
    return TW_EXIT_OK;
}

static int help_all(const tw_cli *cli)
{
    (void)fprintf(cli->out, "  tubwright tub new Barn volume=1300L\n  tubwright log ph=7.4 ta=120 by strips\n  tubwright now\n\n%s: tubwright %s [%s]\n\n",
                  tw_cli_say(cli, "usage"), tw_cli_say(cli, "COMMAND"), tw_cli_say(cli, "OPTIONS"));
    for (int i = 0; i < TW_COMMANDS; i++)
        (void)fprintf(cli->out, "  %-10s %s\n", tw_cli_commands[i].name, tw_cli_say(cli, tw_cli_commands[i].summary));
    (void)fprintf(cli->out, "\n");
    help_options(cli, "*");
    (void)fprintf(cli->out, "\n%s\n", tw_cli_say(cli, "exit codes"));
    for (int i = 0; i < TW_EXIT_ROWS; i++) {
        (void)fprintf(cli->out, "  %-3d", tw_cli_exit_rows[i].code);
        wrap(cli->out, tw_cli_say(cli, tw_cli_exit_rows[i].meaning), 5, 5);
    }
    return TW_EXIT_OK;
}

/* Where the logbook is: --logbook, TUBWRIGHT_LOGBOOK, or the XDG data folder. */
static int settle_logbook(tw_cli *cli)
{
    const char *given = cli->option[TW_OPTION_LOGBOOK] != NULL ? cli->option[TW_OPTION_LOGBOOK] : getenv("TUBWRIGHT_LOGBOOK");
    const char *data = getenv("XDG_DATA_HOME");
    const char *home = getenv("HOME");
    int n = 0;
    cli->logbook = cli->path;
    cli->logbook_given = given != NULL && given[0] != '\0';
    if (cli->logbook_given)
        n = snprintf(cli->path, sizeof cli->path, "%s", given);
    else if (data != NULL && data[0] == '/')
        n = snprintf(cli->path, sizeof cli->path, "%s/tubwright/logbook.db", data);
    else if (home != NULL && home[0] != '\0')
        n = snprintf(cli->path, sizeof cli->path, "%s/.local/share/tubwright/logbook.db", home);
    if (n <= 0 || (size_t)n >= sizeof cli->path)
        return tw_cli_problem(cli, TW_EXIT_LOGBOOK, "missing", "there is no place for the logbook",
                              "Name one with --logbook FILE, or set HOME.");
    return 0;
}

static int settle_clock(tw_cli *cli)
{
    const char *typed = cli->option[TW_OPTION_AT] != NULL ? cli->option[TW_OPTION_AT] : getenv("TUBWRIGHT_NOW");
    cli->now = tw_cli_clock();
    cli->at_given = typed != NULL && typed[0] != '\0';
    if (cli->at_given && tw_cli_time_typed(tw_units_text(typed), cli->now, &cli->now) != TW_OK)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "time", "the time of --at is not understood",
                              "Write 2026-03-24T10:40+01:00, 2026-03-24T09:40Z, or 10:40 for today.");
    return 0;
}

/* --language or TUBWRIGHT_LANGUAGE. Before everything else is settled: help is given in it. */
static int settle_language(tw_cli *cli)
{
    char detail[120] = "--language is one of: en";
    const char *typed = cli->option[TW_OPTION_LANGUAGE] != NULL ? cli->option[TW_OPTION_LANGUAGE] : getenv("TUBWRIGHT_LANGUAGE");
    cli->language = NULL;
    if (typed == NULL || typed[0] == '\0' || strcmp(typed, "en") == 0)
        return 0;
    for (size_t i = 0; i < TW_CLI_LANGUAGES; i++) {
        const size_t n = strlen(detail);
        (void)snprintf(detail + n, sizeof detail - n, ", %s", tw_cli_languages[i].tag);
        if (strcmp(typed, tw_cli_languages[i].tag) == 0)
            cli->language = &tw_cli_languages[i];
    }
    return cli->language != NULL ? 0 : tw_cli_problem(cli, TW_EXIT_USAGE, "language", "there is no such language", detail);
}

/* --units or TUBWRIGHT_UNITS. */
static int settle_units(tw_cli *cli)
{
    const char *typed = cli->option[TW_OPTION_UNITS] != NULL ? cli->option[TW_OPTION_UNITS] : getenv("TUBWRIGHT_UNITS");
    cli->units = typed != NULL ? typed : "";
    return tw_units_shown_read(tw_units_text(cli->units), &cli->shown) == TW_OK
               ? 0 : tw_cli_problem(cli, TW_EXIT_USAGE, "units", "these units cannot be shown", "Known are degF, oz, and one of gal-us and gal-imp.");
}

static int settle(tw_cli *cli)
{
    const char *columns = getenv("COLUMNS");
    const char *no_colour = getenv("NO_COLOR");
    cli->json = cli->option[TW_OPTION_JSON] != NULL;
    cli->yes = cli->option[TW_OPTION_YES] != NULL;
    cli->tub = cli->option[TW_OPTION_TUB] != NULL ? cli->option[TW_OPTION_TUB] : getenv("TUBWRIGHT_TUB");
    if (cli->tub != NULL && cli->tub[0] == '\0')
        cli->tub = NULL;
    cli->role = cli->option[TW_OPTION_ROLE] != NULL ? cli->option[TW_OPTION_ROLE] : getenv("TUBWRIGHT_ROLE");
    cli->by = cli->option[TW_OPTION_BY] != NULL ? cli->option[TW_OPTION_BY] : getenv("TUBWRIGHT_BY");
    cli->terminal = isatty(fileno(cli->out));
    cli->colour = cli->terminal && (no_colour == NULL || no_colour[0] == '\0') && cli->option[TW_OPTION_PLAIN] == NULL;
    cli->width = columns != NULL ? atoi(columns) : 60;
    cli->width = cli->width < 40 ? 40 : cli->width > 60 ? 60 : cli->width;
    int trouble = settle_units(cli);
    if (trouble == 0)
        trouble = settle_logbook(cli);
    return trouble != 0 ? trouble : settle_clock(cli);
}

int tw_cli_run(int argc, char **argv, FILE *in, FILE *out, FILE *err)
{
    static tw_cli cli; /* large, and there is one command line */
    int first = 1;
    memset(&cli, 0, sizeof cli);
    cli.in = in;
    cli.out = out;
    cli.err = err;
    tw_sha256_state words;
    tw_sha256_init(&words);
    for (int i = 1; i < argc; i++)
        tw_sha256_update(&words, argv[i], strlen(argv[i]) + 1);
    tw_sha256_final(&words, cli.salt);
    for (int i = 1; i < argc; i++) /* so that even a wrong option answers as wanted */
        if (strcmp(argv[i], "--json") == 0 || strcmp(argv[i], "-j") == 0)
            cli.json = 1;
    int trouble = take_options(&cli, argc, argv, NULL, 1, &first);
    if (trouble == 0)
        trouble = settle_language(&cli);
    if (trouble != 0)
        return trouble;
    if (cli.option[TW_OPTION_VERSION] != NULL) {
        (void)fprintf(out, "tubwright %s\n", TW_VERSION);
        return TW_EXIT_OK;
    }
    const int help = first < argc && strcmp(argv[first], "help") == 0;
    first += help;
    if (first >= argc)
        return help_all(&cli);
    cli.command = find_command(argv[first]);
    if (cli.command == NULL)
        return tw_cli_problem(&cli, TW_EXIT_USAGE, "command", "there is no such command", "See tubwright --help");
    if (help)
        return help_command(&cli);
    argc -= first;
    argv += first;
    trouble = take_options(&cli, argc, argv, cli.command->name, 0, &first);
    if (trouble == 0)
        trouble = settle_language(&cli);
    if (trouble != 0)
        return trouble;
    if (cli.option[TW_OPTION_HELP] != NULL)
        return help_command(&cli);
    trouble = settle(&cli);
    if (trouble != 0)
        return trouble;
    /* getopt_long has put the words after the options; the command's name goes before them. */
    argv[first - 1] = argv[0];
    return cli.command->run(&cli, argc - first + 1, argv + first - 1);
}
