#!/usr/bin/env python3
"""One logbook, one digest of answers: whichever way the entries came and whichever build answers.

A story is typed entry by entry. Its export is imported elsewhere: in order, shuffled, the older half
after the newer one, with what the logbook keeps aside damaged. Then the same logbook is read by clang's
build, on a processor without its newer instructions, and by the WebAssembly module. A story with one
reading less must have another digest.
"""
from __future__ import annotations

import hashlib
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ["SRC"])
sys.path[:0] = [str(SRC / "tests/wasm"), str(SRC / "tests/support")]
from claims import Claims  # noqa: E402
from module import answers  # noqa: E402

PROGRAM = os.environ["TUBWRIGHT"]
CLANG = Path(os.environ["BUILD"]).parent / "clang-14/tubwright"
MASK = {"GLIBC_TUNABLES": "glibc.cpu.hwcaps=-FMA,-AVX2,-FMA4,-AVX512F"}
NOW = "2026-03-24T18:00:00+01:00"
QUESTIONS = ["now", "why", "water", "forecast", "bathing", "logbook", "sheet", "ahead", "plan", "worth"]
STORY = [
    # A water before this one: what it taught is kept beside the entries, and is the prior of the next.
    ("2026-03-02T08:00:00+01:00", "tub new Barn volume=1300L"),
    ("2026-03-02T08:05:00+01:00", "tub plate output=0.16g/h salt=2000mg/L"),
    ("2026-03-02T09:00:00+01:00", "log filled of hose"),
    ("2026-03-02T09:10:00+01:00", "log ec=430 by meter --yes"),
    ("2026-03-02T10:00:00+01:00", "log added 2 kg salt --yes"),
    ("2026-03-03T10:00:00+01:00", "log ec=3900 by meter --yes"),
    ("2026-03-03T10:10:00+01:00", "log ph=7.6 ta=120 by drops --yes"),
    ("2026-03-03T10:20:00+01:00", "log fc=0 by strips lot=B --yes"),
    ("2026-03-05T18:00:00+01:00", "log fc=0.5 by strips lot=B --yes"),
    ("2026-03-23T09:00:00+01:00", "log filled 1180 L of hose"),
    ("2026-03-23T09:20:00+01:00", "log ph=7.7 ta=190 ch=90 by drops"),
    ("2026-03-23T11:00:00+01:00", "log jets=on"),
    ("2026-03-24T08:00:00+01:00", "log ph=8.1 by drops"),
    ("2026-03-24T12:40:00+01:00", "log ph=7,4 ta=120? th=60..120 fc=0 cya=<30 by strips lot=B"),
    ("2026-03-24T12:45:00+01:00", "log duty=42% cover=open note windy"),
]


class Place:
    """A logbook in a folder of its own, and a build that answers."""

    def __init__(self, folder: Path, program: str = PROGRAM, more: dict[str, str] | None = None) -> None:
        folder.mkdir(exist_ok=True)
        self.logbook, self.program = folder / "logbook.db", program
        self.env = {**os.environ, "HOME": str(folder), "TZ": "UTC", "TUBWRIGHT_RANDOM": "digest",
                    "TUBWRIGHT_LOGBOOK": str(self.logbook), **(more or {})}

    def run(self, *words: str, at: str = NOW, stdin: bytes = b"") -> bytes:
        done = subprocess.run([self.program, *words, "--at", at], env=self.env, input=stdin, capture_output=True, check=False)
        return done.stdout if done.returncode in (0, 4) else b"%d: %s" % (done.returncode, done.stderr)

    def take(self, *portions: list[bytes]) -> "Place":
        for lines in portions:
            self.run("import", "-", stdin=b"\n".join(lines) + b"\n")
        return self

    def digest(self) -> str:
        return digest([self.run(question, "--json") for question in QUESTIONS])


def digest(said: list[bytes]) -> str:
    """Of the answers; one that is no answer shows as such."""
    for text in said:
        if not text.startswith(b"{") or len(text) < 100:
            return f"no answer: {text!r}"
    return hashlib.sha256(b"\0".join(said)).hexdigest()


def newest_source() -> float:
    return max(path.stat().st_mtime for folder in ("src", "data", "include") for path in (SRC / folder).rglob("*"))


def damaged(place: Place) -> Place:
    """What is made from the entries and kept beside them: nonsense under every key that is there, and one more."""
    with sqlite3.connect(place.logbook) as db:
        keys = [row[0] for row in db.execute("select key from cache")] + ["belief:Barn"]
        db.executemany("insert or replace into cache (key, digest, value) values (?, ?, ?)",
                       [(key, bytes(32), b"\xff" * 100) for key in keys])
    return place


def main() -> None:
    found: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        typed = Place(root / "typed")
        for at, words in STORY:
            said = typed.run(*words.split(), at=at)
            if said[:1].isdigit():
                raise SystemExit(f"Bail out! {words}: {said.decode()}")
            typed.run("now", at=at)  # an answer in between changes nothing
        lines = typed.run("export").splitlines()
        mixed = random.Random(20260324).sample(lines, len(lines))
        half = len(lines) // 2
        wanted = typed.digest()
        found["imported in order"] = Place(root / "order").take(lines).digest()
        found["imported shuffled, one line at a time"] = Place(root / "mixed").take(*([line] for line in mixed)).digest()
        late = Place(root / "late").take(lines[:1] + lines[half:])
        late.run("now")
        found["the older half came late"] = late.take(lines[1:half]).digest()
        found["twice, and what is kept aside damaged"] = damaged(Place(root / "damaged").take(lines, mixed)).digest()
        found["a processor without FMA and AVX"] = Place(root / "typed", more=MASK).digest()
        if CLANG.is_file() and CLANG.stat().st_mtime >= newest_source():  # make check has just built it
            found["clang's build"] = Place(root / "typed", str(CLANG)).digest()
        if Path(os.environ.get("WASM", "")).is_file():
            (root / "lines.jsonl").write_bytes(b"\n".join(lines) + b"\n")
            found["WebAssembly"] = digest(answers(root / "lines.jsonl", [f"{word} at={NOW} as=json tub=Barn" for word in QUESTIONS]))
        with sqlite3.connect(root / "typed/logbook.db") as db:
            kept = db.execute("select count(*) from cache where key like 'belief/%'").fetchone()[0]
        hours = [f"2026-{day}T{hour}+01:00" for day, hour in
                 (("03-27", "07:00:00"), ("03-24", "13:30:00"), ("04-03", "23:59:59"), ("03-24", "18:00:01"), ("03-25", "04:20:00"))]
        kept_said = [typed.run(word, "--json", at=hour) for hour in hours for word in ("now", "water")]
        with sqlite3.connect(root / "typed/logbook.db") as db:
            db.execute("delete from cache")
        found["what is kept aside deleted"] = typed.digest()
        plain_said = [typed.run(word, "--json", at=hour) for hour in sorted(hours) for word in ("now", "water")]
        later = sorted(kept_said) == sorted(plain_said) and len(set(plain_said)) == len(plain_said)
        less = Place(root / "less").take([line for line in lines if b'"8.1"' not in line]).digest()
    print(f"# {len(lines)} entries, {len(QUESTIONS)} answers, digest {wanted}")
    claims = Claims()
    for way, one in found.items():
        claims.add(one == wanted, f"{way}: the same digest")
    claims.add(kept == 1, "writing had kept what was worked out")
    claims.add(later, "at shuffled later hours: the same answers with what is kept aside and without")
    claims.add(len(wanted) == 64, "every question is answered")
    claims.add(less != wanted and len(lines) > 10, "one reading less: another digest")
    claims.report()


if __name__ == "__main__":
    main()
