"""Keys of answers: data/answer.csv, and the sources of substances -> gen/answer_tables.h, .c, gen/answer.schema.json."""
from __future__ import annotations

import csv
import json
import re
from pathlib import Path

from _common import c_string, read_csv

TYPES = ["object", "list", "words-list", "number", "spread", "words", "text", "time", "flag", "digest", "drawing"]
SHOWS = ["", "left", "left-caps", "right", "rule", "act", "para", "points", "row", "line", "heading", "margin",
         "drawing", "rows", "tick", "strike", "logged", "products"]


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "answer.csv", ["key", "type", "unit", "decimals", "show", "label", "meaning"])
    check(rows)
    with (data_dir / "substances.csv").open(encoding="utf-8", newline="") as file:
        sources = [(row["source"], row["mark"]) for row in csv.DictReader(file)]
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "answer_tables.h").write_text(header(rows, len(sources)), encoding="utf-8")
    (gen / "answer_tables.c").write_text(source(rows, sources), encoding="utf-8")
    (gen / "answer.schema.json").write_text(json.dumps(schema(rows), indent=1, ensure_ascii=False) + "\n",
                                            encoding="utf-8")


def check(rows: list[dict[str, str]]) -> None:
    seen = set()
    for row in rows:
        where = f"answer.csv: {row['key']}"
        if not re.fullmatch(r"[a-z][a-z0-9_]*", row["key"]) or row["key"] in seen:
            raise SystemExit(f"{where}: a key is lower-case words with underscores, once")
        seen.add(row["key"])
        if row["type"] not in TYPES or row["show"] not in SHOWS:
            raise SystemExit(f"{where}: type is one of {TYPES}, show one of {SHOWS}")
        if (row["type"] in ("number", "spread")) != (row["decimals"] != ""):
            raise SystemExit(f"{where}: decimals belong to numbers and spreads, and to nothing else")
        if not row["meaning"]:
            raise SystemExit(f"{where}: say what it means")


def constant(word: str) -> str:
    return word.upper().replace("-", "_")


def header(rows: list[dict[str, str]], sources: int) -> str:
    lines = ["/* Made from data/answer.csv by tools/gen/answer.py. */", "#ifndef TW_GEN_ANSWER_TABLES_H",
             "#define TW_GEN_ANSWER_TABLES_H", "", "/* Keys of answers. */", "typedef enum tw_key {",
             *(f"    TW_KEY_{constant(row['key'])}, /* {row['meaning']} */" for row in rows), "    TW_KEYS",
             "} tw_key;", "", "/* What a key holds. */", "typedef enum tw_key_type {",
             *(f"    TW_HOLDS_{constant(kind)}," for kind in TYPES), "    TW_HOLDS_END", "} tw_key_type;", "",
             "/* How the text shows it. */", "typedef enum tw_show {",
             *(f"    TW_SHOW_{constant(show) or 'NO'}," for show in SHOWS), "    TW_SHOWS", "} tw_show;", "",
             "/* A row of data/answer.csv. */", "typedef struct {", "    const char *name;", "    tw_key_type type;",
             "    tw_show show;", "    int decimals;      /* -1: no number */", "    const char *unit;",
             "    const char *label;", "} tw_key_row;", "", "extern const tw_key_row tw_key_rows[TW_KEYS];", "",
             "/* Where a row of data/substances.csv comes from; in the order of the table. */", "typedef struct {",
             "    const char *source, *mark;", "} tw_source_row;", "",
             f"extern const tw_source_row tw_answer_sources[{sources}];", "", "#endif", ""]
    return "\n".join(lines)


def source(rows: list[dict[str, str]], sources: list[tuple[str, str]]) -> str:
    lines = ["/* Made from data/answer.csv by tools/gen/answer.py. */", '#include "gen/answer_tables.h"', "",
             "const tw_key_row tw_key_rows[TW_KEYS] = {"]
    for row in rows:
        lines.append(f"    {{{c_string(row['key'])}, TW_HOLDS_{constant(row['type'])}, "
                     f"TW_SHOW_{constant(row['show']) or 'NO'}, {row['decimals'] or -1}, "
                     f"{c_string(row['unit'])}, {c_string(row['label'])}}},")
    lines += ["};", "", f"const tw_source_row tw_answer_sources[{len(sources)}] = {{",
              *(f"    {{{c_string(text)}, {c_string(mark)}}}," for text, mark in sources)]
    return "\n".join([*lines, "};", ""])


def schema(rows: list[dict[str, str]]) -> dict[str, object]:
    """One schema for every answer: a key has the same meaning wherever it stands."""
    number = {"type": ["number", "null"]}
    said = {"type": "object", "required": ["id", "text"], "additionalProperties": False,
            "properties": {"id": {"type": "string"}, "text": {"type": "string"}}}
    spread = {"type": ["object", "null"], "required": ["median", "low", "high"], "additionalProperties": False,
              "properties": {"median": number, "low": number, "high": number}}
    time = {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$"}
    any_object = {"$ref": "#/$defs/object"}
    kinds: dict[str, object] = {
        "object": any_object, "list": {"type": "array", "items": any_object},
        "words-list": {"type": "array", "items": {"$ref": "#/$defs/said"}}, "number": number,
        "spread": {"$ref": "#/$defs/spread"}, "words": {"$ref": "#/$defs/said"}, "text": {"type": "string"},
        "time": {"$ref": "#/$defs/time"}, "flag": {"type": "boolean"},
        "digest": {"type": "string", "pattern": "^[0-9a-f]{64}$"}}
    properties = {}
    for row in rows:
        if row["key"] != "answer" and row["type"] != "drawing":
            unit = f" ({row['unit']})" if row["unit"] else ""
            kind = kinds[row["type"]]
            assert isinstance(kind, dict)
            properties[row["key"]] = {**kind, "description": row["meaning"] + unit}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "An answer of Tubwright",
            "$ref": "#/$defs/object", "required": ["question", "version", "at"],
            "$defs": {"object": {"type": "object", "additionalProperties": False, "properties": properties},
                      "said": said, "spread": spread, "time": time}}
