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
READY = [
    ("08:00", "tub new Lodge volume=1250L use=lodging --role technician"),
    ("08:01", f"log plate output=0.15g/h salt=2000mg/L source supply origin=mains bacteriology=clear reply {HISTORY} circulation=yes electrician=yes"),
    ("08:10", "log ph=7.6 ta=235 ch=280 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=30 by laboratory of supply"),
    ("08:20", "log care purge done filled 1130 L of supply soft_fraction=64.3% temperature=38Cel"),
    ("08:25", "log volume 1128 L by meter spread=2% stock 5 kg hydrochloric-acid-31.45 stock 5 kg sodium-hypochlorite-120"
              " stock 25 kg sodium-chloride stock 5 kg sodium-bicarbonate"),
    ("08:30", "log temperature=38.0 by thermometer"),
    ("08:35", "log ph=7.61 by meter"),
    ("08:40", "log ta=230 by drops step=10"),
    ("08:45", "log added 13 mL sodium-hypochlorite-120"),
]


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

    def ready(self) -> "Story":
        """A lodge on hard mains at 10:00: everything before the acids is done, and the card says to add acid."""
        for hour, words in READY:
            done = self.at(hour, *words.split())
            assert done.code in (0, 4), f"{words}: {done}"
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

    def take(self, lines: "list[str]") -> Done:
        """Import lines as another installation gave them."""
        return self.here.take(lines)

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
