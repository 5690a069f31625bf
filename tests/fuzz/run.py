#!/usr/bin/env python3
"""Run a fuzzer: first its kept corpus, then new inputs for a while.

usage: run.py PROGRAM SECONDS                  as a test (TAP), a fixed start, no file written
       run.py --long BUILD NAME SECONDS        by hand: new inputs are kept in BUILD/corpus/NAME

The corpus of fuzz_line.c stands in tests/fuzz/corpus/line/, one small file a case; an input that
once crashed the program is added there.
"""
from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

CORPUS = Path(__file__).resolve().parent / "corpus"
SEED = "20260324"


def run(command: list[str]) -> tuple[bool, str]:
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    return done.returncode == 0, done.stdout + done.stderr


def as_test(program: Path, seconds: int) -> None:
    name = program.name.removeprefix("fuzz_").split("_", 1)[-1]
    kept = sorted(path for path in (CORPUS / name).glob("*") if path.is_file())
    results: list[tuple[bool, str, str]] = []
    with tempfile.TemporaryDirectory() as folder:
        crash = f"-artifact_prefix={folder}/"
        if kept:
            good, said = run([str(program), crash, *map(str, kept)])
            results.append((good, f"{len(kept)} kept inputs", said))
        good, said = run([str(program), crash, f"-seed={SEED}", f"-max_total_time={seconds}",
                          "-max_len=4096", "-rss_limit_mb=4096", folder, str(CORPUS / name)]
                         if kept else [str(program), crash, f"-seed={SEED}",
                                       f"-max_total_time={seconds}", "-rss_limit_mb=4096", folder])
        good = good and "Done " in said
        results.append((good, f"{seconds} s of new inputs, seed {SEED}", said))
    print(f"1..{len(results)}")
    for number, (good, what, said) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {what}")
        for line in said.splitlines()[-40:] if not good else said.splitlines()[-1:]:
            print("# " + line)
    raise SystemExit(0 if all(good for good, _, _ in results) else 1)


def by_hand(build: Path, name: str, seconds: int) -> None:
    programs = sorted(path for path in (build / "tests").glob("fuzz_*") if path.is_file())
    short = name.split("/")[-1]
    match = [path for path in programs if path.name.endswith("_" + short)]
    if len(match) != 1:
        raise SystemExit("name one of: " + " ".join(path.name.removeprefix("fuzz_fuzz_") for path in programs))
    corpus = build / "corpus" / short
    corpus.mkdir(parents=True, exist_ok=True)
    command = [str(match[0]), f"-max_total_time={seconds}", "-rss_limit_mb=4096", "-print_final_stats=1",
               f"-artifact_prefix={corpus}-", str(corpus)]
    if (CORPUS / short).is_dir():
        command.append(str(CORPUS / short))
    raise SystemExit(subprocess.run(command, check=False).returncode)


def main() -> None:
    if sys.argv[1:2] == ["--long"] and len(sys.argv) == 5:
        by_hand(Path(sys.argv[2]), sys.argv[3], int(sys.argv[4]))
    elif len(sys.argv) == 3:
        as_test(Path(sys.argv[1]), int(sys.argv[2]))
    else:
        raise SystemExit(__doc__)


if __name__ == "__main__":
    main()
