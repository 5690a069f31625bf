#!/usr/bin/env python3
"""The count at the end of `make check`: what failed, crashed, never ran or was left out counts."""
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(os.environ["SRC"])


def tally(tests: list[dict], found: list[str]) -> tuple[str, int]:
    """The last line of the tally over one made-up build folder, and its exit code."""
    with tempfile.TemporaryDirectory() as folder:
        build = Path(folder) / "gcc"
        (build / "meson-logs").mkdir(parents=True)
        (build / "meson-logs/testlog.json").write_text("".join(json.dumps(test) + "\n" for test in tests))
        (build / "found.txt").write_text("".join(f"ctest|{name}|x\n" for name in found))
        done = subprocess.run([sys.executable, str(ROOT / "tools/tally.py"), str(build)],
                              capture_output=True, text=True, check=False)
        return done.stdout.splitlines()[-1], done.returncode


def test(name: str, result: str, stdout: str) -> dict:
    return {"name": f"tubwright:a / {name}", "result": result, "stdout": stdout, "duration": 0.1}


GOOD = test("a/good", "OK", "1..2\nok 1 - x\nok 2 - y\n")
CASES = [
    ("two good ones are two", [GOOD], ["a/good"], "2 passed, 0 failed", 0),
    ("a failed claim is one", [GOOD, test("a/bad", "FAIL", "1..2\nok 1 - x\nnot ok 2 - y\n")],
     ["a/good", "a/bad"], "3 passed, 1 failed", 1),
    ("a crash is one", [GOOD, test("a/crash", "ERROR", "1..2\nok 1 - x\n")], ["a/good", "a/crash"],
     "3 passed, 1 failed", 1),
    ("a crash before the first claim is one", [GOOD, test("a/crash", "ERROR", "")], ["a/good", "a/crash"],
     "2 passed, 1 failed", 1),
    ("a time-out is one", [GOOD, test("a/slow", "TIMEOUT", "1..1\n")], ["a/good", "a/slow"],
     "2 passed, 1 failed", 1),
    ("a program without a claim is one", [GOOD, test("a/empty", "OK", "1..0\n")], ["a/good", "a/empty"],
     "2 passed, 1 failed", 1),
    ("a test that was found but did not run is one", [GOOD], ["a/good", "a/lost"], "2 passed, 1 failed", 1),
    ("a run of nothing is one", [], [], "0 passed, 1 failed", 1),
    ("a skipped claim is neither", [GOOD, test("a/some", "OK", "1..2\nok 1 - x\nok 2 - y # SKIP no node\n")],
     ["a/good", "a/some"], "3 passed, 0 failed, 1 skipped", 0),
]


def main() -> None:
    print(f"1..{len(CASES)}")
    bad = 0
    for number, (claim, tests, found, line, code) in enumerate(CASES, 1):
        got = tally(tests, found)
        bad += got != (line, code)
        print(f"{'ok' if got == (line, code) else 'not ok'} {number} - {claim}")
        if got != (line, code):
            print(f"# wanted {line!r} and exit {code}, got {got}")
    raise SystemExit(1 if bad else 0)


if __name__ == "__main__":
    main()
