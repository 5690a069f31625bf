"""A technician at a tub: the program on one side (words of `log`, answers of `now --json`), the truth
of truth.py on the other. He does what the card says, waits as long as it says, tests what it names."""
from __future__ import annotations

import csv
import datetime
import json
import os
import random
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from truth import Instruments, Tub

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parent.parent.parent))
START = datetime.datetime(2026, 3, 2, 8, 0, tzinfo=datetime.timezone.utc)
TOTALS = ["na", "k", "ca", "mg", "cl", "so4", "dic", "active_chlorine"]


def substances() -> dict[str, dict[str, float]]:
    with (SRC / "data/substances.csv").open(encoding="utf-8") as file:
        return {row["id"]: {name: float(row[f"{name}_mmol_per_g"]) for name in TOTALS} |
                {"density": float(row["density_kg_per_l"] or 0.0)} for row in csv.DictReader(file)}


SUBSTANCES = substances()


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


class Technician:
    """Follows the card; keeps every act and what was true when it was advised."""

    def __init__(self, tub: Tub, program: Program, rng: random.Random, calm: bool = False) -> None:
        self.tub, self.program, self.rng = tub, program, rng
        self.tools = Instruments(rng, calm)
        self.acts: list[dict[str, Any]] = []
        self.lowest_ph, self.highest_salt, self.most = 14.0, 0.0, 0.0
        self.card: dict[str, Any] = {}

    def log(self, *words: str) -> None:
        self.card = self.program.run(self.tub.hours, ["log", *words])

    def look(self) -> dict[str, Any]:
        self.card = self.program.run(self.tub.hours, ["now"])
        return self.card

    def read(self, tests: list[str]) -> list[str]:
        t, i = self.tub, self.tools
        value = {"ph": lambda: i.ph(t.ph()), "total-alkalinity": lambda: f"{i.drops(t.ta(), 10.0, 0.03):.0f}",
                 "calcium-hardness": lambda: f"{i.drops(1e3 * t.calcium * 100.0869, 10.0, 0.03):.0f}",
                 "free-chlorine": lambda: f"{i.drops(t.free(), 0.2):.1f}",
                 "total-chlorine": lambda: f"{i.drops(t.free() + 0.1, 0.2):.1f}",
                 "phosphate": lambda: "0.1", "conductivity": lambda: i.conductivity(t.conductivity()),
                 "temperature": lambda: f"{t.celsius:.1f}"}
        by = {"ph": "meter", "conductivity": "meter", "temperature": "thermometer", "phosphate": "photometer"}
        lines: dict[str, list[str]] = {}
        for test in tests:
            if test in value:
                tool = by.get(test, "drops")
                step = {"free-chlorine": "0.2", "total-chlorine": "0.2"}.get(test, "10") if tool == "drops" else ""
                lines.setdefault(f"{tool} {step}".strip(), []).append(f"{test}={value[test]()}")
        return [" ".join([*readings, "by", tool.split()[0], *([f"step={tool.split()[1]}"] if " " in tool else [])])
                for tool, readings in lines.items()]

    def test(self, tests: list[str]) -> None:
        for line in self.read(tests):
            self.log(*line.split())

    def follow(self) -> str:
        """One act of the card; its id."""
        act = self.card["act"]
        self.acts.append({"hours": self.tub.hours, "made": self.tub.made, "free": self.tub.free(), **act})
        verb = act["verb"]
        if verb == "add":
            self.add(act)
        elif verb == "air":
            self.log("care", "aerate", "started")
            self.tub.air = True
            self.tub.step(max(0.5, hours_of(act["until"]) - self.tub.hours))
            self.tub.air = False
            self.log("care", "aerate", "done")
            self.test(["ph", "total-alkalinity"])
        elif verb == "wait" or (verb == "test" and hours_of(act["next_at"]) > self.tub.hours + 0.01):
            self.tub.step(max(0.1, hours_of(act["next_at"]) - self.tub.hours))
            if act["act_id"] == "prove-hold":
                self.test(["free-chlorine"])
            else:
                self.look()
        elif verb == "test":
            self.test([t["analyte"] if isinstance(t, dict) else t for t in act["tests"]] or ["free-chlorine"])
        elif verb == "set":
            self.tub.duty = act["setting_value"]
            self.log(f"duty={act['setting_value'] * 100.0:.0f}%")
        elif act["act_id"] == "heat":
            self.tub.celsius = 38.0
            self.test(["temperature"])
        elif act["act_id"] == "stir-salt":
            self.tub.dissolves = 3.0
            self.log("jets=on")
            self.tub.step(1.0)
            self.log("jets=off")
            self.test(["conductivity"])
        return str(act["act_id"])

    def add(self, act: dict[str, Any]) -> None:
        row, unit = SUBSTANCES[act["substance"]], act["amount_unit"]
        grams = act["amount"] * (row["density"] if unit == "mL" else 1e3 if unit == "kg" else 1.0)
        self.tub.add(row, grams * (1.0 + self.rng.gauss(0.0, 0.01)))
        self.lowest_ph = min(self.lowest_ph, self.tub.ph())
        self.highest_salt = max(self.highest_salt, self.tub.salt() + self.tub.lying_g / self.tub.litres * 1e3)
        self.most = max(self.most, self.tub.free())
        self.log("added", f"{act['amount']:.{2 if unit == 'kg' else 0}f}", unit, act["substance"])


def prelude(tub: Tub, program: Program, plate_litres: float, output: float, salt_target: float, source: list[str],
            origin: str, fill: list[str]) -> None:
    """Everything up to warm water, as entries: the decisions that matter here come later."""
    run = program.run
    run(0.0, ["tub", "new", "Tub", f"volume={plate_litres:.0f}L", "use=lodging"])
    run(0.0, ["log", "plate", f"output={output:.2f}g/h", f"salt={salt_target:.0f}mg/L", "source", "supply", f"origin={origin}",
              "bacteriology=clear"])
    run(0.0, ["log", *[w for q in ("bromine", "biguanide", "silver", "copper", "monopersulfate", "ozone", "circulation",
                                    "electrician") for w in ("reply", f"{q}=no" if q not in ("circulation", "electrician") else f"{q}=yes")]])
    run(0.1, ["log", *source, "by", "laboratory", "of", "supply"])
    run(0.2, ["log", "care", "purge", "done"])
    run(0.5, ["log", "filled", *fill])
    tub.hours = 0.6
