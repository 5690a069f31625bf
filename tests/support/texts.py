"""The tables of sentences and terms: data/text/<room>.<language>.csv."""
from __future__ import annotations

import csv
from pathlib import Path

TEXT = Path(__file__).resolve().parents[2] / "data/text"


def rows(name: str, language: str) -> dict[str, str]:
    """Id and text of each row of a room's table."""
    with (TEXT / f"{name}.{language}.csv").open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file)
        next(reader)
        return dict(reader)
