"""The program run many times in one process (tests/support/many.c): thousands of commands in seconds."""
from __future__ import annotations

import os
import subprocess
from pathlib import Path


class Many:
    """One process that answers commands one after the other, in one environment."""

    def __init__(self, env: dict[str, str]) -> None:
        self.process = subprocess.Popen([str(Path(os.environ["BUILD"]) / "tests/many")], env={**os.environ, **env},
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    def run(self, *words: str | bytes, stdin: bytes = b"") -> tuple[int, bytes, bytes]:
        """The exit code of a command and what it printed on standard output and standard error."""
        ask, answer = self.process.stdin, self.process.stdout
        assert ask is not None and answer is not None
        ask.write(b"%d %d\n" % (len(words), len(stdin)))
        ask.write(b"".join(os.fsencode(word) + b"\0" for word in words) + stdin)
        ask.flush()
        head = answer.readline().split()
        if len(head) != 3:
            raise SystemExit(f"Bail out! the program ended in {words}: exit {self.process.wait()}")
        code, out, err = map(int, head)
        return code, answer.read(out), answer.read(err)

    def end(self) -> int:
        """Close it: its exit code, which is not 0 when a sanitizer found a leak."""
        self.process.communicate()
        return self.process.returncode
