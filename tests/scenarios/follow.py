"""A technician who does what the card says: pours the amount, waits as long as it says, reads what it
names, with instruments that err. What was true at each act is kept beside what was said."""
from __future__ import annotations

import copy
import csv
import math
import os
import random
from pathlib import Path
from typing import Any

from core import Core, hours_of
from truth import Tub

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parent.parent.parent))
TOTALS = ["na", "k", "ca", "mg", "cl", "so4", "dic", "active_chlorine"]
MINUTES = 0.05      # from a reading to the pour
MOST_ACTS, MOST_HOURS = 70, 480.0
DONE = ("care-rest", "care-test-chlorine", "care-test-acids", "care-test-salt")


def table(name: str) -> list[dict[str, str]]:
    with (SRC / "data" / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


SUBSTANCES = {row["id"]: {**{name: float(row[f"{name}_mmol_per_g"]) for name in TOTALS}, "density": float(row["density_kg_per_l"] or 0.0)}
              for row in table("substances.csv")}
BLOCKS = {"free-chlorine": [0, 0.5, 1, 3, 5, 10, 20], "total-chlorine": [0, 0.5, 1, 3, 5, 10, 20],
          "ph": [6.2, 6.8, 7.2, 7.8, 8.4], "total-alkalinity": [0, 40, 80, 120, 180, 240]}


class Kit:
    """The instruments of one technician: what all readings of a bottle or a meter share is drawn once.
    by_strips: pH, alkalinity and chlorine by the blocks of one bottle; else meter and drops."""

    def __init__(self, rng: random.Random, by_strips: bool, drop: float = 0.2) -> None:
        self.rng, self.by_strips, self.drop = rng, by_strips, drop
        self.lot = {"free-chlorine": math.exp(rng.gauss(0.0, 0.12)), "ph": rng.gauss(0.0, 0.08), "total-alkalinity": rng.gauss(0.0, 10.0)}
        self.lot["total-chlorine"] = self.lot["free-chlorine"]
        self.meter_ph, self.meter_ec = rng.gauss(0.0, 0.04), math.exp(rng.gauss(0.0, 0.012))

    def block(self, test: str, truth: float) -> str:
        steps = BLOCKS[test]
        if test == "ph":
            value = truth + self.lot[test] + self.rng.gauss(0.0, 0.13)
        elif test == "total-alkalinity":
            value = truth + self.lot[test] + self.rng.gauss(0.0, 15.0)
        else:
            value = truth * self.lot[test] * math.exp(self.rng.gauss(0.0, 0.2))
        return f"{min(steps, key=lambda s: abs(s - value)):g}"

    def drops(self, truth: float, step: float, share: float) -> float:
        value = truth * (1.0 + share * self.rng.gauss(0.0, 1.0))
        return step * max(0, math.ceil(value / step - 0.5 + self.rng.gauss(0.0, 0.4)))

    def read(self, test: str, tub: Tub) -> dict[str, str] | None:
        """Fields of a reading; None: he has no means to read it."""
        base = {"analyte": test, "form": "value"}
        chlorine = tub.free() + (0.1 if test == "total-chlorine" else 0.0)
        if test == "temperature":
            return {**base, "instrument": "thermometer", "unit": "Cel", "value": f"{tub.celsius:.1f}"}
        if test == "conductivity":
            value = tub.conductivity() * self.meter_ec * (1.0 + self.rng.gauss(0.0, 0.01))
            return {**base, "instrument": "meter", "unit": "uS/cm", "value": f"{value:.0f}"}
        if test == "calcium-hardness":
            return {**base, "instrument": "drops", "step": "10", "unit": "mg/L", "value": f"{self.drops(1e3 * tub.calcium * 100.0869, 10.0, 0.03):.0f}"}
        if test == "phosphate":
            return {**base, "instrument": "photometer", "unit": "mg/L", "value": "0.1"}
        if self.by_strips and test in BLOCKS:
            truth = {"ph": tub.ph(), "total-alkalinity": tub.ta()}.get(test, chlorine)
            return {**base, "instrument": "strip", "lot": "A", "unit": "pH" if test == "ph" else "mg/L", "value": self.block(test, truth)}
        if test == "ph":
            value = tub.ph() + self.meter_ph + self.rng.gauss(0.0, 0.03)
            return {**base, "instrument": "meter", "unit": "pH", "value": f"{value:.2f}"}
        if test == "total-alkalinity":
            return {**base, "instrument": "drops", "step": "10", "unit": "mg/L", "value": f"{self.drops(tub.ta(), 10.0, 0.03):.0f}"}
        if test in ("free-chlorine", "total-chlorine"):
            return {**base, "instrument": "drops", "step": f"{self.drop:g}", "unit": "mg/L", "value": f"{self.drops(chlorine, self.drop, 0.0):.1f}"}
        return None


class Technician:
    """Follows the card until the hand-over, or says in `ended` what stopped him."""

    def __init__(self, tub: Tub, core: Core, kit: Kit, rng: random.Random, floor: float, until_h: float) -> None:
        self.tub, self.core, self.kit, self.rng, self.floor, self.until_h = tub, core, kit, rng, floor, until_h
        self.acts: list[dict[str, Any]] = []
        self.over: list[str] = []       # hard limits crossed in the true water
        self.early: list[str] = []      # held was shown, and the true generator's part was under the floor
        self.verdicts: list[str] = []
        self.fitted, self.shown = False, 0
        self.ended = ""

    # ---- entries
    def write(self, kind: str, **fields: str) -> None:
        self.core.entry(self.tub.hours, kind, **fields)

    def test(self, tests: list[str]) -> None:
        for test in tests:
            fields = self.kit.read(test, self.tub)
            if fields is not None:
                self.write("reading", **fields)

    def duty(self, share: float) -> None:
        self.tub.duty = share
        self.write("setting", what="duty", unit="pct", value=f"{100.0 * share:.0f}")

    # ---- what the card says
    def play(self) -> None:
        while not self.ended:
            card = self.core.ask(self.tub.hours)
            act = {**card["act"], "proven": "not_proven_because" not in card}
            if any(reason["id"] == "because-strips" for reason in card.get("not_proven_because", [])):
                self.kit.by_strips = False  # the card asks for drops, and he has them in the van
            self.acts.append({"hours": self.tub.hours, "made": self.tub.made, "free": self.tub.free(), "ph": self.tub.ph(),
                              "ta": self.tub.ta(), **act})
            if act["act_id"] in DONE:
                self.ended = "handed over"
            elif len(self.acts) >= MOST_ACTS or self.tub.hours > MOST_HOURS:
                self.ended = f"no end: {act['act_id']}"
            elif self.tub.hours > self.until_h:
                self.ended = "the play's last hour"
            else:
                self.follow(act)

    def follow(self, act: dict[str, Any]) -> None:
        name, verb = str(act["act_id"]), act["verb"]
        tests = [t["analyte"] for t in act.get("tests", [])]
        special = getattr(self, "do_" + name.replace("-", "_"), None)
        if special is not None:
            special(act)
        elif verb == "add":
            self.add(act, tests)
        elif verb == "air":
            self.air(act)
        elif verb == "wait":
            self.tub.step(max(0.1, hours_of(act["next_at"]) - self.tub.hours))
            if name == "prove-hold":
                self.test(tests or ["free-chlorine"])
        elif verb == "test":
            self.tub.step(MINUTES)
            self.test(tests or ["free-chlorine"])
        elif verb == "set":
            if name == "hand-duty" and act["proven"]:
                self.look_at_held(name)
            self.duty(act["setting_value"])
        else:
            self.ended = f"{verb}: {name}"

    def do_check_pour(self, act: dict[str, Any]) -> None:
        """He weighed it himself: it was that much."""
        self.tub.step(MINUTES)
        self.write("reply", question="amount-right", reply="yes")

    def do_check_volume(self, act: dict[str, Any]) -> None:
        self.tub.step(MINUTES)
        self.write("reply", question="volume-right", reply="yes")

    def add(self, act: dict[str, Any], tests: list[str]) -> None:
        row, unit = SUBSTANCES[act["substance"]], act["amount_unit"]
        grams = act["amount"] * (row["density"] if unit == "mL" else 1e3 if unit == "kg" else 1.0)
        self.tub.step(MINUTES)
        self.tub.add(row, grams * (1.0 + self.rng.gauss(0.0, 0.01)))
        self.write("addition", substance=act["substance"], amount=f"{act['amount']:.{2 if unit == 'kg' else 0}f}", amount_unit=unit)
        self.watch(act["act_id"])
        self.acts[-1]["poured_g"] = grams
        if act["act_id"] == "acid-step":
            self.tub.step(0.25)
            return
        self.tub.step(max(0.25, hours_of(act["next_at"]) - self.tub.hours) + MINUTES)
        self.test(tests)

    def watch(self, name: str) -> None:
        """The hard limits, looked at after each pour in the true water."""
        tub = self.tub
        salt = tub.salt() + 1e3 * tub.lying_g / tub.litres
        for over, what in ((tub.ph() < 6.8 and name in ("acid-step", "acid-trim"), "pH under 6.8"), (tub.ta() < 40.0, "alkalinity under 40"),
                           (tub.free() > 10.0, "free chlorine over 10"), (salt > tub.salt_limit and name == "salt-step", "salt over the plate")):
            if over and what not in self.over:
                self.over.append(what)

    def air(self, act: dict[str, Any]) -> None:
        self.write("care", job="aerate", state="started")
        self.tub.air = True
        self.tub.step(min(6.0, max(0.5, hours_of(act["until"]) - self.tub.hours)))
        self.tub.air = False
        self.write("care", job="aerate", state="done")
        self.test(["ph", "total-alkalinity"])

    def look_at_held(self, name: str) -> None:
        self.shown += 1
        if self.tub.made < self.floor:
            self.early.append(f"{name} at {self.tub.made:.2f} mg/L of {self.floor:g}")

    def do_stir_salt(self, act: dict[str, Any]) -> None:
        self.tub.dissolves = 3.0
        self.tub.step(1.0)
        self.test(["conductivity"])

    def do_off_test(self, act: dict[str, Any]) -> None:
        """So many hours with the generator off, as many at full duty, read at start, turn and end; stopped at 2 mg/L."""
        hours = hours_of(act["until"]) - self.tub.hours if "until" in act else 12.0
        self.test(["free-chlorine"])
        self.write("care", job="hold-test", state="started", hours=f"{hours:.0f}", hours_unit="h")
        self.write("setting", what="generator", state="off")
        before, self.tub.duty = self.tub.duty, 0.0
        for _ in range(2):
            self.tub.step(0.5 * hours)
            if self.tub.free() < 2.0:
                break
        self.test(["free-chlorine"])
        self.write("setting", what="generator", state="on")
        self.duty(1.0)
        self.tub.step(hours)
        self.test(["free-chlorine"])
        self.write("care", job="hold-test", state="done")
        self.duty(before)

    def do_check_cell(self, act: dict[str, Any]) -> None:
        self.verdicts.append("production")
        self.test(["conductivity", "free-chlorine"])
        self.tub.step(1.0)
        self.tub.output_g_per_h = self.tub.well_g_per_h
        self.write("part", part="cell", act="cleaned")

    def do_find_demand(self, act: dict[str, Any]) -> None:
        self.verdicts.append("demand")
        self.test(["free-chlorine", "total-chlorine"])
        self.ended = "demand"

    def do_fit_monitor(self, act: dict[str, Any]) -> None:
        self.look_at_held("fit-monitor")
        self.write("part", part="monitor", act="fitted")
        self.fitted = True
        self.tub.step(13.0)

    def do_pair_monitor(self, act: dict[str, Any]) -> None:
        value = self.tub.free() * (1.0 + self.rng.gauss(0.0, 0.05))
        self.write("reading", analyte="free-chlorine", form="value", instrument="monitor", unit="mg/L", value=f"{value:.1f}")
        self.test(["free-chlorine", "ph"])
        self.tub.step(8.0)

    def do_retest_diluted(self, act: dict[str, Any]) -> None:
        fields = self.kit.read("free-chlorine", self.tub)
        if fields is not None:
            self.write("reading", **fields, dilution="4")

    def do_hand_over(self, act: dict[str, Any]) -> None:
        self.write("care", job="handover", state="done")

    def week_ahead(self) -> float:
        """The lowest true generator's part of the next 7 days at the present duty."""
        future, low = copy.copy(self.tub), self.tub.made
        for _ in range(14):
            future.step(12.0)
            low = min(low, future.made)
        return low
