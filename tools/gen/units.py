"""Units of the trade: data/units.csv, data/unit_questions.csv and data/shown.csv -> gen/unit_tables.h and .c."""
from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from pathlib import Path

from _common import c_string, read_csv

COLUMNS = ["word", "aliases", "ucum", "quantity", "basis", "factor", "divisor", "zero",
           "decimals", "name", "source", "mark"]
# Quantities in the order of the enum; the inside unit of each stands in units/convert.h.
QUANTITIES = ["number", "concentration", "volume", "mass", "temperature", "duration",
              "conductivity", "output", "power", "energy", "flow", "fraction", "length",
              "potential", "current"]
BASES = ["any", "caco3", "hardness", "alkalinity"]
INSIDE = {"number": "1", "concentration": "mg/L", "volume": "L", "mass": "g", "temperature": "Cel",
          "duration": "h", "conductivity": "uS/cm", "output": "g/h", "power": "kW",
          "energy": "kWh", "flow": "L/min", "fraction": None, "length": "cm",
          "potential": "mV", "current": "A"}
MARKS = {"definition", "published", "published, second hand", "from memory", "common practice",
         "computed"}


def enum_name(word: str) -> str:
    """mg/L -> TW_UNIT_MG_PER_L, gal-us -> TW_UNIT_GAL_US, 1 -> TW_UNIT_ONE."""
    if word == "1":
        return "TW_UNIT_ONE"
    return "TW_UNIT_" + re.sub(r"[^A-Z0-9]+", "_", word.upper().replace("/", "_PER_"))


def number(text: str, where: str) -> str:
    """A decimal constant for C, with a point so that it is a double."""
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise SystemExit(f"{where}: '{text}' is not a number") from None
    if not value.is_finite() or value < 0 or len(value.as_tuple().digits) > 15:
        raise SystemExit(f"{where}: '{text}' is negative, infinite or longer than 15 digits")
    return text if "." in text else text + ".0"


def check(rows: list[dict[str, str]], questions: list[dict[str, str]]) -> None:
    words = [row["word"] for row in rows]
    typed: dict[str, str] = {}
    for row in rows:
        where = f"units.csv, {row['word']}"
        if not re.fullmatch(r"[A-Za-z0-9/-]{1,12}", row["word"]):
            raise SystemExit(f"{where}: a word has 1 to 12 letters, digits, / or -")
        if row["quantity"] not in QUANTITIES or row["basis"] not in BASES:
            raise SystemExit(f"{where}: unknown quantity or basis")
        if row["mark"] not in MARKS or not row["source"] or not row["name"]:
            raise SystemExit(f"{where}: name, source and a known mark are needed")
        if Decimal(row["factor"]) <= 0 or Decimal(row["divisor"]) <= 0:
            raise SystemExit(f"{where}: factor and divisor are above zero")
        if not row["decimals"].isdigit() or int(row["decimals"]) > 12:
            raise SystemExit(f"{where}: decimals are 0..12")
        for alias in [row["word"], *row["aliases"].split()]:
            if alias in typed:
                raise SystemExit(f"{where}: '{alias}' already means {typed[alias]}")
            typed[alias] = row["word"]
    if len(set(map(enum_name, words))) != len(words):
        raise SystemExit("units.csv: two words give the same name in C")
    for quantity, word in INSIDE.items():
        if word is not None and next((r for r in rows if r["word"] == word
                                      and r["quantity"] == quantity
                                      and Decimal(r["factor"]) == Decimal(r["divisor"]) == 1
                                      and Decimal(r["zero"]) == 0), None) is None:
            raise SystemExit(f"units.csv: {quantity} lacks its inside unit {word}")
    for row in questions:
        if row["word"] in typed:
            raise SystemExit(f"unit_questions.csv: '{row['word']}' is also a unit or an alias")
        if len(row["meanings"].split()) < 2:
            raise SystemExit(f"unit_questions.csv, {row['word']}: two meanings at least")
        for meaning in row["meanings"].split():
            if meaning not in words:
                raise SystemExit(f"unit_questions.csv, {row['word']}: no unit {meaning}")


def check_shown(rows: list[dict[str, str]], shown: list[dict[str, str]]) -> None:
    quantity = {row["word"]: row["quantity"] for row in rows}
    if len(shown) > 32:
        raise SystemExit("shown.csv: 32 rows at most")
    for row in shown:
        where = f"shown.csv, {row['choice']} of {row['of']}"
        if row["of"] not in quantity or quantity.get(row["unit"]) != quantity[row["of"]]:
            raise SystemExit(f"{where}: two units of one quantity are needed")
        if not row["label"] or not row["seen"] or not row["source"] or row["mark"] not in MARKS or row["digits"] not in ("", "3"):
            raise SystemExit(f"{where}: a label, a source, a known mark, and digits 3 or none")


def header(rows: list[dict[str, str]], aliases: int, questions: int, shown: int) -> str:
    out = ["/* Made by tools/gen/units.py from data/units.csv, data/unit_questions.csv and data/shown.csv. */",
           "#ifndef TW_GEN_UNIT_TABLES_H", "#define TW_GEN_UNIT_TABLES_H", "",
           "typedef enum tw_quantity {"]
    out += [f"    TW_QUANTITY_{q.upper()}," for q in QUANTITIES]
    out += ["    TW_QUANTITIES", "} tw_quantity;", "",
            "/* Of what a concentration can be: of anything, of hardness or alkalinity as CaCO3,",
            " * of hardness only, of alkalinity only. */", "typedef enum tw_basis {"]
    out += [f"    TW_BASIS_{b.upper()}," for b in BASES]
    out += ["    TW_BASES", "} tw_basis;", "", "typedef enum tw_unit {"]
    out += [f"    {enum_name(r['word'])}, /* {r['name']} */" for r in rows]
    out += ["    TW_UNITS", "} tw_unit;", "",
            "/* inside = (typed - zero) * factor / divisor */",
            "typedef struct {",
            "    const char *word;     /* as it stands in the logbook              */",
            "    tw_quantity quantity;",
            "    tw_basis basis;",
            "    double factor, divisor, zero;",
            "    int decimals;         /* shown to people when nothing else is said */",
            "} tw_unit_row;", "",
            "/* What stands beside it for people who look; the page's core is linked without it. */", "typedef struct {",
            "    const char *ucum;     /* code of UCUM, \"\" where it has none       */",
            "    const char *name;     /* in words                                 */",
            "    const char *source;   /* where the factor comes from              */",
            "    const char *mark;     /* how well that is known                   */",
            "} tw_unit_about;", "",
            "/* A word that a person may type, in order of its bytes. */",
            "typedef struct {", "    const char *word;", "    tw_unit unit;", "} tw_unit_alias;", "",
            "/* One meaning of a word that must be asked. */",
            "typedef struct {", "    const char *word;", "    tw_unit meaning;",
            "} tw_unit_question;", "",
            "/* What a unit is shown in by a choice, from such an amount on (in that unit); later rows go before earlier ones. */",
            "typedef struct {", "    const char *choice;", "    const char *seen; /* the unit as answers write it */", "    tw_unit of, unit;", "    double least;", "    const char *label;",
            "    int digits; /* significant ones; 0: decimals stay */", "} tw_shown_row;", "",
            f"#define TW_UNIT_ALIASES {aliases}", f"#define TW_UNIT_QUESTIONS {questions}", f"#define TW_SHOWN_ROWS {shown}", "",
            "extern const tw_shown_row tw_units_shown_rows[TW_SHOWN_ROWS];",
            "extern const tw_unit_row tw_units_rows[TW_UNITS];",
            "extern const tw_unit_about tw_units_about[TW_UNITS];",
            "extern const tw_unit_alias tw_units_aliases[TW_UNIT_ALIASES];",
            "extern const tw_unit_question tw_units_questions[TW_UNIT_QUESTIONS];",
            "extern const char *const tw_units_quantity_names[TW_QUANTITIES];", "", "#endif", ""]
    return "\n".join(out)


def source(rows, aliases, questions, shown) -> str:
    out = ["/* Made by tools/gen/units.py from data/units.csv, data/unit_questions.csv and data/shown.csv. */",
           '#include "gen/unit_tables.h"', "",
           "const tw_unit_row tw_units_rows[TW_UNITS] = {"]
    for r in rows:
        where = f"units.csv, {r['word']}"
        out.append("    {" + ", ".join([
            c_string(r["word"]), "TW_QUANTITY_" + r["quantity"].upper(),
            "TW_BASIS_" + r["basis"].upper(), number(r["factor"], where),
            number(r["divisor"], where), number(r["zero"], where), r["decimals"]]) + "},")
    out += ["};", "", "const tw_unit_about tw_units_about[TW_UNITS] = {"]
    out += ["    {" + ", ".join(c_string(r[column]) for column in ("ucum", "name", "source", "mark")) + "}," for r in rows]
    out += ["};", "", "const tw_unit_alias tw_units_aliases[TW_UNIT_ALIASES] = {"]
    out += [f"    {{{c_string(a)}, {enum_name(w)}}}," for a, w in aliases]
    out += ["};", "", "const tw_unit_question tw_units_questions[TW_UNIT_QUESTIONS] = {"]
    out += [f"    {{{c_string(q)}, {enum_name(w)}}}," for q, w in questions]
    out += ["};", "", "const tw_shown_row tw_units_shown_rows[TW_SHOWN_ROWS] = {"]
    out += [f"    {{{c_string(r['choice'])}, {c_string(r['seen'])}, {enum_name(r['of'])}, {enum_name(r['unit'])}, {number(r['least'], 'shown.csv')}, {c_string(r['label'])}, {r['digits'] or 0}}},"
            for r in shown]
    out += ["};", "", "const char *const tw_units_quantity_names[TW_QUANTITIES] = {"]
    out += [f"    {c_string(q)}," for q in QUANTITIES]
    out += ["};", ""]
    return "\n".join(out)


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "units.csv", COLUMNS)
    asked = read_csv(data_dir / "unit_questions.csv", ["word", "meanings", "source", "mark"])
    shown = read_csv(data_dir / "shown.csv", ["choice", "of", "seen", "least", "unit", "label", "digits", "source", "mark"])
    check(rows, asked)
    check_shown(rows, shown)
    aliases = sorted(((a, r["word"]) for r in rows for a in [r["word"], *r["aliases"].split()]),
                     key=lambda pair: pair[0].encode())
    questions = [(q["word"], w) for q in asked for w in q["meanings"].split()]
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "unit_tables.h").write_text(header(rows, len(aliases), len(questions), len(shown)), "utf-8")
    (gen / "unit_tables.c").write_text(source(rows, aliases, questions, shown), "utf-8")
