"""What the page shares with the core, as TypeScript: keys of answers, kinds and words of entries, instruments, substances, and the
page's own sentences in English (data/text/app.en.csv; other languages are packs: languages.py) -> gen/web_tables.ts."""
from __future__ import annotations

import json
from pathlib import Path

from _common import read_csv

TYPES = {"object": "Answer", "list": "Answer[]", "words-list": "Said[]", "number": "number | null", "spread": "Spread | null",
         "words": "Said", "text": "string", "time": "string", "flag": "boolean", "digest": "string"}
# What an instrument sees of an analyte that people write down (src/estimate/instrument.c).
OBSERVED = {"total-alkalinity": "alkalinity", "calcium-hardness": "calcium", "total-hardness": "hardness", "magnesium-hardness": "magnesium",
            "salt": "chloride", "cyanuric-acid": "cyanurate", "boron": "borate"}


def rows(path: Path) -> list[dict[str, str]]:
    header = path.read_text(encoding="utf-8").split("\n", 1)[0].split(",")
    return read_csv(path, header)


def constant(name: str, value: object, kind: str) -> str:
    return f"export const {name}: {kind} = {json.dumps(value, ensure_ascii=False, sort_keys=False, separators=(',', ':'))};"


def instruments(data_dir: Path) -> dict[str, dict[str, dict[str, object]]]:
    found: dict[str, dict[str, dict[str, object]]] = {}
    for row in rows(data_dir / "instruments.csv"):
        for analyte in [row["observed"], *(a for a, observed in OBSERVED.items() if observed == row["observed"])]:
            found.setdefault(row["instrument"], {})[analyte] = {
                "model": row["model"], "step": float(row["step"]), "high": float(row["high"]), "blocks": [float(b) for b in row["blocks"].split()]}
    return found


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    text = {row["id"]: row["text"] for row in read_csv(data_dir / "text/app.en.csv", ["id", "text"])}
    keys = [f"  {row['key']}?: {TYPES[row['type']]}; // {row['meaning']}{' in ' + row['unit'] if row['unit'] else ''}"
            for row in rows(data_dir / "answer.csv") if row["type"] in TYPES and row["key"] != "answer"]
    words: dict[str, list[list[str]]] = {}
    for row in rows(data_dir / "entry/words.csv"):
        words.setdefault(row["set"], []).append([row["word"], row["meaning"]])
    analytes = {row["analyte"]: {"unit": row["default_unit"], "decimals": int(row["decimals"]), "min": float(row["min"]), "max": float(row["max"])}
                for row in rows(data_dir / "analytes.csv")}
    names = {row["id"].removeprefix("analyte-"): row["text"] for row in rows(data_dir / "text/answer.en.csv") if row["id"].startswith("analyte-")}
    for analyte, row in analytes.items():
        row["name"] = names.get(analyte, analyte)
    substances = {row["id"]: {"plain": row["plain"], "measure": row["measure"], "state": row["state"]} for row in rows(data_dir / "substances.csv")}
    fields: dict[str, list[dict[str, object]]] = {}
    for row in rows(data_dir / "entry/fields.csv"):
        fields.setdefault(row["kind"], []).append({"name": row["field"], "type": row["type"], "quantity": row["quantity"], "unit": row["unit"],
                                                   "needed": row["required"] == "yes", "length": int(row["max_length"] or 0),
                                                   "words": row["words"], "meaning": row["meaning"]})
    kinds = {row["kind"]: row["summary"] for row in rows(data_dir / "entry/kinds.csv")}
    units: dict[str, list[list[str]]] = {}
    for row in rows(data_dir / "units.csv"):
        units.setdefault(row["quantity"], []).append([row["word"], row["name"]])
    faults = {row["fault"]: row["status"] for row in rows(data_dir / "entry/faults.csv")}
    shown = [{"choice": row["choice"], "of": row["of"], "seen": row["seen"], "least": float(row["least"]), "unit": row["unit"], "label": row["label"], "digits": int(row["digits"] or 0)}
             for row in rows(data_dir / "shown.csv")]
    seen_units = {word for row in shown for word in (row["of"], row["unit"])}
    factors = {row["word"]: [float(row["factor"]), float(row["divisor"]), float(row["zero"])] for row in rows(data_dir / "units.csv") if row["word"] in seen_units}
    profiles = {row["id"]: row["title"] for row in rows(data_dir / "profiles.csv")}
    parts = ["// Made from data/ by tools/gen/web.py.", "export interface Spread { median: number | null; low: number | null; high: number | null }",
             "export interface Said { id: string; text: string }", "", "/** An answer of the core: a key has one meaning wherever it stands. */",
             "export interface Answer {", *keys, "}", "", "export type Sentence = " + " | ".join(json.dumps(key) for key in text) + ";",
             constant("texts", text, "Record<Sentence, string>"),
             constant("words", words, "Record<string, [string, string][]>"),
             constant("analytes", analytes, "Record<string, { unit: string; decimals: number; min: number; max: number; name: string }>"),
             constant("instruments", instruments(data_dir), "Record<string, Record<string, { model: string; step: number; high: number; blocks: number[] }>>"),
             constant("substances", substances, "Record<string, { plain: string; measure: string; state: string }>"),
             constant("kinds", kinds, "Record<string, string>"),
             constant("fields", fields, "Record<string, { name: string; type: string; quantity: string; unit: string; needed: boolean; length: number; "
                                        "words: string; meaning: string }[]>"),
             constant("units", units, "Record<string, [string, string][]>"),
             constant("shownIn", shown, "{ choice: string; of: string; seen: string; least: number; unit: string; label: string; digits: number }[]"),
             constant("factors", factors, "Record<string, [number, number, number]>"),
             constant("faults", faults, "Record<string, string>"),
             constant("profiles", profiles, "Record<string, string>"), ""]
    (gen / "web_tables.ts").write_text("\n".join(parts), encoding="utf-8")
