"""Words that log takes: data/log_words.csv, data/log_aliases.csv, data/substance_names.csv -> gen/cli_words.h, .c."""
from __future__ import annotations

import csv
from pathlib import Path

from _common import c_string, read_csv

DOES = ["by", "at", "ago", "of", "dose", "intent", "answer", "exchange", "two", "bathers", "volume", "until",
        "plain", "text", "reply", "waive", "ready", "remark", "void"]


def generate(data_dir: Path, out_dir: Path) -> None:
    words = read_csv(data_dir / "log_words.csv", ["word", "does", "preset", "example", "meaning"])
    aliases = read_csv(data_dir / "log_aliases.csv", ["typed", "means", "set"])
    names = read_csv(data_dir / "substance_names.csv", ["typed", "id"])
    substances = {row["id"] for row in csv.DictReader((data_dir / "substances.csv").open(encoding="utf-8", newline=""))}
    for row in names:
        if not row["id"] or set(row["id"].split()) - substances:
            raise SystemExit(f"substance_names.csv: {row['typed']}: there is no substance {row['id']}")
    if len({row["typed"].lower().replace("-", " ") for row in names}) != len(names):
        raise SystemExit("substance_names.csv: a name stands twice")
    for row in words:
        if row["does"] not in DOES:
            raise SystemExit(f"log_words.csv: {row['word']}: does is one of {DOES}")
        if row["word"] not in row["example"]:
            raise SystemExit(f"log_words.csv: {row['word']}: the example shows the word")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    header = ["/* Made from data/log_words.csv by tools/gen/cli_words.py. */", "#ifndef TW_GEN_CLI_WORDS_H",
              "#define TW_GEN_CLI_WORDS_H", "", "/* What a word of log does. */", "typedef enum tw_log_does {",
              *(f"    TW_LOG_{name.upper()}," for name in DOES), "    TW_LOG_DOES", "} tw_log_does;", "",
              "/* A row of data/log_words.csv. */", "typedef struct {", "    const char *word;", "    tw_log_does does;",
              "    const char *preset;  /* field=value, blanks between */", "    const char *example;",
              "    const char *meaning;", "} tw_log_word;", "", "/* A row of data/log_aliases.csv. */",
              "typedef struct {", "    const char *typed, *means, *set;", "} tw_log_alias;", "",
              f"/* How many words. */\n#define TW_LOG_WORDS {len(words)}",
              "extern const tw_log_word tw_cli_log_words[TW_LOG_WORDS];",
              f"/* How many aliases. */\n#define TW_LOG_ALIASES {len(aliases)}",
              "extern const tw_log_alias tw_cli_log_aliases[TW_LOG_ALIASES];", "",
              "/* What people call a substance, or what a box says. Several ids, blanks between: the word alone does not tell. */",
              "typedef struct {", "    const char *typed, *id;", "} tw_substance_name;",
              "", f"/* How many names. */\n#define TW_CLI_SUBSTANCE_NAMES {len(names)}",
              "extern const tw_substance_name tw_cli_substance_names[TW_CLI_SUBSTANCE_NAMES];", "", "#endif", ""]
    source = ["/* Made from data/log_words.csv by tools/gen/cli_words.py. */", '#include "gen/cli_words.h"', "",
              "const tw_log_word tw_cli_log_words[TW_LOG_WORDS] = {",
              *(f"    {{{c_string(row['word'])}, TW_LOG_{row['does'].upper()}, {c_string(row['preset'])}, "
                f"{c_string(row['example'])}, {c_string(row['meaning'])}}}," for row in words), "};", "",
              "const tw_log_alias tw_cli_log_aliases[TW_LOG_ALIASES] = {",
              *(f"    {{{c_string(row['typed'])}, {c_string(row['means'])}, {c_string(row['set'])}}}," for row in aliases),
              "};", "", "const tw_substance_name tw_cli_substance_names[TW_CLI_SUBSTANCE_NAMES] = {",
              *(f"    {{{c_string(row['typed'])}, {c_string(row['id'])}}}," for row in names), "};", ""]
    (gen / "cli_words.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "cli_words.c").write_text("\n".join(source), encoding="utf-8")
