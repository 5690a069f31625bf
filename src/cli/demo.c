/* cli/demo.c: replays a story: a script of times, words and commands on a logbook of its own.
 *
 * A script is read by line:
 *   # text            for whoever maintains the script; not shown
 *   ## HEADING        a chapter, shown ruled
 *   > text            told to the reader
 *   label: text       what the label of the pack would have one do, told beside ours
 *   at TIME           sets the clock (2026-03-24T10:40:00+01:00, or 10:40 of the same day)
 *   tub NAME          the following words are about this tub
 *   pause             waits for a moment on a terminal
 *   quiet WORDS       runs a command without showing its answer
 *   $ WORDS           shows and runs a command: log ..., now, forecast, ...
 * Everything that is shown comes from the program itself; the script holds readings and words only. */
#define _POSIX_C_SOURCE 200809L

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cli/answers.h"
#include "cli/clock.h"
#include "cli/words.h"
#include "gen/cli_demo.h"

#define MOST_WORDS 64

typedef struct {
    tw_cli *cli;
    tw_cli_book book;
    int pauses;
    int line_number;
    char tub[64];
    int failed;
} replay;

static void wait_a_moment(const replay *r, long milliseconds)
{
    if (!r->pauses)
        return;
    const struct timespec span = {milliseconds / 1000, (milliseconds % 1000) * 1000000L};
    (void)fflush(r->cli->out);
    (void)nanosleep(&span, NULL);
}

/* Text wrapped to the width, lines going on after an indent. */
static void tell(const replay *r, const char *first, const char *text)
{
    size_t column = strlen(first);
    const size_t indent = column;
    (void)fputs(first, r->cli->out);
    int fresh = 1;
    while (*text != '\0') {
        const size_t n = strcspn(text, " ");
        if (!fresh && column + 1 + n > (size_t)r->cli->width) {
            (void)fprintf(r->cli->out, "\n%*s", (int)indent, "");
            column = indent;
            fresh = 1;
        }
        if (!fresh) {
            (void)fputc(' ', r->cli->out);
            column++;
        }
        (void)fprintf(r->cli->out, "%.*s", (int)n, text);
        column += n;
        fresh = 0;
        text += n;
        while (*text == ' ')
            text++;
    }
    (void)fputc('\n', r->cli->out);
}

static int fault(replay *r, const char *line)
{
    char detail[200];
    (void)snprintf(detail, sizeof detail, "Line %d: %.150s", r->line_number, line);
    r->failed = tw_cli_problem(r->cli, TW_EXIT_INTERNAL, "script", "the story is not understood", detail);
    return r->failed;
}

/* Run words as the command line would. The options --yes, --hours=N, --duty=N may stand in them. */
static int run_words(replay *r, const char *words)
{
    char room[2048];
    const char *word[MOST_WORDS];
    char options[128] = "";
    int n = tw_cli_words_split(words, room, sizeof room, word, MOST_WORDS);
    int kept = 0;
    if (n < 1)
        return fault(r, words);
    r->cli->yes = 0;
    for (int i = 0; i < n; i++) {
        if (strcmp(word[i], "--yes") == 0)
            r->cli->yes = 1;
        else if (strncmp(word[i], "--", 2) == 0)
            (void)snprintf(options, sizeof options, "%s", word[i] + 2);
        else
            word[kept++] = word[i];
    }
    r->cli->tub = r->tub[0] != '\0' ? r->tub : NULL;
    if (strcmp(word[0], "log") == 0)
        return tw_cli_take_words(r->cli, &r->book, (size_t)kept - 1, word + 1);
    if (strcmp(word[0], "tub") == 0) {
        const int set = kept > 1 && strcmp(word[1], "new") != 0 && strchr(word[1], '=') == NULL;
        return tw_cli_take_words(r->cli, &r->book, (size_t)(kept - set), word + set);
    }
    return tw_cli_answer(r->cli, &r->book, word[0], options, NULL);
}

static int take_command(replay *r, const char *words, int shown)
{
    FILE *out = r->cli->out;
    FILE *hidden = NULL;
    if (shown) {
        (void)fprintf(out, "\n$ tubwright %s\n", words);
        wait_a_moment(r, 600);
    } else {
        hidden = fopen("/dev/null", "w");
        if (hidden != NULL)
            r->cli->out = hidden;
    }
    const int code = run_words(r, words);
    r->cli->out = out;
    if (hidden != NULL)
        (void)fclose(hidden);
    /* A question back and a stop are part of a story; anything else is a broken one. */
    if (code != TW_EXIT_OK && code != TW_EXIT_ASKED_BACK && code != TW_EXIT_STOP)
        return fault(r, words);
    wait_a_moment(r, shown ? 2500 : 0);
    return 0;
}

static int take_line(replay *r, const char *line)
{
    if (line[0] == '\0') {
        (void)fputc('\n', r->cli->out);
    } else if (strncmp(line, "## ", 3) == 0) {
        (void)fprintf(r->cli->out, "\n%s\n", line + 3);
        for (int i = 0; i < r->cli->width; i++)
            (void)fputc('-', r->cli->out);
        (void)fputc('\n', r->cli->out);
    } else if (line[0] == '#') {
        return 0;
    } else if (strncmp(line, "> ", 2) == 0) {
        tell(r, "", line + 2);
        wait_a_moment(r, 25 * (long)strlen(line));
    } else if (strncmp(line, "label: ", 7) == 0) {
        tell(r, "The label: ", line + 7);
        wait_a_moment(r, 25 * (long)strlen(line));
    } else if (strncmp(line, "at ", 3) == 0) {
        return tw_cli_time_typed(tw_units_text(line + 3), r->cli->now, &r->cli->now) == TW_OK ? 0 : fault(r, line);
    } else if (strncmp(line, "tub ", 4) == 0) {
        (void)snprintf(r->tub, sizeof r->tub, "%.60s", line + 4);
    } else if (strcmp(line, "pause") == 0) {
        wait_a_moment(r, 2500);
    } else if (strncmp(line, "quiet ", 6) == 0) {
        return take_command(r, line + 6, 0);
    } else if (strncmp(line, "$ ", 2) == 0) {
        return take_command(r, line + 2, 1);
    } else {
        return fault(r, line);
    }
    return 0;
}

static const char *find_story(const char *name)
{
    for (int i = 0; i < TW_DEMO_STORIES; i++)
        if (strcmp(tw_cli_demo_stories[i].name, name) == 0)
            return tw_cli_demo_stories[i].text;
    return NULL;
}

/* A file of the person's own, or NULL. Freed by the caller. */
static char *read_file(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    char *text = calloc(1, 1u << 20);
    if (text != NULL && fread(text, 1, (1u << 20) - 1, file) == 0) {
        free(text);
        text = NULL;
    }
    (void)fclose(file);
    return text;
}

static int play(replay *r, const char *text)
{
    char line[2048];
    while (*text != '\0') {
        const size_t n = strcspn(text, "\n");
        r->line_number++;
        if (n >= sizeof line)
            return fault(r, "(too long)");
        memcpy(line, text, n);
        line[n] = '\0';
        text += n + (text[n] == '\n');
        const int trouble = take_line(r, line);
        if (trouble != 0)
            return trouble;
    }
    return TW_EXIT_OK;
}

static int list_stories(tw_cli *cli)
{
    for (int i = 0; i < TW_DEMO_STORIES; i++)
        (void)fprintf(cli->out, "%s\n", tw_cli_demo_stories[i].name);
    return TW_EXIT_OK;
}

int tw_cli_demo(tw_cli *cli, int argc, char **argv)
{
    char folder[] = "/tmp/tubwright-demo-XXXXXX";
    char path[64];
    replay r = {.cli = cli, .pauses = cli->terminal && cli->option[TW_OPTION_NO_PAUSE] == NULL};
    if (cli->option[TW_OPTION_LIST] != NULL)
        return list_stories(cli);
    const char *name = argc > 1 ? argv[1] : TW_DEMO_FIRST;
    const char *story = find_story(name);
    char *own = story == NULL ? read_file(name) : NULL;
    if (story == NULL && own == NULL)
        return tw_cli_problem(cli, TW_EXIT_USAGE, "story", "there is no such story", "See tubwright demo --list, or name a file.");
    if (mkdtemp(folder) == NULL) {
        free(own);
        return tw_cli_trouble(cli, TW_ERR_IO, "a folder for the demo");
    }
    (void)snprintf(path, sizeof path, "%s/demo.db", folder);
    (void)setenv("TUBWRIGHT_RANDOM", "demo", 0); /* the same ids, so the same numbers, each time */
    memset(cli->salt, 0, sizeof cli->salt);
    cli->logbook = path;
    cli->logbook_given = 1;
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_WRITE, &r.book);
    if (code == 0)
        code = play(&r, story != NULL ? story : own);
    tw_cli_book_close(&r.book);
    free(own);
    static const char *const ENDINGS[] = {"", "-wal", "-shm"};
    for (size_t i = 0; i < sizeof ENDINGS / sizeof ENDINGS[0]; i++) {
        char file[96];
        (void)snprintf(file, sizeof file, "%s%s", path, ENDINGS[i]);
        (void)unlink(file);
    }
    (void)rmdir(folder);
    return code;
}
