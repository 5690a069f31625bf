"""JSON schema of the logbook's entries -> gen/entry.schema.json (draft 2020-12).

It describes what this version writes. A reader takes more: kinds, fields, words and units that it
does not know are kept. Ranges of numbers, which are text, stand in the descriptions.
"""
from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from _entry import MEASURES, Model, allowed, load

DECIMAL = "^-?(0|[1-9][0-9]*)(\\.[0-9]+)?$"
PATTERNS = {
    "uuid": "^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$",
    "time": "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}[+-][0-9]{2}:[0-9]{2}$",
    "date": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
    "hash": "^[0-9a-f]{64}$",
    "count": "^(0|[1-9][0-9]*)$",
    "decimal": DECIMAL,
    "word": "^[a-z0-9][a-z0-9-]*$",
}


def field(model: Model, row: dict[str, str]) -> dict[str, Any]:
    out: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": int(row["max_length"])}
    text = row["meaning"]
    if row["type"] == "word" and row["words"] and row["words"] != "@substances":
        return {"enum": [w["word"] for w in model.sets[row["words"]]], "description": text}
    if row["type"] == "unit":
        quantities, bases, _ = MEASURES[row["quantity"]]
        words = model.unit_words(quantities, bases) or [u["word"] for u in model.units]
        return {"enum": words, "description": text}
    if row["type"] in PATTERNS:
        out["pattern"] = PATTERNS[row["type"]]
    if row["field"] == "id":
        out["pattern"] = PATTERNS["uuid"].replace("[1-8]", "[78]")
    if row["type"] in ("decimal", "count"):
        text += f" ({allowed(model, row)})"
    return {**out, "description": text}


def rule(row: dict[str, str]) -> dict[str, Any] | None:
    """What a schema can say of a rule between fields; comparisons it cannot."""
    fields = row["fields"].split()
    then: dict[str, Any]
    if row["rule"] == "needs":
        then = {"required": fields}
    elif row["rule"] == "needs-one":
        then = {"anyOf": [{"required": [f]} for f in fields]}
    elif row["rule"] == "excludes":
        then = {"not": {"anyOf": [{"required": [f]} for f in fields]}}
    elif row["rule"] == "allows":
        then = {"properties": {fields[0]: {"enum": fields[1:]}}}
    else:
        return None
    when: dict[str, Any] = {"required": [row["when"]]}
    if row["words"]:
        when["properties"] = {row["when"]: {"enum": row["words"].split()}}
    return {"if": when, "then": then}


def of_kind(model: Model, kind: dict[str, str]) -> dict[str, Any]:
    rows = model.of_kind(kind["kind"])
    properties = {row["field"]: field(model, row) for row in rows}
    properties["kind"] = {"const": kind["kind"]}
    rules = [made for row in model.rules if row["kind"] in ("*", kind["kind"]) and (made := rule(row))]
    first = {"if": {"properties": {"n": {"const": "1"}}}, "then": {"not": {"required": ["prev"]}},
             "else": {"required": ["prev"]}}
    units = [{"if": {"required": [row["field"]]}, "then": {"required": [row["unit"]]}} for row in rows
             if row["type"] == "decimal" and row["unit"] and not row["quantity"].startswith("by-analyte")]
    return {"description": kind["summary"], "type": "object", "properties": properties,
            "required": [row["field"] for row in rows if row["required"] == "yes"],
            "additionalProperties": False, "allOf": [first, *units, *rules]}


def generate(data_dir: Path, out_dir: Path) -> None:
    model = load(data_dir)
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "An entry of a logbook of Tubwright",
              "description": "One line of canonical JSON (RFC 8785); every value is text.",
              "oneOf": [{"$ref": f"#/$defs/{kind['kind']}"} for kind in model.kinds],
              "$defs": {kind["kind"]: of_kind(model, kind) for kind in model.kinds}}
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "entry.schema.json").write_text(json.dumps(schema, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
