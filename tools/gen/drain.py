"""Rules of draining and of the cell's age: data/drain.csv -> gen/drain_tables.h, .c."""
from __future__ import annotations

from pathlib import Path

from _common import MARKS, c_string, read_csv

RULES = ("solids", "cyanurate", "combined", "age", "bathers", "business", "cell")


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "drain.csv", ["rule", "low", "high", "unit", "meaning", "source", "mark"])
    if tuple(row["rule"] for row in rows) != RULES:
        raise SystemExit(f"drain.csv: must have these rows in this order: {', '.join(RULES)}")
    lines = []
    for row in rows:
        low, high = float(row["low"]), float(row["high"])
        if row["mark"] not in MARKS or not row["source"] or not 0 < low <= high:
            raise SystemExit(f"drain.csv: {row['rule']}: needs a source, a mark and limits above nothing")
        lines.append(f"    {{{low!r}, {high!r}, {c_string(row['source'])}, {c_string(row['mark'])}}}, /* {row['rule']}, {row['unit']} */")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    head = "/* Made by tools/gen/drain.py of data/drain.csv. */\n"
    (gen / "drain_tables.h").write_text(
        head + "#ifndef TW_GEN_DRAIN_TABLES_H\n#define TW_GEN_DRAIN_TABLES_H\n\n"
        "/* Rules of data/drain.csv. */\ntypedef enum tw_drain_rule {\n"
        + "".join(f"    TW_DRAIN_{rule.upper()},\n" for rule in RULES[:-1])
        + "    TW_DRAIN_RULES,\n    TW_DRAIN_CELL = TW_DRAIN_RULES, /* of the cell, not of the water */\n    TW_DRAIN_ROWS\n} tw_drain_rule;\n\n"
        "/* A limit, by low and high where the rule is a stretch. */\ntypedef struct {\n    double low, high;\n"
        "    const char *source, *mark;\n} tw_drain_row;\n\nextern const tw_drain_row tw_estimate_drain_rows[TW_DRAIN_ROWS];\n\n#endif\n",
        encoding="utf-8")
    (gen / "drain_tables.c").write_text(
        "\n".join([head + '#include "gen/drain_tables.h"\n', "const tw_drain_row tw_estimate_drain_rows[TW_DRAIN_ROWS] = {",
                   *lines, "};"]) + "\n", encoding="utf-8")
