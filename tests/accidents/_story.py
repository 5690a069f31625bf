"""A tub in a scratch home, told hour by hour through the program, for the tests of accidents."""
from __future__ import annotations

import json
import os
import shutil
import sys
from pathlib import Path

sys.path.insert(0, os.environ["SRC"] + "/tests/store")
from _logbook import Done, Place, canonical, crash, place  # noqa: E402,F401

DAY = "2026-03-24T"
HISTORY = "bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no"


class Story:
    """One installation: its home, its logbook and its clock."""

    told = 0  # how many; each has ids of its own, the same in every run

    def __init__(self) -> None:
        self.keep, self.here = place()
        Story.told += 1
        self.word = f"story {Story.told}"

    def at(self, hour: str, *words: str, **how: object) -> Done:
        """Run a command at this hour of the day ("10:05"), or at a whole time."""
        env = {"TUBWRIGHT_RANDOM": self.word, "TUBWRIGHT_NOW": hour if "T" in hour else f"{DAY}{hour}:00+01:00", **how.pop("env", {})}  # type: ignore[dict-item]
        return self.here.run(*words, env=env, **how)  # type: ignore[arg-type]

    def log(self, hour: str, words: str) -> Done:
        return self.at(hour, "log", *words.split())

    def must(self, hour: str, words: str) -> None:
        done = self.log(hour, words)
        assert done.code in (0, 4, 6), f"{words}: {done}"

    def begin(self) -> "Story":
        """A filled tub whose water was read once."""
        done = self.at("09:00", "tub", "new", "Barn", "volume=1300L")
        assert done.code == 0, done
        self.must("09:01", f"reply {HISTORY}")
        self.must("09:05", "filled 1300 L of hose")
        self.must("09:10", "ph=7.9 ta=150 ch=120 temp=20 by drops")
        return self

    def copy(self) -> "Story":
        """The same logbook in a home of its own: another installation."""
        other = Story()
        shutil.copy(self.here.logbook, other.here.logbook)
        return other

    def merge(self, other: "Story") -> Done:
        return self.here.run("import", "-", stdin=other.here.give())

    def answer(self, hour: str, question: str) -> dict[str, object]:
        done = self.at(hour, question)
        assert done.out.startswith("{"), done
        return json.loads(done.out)

    def act(self, hour: str) -> str:
        """Id of the one next act."""
        return str(self.answer(hour, "now")["act"]["act_id"])  # type: ignore[index]

    def ph(self, hour: str) -> tuple[float, float, float]:
        """pH as known: low, median, high."""
        value = self.answer(hour, "water")["water"]["ph"]  # type: ignore[index]
        return value["low"], value["median"], value["high"]


def is_dose(card: dict[str, object]) -> bool:
    """1 when the card advises to put something in."""
    return card["act"]["verb"] == "add"  # type: ignore[index]
