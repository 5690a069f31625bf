"""Other languages than English: data/text/<room>.<language>.csv and terms.<language>.csv -> gen/<language>.language (the pack
that src/units/language.h describes), gen/cli_languages.h and .c (the same inside the program, and terminal.<language>.csv: what the program says
beside the core's answers).

A row has the English one's arguments; one that is no row in English is refused. What a language does not have yet stands
there in English, and tests/cli/languages names it.
"""
from __future__ import annotations

import csv
import re
from pathlib import Path

from _common import read_csv
from _entry import allowed, analyte_unit, load, setting_unit, span

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
RANGE = re.compile(r"(?:whole numbers )?-?\d[\d.]* to -?\d")
ARGUMENT = re.compile(r"\{[a-z_]+(?::[a-z0-9]+)?\}")


# Kinds of entries that people write by forms or see described; words of entries that sentences show.
KINDS = {"tub", "plate", "volume", "source", "standard", "addition", "exchange", "setting", "bathers", "part", "care", "power-cut", "symptom",
         "note", "waiver", "definition", "ready-by", "stock"}
WORDS = {"use", "start", "acids", "yes-no", "yes-no-unknown", "volume-method", "origin", "checked", "analyte", "instrument", "doubt", "part",
         "part-act", "care-job", "job-state", "visit-state", "symptom", "defines"}
# Names that stand in the code (src/answer/describe.c).
SPOKEN = {"scoops", "announced act", "of a product defined here"}


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(path: Path, *names: str) -> list[str]:
    return [row[name] for row in table(path) for name in names if row[name]]


def names_of_tables(data_dir: Path) -> set[str]:
    """What tables of the trade show to people under its English name."""
    fields = [row for row in table(data_dir / "entry/fields.csv") if row["kind"] in KINDS]
    words = table(data_dir / "entry/words.csv")
    used = {row["words"] for row in fields}
    return {*column(data_dir / "answer.csv", "label"), *column(data_dir / "substances.csv", "plain", "source", "mark"),
            *column(data_dir / "drain.csv", "source", "mark"), *column(data_dir / "profiles.csv", "title"), *column(data_dir / "acts.csv", "id"),
            *(row["id"] for row in table(data_dir / "conditions.csv") if row["waivable"] == "1"),
            *(row[column] for row in table(data_dir / "entry/kinds.csv") if row["kind"] in KINDS for column in ("kind", "summary")),
            *(row["meaning"] for row in fields), *(row["word"] for row in words if row["set"] in WORDS),
            *(row["meaning"] for row in words if row["set"] in used | {"role"}),
            *column(data_dir / "units.csv", "name"), *column(data_dir / "entry/faults.csv", "text"), *map(shape, ranges(data_dir)), "% an hour", *SPOKEN}


def ranges(data_dir: Path) -> set[str]:
    """What fields allow, as a refusal says it: "0 to 100 mg/L", "a date such as 2026-03-24"; lists of words stay as they are typed."""
    model = load(data_dir)
    found = {allowed(model, row) for row in model.rows if row["type"] not in ("word", "unit")}
    found |= {span(row["min"], row["max"], analyte_unit(row)) for row in model.analytes}
    found |= {span(row["min"], row["max"], setting_unit(row)) for row in model.settings if row["quantity"] != "fraction"}
    return {text for text in found if text} | {"0 to 100 percent or 0 to 24 h a day"}


def shape(text: str) -> str:
    """A range without its numbers, so that one term serves all of its kind: "N to N mg/L"."""
    return NUMBER.sub("N", text) if RANGE.match(text) else text


def filled(text: str, theirs: str, point: str) -> str:
    """A range in a language: its shape there with these numbers."""
    numbers = NUMBER.findall(text)
    return re.sub(r"\bN\b", lambda _: numbers.pop(0).replace(".", point), theirs) if RANGE.match(text) else theirs


def rooms(data_dir: Path, language: str) -> dict[str, tuple[dict[str, str], dict[str, str]]]:
    """The sentences of each room by their ids, in English and in a language."""
    found = {}
    for path in sorted((data_dir / "text").glob("*.en.csv")):
        english = {row["id"]: row["text"] for row in read_csv(path, ["id", "text"])}
        theirs = path.with_name(path.name.replace(".en.", f".{language}."))
        texts = {row["id"]: row["text"] for row in read_csv(theirs, ["id", "text"])}
        check(theirs.name, english, texts)
        found[path.name.split(".")[0]] = english, texts
    return found


def check(name: str, english: dict[str, str], texts: dict[str, str]) -> None:
    for key, text in texts.items():
        if key not in english:
            raise SystemExit(f"{name}: {key} is no sentence in English")
        if not text or text.strip() != text.lstrip() or "\n" in text or "\0" in text:
            raise SystemExit(f"{name}: {key}: one line, no blanks behind")
        if set(ARGUMENT.findall(text)) != set(ARGUMENT.findall(english[key])):
            raise SystemExit(f"{name}: {key} has other arguments than in English")


def terms(data_dir: Path, language: str) -> dict[str, str]:
    path = data_dir / f"text/terms.{language}.csv"
    rows = {row["term"]: row["text"] for row in read_csv(path, ["term", "text"])}
    for key in sorted(rows.keys() - names_of_tables(data_dir)):
        raise SystemExit(f"{path.name}: '{key}' is no name that a table shows")
    check(path.name, {key: key for key in rows}, rows)
    return rows


def lacking(data_dir: Path, language: str) -> list[str]:
    """What has no text in a language yet."""
    found = [f"{room}.{language}.csv: {key}" for room, (english, texts) in rooms(data_dir, language).items() for key in english if key not in texts]
    return found + [f"terms.{language}.csv: {name}" for name in sorted(names_of_tables(data_dir) - terms(data_dir, language).keys())]


def pack(data_dir: Path, language: str) -> bytes:
    pairs: dict[str, str] = {}
    for room, (english, texts) in rooms(data_dir, language).items():
        mark = "/" if room == "app" else ""
        both = {key: texts.get(key, english[key]) for key in english}
        pairs |= {mark + key: text for key, text in both.items()}
        # What an analyte is called, and what is asked, are sentences already.
        pairs |= {"=" + english[key]: text for key, text in both.items() if key.startswith("analyte-")}
        pairs |= {"=" + key.removeprefix("question-"): text for key, text in both.items() if key.startswith("question-")}
    names = terms(data_dir, language)
    pairs |= {"=" + key: text for key, text in names.items()}
    pairs |= {"=" + text: filled(text, names[shape(text)], pairs["form-decimal"]) for text in ranges(data_dir) if shape(text) in names}
    texts_in_order = [text for key in sorted(pairs, key=lambda name: name.encode("utf-8")) for text in (key, pairs[key])]
    return "".join(text + "\0" for text in ["tubwright language 1", language, *texts_in_order]).encode("utf-8")


def terminal(data_dir: Path, language: str) -> dict[str, str]:
    """What the program says beside answers, by its English."""
    path = data_dir / f"text/terminal.{language}.csv"
    rows = {row["english"]: row["text"] for row in read_csv(path, ["english", "text"])}
    check(path.name, {key: key for key in rows}, rows)
    return rows


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    packs = {path.name.split(".")[1]: b"" for path in sorted((data_dir / "text").glob("terms.*.csv"))}
    for language in packs:
        packs[language] = pack(data_dir, language)
        (gen / f"{language}.language").write_bytes(packs[language])
    header = ["/* Made from data/text by tools/gen/languages.py. */", "#ifndef TW_GEN_CLI_LANGUAGES_H", "#define TW_GEN_CLI_LANGUAGES_H", "",
              "#include <stddef.h>", "", "/* What the program says in English and in a language. */", "typedef struct {", "    const char *english, *text;", "} tw_language_pair;", "",
              "/* A language inside the program: its tag, its pack (src/units/language.h), and what is said beside answers in the order of the English. */",
              "typedef struct {", "    const char *tag;", "    const unsigned char *bytes;", "    size_t n;", "    const tw_language_pair *terminal;", "    size_t terminals;",
              "} tw_language_row;", "",
              f"/* How many languages beside English. */\n#define TW_CLI_LANGUAGES {len(packs)}",
              "extern const tw_language_row tw_cli_languages[TW_CLI_LANGUAGES];", "", "#endif", ""]
    source = ["/* Made from data/text by tools/gen/languages.py. */", '#include "gen/cli_languages.h"', ""]
    for language, data in packs.items():
        source += [f"static const unsigned char {language.upper()}[] = {{", *("    " + ",".join(map(str, data[at:at + 32])) + "," for at in range(0, len(data), 32)), "};"]
        said = sorted(terminal(data_dir, language).items(), key=lambda pair: pair[0].encode("utf-8"))
        source += [f"static const tw_language_pair {language.upper()}_TERMINAL[] = {{", *(f"    {{{quoted(english)}, {quoted(text)}}}," for english, text in said), "};"]
    source += ["", "const tw_language_row tw_cli_languages[TW_CLI_LANGUAGES] = {",
               *(f'    {{"{language}", {language.upper()}, {len(data)}, {language.upper()}_TERMINAL, sizeof {language.upper()}_TERMINAL / sizeof *{language.upper()}_TERMINAL}},'
                 for language, data in packs.items()), "};", ""]
    (gen / "cli_languages.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "cli_languages.c").write_text("\n".join(source), encoding="utf-8")
