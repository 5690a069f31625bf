#!/usr/bin/env python3
"""What the server does not take or do, said in each language and mended: refused.mjs. Given a folder it leaves pictures there."""
import csv
import json
import os
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "support")]
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402
from texts import TEXT, rows  # noqa: E402

LANGUAGES = ["en", "de"]


def column(name: str, column: str) -> list[str]:
    with (TEXT.parent / name).open(encoding="utf-8", newline="") as file:
        return [row[column] for row in csv.DictReader(file)]


def words() -> dict[str, object]:
    """The page's sentences by language; what a server can say by its stable words."""
    with (TEXT.parent / "problems.csv").open(encoding="utf-8", newline="") as file:
        problems = {row["name"]: int(row["status"]) for row in csv.DictReader(file) if row["status"]}
    return {"texts": {language: rows("app", language) for language in LANGUAGES}, "problems": problems,
            "faults": dict(zip(column("entry/faults.csv", "fault"), column("entry/faults.csv", "status"), strict=True))}


if __name__ == "__main__":
    pictures = [os.path.abspath(folder) for folder in sys.argv[1:2]]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["WORDS"] = str(Path(folder) / "words.json")
        Path(os.environ["WORDS"]).write_text(json.dumps(words()), encoding="utf-8")
        raise SystemExit(run("refused.mjs", NOW, *pictures, story=STORY[:8] + STORY[8:10], signing_in=True))
