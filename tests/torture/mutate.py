#!/usr/bin/env python3
"""Do the tests notice? Change the core in one place at a time and run the room's own tests.

usage: mutate.py [SEED [COUNT [ROOM]]]     env SRC, BUILD; default: seed 1, 60 changes, every room

A change turns one operator, comparison, sign or constant of one line into another. The changed file
is compiled and linked before the archive into each test program of its room, which then runs. A change
that no test notices is printed: it is either a gap in the tests or makes no difference. Fails when
fewer than two thirds are noticed (of the room water alone: nine in ten), or when a test fails without any change.
"""
from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path

SRC = Path(os.environ.get("SRC", ".")).resolve()
BUILD = Path(os.environ.get("BUILD", "build/gcc")).resolve()
FLAGS = ["-std=c17", "-O1", "-w", "-ffp-contract=off", "-fno-common", f"-I{SRC}/src", f"-I{SRC}/include",
         f"-I{BUILD}/src", f"-I{SRC}/tests"]
WITH_GSL = subprocess.run(["pkg-config", "--exists", "gsl"], check=False).returncode == 0
ORACLES = ["-DTW_HAVE_GSL"] if WITH_GSL else []
LIBRARIES = ["-lcmocka", *(["-lgsl", "-lgslcblas"] if WITH_GSL else []), "-lsqlite3", "-lm"]
OBJECTS = Path(tempfile.mkdtemp(prefix="mutate-"))
CHANGES = [(r"(?<=\s)\+(?=\s)", "-"), (r"(?<=\s)-(?=\s)", "+"), (r"(?<=\s)\*(?=\s)", "/"), (r"(?<=\s)/(?=\s)", "*"),
           (r"(?<=\s)<(?=\s)", "<="), (r"(?<=\s)<=(?=\s)", "<"), (r"(?<=\s)>(?=\s)", ">="), (r"(?<=\s)>=(?=\s)", ">"),
           (r"==", "!="), (r"!=", "=="), (r"&&", "||"), (r"\|\|", "&&"), (r"\+\+", "--"), (r"\+=", "-="), (r"-=", "+="),
           (r"\b0\.5\b", "0.25"), (r"\b1\.0\b", "1.01"), (r"\b2\.0\b", "1.9"), (r"\breturn 0;", "return 1;"),
           (r"\breturn 1;", "return 0;"), (r"(?<=[^\w.])1(?=[^\w.x])", "2"), (r"(?<=[^\w.])0(?=[^\w.x])", "1")]


def places(path: Path) -> list[tuple[int, int, int, str]]:
    """(line, from, to, new text) of all changes that a file allows, outside comments and directives."""
    text = path.read_text(encoding="utf-8")
    plain = re.sub(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])+\'',
                   lambda found: re.sub(r"[^\n]", "~", found[0]), text, flags=re.S)
    found = []
    for number, line in enumerate(plain.splitlines()):
        if line.lstrip().startswith("#") or "TW_REQUIRE" in line or "_Static_assert" in line:
            continue
        for pattern, new in CHANGES:
            found += [(number, spot.start(), spot.end(), new) for spot in re.finditer(pattern, line)]
    return found


def programs(room: str) -> list[Path]:
    return sorted((SRC / "tests" / room).glob("test_*.c"))


@lru_cache(maxsize=None)
def test_object(test: Path) -> Path:
    """A test program compiled once for all changes."""
    made = OBJECTS / f"{test.parent.name}-{test.stem}.o"
    subprocess.run(["gcc", *FLAGS, *ORACLES, "-D_POSIX_C_SOURCE=200809L", "-c", str(test), "-o", str(made)], check=True)
    return made


def try_change(path: Path, place: tuple[int, int, int, str] | None, folder: Path) -> str:
    """'noticed', 'not noticed', or why the change does not count."""
    number, begin, end, new = place or (0, 0, 0, "")
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[number] = lines[number][:begin] + new + lines[number][end:]
    folder.mkdir()
    changed = folder / path.name
    changed.write_text("".join(lines), encoding="utf-8")
    made = subprocess.run(["gcc", *FLAGS, f"-I{path.parent}", "-c", str(changed), "-o", str(folder / "changed.o")],
                          capture_output=True, check=False)
    if made.returncode:
        return "does not compile"
    for test in programs(path.parent.name):
        program = folder / test.stem
        subprocess.run(["gcc", str(test_object(test)), str(folder / "changed.o"), str(BUILD / "libtubwright_shell.a"),
                        str(BUILD / "libtubwright_core.a"), *LIBRARIES, "-o", str(program)], check=True)
        try:
            code = subprocess.run([str(program)], env={**os.environ, "SRC": str(SRC)}, capture_output=True,
                                  timeout=60, check=False).returncode
        except subprocess.TimeoutExpired:
            code = 1
        if code:
            return "noticed" if place else f"{test.name} fails"
    return "not noticed"


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    room = sys.argv[3] if len(sys.argv) > 3 else ""
    listed = (SRC / "src/core_sources.txt").read_text(encoding="utf-8").splitlines()
    files = [SRC / "src" / line.split("#")[0].strip() for line in listed if line.split("#")[0].strip()]
    files = [path for path in files if programs(path.parent.name) and room in ("", path.parent.name)]
    draw = random.Random(seed)
    chosen = draw.sample([(path, place) for path in files for place in places(path)], count)
    whole = [(next(path for path in files if path.parent.name == one), None)
             for one in sorted({path.parent.name for path, _ in chosen})]
    for path, _ in whole:
        for test in programs(path.parent.name):
            test_object(test)
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        said = list(pool.map(lambda job: try_change(*job[1], Path(folder) / str(job[0])),
                             enumerate(whole + chosen)))
    plain, said = said[:len(whole)], said[len(whole):]
    print(f"# seed {seed}, {count} changes")
    for (path, place), word in zip(chosen, said):
        line = path.read_text(encoding="utf-8").splitlines()[place[0]]
        if word == "not noticed":
            print(f"# not noticed: {path.relative_to(SRC)}:{place[0] + 1}: "
                  f"{line[:place[1]].lstrip()}[{line[place[1]:place[2]]} -> {place[3]}]{line[place[2]:]}")
    counted = [word for word in said if word in ("noticed", "not noticed")]
    noticed = counted.count("noticed")
    print("1..2")
    for word in sorted(set(plain) - {"not noticed"}):
        print(f"# {word} without any change")
    print(f"{'ok' if set(plain) == {'not noticed'} else 'not ok'} 1 - without a change every test passes")
    asked = 0.9 if room == "water" else 2.0 / 3.0
    good = bool(counted) and noticed >= asked * len(counted)
    print(f"{'ok' if good else 'not ok'} 2 - {noticed} of {len(counted)} changes were noticed, {100 * asked:.0f} % are asked for")
    shutil.rmtree(OBJECTS, ignore_errors=True)
    raise SystemExit(0 if good and set(plain) == {"not noticed"} else 1)


if __name__ == "__main__":
    main()
