"""Lines of entries made by hand, and the program run on scratch logbooks, for the tests of this folder."""
from __future__ import annotations

import hashlib
import json
import os
import random
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, os.environ["SRC"] + "/tests/torture")
import _crash as crash  # noqa: E402

TUB = "01890000-0000-7000-8000-00000000000a"


def canonical(entry: dict[str, str]) -> str:
    """RFC 8785 for a flat object of strings with ASCII names."""
    return json.dumps(entry, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


@dataclass
class Writer:
    """A chain of entries as another installation would write them."""
    number: int
    lines: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        return f"5a000000-0000-4000-8000-{self.number:012d}"

    def write(self, **fields: str) -> str:
        n = len(self.lines) + 1
        entry = {"id": f"01890000-0000-7000-8{self.number:03d}-{n:012d}", "tub": TUB, "at": "2026-03-24T10:40:00+01:00",
                 "entered": "2026-03-24T10:40:00+01:00", "writer": self.id, "n": str(n), **fields}
        if self.lines:
            entry["prev"] = hashlib.sha256(self.lines[-1].encode()).hexdigest()
        self.lines.append(canonical(entry))
        return self.lines[-1]

    def story(self, readings: int) -> "Writer":
        """A tub and some readings of its pH."""
        self.write(kind="tub", name="Barn", volume="1300", volume_unit="L")
        for i in range(readings):
            self.write(kind="reading", analyte="ph", form="value", value=f"7.{i % 10}", at=f"2026-03-24T10:{i % 60:02d}:00+01:00")
        return self


@dataclass
class Done:
    code: int
    out: str
    err: str

    @property
    def problem(self) -> dict[str, object]:
        """The problem object, {} when there is none."""
        lines = [line for line in self.err.splitlines() if line.startswith('{"type"')]
        return json.loads(lines[-1]) if lines else {}

    @property
    def type(self) -> str:
        return str(self.problem.get("type", "")).removeprefix("urn:tubwright:problem:")

    def __str__(self) -> str:
        return f"exit {self.code}\n{self.out}{self.err}"


class Place:
    """A scratch home with a logbook in it."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.logbook = home / "logbook.db"

    def run(self, *words: str, stdin: str | bytes | None = None, env: dict[str, str] | None = None, as_nobody: bool = False,
            logbook: Path | None = None, json_form: bool = True) -> Done:
        keep = {name: os.environ[name] for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS") if name in os.environ}
        env = {**keep, "HOME": str(self.home), "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC",
               "TUBWRIGHT_NOW": "2026-03-25T10:00:00+01:00",
               "TUBWRIGHT_LOGBOOK": str(logbook or self.logbook), **(env or {})}
        command = [os.environ["TUBWRIGHT"], *words, *(["--json"] if json_form else [])]
        if as_nobody:
            command = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", *command]
        if isinstance(stdin, str):
            stdin = stdin.encode()
        done = subprocess.run(command, env=env, input=stdin or b"", capture_output=True, timeout=60, check=False)
        return Done(done.returncode, done.stdout.decode(errors="replace"), done.stderr.decode(errors="replace"))

    def take(self, lines: list[str]) -> Done:
        return self.run("import", "-", stdin="".join(line + "\n" for line in lines))

    def give(self) -> str:
        return self.run("export").out

    def seal(self) -> str:
        return json.loads(self.run("verify").out)["seal"]


def place() -> "tuple[object, Place]":
    """A scratch place; the first of the two removes it in the end."""
    folder = crash.scratch()
    Path(folder.name).chmod(0o755)
    return folder, Place(Path(folder.name))


def shuffled(lines: list[str], seed: int) -> list[str]:
    lines = list(lines)
    random.Random(seed).shuffle(lines)
    return lines
