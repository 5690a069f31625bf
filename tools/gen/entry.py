"""Kinds, fields, words and faults of the logbook's entries -> gen/entry_tables.h and .c."""
from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

from _common import c_string
from _entry import (BASES_OF, MEASURES, RULES, STATUSES, TYPES, Model, allowed, analyte_unit, load, setting_unit, span)
import units as unit_module

MADE = "/* Made by tools/gen/entry.py from the tables of data/entry and data/analytes.csv. */"
ROWS = """/* A field of a kind. TW_KINDS as kind: every kind has it. */
typedef struct {
    tw_kind kind;
    tw_field field;
    tw_type type;
    tw_measure measure;  /* of a decimal or a unit                                        */
    tw_field unit;       /* field that holds the unit of a decimal; TW_FIELDS: none       */
    tw_set set;          /* words; TW_SETS: none, or any word                             */
    int required;
    int has_min, has_max;
    double min, max;     /* in the inside unit; portions in g or mL, percent as typed     */
    int max_length;      /* characters                                                    */
    int substance;       /* 1: a substance of the table or the id of a definition         */
    const char *allowed; /* what may stand there, for people                              */
    const char *meaning;
} tw_field_row;

/* What a decimal measures: bits 1 << TW_QUANTITY_... and 1 << TW_BASIS_... of its units. */
typedef struct {
    const char *name;
    uint32_t quantities, bases;
    const char *units;   /* words of the units that go                                    */
} tw_measure_row;

typedef struct {
    const char *word, *short_word; /* short_word: what people may type instead, "" none */
} tw_word_row;

typedef struct {
    const char *name;
    const tw_word_row *word;
    int words;
    const char *allowed; /* all words */
} tw_set_row;

typedef struct {
    tw_quantity quantity;
    tw_basis basis;
    uint32_t quantities, bases; /* as tw_measure_row                       */
    tw_unit default_unit;       /* what a bare number is taken as when typed */
    double min, max;            /* in the inside unit; a fact, not a limit of good water */
    int decimals;               /* shown to people                         */
    const char *allowed, *units;
} tw_analyte_row;

typedef struct {
    int number;                 /* 1: set to a number, 0: to a state       */
    uint32_t quantities, bases;
    tw_unit default_unit;       /* when number                             */
    double min, max;
    const char *allowed, *units;
} tw_setting_row;

/* A rule between fields of one entry: when `when` is there and, if words is not empty, is one of
 * words, the rule holds for fields (names or words, see docs/logbook-format.md). */
typedef struct {
    tw_kind kind; /* TW_KINDS: every kind */
    tw_field when;
    const char *words;
    tw_rule rule;
    int fields;
    tw_field field[4];
    const char *allowed; /* words that field[0] may have, for TW_RULE_ALLOWS */
} tw_rule_row;

typedef struct {
    const char *name, *text;
    tw_status status;
} tw_fault_row;
"""


def c_name(*parts: str) -> str:
    return "TW_" + "_".join(re.sub(r"[^A-Z0-9]+", "_", part.upper()) for part in parts)


def enum(tag: str, names: list[str], last: str, notes: list[str] | None = None) -> list[str]:
    notes = notes or [""] * len(names)
    body = [f"    {name}," + (f" /* {note} */" if note else "") for name, note in zip(names, notes)]
    return [f"typedef enum {tag} {{", *body, f"    {last}", f"}} {tag};", ""]


def header(model: Model) -> list[str]:
    kinds = [k["kind"] for k in model.kinds]
    out = [MADE, "#ifndef TW_GEN_ENTRY_TABLES_H", "#define TW_GEN_ENTRY_TABLES_H", "", "#include <stdint.h>", "",
           '#include "gen/unit_tables.h"', '#include "num/status.h"', ""]
    out += enum("tw_kind", [c_name("kind", k) for k in kinds], "TW_KINDS", [k["summary"] for k in model.kinds])
    out += enum("tw_field", [c_name("field", f) for f in model.fields()], "TW_FIELDS")
    out += enum("tw_type", [c_name("type", t) for t in TYPES], "TW_TYPES")
    out += enum("tw_measure", [c_name("measure", m) for m in MEASURES], "TW_MEASURES")
    out += enum("tw_set", [c_name("set", s) for s in model.sets], "TW_SETS")
    out += enum("tw_rule", [c_name("rule", r) for r in RULES], "TW_RULES")
    out += enum("tw_fault_id", ["TW_FAULT_NONE", *(c_name("fault", f["fault"]) for f in model.faults)], "TW_FAULTS")
    for name, words in model.sets.items():
        if name != "kind":
            out += enum("tw_word_" + name.replace("-", "_"), [c_name(name, w["word"]) for w in words],
                        c_name(name, "words"), [w["meaning"] for w in words])
    constants = re.findall(r"^    (TW_\w+)", "\n".join(out), re.M)
    if len(set(constants)) != len(constants):
        raise SystemExit("data/entry: two words give the same name in C: "
                         + " ".join({c for c in constants if constants.count(c) > 1}))
    rows = len(model.rows)
    out += [ROWS, f"#define TW_FIELD_ROWS {rows}", f"#define TW_RULE_ROWS {len(model.rules)}",
            f"#define TW_SUBSTANCE_NAMES {len(model.substances)}", "",
            "extern const char *const tw_logbook_field_names[TW_FIELDS];",
            "/* Fields in order of the bytes of their names. */",
            "extern const tw_field tw_logbook_fields_by_name[TW_FIELDS];",
            "extern const tw_field_row tw_logbook_field_rows[TW_FIELD_ROWS];",
            "/* Rows of a kind: from[kind] .. from[kind + 1] - 1; common ones 0 .. from[0] - 1. */",
            "extern const int tw_logbook_field_from[TW_KINDS + 1];",
            "extern const tw_measure_row tw_logbook_measures[TW_MEASURES];",
            "extern const tw_set_row tw_logbook_sets[TW_SETS];",
            "extern const tw_analyte_row tw_logbook_analytes[TW_ANALYTE_WORDS];",
            "extern const tw_setting_row tw_logbook_settings[TW_SETTING_WORDS];",
            "extern const tw_rule_row tw_logbook_rules[TW_RULE_ROWS];",
            "extern const tw_fault_row tw_logbook_faults[TW_FAULTS];",
            "/* Ids of data/substances.csv; one empty text when there is no such table. */",
            "extern const char *const tw_logbook_substances[TW_SUBSTANCE_NAMES + 1];", "", "#endif", ""]
    return out


def c_number(text: str) -> str:
    value = text or "0"
    return value if "." in value else value + ".0"


def bits(prefix: str, names: list[str]) -> str:
    return " | ".join(f"1u << {c_name(prefix, n)}" for n in names) or "0"


def field_row(model: Model, row: dict[str, str]) -> str:
    kind = "TW_KINDS" if row["kind"] == "*" else c_name("kind", row["kind"])
    words = row["words"] if row["words"] and not row["words"].startswith("@") else ""
    return "    {" + ", ".join([
        kind, c_name("field", row["field"]), c_name("type", row["type"]),
        c_name("measure", row["quantity"] or "none"), c_name("field", row["unit"]) if row["unit"] else "TW_FIELDS",
        c_name("set", words) if words else "TW_SETS", str(int(row["required"] == "yes")),
        str(int(bool(row["min"]))), str(int(bool(row["max"]))), c_number(row["min"]), c_number(row["max"]),
        row["max_length"], str(int(row["words"] == "@substances")), c_string(allowed(model, row)),
        c_string(row["meaning"])]) + "},"


def numbers(model: Model) -> list[str]:
    """Analytes and settings: their units and ranges."""
    units = {u["word"]: unit_module.enum_name(u["word"]) for u in model.units}
    out = ["const tw_analyte_row tw_logbook_analytes[TW_ANALYTE_WORDS] = {"]
    for row in model.analytes:
        bases = BASES_OF[row["basis"]]
        out.append("    {" + ", ".join([
            c_name("quantity", row["quantity"]), c_name("basis", row["basis"]), bits("quantity", [row["quantity"]]),
            bits("basis", bases), units[row["default_unit"]], c_number(row["min"]), c_number(row["max"]),
            row["decimals"], c_string(span(row["min"], row["max"], analyte_unit(row))),
            c_string(" ".join(model.unit_words([row["quantity"]], bases)))]) + "},")
    out += ["};", "", "const tw_setting_row tw_logbook_settings[TW_SETTING_WORDS] = {"]
    for row in model.settings:
        if not row["quantity"]:
            out.append('    {0, 0, 0, (tw_unit)0, 0.0, 0.0, "", ""},')
            continue
        quantities = [row["quantity"], "duration"] if row["quantity"] == "fraction" else [row["quantity"]]
        text = "0 to 100 percent or 0 to 24 h a day" if row["quantity"] == "fraction" \
            else span(row["min"], row["max"], setting_unit(row))
        out.append("    {" + ", ".join([
            "1", bits("quantity", quantities), "1u << TW_BASIS_ANY", units[row["default_unit"]], c_number(row["min"]),
            c_number(row["max"]), c_string(text), c_string(" ".join(model.unit_words(quantities, ["any"])))]) + "},")
    return out + ["};", ""]


def source(model: Model) -> list[str]:
    out = [MADE, '#include "gen/entry_tables.h"', "",
           "const char *const tw_logbook_field_names[TW_FIELDS] = {"]
    out += [f"    {c_string(f)}," for f in model.fields()] + ["};", ""]
    out += ["const tw_field tw_logbook_fields_by_name[TW_FIELDS] = {"]
    out += [f"    {c_name('field', f)}," for f in sorted(model.fields(), key=str.encode)] + ["};", ""]
    for name, words in model.sets.items():
        out.append(f"static const tw_word_row WORDS_{name.upper().replace('-', '_')}[] = {{")
        out += [f"    {{{c_string(w['word'])}, {c_string(w['short'])}}}," for w in words]
        out += ["};", ""]
    out.append("const tw_set_row tw_logbook_sets[TW_SETS] = {")
    for name, words in model.sets.items():
        out.append(f"    {{{c_string(name)}, WORDS_{name.upper().replace('-', '_')}, {len(words)}, "
                   f"{c_string(' '.join(w['word'] for w in words))}}},")
    out += ["};", "", "const tw_field_row tw_logbook_field_rows[TW_FIELD_ROWS] = {"]
    out += [field_row(model, row) for row in model.rows] + ["};", ""]
    counts = [sum(r["kind"] == k for r in model.rows) for k in ["*", *(k["kind"] for k in model.kinds)]]
    starts = [sum(counts[:i + 1]) for i in range(len(counts))]
    out += [f"const int tw_logbook_field_from[TW_KINDS + 1] = {{{', '.join(map(str, starts))}}};", "",
            "const tw_measure_row tw_logbook_measures[TW_MEASURES] = {"]
    for name, (quantities, bases, _) in MEASURES.items():
        out.append(f"    {{{c_string(name)}, {bits('quantity', quantities)}, {bits('basis', bases)}, "
                   f"{c_string(' '.join(model.unit_words(quantities, bases)))}}},")
    out += ["};", "", *numbers(model), "const tw_rule_row tw_logbook_rules[TW_RULE_ROWS] = {"]
    for row in model.rules:
        words = row["fields"].split()
        named = words[:1] if row["rule"] == "allows" else words
        kind = "TW_KINDS" if row["kind"] == "*" else c_name("kind", row["kind"])
        out.append("    {" + ", ".join([
            kind, c_name("field", row["when"]), c_string(row["words"]), c_name("rule", row["rule"]), str(len(named)),
            "{" + ", ".join([c_name("field", f) for f in named] + ["TW_FIELDS"] * (4 - len(named))) + "}",
            c_string(" ".join(words[1:]) if row["rule"] == "allows" else "")]) + "},")
    out += ["};", "", "const tw_fault_row tw_logbook_faults[TW_FAULTS] = {", '    {"none", "", TW_OK},']
    out += [f"    {{{c_string(f['fault'])}, {c_string(f['text'])}, {STATUSES[f['status']]}}}," for f in model.faults]
    out += ["};", "", "const char *const tw_logbook_substances[TW_SUBSTANCE_NAMES + 1] = {"]
    out += [f"    {c_string(s)}," for s in model.substances] + ['    "",', "};", ""]
    return out


def generate(data_dir: Path, out_dir: Path) -> None:
    model = load(data_dir)
    for row in [*model.analytes, *model.rows, *model.settings]:
        for end in (row["min"], row["max"]):
            if end and len(Decimal(end).as_tuple().digits) > 15:
                raise SystemExit(f"'{end}' has more than 15 digits")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "entry_tables.h").write_text("\n".join(header(model)), encoding="utf-8")
    (gen / "entry_tables.c").write_text("\n".join(source(model)), encoding="utf-8")
