#!/usr/bin/env python3
"""The runner of golden files finds a wrong line, a wrong exit code and a wrong stream."""
import os
import subprocess
import sys
import tempfile
from pathlib import Path

RUN = Path(os.environ["SRC"]) / "tests/cli/run.py"

GOOD = """# a story

$ printf 'one\\n\\ntwo\\n'
one

two

$ cat
> typed
typed

$ echo told >&2; exit 3
! told
? 3

$ export WHO=me

$ echo $WHO $HOME
me HOME
"""
CASES = [
    ("the file as it is passes", GOOD, 0),
    ("a changed line is found", GOOD.replace("\none\n", "\nOne\n"), 1),
    ("a missing exit code is found", GOOD.replace("? 3\n", ""), 1),
    ("standard error is not standard output", GOOD.replace("! told", "told"), 1),
    ("an output that is not expected is found", GOOD.replace("typed\ntyped", "typed"), 1),
    ("a wrong exit code is found", GOOD.replace("? 3", "? 4"), 1),
    ("a file without a command is an error", "# only a story\n", 1),
]


def main() -> None:
    print(f"1..{len(CASES)}")
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for number, (claim, text, code) in enumerate(CASES, 1):
            path = Path(folder) / "case.txt"
            path.write_text(text, encoding="utf-8")
            done = subprocess.run([sys.executable, str(RUN), str(path)], capture_output=True, text=True,
                                  env={**os.environ, "TUBWRIGHT": "/bin/true"}, check=False)
            bad += done.returncode != code
            print(f"{'ok' if done.returncode == code else 'not ok'} {number} - {claim}")
            if done.returncode != code:
                print("".join(f"# {line}\n" for line in (done.stdout + done.stderr).splitlines()), end="")
    raise SystemExit(1 if bad else 0)


if __name__ == "__main__":
    main()
