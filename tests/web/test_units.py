#!/usr/bin/env python3
"""A device that shows other units, in both languages: units.mjs. Given a folder it leaves pictures there."""
import json
import os
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "support")]
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402
from texts import rows  # noqa: E402

if __name__ == "__main__":
    pictures = [os.path.abspath(folder) for folder in sys.argv[1:2]]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["WORDS"] = str(Path(folder) / "words.json")
        Path(os.environ["WORDS"]).write_text(json.dumps({language: rows("app", language) for language in ("en", "de")}), encoding="utf-8")
        raise SystemExit(run("units.mjs", NOW, *pictures, story=[row for row in STORY if "Barn" in row[1]]))
