#!/usr/bin/env python3
"""Do the histories notice? Change the exchange of logbooks in one place at a time and run some of tests/sync/history.h.

usage: sync_mutants.py [SEED [COUNT [FILE...]]]     env SRC, BUILD; default: seed 1, 40 changes of src/sync and of what the store does for it

The kinds of changes are those of mutate.py. A change that no history notices is printed: a gap in the histories, or it makes no
difference. Fails when fewer than two thirds are noticed."""
from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import _crash as crash
from mutate import places

SRC, BUILD = Path(os.environ["SRC"]), Path(os.environ["BUILD"])
FLAGS = ["-std=c17", "-O1", "-w", "-fno-common", "-ffp-contract=off", f"-I{SRC}/src", f"-I{SRC}/include", f"-I{BUILD}/src"]
LIBRARIES = ["-lsqlite3", "-lmicrohttpd", "-lcurl", "-ljansson", "-lsodium", "-lgnutls", "-lpthread", "-lm"]
FILES = ["sync/chains.c", "sync/have.c", "sync/take.c", "sync/lacking.c", "sync/exchange.c", "sync/carried.c", "store/page.c", "store/mark.c", "store/links.c", "store/noted.c"]
HISTORIES = "60"


def changed(path: Path, place: tuple[int, int, int, str]) -> tuple[str, str]:
    """The text with one place changed, and the line as it then reads."""
    number, start, end, new = place
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[number] = lines[number][:start] + new + lines[number][end:]
    return "".join(lines), lines[number].strip()


def program(folder: Path, text: str | None) -> list[str]:
    """The histories, with one file of the program in place of its own. Empty when it does not compile."""
    out = folder / "histories"
    first: list[str] = []
    if text is not None:
        (folder / "changed.c").write_text(text, encoding="utf-8")
        first = [str(folder / "changed.o")]
        if subprocess.run(["gcc", *FLAGS, "-c", "-o", first[0], str(folder / "changed.c")], capture_output=True, check=False).returncode:
            return []
    link = ["gcc", *first, str(folder / "main.o"), str(BUILD / "libtubwright_shell.a"), str(BUILD / "libtubwright_core.a"), *LIBRARIES,
            "-o", str(out)]
    return [str(out)] if subprocess.run(link, capture_output=True, check=False).returncode == 0 else []


def notices(command: list[str], limit: float) -> str:
    """How the histories end: "" when nothing is noticed."""
    with crash.scratch() as scratch:
        try:
            done = subprocess.run([*command, scratch, "1", HISTORIES], capture_output=True, text=True, check=False, timeout=limit)
        except subprocess.TimeoutExpired:
            return "endless"
    if done.returncode == 0:
        return ""
    said = [line for line in done.stdout.splitlines() if "seed" in line]
    return said[-1].removeprefix("# ") if said else f"exit {done.returncode}"


def main() -> None:
    tap = crash.Tap()
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 40
    files = sys.argv[3:] or FILES
    rng = random.Random(seed)
    everything = [(SRC / "src" / name, place) for name in files for place in places(SRC / "src" / name)]
    chosen = rng.sample(everything, min(count, len(everything)))
    with crash.scratch() as name:
        folder = Path(name)
        subprocess.run(["gcc", *FLAGS, "-c", "-o", str(folder / "main.o"), str(SRC / "tests/support/histories.c")], check=True)
        began = time.monotonic()
        tap.check(notices(program(folder, None), 600) == "", "nothing is noticed where nothing was changed")
        limit = 10 * (time.monotonic() - began) + 10
        seen = tried = 0
        for path, place in chosen:
            text, line = changed(path, place)
            command = program(folder, text)
            if not command:
                continue
            tried += 1
            how = notices(command, limit)
            seen += how != ""
            print(f"# {path.name}:{place[0] + 1}: {line}\n#   {how or 'NOT NOTICED'}", flush=True)
    tap.check(tried > 0 and 3 * seen >= 2 * tried, f"{seen} of {tried} changes were noticed")
    tap.end()


if __name__ == "__main__":
    main()
