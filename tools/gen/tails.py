"""How far things are off where they are far off: data/tails.csv -> gen/tail_tables.h."""
from __future__ import annotations

from pathlib import Path

from _common import MARKS, read_csv

TAILS = ("bottle-off product-weak volume-misread volume-misread-width").split()


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = {row["tail"]: row for row in read_csv(data_dir / "tails.csv", ["tail", "value", "low", "high", "meaning", "source", "mark"])}
    if list(rows) != TAILS:
        raise SystemExit(f"tails.csv must have these rows: {', '.join(TAILS)}")
    lines = []
    for name, row in rows.items():
        value = float(row["value"])
        if row["mark"] not in MARKS or not row["source"] or not row["meaning"] or not float(row["low"]) <= value <= float(row["high"]):
            raise SystemExit(f"tails.csv: {name}: a value in its range, a meaning, a source, a mark")
        lines.append(f"#define TW_TAIL_{name.upper().replace('-', '_')} {value!r} /* {row['mark']} */")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "tail_tables.h").write_text(
        "/* Made by tools/gen/tails.py of data/tails.csv, where meanings and sources stand. */\n#ifndef TW_GEN_TAIL_TABLES_H\n#define TW_GEN_TAIL_TABLES_H\n\n"
        + "\n".join(lines) + "\n\n#endif\n", encoding="utf-8")
