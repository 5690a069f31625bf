/* cli/problem.c: what is not an answer: problems on standard error, plain or as RFC 9457 objects. */
#include <string.h>

#include "cli/cli.h"
#include "num/status.h"

void tw_cli_json_string(FILE *file, const char *bytes, size_t n)
{
    (void)fputc('"', file);
    for (size_t i = 0; i < n; i++) {
        const unsigned char c = (unsigned char)bytes[i];
        if (c == '"' || c == '\\')
            (void)fprintf(file, "\\%c", c);
        else if (c == '\n')
            (void)fputs("\\n", file);
        else if (c < 0x20)
            (void)fprintf(file, "\\u%04x", c);
        else
            (void)fputc(c, file);
    }
    (void)fputc('"', file);
}

static void member(FILE *file, const char *name, const char *value)
{
    (void)fputs(", ", file);
    tw_cli_json_string(file, name, strlen(name));
    (void)fputs(": ", file);
    tw_cli_json_string(file, value, strlen(value));
}

int tw_cli_problem_with(tw_cli *cli, tw_exit exit, const char *type, const char *title, const char *detail,
                        size_t n, const char *const (*members)[2])
{
    if (cli->json) {
        char urn[80];
        (void)snprintf(urn, sizeof urn, "urn:tubwright:problem:%s", type);
        (void)fputs("{\"type\": ", cli->err);
        tw_cli_json_string(cli->err, urn, strlen(urn));
        member(cli->err, "title", title);
        if (detail != NULL)
            member(cli->err, "detail", detail);
        (void)fprintf(cli->err, ", \"exit\": %d", (int)exit);
        for (size_t i = 0; i < n; i++)
            member(cli->err, members[i][0], members[i][1]);
        (void)fputs("}\n", cli->err);
        return (int)exit;
    }
    (void)fprintf(cli->err, "tubwright%s%s: %s\n", cli->command != NULL ? " " : "",
                  cli->command != NULL ? cli->command->name : "", tw_cli_say(cli, title));
    if (detail != NULL)
        (void)fprintf(cli->err, "%s\n", tw_cli_say(cli, detail));
    return (int)exit;
}

int tw_cli_problem(tw_cli *cli, tw_exit exit, const char *type, const char *title, const char *detail)
{
    return tw_cli_problem_with(cli, exit, type, title, detail, 0, NULL);
}

int tw_cli_trouble(tw_cli *cli, int status, const char *what)
{
    static const struct {
        tw_status status;
        tw_exit exit;
        const char *type, *title;
    } ROWS[] = {
        {TW_ERR_IO, TW_EXIT_LOGBOOK, "io", "reading or writing failed; nothing was half-written"},
        {TW_ERR_LOCKED, TW_EXIT_LOGBOOK, "locked", "another program holds the logbook; try again"},
        {TW_ERR_FULL, TW_EXIT_LOGBOOK, "full", "no space is left; nothing was half-written"},
        {TW_ERR_READ_ONLY, TW_EXIT_LOGBOOK, "read-only", "the logbook can only be read here"},
        {TW_ERR_DAMAGED, TW_EXIT_LOGBOOK, "damaged", "the file is damaged or is no logbook"},
        {TW_ERR_NEWER, TW_EXIT_NEWER, "newer", "the logbook was written by a newer version; update to go on"},
        {TW_ERR_MISSING, TW_EXIT_LOGBOOK, "missing", "there is no such logbook"},
        {TW_ERR_CAPACITY, TW_EXIT_INTERNAL, "capacity", "there is more than this program has room for"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof ROWS[0]; i++)
        if ((int)ROWS[i].status == status)
            return tw_cli_problem(cli, ROWS[i].exit, ROWS[i].type, ROWS[i].title, what);
    return tw_cli_problem(cli, TW_EXIT_INTERNAL, "internal", tw_status_text((tw_status)status), what);
}
