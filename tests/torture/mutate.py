#!/usr/bin/env python3
"""Do the tests notice? Change the core in one place at a time and run the room's own tests.

usage: mutate.py [SEED [COUNT [ROOM]]]     env SRC, BUILD; default: seed 1, 60 changes, every room
       mutate.py again FILE [ROOM]         only those that FILE, what another run printed, says were not noticed

A change turns one operator, comparison, sign or constant of one line into another. The core stands in one shared
library; the changed file is made into another, small one that is loaded before it, so that a change costs one
compilation and no linking of tests. It traps where behaviour is undefined, as the same tests under `make check SAN=1`
do. The room's test programs run one after the other until one notices, those first that noticed most for their time so
far: it fails, crashes, or takes ten times as long as without a change (an endless loop). A change that no test notices
is printed: it is either a gap in the tests or makes no difference. Fails when fewer than two thirds are noticed (of the
room water alone: nine in ten), or when a test fails without any change.
"""
from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import tempfile
import time
from functools import lru_cache
from pathlib import Path

SRC = Path(os.environ.get("SRC", ".")).resolve()
BUILD = Path(os.environ.get("BUILD", "build/gcc")).resolve()
FLAGS = ["-std=c17", "-O1", "-w", "-fPIC", "-ffp-contract=off", "-fno-common", f"-I{SRC}/src", f"-I{SRC}/include",
         f"-I{BUILD}/src", f"-I{SRC}/tests"]
TRAPS = ["-fsanitize=undefined", "-fsanitize-undefined-trap-on-error"]
WITH_GSL = subprocess.run(["pkg-config", "--exists", "gsl"], check=False).returncode == 0
ORACLES = ["-DTW_HAVE_GSL"] if WITH_GSL else []
LIBRARIES = ["-lcmocka", *(["-lgsl", "-lgslcblas"] if WITH_GSL else []), "-lsqlite3", "-lmicrohttpd", "-lcurl", "-lsodium", "-ljansson", "-lm"]
CHANGES = [(r"(?<=\s)\+(?=\s)", "-"), (r"(?<=\s)-(?=\s)", "+"), (r"(?<=\s)\*(?=\s)", "/"), (r"(?<=\s)/(?=\s)", "*"),
           (r"(?<=\s)<(?=\s)", "<="), (r"(?<=\s)<=(?=\s)", "<"), (r"(?<=\s)>(?=\s)", ">="), (r"(?<=\s)>=(?=\s)", ">"),
           (r"==", "!="), (r"!=", "=="), (r"&&", "||"), (r"\|\|", "&&"), (r"\+\+", "--"), (r"\+=", "-="), (r"-=", "+="),
           (r"\b0\.5\b", "0.25"), (r"\b1\.0\b", "1.01"), (r"\b2\.0\b", "1.9"), (r"\breturn 0;", "return 1;"),
           (r"\breturn 1;", "return 0;"), (r"(?<=[^\w.])1(?=[^\w.x])", "2"), (r"(?<=[^\w.])0(?=[^\w.x])", "1")]
Place = tuple[int, int, int, str]


def places(path: Path) -> list[Place]:
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


@lru_cache(maxsize=None)
def sources(room: str) -> list[Path]:
    return sorted((SRC / "tests" / room).glob("test_*.c"))


class Bench:
    """The whole core as a shared library in a folder, and each room's tests linked to it once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.whole = folder / "libwhole.so"
        self.tests: dict[str, list[Path]] = {}
        self.took_s: dict[Path, float] = {}
        self.noticed: dict[Path, int] = {}
        archives = [str(BUILD / f"libtubwright_{part}.a") for part in ("shell", "core")]
        subprocess.run(["gcc", "-shared", "-Wl,--whole-archive", *archives, "-Wl,--no-whole-archive", "-lsqlite3",
                        "-lm", "-o", str(self.whole)], check=True)

    def prepare(self, room: str) -> list[str]:
        """Link and time the room's tests; those that fail without any change."""
        failed: list[str] = []
        self.tests[room] = []
        for test in sources(room):
            program = self.folder / f"{room}-{test.stem}"
            subprocess.run(["gcc", *FLAGS, *ORACLES, "-D_POSIX_C_SOURCE=200809L", str(test), str(self.whole), *LIBRARIES,
                            "-o", str(program)], check=True)
            began = time.monotonic()
            if not self.passes(program, None, 120.0):
                failed.append(f"{room}/{test.stem}")
            self.took_s[program] = time.monotonic() - began
            self.noticed[program] = 0
            self.tests[room].append(program)
        return failed

    def passes(self, program: Path, changed: Path | None, limit_s: float) -> bool:
        env = {**os.environ, "SRC": str(SRC), "CMOCKA_MESSAGE_OUTPUT": "TAP", **({"LD_PRELOAD": str(changed)} if changed else {})}
        try:
            return subprocess.run([str(program)], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                                  timeout=limit_s, check=False).returncode == 0
        except subprocess.TimeoutExpired:
            return False

    def try_change(self, path: Path, place: Place) -> str:
        """'noticed', 'not noticed', or 'does not compile'."""
        number, begin, end, new = place
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        lines[number] = lines[number][:begin] + new + lines[number][end:]
        source, changed = self.folder / path.name, self.folder / "changed.so"
        source.write_text("".join(lines), encoding="utf-8")
        made = subprocess.run(["gcc", *FLAGS, *TRAPS, f"-I{path.parent}", "-shared", str(source), "-o", str(changed)],
                              capture_output=True, check=False)
        if made.returncode:
            return "does not compile"
        best_first = sorted(self.tests[path.parent.name], key=lambda one: self.took_s[one] / (1 + self.noticed[one]))
        for program in best_first:
            if not self.passes(program, changed, 3.0 + 10.0 * self.took_s[program]):
                self.noticed[program] += 1
                return "noticed"
        return "not noticed"


def described(path: Path, place: Place) -> str:
    line = path.read_text(encoding="utf-8").splitlines()[place[0]]
    return (f"{path.relative_to(SRC)}:{place[0] + 1}: {line[:place[1]].lstrip()}"
            f"[{line[place[1]:place[2]]} -> {place[3]}]{line[place[2]:]}")


def unnoticed(path: str, every: list[tuple[Path, Place]]) -> list[tuple[Path, Place]]:
    """The changes that a former run printed, found again by their text: lines may have moved since, or be gone."""
    asked = {re.sub(r":\d+:", ":", line[len("# not noticed: "):].strip(), count=1)
             for line in Path(path).read_text(encoding="utf-8").splitlines() if line.startswith("# not noticed: ")}
    return [(file, place) for file, place in every if re.sub(r":\d+:", ":", described(file, place), count=1) in asked]


def main() -> None:
    again = sys.argv[1:2] == ["again"]
    seed = int(sys.argv[1]) if len(sys.argv) > 1 and not again else 1
    count = int(sys.argv[2]) if len(sys.argv) > 2 and not again else 60
    room = sys.argv[3] if len(sys.argv) > 3 else ""
    listed = (SRC / "src/core_sources.txt").read_text(encoding="utf-8").splitlines()
    files = [SRC / "src" / line.split("#")[0].strip() for line in listed if line.split("#")[0].strip()]
    files = [path for path in files if sources(path.parent.name) and room in ("", path.parent.name)]
    every = [(path, place) for path in files for place in places(path)]
    chosen = unnoticed(sys.argv[2], every) if again else random.Random(seed).sample(every, min(count, len(every)))
    print(f"# {'again' if again else f'seed {seed}'}, {len(chosen)} of {len(every)} possible changes")
    counted = noticed = 0
    with tempfile.TemporaryDirectory(prefix="mutate-") as folder:
        bench = Bench(Path(folder))
        broken = [name for one in sorted({path.parent.name for path, _ in chosen}) for name in bench.prepare(one)]
        for path, place in chosen if not broken else []:
            word = bench.try_change(path, place)
            counted += word != "does not compile"
            noticed += word == "noticed"
            if word == "not noticed":
                print(f"# not noticed: {described(path, place)}", flush=True)
    print("1..2")
    for name in broken:
        print(f"# {name} fails without any change")
    print(f"{'not ok' if broken else 'ok'} 1 - without a change every test passes")
    asked = 0.9 if room == "water" else 2.0 / 3.0
    good = counted > 0 and noticed >= asked * counted
    print(f"{'ok' if good else 'not ok'} 2 - {noticed} of {counted} changes were noticed, {100 * asked:.0f} % are asked for")
    raise SystemExit(0 if good and not broken else 1)


if __name__ == "__main__":
    main()
