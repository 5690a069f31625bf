"""What every generator of tables needs: reading a CSV with its columns checked, text for C."""
from __future__ import annotations

import csv
from pathlib import Path


# How well a value is founded. Tables that take fewer of these say so themselves.
MARKS = ("published", "published, second hand", "from memory", "common practice", "computed", "assumed")


def read_csv(path: Path, columns: list[str]) -> list[dict[str, str]]:
    """Rows of a table whose header must be exactly these columns."""
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file, strict=True)
        if reader.fieldnames != columns:
            raise SystemExit(f"{path.name}: columns are {reader.fieldnames}, expected {columns}")
        rows = []
        for row in reader:
            if None in row or None in row.values():
                raise SystemExit(f"{path.name}, line {reader.line_num}: too few or too many cells")
            rows.append(row)
    return rows


def c_string(text: str) -> str:
    """A C string literal; bytes outside ASCII as octal, so that no compiler guesses."""
    out = []
    for byte in text.encode("utf-8"):
        char = chr(byte)
        if char in '"\\':
            out.append("\\" + char)
        elif 32 <= byte < 127 and char != "?":
            out.append(char)
        else:
            out.append(f"\\{byte:03o}")
    return '"' + "".join(out) + '"'
