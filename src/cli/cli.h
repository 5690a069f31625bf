/* cli/cli.h: what every command of the program is given, and how it speaks.
 *
 * main.c reads the options (tables data/commands.csv and data/command_options.csv; GNU getopt_long,
 * abbreviations allowed, before or after the command) and calls tw_cli_<name>. A command writes its
 * data to cli->out and nothing else there; everything else is a problem on cli->err. */
#ifndef TW_CLI_CLI_H
#define TW_CLI_CLI_H

#include <stdio.h>

#include "gen/cli_commands.h" /* enum tw_option, enum tw_exit, rows of commands and options */
#include "gen/cli_languages.h"
#include "units/shown.h"
#include "units/time.h"

typedef struct tw_cli {
    FILE *in, *out, *err;
    int json;                 /* --json                                                            */
    int yes;                  /* --yes: write although something was asked back                    */
    int width;                /* columns of text, 40..60                                           */
    int terminal;             /* out is a terminal                                                 */
    int colour;               /* bold and dim may be used: a terminal, no NO_COLOR, no --plain     */
    tw_time now;              /* the clock, or what --at or TUBWRIGHT_NOW says                     */
    int at_given;             /* 1: the clock was overridden                                       */
    const char *logbook;      /* path of the logbook: --logbook, TUBWRIGHT_LOGBOOK or the XDG
                                 data folder's tubwright/logbook.db; never NULL                    */
    int logbook_given;        /* 1: named, so its folder is not made                               */
    const char *tub;          /* --tub or TUBWRIGHT_TUB as typed, NULL: none                       */
    const char *role;         /* --role, NULL: none                                                */
    const tw_language_row *language; /* --language or TUBWRIGHT_LANGUAGE, NULL: English            */
    const char *units;        /* --units or TUBWRIGHT_UNITS as typed, "": none                     */
    tw_shown shown;           /* the same, read                                                    */
    const char *by;           /* --by (initials), NULL: none                                       */
    const char *option[TW_OPTIONS]; /* argument of each option, "" for a flag, NULL: not given     */
    const tw_command_row *command;  /* the row of the command that runs                            */
    unsigned char salt[32];         /* digest of the command line: see tw_cli_new_id               */
    char path[4096];          /* room for logbook                                                  */
} tw_cli;

/* A command: argv[0] is its name, argv[1..argc-1] what is left when the options are taken out.
 * Returns its exit code (data/exit_codes.csv). */
typedef int tw_cli_command(tw_cli *cli, int argc, char **argv);

/* Run the program. Streams and environment are the caller's. Returns the exit code. */
int tw_cli_run(int argc, char **argv, FILE *in, FILE *out, FILE *err);

/* What the program says beside the core's answers, in the language that was asked for; the English where that has nothing
 * for it, and for NULL. */
const char *tw_cli_say(const tw_cli *cli, const char *english);

/* Say a problem on stderr: plainly ("tubwright log: TITLE" and the detail below), or with --json as
 * a problem object (RFC 9457: type, title, detail, and the fields given).
 *   type   a word, becomes "urn:tubwright:problem:<type>"
 *   title  one sentence, the same for every problem of the type
 *   detail what is wrong here and what to do next; NULL: none
 * Plainly both are said in the language that was asked for (tw_cli_say); objects are for programs, in English.
 * Returns exit, so that a command can end with it. */
int tw_cli_problem(tw_cli *cli, tw_exit exit, const char *type, const char *title, const char *detail);

/* The same with named extra members for --json: n pairs of name and value (both strings). In plain
 * text they are not shown: the detail says it in words. */
int tw_cli_problem_with(tw_cli *cli, tw_exit exit, const char *type, const char *title, const char *detail,
                        size_t n, const char *const (*members)[2]);

/* Begin a table or an answer of one's own: JSON string escapes for cli->out. */
void tw_cli_json_string(FILE *file, const char *bytes, size_t n);

/* The exit code and the problem that go with a status of the core or the store; what names the
 * thing ("the logbook /home/.../logbook.db"). */
int tw_cli_trouble(tw_cli *cli, int status, const char *what);

#endif
