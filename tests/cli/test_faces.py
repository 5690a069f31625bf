#!/usr/bin/env python3
"""Every command: help that begins with an example, answers of at most 60 columns without words that do
not belong on a screen, JSON that keeps its schema, problems as objects."""
import csv
import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ["SRC"])
sys.path[:0] = [str(SRC / "tests/answer"), str(SRC / "tests/support")]
from claims import Claims  # noqa: E402
from schema import faults, no_twice  # noqa: E402

NOW = "2026-03-24T12:50:00+01:00"
STORY = [
    ("2026-03-23T08:00:00+01:00", ["tub", "new", "Barn", "volume=1300L", "use=lodging"]),
    ("2026-03-23T08:05:00+01:00", ["tub", "plate", "output=0.16g/h", "salt=2000mg/L", "acids=any"]),
    ("2026-03-23T09:00:00+01:00", ["log", "filled", "1180", "L", "of", "hose"]),
    ("2026-03-23T09:20:00+01:00", ["log", "ph=7.7", "ta=190", "ch=90", "by", "drops"]),
    ("2026-03-24T12:40:00+01:00", ["log", "ph=7.4", "ta=180", "th=60..120", "fc=0", "by", "strips", "lot=B"]),
]
VIEWS = ["now", "why", "water", "forecast", "logbook", "bathing", "sheet", "ahead", "plan", "worth"]
AVOID = re.compile(r"\b(safe|safely|OK|perfect|score|programme|gate|commissioning|exclusion|cap|capful|shock)\b|\bgal\b(?!-)")
ALLOWED = '"Met" is not "safe"'


def run(folder: str, *words: str, at: str = NOW) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "HOME": folder, "XDG_DATA_HOME": folder, "TUBWRIGHT_NOW": at, "TUBWRIGHT_RANDOM": "faces", "TZ": "UTC"}
    return subprocess.run([os.environ["TUBWRIGHT"], *words], env=env, capture_output=True, text=True, check=False)


def look_at_text(claims: Claims, name: str, text: str) -> None:
    wide = [line for line in text.splitlines() if len(line) > 60]
    claims.add(not wide and len(text) > 40, f"{name}: at most 60 columns", "\n".join(wide))
    bad = AVOID.search(text.replace(ALLOWED, ""))
    claims.add(bad is None, f"{name}: no word that does not belong on a screen", bad[0] if bad else "")
    bare = re.search(r"\{[a-z]+:", text)
    claims.add(bare is None, f"{name}: every argument is filled in", bare[0] if bare else "")


def look_at_help(claims: Claims, folder: str) -> None:
    with (SRC / "data/commands.csv").open(encoding="utf-8", newline="") as file:
        names = [row["name"] for row in csv.DictReader(file)]
    for name in names:
        done = run(folder, name, "--help")
        first = done.stdout.split("\n", 1)[0]
        claims.add(done.returncode == 0 and first.startswith(f"  tubwright {name}"), f"{name} --help begins with an example", first)
        bad = AVOID.search(done.stdout)
        claims.add(bad is None, f"{name} --help: no word that does not belong on a screen", bad[0] if bad else "")


def look_at_problems(claims: Claims, folder: str) -> None:
    cases = [(["nonsense"], 2), (["now", "--nonsense"], 2), (["log", "frobnicate"], 2), (["log", "ph=abc"], 3),
             (["log", "ph=99"], 3), (["log", "added", "97", "gal", "salt"], 3), (["forecast", "--hours=9999"], 3),
             (["now", "--tub", "Nobody"], 2), (["log", "ph=7.4", "at", "Tue 23:50"], None)]
    for words, code in cases:
        plain = run(folder, *words)
        problem = run(folder, *words, "--json")
        name = " ".join(words)
        if code is None:
            continue
        claims.add(plain.returncode == code and plain.stdout == "" and plain.stderr.startswith("tubwright"),
                   f"{name}: exit {code}, nothing on standard output", f"{plain.returncode} {plain.stdout} {plain.stderr}")
        try:
            told = json.loads(problem.stderr, object_pairs_hook=no_twice)
            good = told["type"].startswith("urn:tubwright:problem:") and told["title"] and told["exit"] == code == problem.returncode
        except (ValueError, KeyError) as error:
            told, good = str(error) + problem.stderr, False
        claims.add(bool(good), f"{name} --json: a problem object", str(told))


def look_at_questions(claims: Claims, folder: str) -> None:
    before = run(folder, "export").stdout
    asked = [["log", "ph=74", "by", "drops"], ["log", "ta=1800", "by", "drops"], ["log", "ph=7.4", "at=2026-03-24T18:00:00+01:00"]]
    for words in asked:
        done = run(folder, *words)
        claims.add(done.returncode in (1, 3), f"{' '.join(words)} is asked back or refused", f"{done.returncode} {done.stdout} {done.stderr}")
    claims.add(run(folder, "export").stdout == before, "what was asked back is not written")
    insisted = run(folder, "log", "ph=7.4", "by", "drops", "at=2026-03-24T18:00:00+01:00", "--yes")
    claims.add(insisted.returncode in (0, 4) and run(folder, "export").stdout != before, "--yes writes it", insisted.stderr)


def main() -> None:
    claims = Claims()
    schema = json.loads((Path(os.environ["BUILD"]) / "src/gen/answer.schema.json").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        empty = run(folder, "now")
        claims.add(empty.returncode == 1 and "tubwright tub new" in empty.stderr, "without a tub it says how to begin", empty.stderr)
        for at, words in STORY:
            done = run(folder, *words, at=at)
            claims.add(done.returncode in (0, 4) and done.stderr == "", " ".join(words), f"{done.returncode} {done.stderr}")
            look_at_text(claims, "after " + " ".join(words[:2]), done.stdout)
        for view in VIEWS:
            done = run(folder, view)
            claims.add(done.returncode in (0, 4) and done.stderr == "", f"{view} answers", f"{done.returncode} {done.stderr}")
            look_at_text(claims, view, done.stdout)
        for view in [*VIEWS, "tub"]:
            done = run(folder, view, "--json")
            try:
                found = faults(json.loads(done.stdout, object_pairs_hook=no_twice), schema, schema)
            except ValueError as error:
                found = [str(error)]
            claims.add(not found, f"{view} --json keeps its schema", "\n".join(found))
        digests = {json.loads(run(folder, view, "--json").stdout).get("forecast") for view in ("now", "forecast", "sheet")}
        claims.add(len(digests) == 1 and None not in digests, "card, chart and sheet speak of one forecast", str(digests))
        look_at_help(claims, folder)
        look_at_problems(claims, folder)
        look_at_questions(claims, folder)
    claims.report()


if __name__ == "__main__":
    main()
