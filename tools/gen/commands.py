"""The command line: data/commands.csv, command_options.csv, exit_codes.csv -> gen/cli_commands.h, .c."""
from __future__ import annotations

import re
from pathlib import Path

from _common import c_string, read_csv


def generate(data_dir: Path, out_dir: Path) -> None:
    commands = read_csv(data_dir / "commands.csv", ["name", "summary", "usage", "example", "about"])
    options = read_csv(data_dir / "command_options.csv", ["command", "option", "short", "argument", "meaning"])
    exits = read_csv(data_dir / "exit_codes.csv", ["code", "name", "meaning"])
    names = [row["name"] for row in commands]
    check(commands, options, names)
    words = sorted({row["option"] for row in options})
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "cli_commands.h").write_text(header(names, words, exits), encoding="utf-8")
    (gen / "cli_commands.c").write_text(source(commands, options, exits), encoding="utf-8")


def check(commands: list[dict[str, str]], options: list[dict[str, str]], names: list[str]) -> None:
    for row in commands:
        if not re.fullmatch(r"[a-z]+", row["name"]) or not row["example"].startswith("tubwright "):
            raise SystemExit(f"commands.csv: {row['name']}: a name is one word, an example starts with tubwright")
        if len(row["summary"]) > 48:
            raise SystemExit(f"commands.csv: {row['name']}: the summary is longer than 48")
    for row in options:
        if row["command"] not in ("*", *names):
            raise SystemExit(f"command_options.csv: there is no command {row['command']}")
    seen: dict[tuple[str, str], str] = {}
    for row in options:
        if row["command"] != "*" and ("*", row["option"]) in seen or (row["command"], row["option"]) in seen:
            raise SystemExit(f"command_options.csv: {row['option']} stands there twice")
        seen[row["command"], row["option"]] = row["argument"]


def constant(word: str) -> str:
    return word.upper().replace("-", "_")


def header(names: list[str], words: list[str], exits: list[dict[str, str]]) -> str:
    lines = ["/* Made from data/commands.csv by tools/gen/commands.py. */", "#ifndef TW_GEN_CLI_COMMANDS_H",
             "#define TW_GEN_CLI_COMMANDS_H", "", "/* Exit codes of the program, data/exit_codes.csv. */",
             "typedef enum tw_exit {",
             *(f"    TW_EXIT_{constant(row['name'])} = {row['code']}, /* {row['meaning']} */" for row in exits),
             "    TW_EXITS_END", "} tw_exit;", "", "/* Options; cli->option[TW_OPTION_HOURS] is its argument. */",
             "typedef enum tw_option {", *(f"    TW_OPTION_{constant(word)}," for word in words),
             "    TW_OPTIONS", "} tw_option;", "", "struct tw_cli;", "",
             "/* A row of data/commands.csv; usage, examples and text of --help. */", "typedef struct {",
             "    const char *name;", "    int (*run)(struct tw_cli *cli, int argc, char **argv);",
             "    const char *summary;", "    const char *usage;", "    const char *example; /* one a line */",
             "    const char *about;", "} tw_command_row;", "",
             "/* A row of data/command_options.csv; command is \"*\" for those of every command. */",
             "typedef struct {", "    const char *command;", "    const char *name;", "    tw_option option;",
             "    char short_name;      /* 0: none */", "    const char *argument; /* \"\": a flag */",
             "    const char *meaning;", "} tw_option_row;", "",
             "/* A row of data/exit_codes.csv. */", "typedef struct {", "    int code;", "    const char *name;",
             "    const char *meaning;", "} tw_exit_row;", "",
             f"/* How many commands. */\n#define TW_COMMANDS {len(names)}",
             "extern const tw_command_row tw_cli_commands[TW_COMMANDS];",
             "extern const unsigned tw_cli_options;", "extern const tw_option_row tw_cli_option_rows[];",
             f"/* How many exit codes. */\n#define TW_EXIT_ROWS {len(exits)}",
             "extern const tw_exit_row tw_cli_exit_rows[TW_EXIT_ROWS];", "",
             "/* The commands, each in its file of src/cli. */",
             *(f"int tw_cli_{name}(struct tw_cli *cli, int argc, char **argv);" for name in names), "", "#endif", ""]
    return "\n".join(lines)


def source(commands: list[dict[str, str]], options: list[dict[str, str]], exits: list[dict[str, str]]) -> str:
    lines = ["/* Made from data/commands.csv by tools/gen/commands.py. */", '#include "gen/cli_commands.h"', "",
             "const tw_command_row tw_cli_commands[TW_COMMANDS] = {"]
    for row in commands:
        texts = [row["summary"], row["usage"], row["example"].replace("|", "\n") if "solve" not in row["name"]
                 else row["example"].replace("|tubwright", "\ntubwright"), row["about"]]
        inner = ", ".join(c_string(text.replace("\n", "\x01")).replace("\\001", "\\n") for text in texts)
        lines.append(f"    {{{c_string(row['name'])}, tw_cli_{row['name']}, {inner}}},")
    lines += ["};", "", f"const unsigned tw_cli_options = {len(options)};", "",
              "const tw_option_row tw_cli_option_rows[] = {"]
    for row in options:
        short = f"'{row['short']}'" if row["short"] else "0"
        lines.append(f"    {{{c_string(row['command'])}, {c_string(row['option'])}, "
                     f"TW_OPTION_{constant(row['option'])}, {short}, {c_string(row['argument'])}, "
                     f"{c_string(row['meaning'])}}},")
    lines += ["};", "", "const tw_exit_row tw_cli_exit_rows[TW_EXIT_ROWS] = {",
              *(f"    {{{row['code']}, {c_string(row['name'])}, {c_string(row['meaning'])}}}," for row in exits),
              "};", ""]
    return "\n".join(lines)
