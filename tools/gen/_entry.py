"""The tables of data/entry/ and data/analytes.csv, read and checked once for every target."""
from __future__ import annotations

import re
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from pathlib import Path

from _common import read_csv
import units as unit_module

FIELD_COLUMNS = ["kind", "field", "type", "quantity", "unit", "required", "min", "max", "max_length",
                 "words", "meaning"]
RULE_COLUMNS = ["kind", "when", "words", "rule", "fields", "meaning"]
FAULT_COLUMNS = ["fault", "status", "text"]
SETTING_COLUMNS = ["setting", "quantity", "default_unit", "min", "max", "meaning"]
ANALYTE_COLUMNS = ["analyte", "short", "quantity", "basis", "default_unit", "min", "max", "decimals",
                   "source", "mark"]
TYPES = ["uuid", "word", "time", "date", "count", "hash", "text", "decimal", "unit"]
RULES = ["chained", "needs", "needs-one", "excludes", "allows", "above", "not-below", "not-before", "rising"]
STATUSES = {"format": "TW_ERR_FORMAT", "unknown": "TW_ERR_UNKNOWN", "missing": "TW_ERR_MISSING",
            "range": "TW_ERR_RANGE", "conflict": "TW_ERR_CONFLICT", "ambiguous": "TW_ERR_AMBIGUOUS"}
# What a decimal measures: name -> (quantities, bases of concentration, name of the inside unit).
MEASURES: dict[str, tuple[list[str], list[str], str]] = {
    "none": ([], [], ""),
    "percent": ([], [], "percent"),
    "volume": (["volume"], ["any"], "L"),
    "output": (["output"], ["any"], "g/h"),
    "concentration": (["concentration"], ["any"], "mg/L"),
    "hardness": (["concentration"], ["any", "caco3"], "mg/L"),
    "temperature": (["temperature"], ["any"], "Cel"),
    "flow": (["flow"], ["any"], "L/min"),
    "duration": (["duration"], ["any"], "h"),
    "power": (["power"], ["any"], "kW"),
    "portion": (["mass", "volume"], ["any"], "g or mL"),
    "amount": (["mass", "volume", "number"], ["any"], "g or mL"),
    "act-amount": (["mass", "volume", "number", "duration", "fraction", "temperature"], ["any"], ""),
    "by-analyte": ([], [], ""),
    "by-analyte-step": ([], [], ""),
    "by-setting": ([], [], ""),
}
BASES_OF = {"any": ["any"], "hardness": ["any", "caco3", "hardness"], "alkalinity": ["any", "caco3", "alkalinity"]}
MAX_FIELDS = 48  # TW_ENTRY_FIELDS in src/logbook/entry.h
WORD_FORM = "a word of small letters, digits, hyphens and points"


@dataclass
class Model:
    kinds: list[dict[str, str]]
    rows: list[dict[str, str]]            # of fields.csv, common ones first
    sets: dict[str, list[dict[str, str]]]  # words.csv, and kind
    rules: list[dict[str, str]]
    faults: list[dict[str, str]]
    analytes: list[dict[str, str]]
    settings: list[dict[str, str]]
    units: list[dict[str, str]]
    substances: list[str] = field(default_factory=list)

    def fields(self) -> list[str]:
        """Every name of a field, in the order of its first use."""
        return list(dict.fromkeys(row["field"] for row in self.rows))

    def of_kind(self, kind: str) -> list[dict[str, str]]:
        return [row for row in self.rows if row["kind"] in ("*", kind)]

    def unit_words(self, quantities: list[str], bases: list[str]) -> list[str]:
        return [u["word"] for u in self.units if u["quantity"] in quantities and u["basis"] in bases]


def fail(where: str, what: str) -> None:
    raise SystemExit(f"{where}: {what}")


def span(low: str, high: str, unit: str) -> str:
    """"50 to 20000 L"; the text that people see when a number is outside."""
    text = f"{low} to {high}" if low and high else f"from {low}" if low else f"up to {high}" if high else ""
    return f"{text} {unit}".strip() if text else ""


def analyte_unit(row: dict[str, str]) -> str:
    """The inside unit of an analyte's quantity as people write it; none for a plain number."""
    return unit_module.INSIDE[row["quantity"]] if row["quantity"] != "number" else ""


def setting_unit(row: dict[str, str]) -> str:
    return "" if row["quantity"] in ("", "fraction") else unit_module.INSIDE[row["quantity"]]


def allowed(model: Model, row: dict[str, str]) -> str:
    """What a field allows, in words; the same in messages, schema and documentation."""
    kind = row["type"]
    if kind == "uuid":
        return "36 characters such as 018f3c2a-7b1d-7c3e-9a4f-0123456789ab"
    if kind == "time":
        return "local time with offset such as 2026-03-24T10:40:00+01:00"
    if kind == "date":
        return "a date such as 2026-03-24"
    if kind == "hash":
        return "64 hexadecimal digits in small letters"
    if kind == "text":
        lines = ", lines may end" if int(row["max_length"]) >= 200 else ""
        return f"1 to {row['max_length']} printing characters{lines}"
    if kind == "count":
        return "whole numbers " + span(row["min"], row["max"], "")
    if kind == "word":
        if row["words"] == "@substances":
            return " ".join([*model.substances, "or the id of a definition"]) if model.substances else WORD_FORM
        return " ".join(w["word"] for w in model.sets[row["words"]]) if row["words"] else WORD_FORM
    if kind == "unit":
        quantities, bases, _ = MEASURES[row["quantity"]]
        return " ".join(model.unit_words(quantities, bases)) or "a unit of what is measured"
    bounds = span(row["min"], row["max"], MEASURES[row["quantity"] or "none"][2])
    return bounds or "numbers such as 7.4 or 120"


def number(where: str, text: str) -> None:
    try:
        if text:
            Decimal(text)
    except InvalidOperation:
        fail(where, f"'{text}' is not a number")


def check_field(model: Model, row: dict[str, str]) -> None:
    where = f"fields.csv, {row['kind']}.{row['field']}"
    names = [r["field"] for r in model.of_kind(row["kind"])]
    if not re.fullmatch(r"[a-z][a-z0-9_]*", row["field"]) or names.count(row["field"]) != 1:
        fail(where, "the name is not plain or stands twice")
    if row["type"] not in TYPES or row["required"] not in ("yes", "no") or not row["meaning"]:
        fail(where, "unknown type, required not yes or no, or no meaning")
    if (row["quantity"] or "none") not in MEASURES:
        fail(where, "unknown quantity")
    if row["words"] and row["words"] != "@substances" and row["words"] not in model.sets:
        fail(where, f"no set of words {row['words']}")
    if not row["max_length"].isdigit():
        fail(where, "max_length is needed")
    measured = row["type"] == "decimal" and row["quantity"] not in ("", "percent")
    if measured != bool(row["unit"]) and row["type"] != "text":
        fail(where, "a decimal with a quantity names the field of its unit")
    if row["unit"] and row["unit"] not in names:
        fail(where, f"no field {row['unit']}")
    number(where, row["min"])
    number(where, row["max"])


def check_rule(model: Model, row: dict[str, str]) -> None:
    where = f"rules.csv, {row['kind']}.{row['when']}"
    kinds = [k["kind"] for k in model.kinds] if row["kind"] == "*" else [row["kind"]]
    for kind in kinds:
        fields = {r["field"]: r for r in model.of_kind(kind)}
        named = row["fields"].split()[:1] if row["rule"] == "allows" else row["fields"].split()
        if row["rule"] not in RULES or row["when"] not in fields or not set(named) <= set(fields) or len(named) > 4:
            fail(where, "unknown rule or field, or more than four fields")
        words = fields[row["when"]]["words"]
        for word in row["words"].split():
            if words and word not in [w["word"] for w in model.sets[words]]:
                fail(where, f"no word {word}")


def check(model: Model) -> None:
    kinds = [k["kind"] for k in model.kinds]
    for kind in kinds:
        if len(model.of_kind(kind)) > MAX_FIELDS:
            fail("fields.csv", f"{kind} has more than {MAX_FIELDS} fields")
    for row in model.rows:
        if row["kind"] != "*" and row["kind"] not in kinds:
            fail("fields.csv", f"no kind {row['kind']}")
        check_field(model, row)
    for row in model.rules:
        check_rule(model, row)
    if [a["analyte"] for a in model.analytes] != [w["word"] for w in model.sets["analyte"]]:
        fail("analytes.csv", "the analytes of words.csv in their order are needed")
    if [s["setting"] for s in model.settings] != [w["word"] for w in model.sets["setting"]]:
        fail("settings.csv", "the settings of words.csv in their order are needed")
    words = {u["word"]: u for u in model.units}
    for row in model.analytes:
        unit = words.get(row["default_unit"])
        if unit is None or unit["quantity"] != row["quantity"] or row["basis"] not in BASES_OF:
            fail(f"analytes.csv, {row['analyte']}", "unknown quantity, basis or unit")
        if row["mark"] not in unit_module.MARKS or not row["source"] or not Decimal(row["min"]) < Decimal(row["max"]):
            fail(f"analytes.csv, {row['analyte']}", "source, mark, and min below max are needed")
    for row in model.faults:
        if row["status"] not in STATUSES or set(re.findall(r"\{(\w+)\}", row["text"])) - {"field", "value", "token", "allowed", "at"}:
            fail(f"faults.csv, {row['fault']}", "unknown status or argument")


def load(data: Path) -> Model:
    sets: dict[str, list[dict[str, str]]] = {}
    for row in read_csv(data / "entry/words.csv", ["set", "word", "short", "meaning"]):
        sets.setdefault(row["set"], []).append(row)
    kinds = read_csv(data / "entry/kinds.csv", ["kind", "summary"])
    sets["kind"] = [{"set": "kind", "word": k["kind"], "short": "", "meaning": k["summary"]} for k in kinds]
    rows = read_csv(data / "entry/fields.csv", FIELD_COLUMNS)
    order = ["*", *(k["kind"] for k in kinds)]
    rows.sort(key=lambda r: order.index(r["kind"]) if r["kind"] in order else len(order))
    substances: list[str] = []
    if (data / "substances.csv").exists():
        with (data / "substances.csv").open(encoding="utf-8") as file:
            columns = file.readline().strip().split(",")
        substances = [r["id"] for r in read_csv(data / "substances.csv", columns)]
    model = Model(kinds, rows, sets, read_csv(data / "entry/rules.csv", RULE_COLUMNS),
                  read_csv(data / "entry/faults.csv", FAULT_COLUMNS), read_csv(data / "analytes.csv", ANALYTE_COLUMNS),
                  read_csv(data / "entry/settings.csv", SETTING_COLUMNS),
                  read_csv(data / "units.csv", unit_module.COLUMNS), substances)
    check(model)
    return model
