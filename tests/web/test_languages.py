#!/usr/bin/env python3
"""The page in another language: every view by day at both widths (views.mjs) with no fault by axe-core, nothing too wide or too small, nothing English
left. Given a folder it leaves a picture of each there."""
import json
import os
import re
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "support")]
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402
from texts import rows  # noqa: E402

LANGUAGE = "de"
ARGUMENT = re.compile(r"\{[^}]*\}")


def words() -> dict[str, object]:
    """What each English word of the page is called, and patterns of all that must not be seen."""
    called = {}
    for room in ("app", "answer", "dose", "procedure"):
        english, theirs = rows(room, "en"), rows(room, LANGUAGE)
        called |= {english[key]: theirs[key] for key in english}
    called |= rows("terms", LANGUAGE)
    # Where there is a word that is another one; not where English is a word of the language too.
    english = [text for text, theirs in called.items() if text != theirs and text not in called.values() and re.search(r"[A-Za-z]{3}", ARGUMENT.sub("", text))]
    patterns = ["^" + ".*".join(re.escape(part).replace(r"\-", "-").replace(r"\ ", " ").replace(r"\#", "#").replace(r"\&", "&").replace(r"\~", "~") for part in ARGUMENT.split(text)) + "$"
                for text in english]
    return {"language": LANGUAGE, "called": called, "english": patterns}


if __name__ == "__main__":
    pictures = [os.path.abspath(folder) for folder in sys.argv[1:2]]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["WORDS"] = str(Path(folder) / "words.json")
        Path(os.environ["WORDS"]).write_text(json.dumps(words()), encoding="utf-8")
        raise SystemExit(run("views.mjs", NOW, *pictures, story=STORY))
