"""The command line on a logbook of its own: words of `log` in, answers with --json out."""
from __future__ import annotations

import datetime
import json
import os
import subprocess
import tempfile
from typing import Any

START = datetime.datetime(2026, 3, 2, 8, 0, tzinfo=datetime.timezone.utc)


class Program:
    """The command line on a logbook of its own."""

    def __init__(self, seed: str) -> None:
        self.home = tempfile.TemporaryDirectory()
        self.env = {**os.environ, "HOME": self.home.name, "XDG_DATA_HOME": self.home.name, "TZ": "UTC",
                    "TUBWRIGHT_RANDOM": seed, "TUBWRIGHT_ROLE": "technician"}
        self.said: list[tuple[float, list[str]]] = []

    def run(self, hours: float, words: list[str]) -> dict[str, Any]:
        """Run words at so many hours after the start; the JSON answer. Nothing is asked back (--yes): what
        is odd in these stories is meant, and asking costs an estimate for each line."""
        at = (START + datetime.timedelta(seconds=round(hours * 3600))).isoformat()
        if words[0] != "now":
            self.said.append((hours, words))
        done = subprocess.run([os.environ["TUBWRIGHT"], *words, "--at", at, "--json", "--yes"], env=self.env,
                              capture_output=True, check=False)
        if done.returncode not in (0, 4):
            raise RuntimeError(f"{words}: exit {done.returncode}: {done.stderr.decode()}")
        return dict(json.loads(done.stdout))

    def close(self) -> None:
        self.home.cleanup()


def hours_of(text: str) -> float:
    return (datetime.datetime.fromisoformat(text) - START).total_seconds() / 3600.0
