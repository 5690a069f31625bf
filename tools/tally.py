#!/usr/bin/env python3
"""Add up what the tests of one or more build folders did.

usage: tally.py FOLDER... [failed:WHAT...]   each folder with meson-logs/testlog.json and found.txt

Prints the failed tests, the time of each suite, the ten slowest tests, and alone on the last line
"N passed, N failed" (", N skipped" if any were). A program that crashed, ran out of time, broke its
plan or left no result counts as one failure; so does a test that was found but did not run, and a
folder in which nothing ran. Exit 1 if anything failed.
"""
from __future__ import annotations

import json
import re
import sys
from dataclasses import dataclass, field
from pathlib import Path

TEST_LINE = re.compile(r"^(not )?ok\b(.*)$", re.M)
SKIPPED = re.compile(r"#\s*skip", re.I)


@dataclass
class Sum:
    passed: int = 0
    failed: int = 0
    skipped: int = 0
    failures: list[str] = field(default_factory=list)
    times: list[tuple[float, str]] = field(default_factory=list)


def add_test(total: Sum, test: dict, where: str) -> None:
    """One test program: its TAP lines, and one more failure if it did not end as it should."""
    name = f"{where}{test['name'].split(' / ')[-1]}"
    total.times.append((test.get("duration", 0.0), name))
    failed_before, ran = total.failed, False
    for bad, rest in TEST_LINE.findall(test.get("stdout", "")):
        ran = True
        if SKIPPED.search(rest):
            total.skipped += 1
        elif bad:
            total.failed += 1
            total.failures.append(f"{name}: {rest.strip(' -')}")
        else:
            total.passed += 1
    result = test["result"]
    if result == "SKIP" and not ran:
        total.skipped += 1
    elif (result not in ("OK", "SKIP") and total.failed == failed_before) or (result == "OK" and not ran):
        total.failed += 1
        total.failures.append(f"{name}: {result if ran or result != 'OK' else 'no test in it'}")


def add_folder(total: Sum, folder: Path) -> None:
    log = folder / "meson-logs/testlog.json"
    tests = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()] if log.exists() else []
    if not tests:
        total.failed += 1
        total.failures.append(f"{folder}: no test ran")
    for test in tests:
        add_test(total, test, f"{folder.name}: ")
    ran = {test["name"].split(" / ")[-1] for test in tests}
    for name in sorted(expected(folder) - ran):
        total.failed += 1
        total.failures.append(f"{folder.name}: {name}: did not run")


def expected(folder: Path) -> set[str]:
    """The tests that should have run there, by the list that the folder was configured from."""
    kinds = {"fuzz"} if folder.name.endswith("-fuzz") else {"ctest", "pytest", "cli"}
    left_out = ("house/", "same/") if folder.name.endswith("-san") else ()
    found = folder / "found.txt"
    lines = found.read_text(encoding="utf-8").splitlines() if found.exists() else []
    parts = [line.split("|") for line in lines]
    return {part[1] for part in parts if part[0] in kinds and not part[1].startswith(left_out)}


def report(total: Sum) -> None:
    suites: dict[str, float] = {}
    for seconds, name in total.times:
        suite = name.split("/")[0]
        suites[suite] = suites.get(suite, 0.0) + seconds
    print("\ntime of each suite:")
    for suite, seconds in sorted(suites.items(), key=lambda item: -item[1]):
        print(f"  {seconds:8.2f} s  {suite}")
    print("the ten slowest tests:")
    for seconds, name in sorted(total.times, reverse=True)[:10]:
        print(f"  {seconds:8.2f} s  {name}")
    for failure in total.failures:
        print(f"FAILED {failure}")
    skipped = f", {total.skipped} skipped" if total.skipped else ""
    print(f"\n{total.passed} passed, {total.failed} failed{skipped}")


def main() -> None:
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    total = Sum()
    for folder in sys.argv[1:]:
        if folder.startswith("failed:"):
            total.failed += 1
            total.failures.append(folder.removeprefix("failed:"))
        else:
            add_folder(total, Path(folder))
    report(total)
    raise SystemExit(1 if total.failed or not total.passed else 0)


if __name__ == "__main__":
    main()
