/* cli/demo.c: replays a story: a script of times, words and commands on a logbook of its own.
 *
 * A script is read by line:
 *   # text            for whoever maintains the script; not shown
 *   ## HEADING        a chapter, shown ruled
 *   > text            told to the reader
 *   | text            the same, as it stands and indented: words to type
 *   label: text       what the label of the pack would have one do, told beside ours
 *   habit: text       what habit would have one do
 *   because: text     why ours differs
 *   at TIME           sets the clock (2026-03-24T10:40:00+01:00, or 10:40 of the same day)
 *   tub NAME          the following words are about this tub
 *   pause             waits for a moment on a terminal
 *   decision NAME     the next command is the decision that tests look up by this name
 *   only WORD ...     of the next answer show the head and these of its sections: WHY, NEXT, SURE, ...
 *   quiet WORDS       runs a command without showing its answer
 *   $ WORDS           shows and runs a command: log ..., now, forecast, ...
 * Everything that is shown comes from the program itself; the script holds readings and words only.
 * With --json the replay is a list of what was told and of each command with its answer. */
#define _XOPEN_SOURCE 700

#include <ftw.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/answers.h"
#include "cli/clock.h"
#include "cli/progress.h"
#include "cli/words.h"
#include "gen/cli_demo.h"

#define MOST_WORDS 64
#define READING_MS_PER_BYTE 8 /* a card is skimmed: some hundred characters a second */

typedef struct {
    tw_cli *cli;
    tw_cli_book book;
    int pauses;
    int line_number;
    char tub[64];
    char decision[64]; /* name of the next command's decision, "" none   */
    char only[128];    /* sections to show of the next answer, "" all    */
    size_t items;      /* of the list that --json prints                 */
} replay;

/* Time to read on a terminal; Enter goes on at once. */
static void wait_a_moment(const replay *r, size_t milliseconds)
{
    char passed[256];
    if (!r->pauses)
        return;
    (void)fflush(r->cli->out);
    struct pollfd key = {.fd = STDIN_FILENO, .events = POLLIN, .revents = 0};
    const nfds_t keys = isatty(STDIN_FILENO) ? 1 : 0;
    if (poll(&key, keys, (int)milliseconds) > 0 && (key.revents & POLLIN) != 0)
        (void)!read(STDIN_FILENO, passed, sizeof passed);
}

/* Text wrapped to the width, lines going on after an indent. */
static void tell(const replay *r, const char *first, const char *text)
{
    size_t column = strlen(first);
    const size_t indent = column;
    const size_t bytes = strlen(text);
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
    wait_a_moment(r, READING_MS_PER_BYTE * bytes);
}

static int fault(replay *r, const char *line)
{
    char detail[200];
    (void)snprintf(detail, sizeof detail, "Line %d: %.150s", r->line_number, line);
    return tw_cli_problem(r->cli, TW_EXIT_INTERNAL, "script", "the story is not understood", detail);
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

/* ---- what is shown of an answer ------------------------------------------------------------------ */

/* 1: this line begins a section, and its word is among those wanted. */
static int wanted(const char *only, const char *line, size_t n)
{
    size_t word = 0;
    while (word < n && line[word] >= 'A' && line[word] <= 'Z')
        word++;
    for (const char *at = only; word > 0 && *at != '\0'; at += *at == ' ') {
        const size_t other = strcspn(at, " ");
        if (other == word && strncmp(at, line, word) == 0)
            return 1;
        at += other;
    }
    return 0;
}

/* The head of a card (what follows its rule) and the sections that are wanted. */
static void show_part(const replay *r, const char *text)
{
    int rule_seen = 0;
    int head = 0;
    int showing = 0;
    while (*text != '\0') {
        const size_t n = strcspn(text, "\n");
        const int rule = n > 30 && (text[0] == '-' || text[0] == '=') && text[1] == text[0];
        if (rule && !rule_seen) {
            rule_seen = head = showing = 1;
        } else if (rule_seen) {
            if (n > 0 && text[0] != ' ') {
                showing = head || wanted(r->only, text, n);
            }
            if (showing && n > 0) {
                const int bold = head && r->cli->colour;
                (void)fprintf(r->cli->out, "%s%.*s%s\n", bold ? "\033[1m" : "", (int)n, text, bold ? "\033[0m" : "");
            }
            head = 0;
        }
        text += n + (text[n] == '\n');
    }
}

/* ---- as a list, for programs ---------------------------------------------------------------------- */

static void begin_item(replay *r, const char *kind, const char *text)
{
    (void)fprintf(r->cli->out, "%s{\"%s\": ", r->items++ > 0 ? ",\n" : "[\n", kind);
    tw_cli_json_string(r->cli->out, text, strlen(text));
}

static void tell_item(replay *r, const char *kind, const char *text)
{
    begin_item(r, kind, text);
    (void)fputs("}", r->cli->out);
}

static void command_item(replay *r, const char *words, int shown, int code, const char *answer)
{
    char at[TW_TIME_BYTES] = "";
    (void)tw_units_time_write(r->cli->now, at, sizeof at);
    begin_item(r, shown ? "said" : "said_quietly", words);
    (void)fprintf(r->cli->out, ", \"at\": \"%s\", \"tub_name\": ", at);
    tw_cli_json_string(r->cli->out, r->tub, strlen(r->tub));
    if (r->decision[0] != '\0')
        (void)fprintf(r->cli->out, ", \"decision\": \"%s\"", r->decision);
    (void)fprintf(r->cli->out, ", \"exit\": %d, \"answer\": %s}", code, answer[0] == '{' ? answer : "null");
}

/* ---- lines of the script --------------------------------------------------------------------------- */

static int take_command(replay *r, const char *words, int shown)
{
    tw_cli *cli = r->cli;
    FILE *out = cli->out;
    char *answer = NULL;
    size_t bytes = 0;
    if (shown && !cli->json) {
        (void)fprintf(out, "\n$ tubwright %s\n", words);
        wait_a_moment(r, 600);
    }
    FILE *kept = open_memstream(&answer, &bytes);
    if (kept == NULL)
        return tw_cli_trouble(cli, TW_ERR_CAPACITY, "the memory of this machine");
    const int colour = cli->colour;
    const int part = r->only[0] != '\0';
    cli->out = kept;
    cli->colour = colour && !part;
    tw_cli_progress_begin(cli, "estimating");
    const int code = run_words(r, words);
    tw_cli_progress_end();
    cli->out = out;
    cli->colour = colour;
    (void)fclose(kept);
    /* A question back and a stop are part of a story; anything else is a broken one. */
    const int good = code == TW_EXIT_OK || code == TW_EXIT_ASKED_BACK || code == TW_EXIT_STOP;
    if (good && cli->json)
        command_item(r, words, shown, code, answer);
    else if (good && shown && part)
        show_part(r, answer);
    else if (good && shown)
        (void)fputs(answer, out);
    free(answer);
    if (shown)
        r->decision[0] = r->only[0] = '\0';
    if (!good)
        return fault(r, words);
    if (shown)
        wait_a_moment(r, 1000 + READING_MS_PER_BYTE * (part ? bytes / 3 : bytes));
    return 0;
}

static void heading(replay *r, const char *text)
{
    const int bold = r->cli->colour;
    (void)fprintf(r->cli->out, "\n%s%s%s\n", bold ? "\033[1m" : "", text, bold ? "\033[0m" : "");
    for (int i = 0; i < r->cli->width; i++)
        (void)fputc('-', r->cli->out);
    (void)fputc('\n', r->cli->out);
}

/* Lines that only tell. 1: it was one. */
static int told(replay *r, const char *line)
{
    static const struct { const char *mark, *name, *shown; } MARKS[] = {
        {"## ", "chapter", ""}, {"> ", "told", ""}, {"label: ", "label", "By the label: "},
        {"habit: ", "habit", "By habit: "}, {"because: ", "because", "Because: "},
        {"| ", "type", "  "}};
    for (size_t i = 0; i < sizeof MARKS / sizeof MARKS[0]; i++) {
        const size_t n = strlen(MARKS[i].mark);
        if (strncmp(line, MARKS[i].mark, n) != 0)
            continue;
        if (r->cli->json)
            tell_item(r, MARKS[i].name, line + n);
        else if (i == 0)
            heading(r, line + n);
        else
            tell(r, MARKS[i].shown, line + n);
        return 1;
    }
    return 0;
}

static int take_line(replay *r, const char *line)
{
    if (line[0] == '\0') {
        if (!r->cli->json)
            (void)fputc('\n', r->cli->out);
    } else if (told(r, line) || line[0] == '#') {
        return 0;
    } else if (strncmp(line, "at ", 3) == 0) {
        return tw_cli_time_typed(tw_units_text(line + 3), r->cli->now, &r->cli->now) == TW_OK ? 0 : fault(r, line);
    } else if (strncmp(line, "tub ", 4) == 0) {
        (void)snprintf(r->tub, sizeof r->tub, "%.60s", line + 4);
    } else if (strcmp(line, "pause") == 0) {
        wait_a_moment(r, 2500);
    } else if (strncmp(line, "decision ", 9) == 0) {
        (void)snprintf(r->decision, sizeof r->decision, "%.60s", line + 9);
    } else if (strncmp(line, "only ", 5) == 0) {
        (void)snprintf(r->only, sizeof r->only, "%.120s", line + 5);
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
    if (r->cli->json)
        (void)fprintf(r->cli->out, "%s]\n", r->items == 0 ? "[" : "\n");
    return TW_EXIT_OK;
}

static int list_stories(tw_cli *cli)
{
    for (int i = 0; i < TW_DEMO_STORIES; i++)
        (void)fprintf(cli->out, "%s\n", tw_cli_demo_stories[i].name);
    return TW_EXIT_OK;
}

/* For nftw: one file or emptied folder of the demo's own. */
static int remove_one(const char *path, const struct stat *status, int kind, struct FTW *at)
{
    (void)status;
    (void)kind;
    (void)at;
    return remove(path);
}

int tw_cli_demo(tw_cli *cli, int argc, char **argv)
{
    char folder[] = "/tmp/tubwright-demo-XXXXXX";
    char path[64];
    replay r = {.cli = cli, .pauses = cli->terminal && !cli->json && cli->option[TW_OPTION_NO_PAUSE] == NULL};
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
    (void)setenv("XDG_STATE_HOME", folder, 1);   /* the notes about writers: nothing goes to the person's own */
    (void)setenv("TUBWRIGHT_RANDOM", "demo", 1); /* the same ids, so the same numbers, each time */
    memset(cli->salt, 0, sizeof cli->salt);
    cli->logbook = path;
    cli->logbook_given = 1;
    int code = tw_cli_book_open(cli, TW_CLI_BOOK_WRITE, &r.book);
    if (code == 0)
        code = play(&r, story != NULL ? story : own);
    tw_cli_book_close(&r.book);
    free(own);
    (void)nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
    return code;
}
