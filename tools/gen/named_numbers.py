"""Named numbers with a source and a mark, a macro each: data/tails.csv -> gen/tail_tables.h and so on."""
from __future__ import annotations

from pathlib import Path

from _common import MARKS, read_csv

# Name of the table: prefix of its macros, its rows.
TABLES = {
    "tails": ("tail", "bottle-off product-weak volume-misread volume-misread-width".split()),
    "evaporation": ("evaporation", "still-air undisturbed stirred covered air-kpa depth unwritten splash".split()),
    "clock": ("clock", "prompt share most sitting".split()),
    "scale": ("scale", "index corner fell-per-day fell-low fell-high".split()),
}


def macros(data_dir: Path, table: str, prefix: str, names: list[str]) -> list[str]:
    rows = {row[prefix]: row for row in read_csv(data_dir / f"{table}.csv", [prefix, "value", "low", "high", "meaning", "source", "mark"])}
    if list(rows) != names:
        raise SystemExit(f"{table}.csv must have these rows: {', '.join(names)}")
    lines = []
    for name, row in rows.items():
        value = float(row["value"])
        if row["mark"] not in MARKS or not row["source"] or not row["meaning"] or not float(row["low"]) <= value <= float(row["high"]):
            raise SystemExit(f"{table}.csv: {name}: a value in its range, a meaning, a source, a mark")
        lines.append(f"#define TW_{prefix.upper()}_{name.upper().replace('-', '_')} {value!r} /* {row['mark']} */")
    return lines


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    for table, (prefix, names) in TABLES.items():
        guard = f"TW_GEN_{prefix.upper()}_TABLES_H"
        (gen / f"{prefix}_tables.h").write_text(
            f"/* Made by tools/gen/named_numbers.py of data/{table}.csv, where meanings and sources stand. */\n#ifndef {guard}\n#define {guard}\n\n"
            + "\n".join(macros(data_dir, table, prefix, names)) + "\n\n#endif\n", encoding="utf-8")
