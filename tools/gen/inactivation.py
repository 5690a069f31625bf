"""Disinfection: data/inactivation.csv -> gen/inactivation_tables.h and .c."""
from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from pathlib import Path

from _common import c_string, read_csv

COLUMNS = ["id", "name", "log10_removed", "ct_mg_min_per_l", "ph", "temp_c", "free_mg_per_l", "source", "mark"]
NUMBERS = COLUMNS[2:7]
NEEDED = {"ct_mg_min_per_l", "ph", "temp_c"}
MARKS = {"published", "published, second hand"}  # nothing from memory may tell a time


def numbers(row: dict[str, str]) -> list[str]:
    """The numeric cells for C; 0 where the source does not say."""
    out = []
    for column in NUMBERS:
        try:
            value = Decimal(row[column] or "0")
        except InvalidOperation:
            raise SystemExit(f"inactivation.csv, {row['id']}: {column} is not a number") from None
        if not value.is_finite() or value < 0 or (column in NEEDED and value == 0):
            raise SystemExit(f"inactivation.csv, {row['id']}: {column} is above 0")
        out.append(repr(float(value)))
    return out


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "inactivation.csv", COLUMNS)
    for row in rows:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", row["id"]) or row["mark"] not in MARKS or not row["source"]:
            raise SystemExit(f"inactivation.csv, {row['id']}: a name, a source and a mark of {sorted(MARKS)} are needed")
    if len({row["id"] for row in rows}) != len(rows):
        raise SystemExit("inactivation.csv: a name stands twice")
    head = ["/* Made by tools/gen/inactivation.py from data/inactivation.csv. */",
            "#ifndef TW_GEN_INACTIVATION_TABLES_H", "#define TW_GEN_INACTIVATION_TABLES_H", "",
            "typedef enum tw_germ {", *[f"    TW_GERM_{r['id'].upper()}, /* {r['name']} */" for r in rows],
            "    TW_GERMS", "} tw_germ;", "",
            "/* 0 where the source does not say. */",
            "typedef struct {", "    const char *id, *name;",
            "    double log10_removed, ct_mg_min_per_l, ph, temp_c, free_mg_per_l;",
            "    const char *source, *mark;", "} tw_germ_row;", "",
            "extern const tw_germ_row tw_water_germs[TW_GERMS];", "", "#endif", ""]
    body = ["/* Made by tools/gen/inactivation.py. */", '#include "gen/inactivation_tables.h"', "",
            "const tw_germ_row tw_water_germs[TW_GERMS] = {",
            *[f"    {{{c_string(r['id'])}, {c_string(r['name'])}, {', '.join(numbers(r))}, "
              f"{c_string(r['source'])}, {c_string(r['mark'])}}}," for r in rows], "};", ""]
    (out_dir / "gen").mkdir(parents=True, exist_ok=True)
    (out_dir / "gen/inactivation_tables.h").write_text("\n".join(head), encoding="utf-8")
    (out_dir / "gen/inactivation_tables.c").write_text("\n".join(body), encoding="utf-8")
