#!/usr/bin/env python3
"""Tables of entries for people -> gen/entry_tables.md, and the same inside docs/logbook-format.md.

usage, from the root of the source: python3 tools/gen/entry_markdown.py
       writes the tables anew between the two marks of docs/logbook-format.md; a test compares them
"""
from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from _entry import Model, allowed, load  # noqa: E402

BEGIN = "<!-- tables: made by tools/gen/entry_markdown.py, do not edit here -->"
END = "<!-- end of tables -->"


def cell(text: str) -> str:
    return text.replace("|", "\\|") or " "


def table(head: list[str], rows: list[list[str]]) -> list[str]:
    return ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head),
            *("| " + " | ".join(map(cell, row)) + " |" for row in rows), ""]


def what(model: Model, row: dict[str, str]) -> str:
    """What may stand in a field, without the long lists that have a table of their own."""
    if row["type"] == "word" and row["words"]:
        return "a substance, or the id of a definition" if row["words"].startswith("@") else f"word of *{row['words']}*"
    if row["type"] == "unit":
        return "unit"
    if row["type"] == "decimal" and row["quantity"].startswith("by-"):
        return {"by-analyte": "number in the range of its analyte", "by-analyte-step": allowed(model, row),
                "by-setting": "number in the range of what is set"}[row["quantity"]]
    return allowed(model, row)


def fields(model: Model, kind: str) -> list[str]:
    rows = [row for row in model.rows if row["kind"] == kind]
    return table(["field", "type", "", "allowed", "unit in", "meaning"], [
        [f"`{row['field']}`", row["type"], "needed" if row["required"] == "yes" else "", what(model, row),
         f"`{row['unit']}`" if row["unit"] else "", row["meaning"]] for row in rows])


def lines(model: Model) -> list[str]:
    out = ["### Fields of every kind", "", *fields(model, "*")]
    for kind in model.kinds:
        out += [f"### `{kind['kind']}`: {kind['summary']}", "", *fields(model, kind["kind"])]
        rules = [row for row in model.rules if row["kind"] == kind["kind"]]
        if rules:
            out += [*(f"- {row['meaning']}: `{row['when']}`" + (f" ({row['words']})" if row["words"] else "")
                      + f" {row['rule']} `{row['fields']}`" for row in rules), ""]
    out += ["### Analytes", "", *table(
        ["word", "short, when typed", "a bare number is", "range", "source", "mark"],
        [[f"`{a['analyte']}`", a["short"], a["default_unit"], f"{a['min']} to {a['max']}", a["source"], a["mark"]]
         for a in model.analytes])]
    out += ["### Words", "", *table(["set", "words"], [
        [name, ", ".join(f"`{w['word']}` {w['meaning']}" for w in words)] for name, words in model.sets.items()
        if name not in ("analyte", "kind")])]
    out += ["### What is said when something is wrong", "", *table(
        ["fault", "status", "sentence"], [[f"`{f['fault']}`", f["status"], f["text"]] for f in model.faults])]
    return out


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "entry_tables.md").write_text("\n".join(lines(load(data_dir))), encoding="utf-8")


def renew(root: Path) -> None:
    path = root / "docs/logbook-format.md"
    before, rest = path.read_text(encoding="utf-8").split(BEGIN)
    after = rest.split(END)[1]
    made = "\n".join(lines(load(root / "data")))
    path.write_text(f"{before}{BEGIN}\n\n{made}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    renew(Path(__file__).resolve().parent.parent.parent)
