#!/usr/bin/env python3
"""Golden files of the command line: the commands, then exactly what they print.

usage: run.py FILE              check one file (TAP); env TUBWRIGHT is the program, SRC the sources
       run.py --diff [NAME]     show how the files would change
       run.py --accept [NAME]   write them

A file is read by line:

    # a story, before the first command
    $ tubwright log ph=7.4        a command for sh, in a scratch folder that is HOME as well
    > a line for its standard input (any number, right after the command)
    what it prints on standard output, to the letter
    ! what it prints on standard error
    ? 2                           its exit code, when it is not 0

An empty line before a command is for the reader only; one that the program prints itself is kept.
The clock of the program stands still: TUBWRIGHT_NOW is set by the file's own commands where they
need it (export TUBWRIGHT_NOW=... holds for the commands after it).
"""
from __future__ import annotations

import difflib
import os
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
# An id is made anew in each run; everything else must be the same to the letter.
ID = re.compile(r"\b[0-9a-f]{8}-[0-9a-f]{4}-[78][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}\b")


@dataclass
class Step:
    command: str
    stdin: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=list)


def read(text: str) -> tuple[list[str], list[Step]]:
    """The story, and the steps with what is expected of each."""
    story: list[str] = []
    steps: list[Step] = []
    for line in text.splitlines():
        if line.startswith("$ "):
            if steps and steps[-1].expected and steps[-1].expected[-1] == "":
                steps[-1].expected.pop()
            steps.append(Step(line[2:]))
        elif not steps:
            story.append(line)
        elif line.startswith("> ") and not steps[-1].expected:
            steps[-1].stdin.append(line[2:])
        else:
            steps[-1].expected.append(line)
    if not steps:
        raise SystemExit("no command in the file")
    return story, steps


def environment(home: Path) -> dict[str, str]:
    program = Path(os.environ["TUBWRIGHT"]).resolve()
    keep = {name: os.environ[name] for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS") if name in os.environ}
    return {**keep, "HOME": str(home), "PATH": f"{program.parent}:/usr/bin:/bin", "LC_ALL": "C.UTF-8",
            "TZ": "UTC", "SRC": str(ROOT), "XDG_DATA_HOME": str(home / "data"), "COLUMNS": "60"}


def outcome(step: Step, home: Path, env: dict[str, str]) -> list[str]:
    """What a step prints, in the form of the file. "export" commands change env for later ones."""
    export = re.fullmatch(r"export (\w+)=(.*)", step.command)
    if export:
        env[export[1]] = export[2].strip("'\"")
        return []
    done = subprocess.run(["sh", "-c", step.command], cwd=home, env=env, text=True,
                          input="".join(line + "\n" for line in step.stdin),
                          capture_output=True, timeout=60, check=False)
    lines = done.stdout.split("\n")
    unfinished = lines.pop()
    if unfinished:
        lines.append(unfinished + "\\")
    lines += ["! " + line if line else "!" for line in done.stderr.splitlines()]
    if done.returncode:
        lines.append(f"? {done.returncode}")
    return [ID.sub("ID", line.replace(str(home), "HOME")) for line in lines]


def written(story: list[str], steps: list[Step], got: list[list[str]]) -> str:
    """The file as it should be for these outcomes."""
    lines = list(story)
    for number, (step, outcome_lines) in enumerate(zip(steps, got)):
        if number:
            lines.append("")
        lines += ["$ " + step.command, *("> " + line for line in step.stdin), *outcome_lines]
    return "\n".join(lines) + "\n"


def replay(path: Path) -> tuple[list[str], list[Step], list[list[str]]]:
    story, steps = read(path.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        env = environment(Path(folder))
        return story, steps, [outcome(step, Path(folder), env) for step in steps]


def check(path: Path) -> None:
    _, steps, got = replay(path)
    print(f"1..{len(steps)}")
    bad = 0
    for number, (step, lines) in enumerate(zip(steps, got), 1):
        # The last step's closing empty lines cannot be told from the end of the file.
        want = step.expected
        same = lines == want
        print(f"{'ok' if same else 'not ok'} {number} - {step.command.replace('#', '')}")
        if not same:
            bad += 1
            for line in difflib.unified_diff(want, lines, "expected", "got", lineterm="", n=2):
                print("# " + line)
    raise SystemExit(1 if bad else 0)


def golden(accept: bool, name: str) -> None:
    changed = 0
    for path in sorted((ROOT / "tests/cli").glob("*.txt")):
        if name and name.removeprefix("cli/") != path.stem:
            continue
        now, new = path.read_text(encoding="utf-8"), written(*replay(path))
        if now == new:
            continue
        changed += 1
        sys.stdout.writelines(difflib.unified_diff(now.splitlines(True), new.splitlines(True),
                                                   path.name, path.name + " (new)"))
        if accept:
            path.write_text(new, encoding="utf-8")
    print(f"{changed} files {'written' if accept else 'would change'}")
    raise SystemExit(0 if accept or not changed else 1)


def main() -> None:
    arguments = sys.argv[1:]
    if arguments and arguments[0] in ("--diff", "--accept"):
        golden(arguments[0] == "--accept", arguments[1] if len(arguments) > 1 else "")
    elif len(arguments) == 1:
        check(Path(arguments[0]))
    else:
        raise SystemExit(__doc__)


if __name__ == "__main__":
    main()
