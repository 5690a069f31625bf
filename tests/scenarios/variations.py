"""Seeded variations of the stories: another volume, alkalinity, cell, instruments, losses each time.
Each is played by a technician who follows the card against the truth of truth.py."""
from __future__ import annotations

import multiprocessing
import os
import random
import tempfile
import time
from dataclasses import dataclass, field
from typing import Any

from core import Core, library
from follow import SUBSTANCES, Kit, Technician
from truth import Tub

HISTORY = ("bromine", "biguanide", "silver", "copper", "monopersulfate", "ozone")
# What no mistake in the estimate may lift: the largest change of one step, in a quarter more than the named volume.
CAPS = {"acid-step": 45.0, "acid-trim": 15.0, "bicarbonate": 60.0, "salt-step": 2600.0, "first-dose": 10.0, "holding-dose": 10.0,
        "bridge-dose": 10.0, "calcium-chloride": 80.0}


@dataclass
class Told:
    """What came of one variation."""
    story: str
    seed: int
    ended: str
    cause: str
    verdict: str = ""
    capped: list[str] = field(default_factory=list)
    over: list[str] = field(default_factory=list)
    early: list[str] = field(default_factory=list)
    week: float | None = None
    hours: float = 0.0
    shown: int = 0          # times that held was shown
    acts: list[str] = field(default_factory=list)
    asked: int = 0
    cpu_s: float = 0.0
    problem: str = ""


def change(act: dict[str, Any], litres: float) -> float:
    """mg/L by which a pour moves what it aims at."""
    row, grams = SUBSTANCES[act["substance"]], act["poured_g"]
    alkalinity = row["na"] + row["k"] + 2.0 * row["ca"] + 2.0 * row["mg"] - row["cl"] - 2.0 * row["so4"]
    per_g = {"acid-step": abs(alkalinity) * 50.04, "acid-trim": abs(alkalinity) * 50.04, "bicarbonate": alkalinity * 50.04,
             "salt-step": row["cl"] * 58.443, "calcium-chloride": row["ca"] * 100.087}
    return grams * per_g.get(act["act_id"], row["active_chlorine"] * 70.906) / litres


def begin(core: Core, named_l: float, output: float, salt: float, origin: str, source: dict[str, str], use: str) -> None:
    core.entry(0.0, "tub", name="Tub", volume=f"{named_l:.0f}", volume_unit="L", use=use)
    core.entry(0.0, "plate", cell_output=f"{output:.2f}", cell_output_unit="g/h", salt_target=f"{salt:.0f}", salt_unit="mg/L")
    core.entry(0.0, "source", source="supply", origin=origin, bacteriology="clear")
    for question in HISTORY:
        core.entry(0.0, "reply", question=question, reply="no")
    for question in ("circulation", "electrician"):
        core.entry(0.0, "reply", question=question, reply="yes")
    for analyte, value in {"iron": "0.02", "manganese": "0.02", "copper": "0.02", "phosphate": "0.1", **source}.items():
        core.entry(0.1, "reading", analyte=analyte, form="value", instrument="laboratory", point="source", source="supply",
                   unit="pH" if analyte == "ph" else "mg/L", value=value)
    core.entry(0.2, "care", job="purge", state="done")


def fill(core: Core, rng: random.Random, litres: float, soft: float) -> None:
    """The fill, and how its volume was found: by meter, by clock, or by the plate alone."""
    extra = {"soft_fraction": f"{soft:.1f}"} if soft > 0.0 else {}
    how = rng.choice(["meter", "clock", ""])
    sd = {"meter": 0.02, "clock": 0.05}.get(how, 0.06)
    seen = litres * (1.0 + rng.gauss(0.0, sd))
    core.entry(0.5, "exchange", cause="fill", volume_unit="L", source="supply", temperature="38", temperature_unit="Cel",
               **{"in": f"{seen:.0f}"}, **extra)
    if how:
        core.entry(0.55, "volume", method=how, volume=f"{seen:.0f}", volume_unit="L", spread=f"{100.0 * sd:.0f}")
    for substance in ("hydrochloric-acid-31.45", "sodium-hypochlorite-120", "sodium-chloride", "sodium-bicarbonate"):
        core.entry(0.55, "stock", substance=substance, amount="25", amount_unit="kg")
    core.entry(0.6, "reading", analyte="temperature", form="value", instrument="thermometer", unit="Cel", value="38.0")


def losses(tub: Tub, rng: random.Random, loss: float, film: float, film_h: float) -> None:
    tub.loss, tub.film, tub.film_h = loss * rng.lognormvariate(0.0, 0.2), film * rng.lognormvariate(0.0, 0.3), film_h
    tub.demand, tub.rate = rng.uniform(0.0, 0.8), rng.uniform(0.1, 0.3)
    tub.follows = random.Random(f"{tub.litres} {tub.loss}").random()  # apart, so that all else stays as it was
    tub.still, tub.jets = 0.015 * rng.lognormvariate(0.0, 0.3), 2.0 * rng.lognormvariate(0.0, 0.3)


def lodge(core: Core, rng: random.Random, until_h: float) -> Technician:
    """S1: hard mains through a softener, high alkalinity, a cell of 0.15 g/h, a profile of 3 to 5."""
    litres, ta = 1130.0 * rng.lognormvariate(0.0, 0.12), rng.uniform(105.0, 240.0)
    ph, soft = rng.uniform(7.3, 7.8), rng.uniform(55.0, 75.0)
    tub = Tub(litres, 38.0, ph, ta, 280.0 * (1.0 - soft / 100.0), 30.0)
    losses(tub, rng, 0.015, 0.03, 24.0)
    tub.well_g_per_h = tub.output_g_per_h = 0.15 * rng.lognormvariate(0.0, 0.12)
    begin(core, litres * rng.uniform(1.0, 1.2), 0.15, tub.salt_limit, "mains",
          {"ph": f"{ph:.1f}", "total-alkalinity": f"{ta:.0f}", "calcium-hardness": "280", "chloride": "30"}, "lodging")
    fill(core, rng, litres, soft)
    tub.hours = 0.6
    return Technician(tub, core, Kit(rng, rng.random() < 0.2), rng, 3.0, until_h)


def mill(core: Core, rng: random.Random, until_h: float) -> Technician:
    """S2: a private well full of carbon dioxide, a thirsty first day, a cell of 0.20 g/h."""
    litres, ta, ph = 1280.0 * rng.lognormvariate(0.0, 0.12), rng.uniform(50.0, 78.0), rng.uniform(6.45, 6.85)
    tub = Tub(litres, 38.0, ph, ta, 95.0, 15.0)
    losses(tub, rng, 0.02, 0.10, 10.0)
    tub.salt_limit = 1800.0
    tub.well_g_per_h = tub.output_g_per_h = 0.20 * rng.lognormvariate(0.0, 0.12)
    begin(core, litres * rng.uniform(0.95, 1.15), 0.20, tub.salt_limit, "well",
          {"ph": f"{ph:.1f}", "total-alkalinity": f"{ta:.0f}", "calcium-hardness": "95", "chloride": "15"}, "lodging")
    fill(core, rng, litres, 0.0)
    tub.hours = 0.6
    return Technician(tub, core, Kit(rng, rng.random() < 0.2), rng, 3.0, until_h)


def cabin(core: Core, rng: random.Random, until_h: float) -> tuple[Technician, str]:
    """S4: balanced water, the salt already poured (cold, part of it caked on the floor in half of them), a
    residual that fades. The hidden cause is a weak cell or a thirsty water."""
    litres, ta = 1020.0 * rng.lognormvariate(0.0, 0.12), rng.uniform(64.0, 86.0)
    tub = Tub(litres, 38.0, 7.35, ta, 70.0, 20.0)
    losses(tub, rng, 0.013, 0.01, 12.0)
    cause = rng.choice(["production", "demand"])
    tub.well_g_per_h = 0.16 * rng.lognormvariate(0.0, 0.08)
    tub.output_g_per_h = tub.well_g_per_h * (rng.uniform(0.06, 0.22) if cause == "production" else 1.0)
    if cause == "demand":
        tub.loss = rng.uniform(0.06, 0.10)
    begin(core, litres * rng.uniform(0.95, 1.15), 0.16, tub.salt_limit, "mains",
          {"ph": "7.3", "total-alkalinity": f"{ta:.0f}", "calcium-hardness": "70", "chloride": "20"}, "private")
    fill(core, rng, litres, 0.0)
    poured = 1.9e-3 * litres
    caked = rng.choice([0.0, 0.3])
    core.entry(0.6, "addition", substance="sodium-chloride", amount=f"{poured:.2f}", amount_unit="kg")
    tub.hours = 0.6
    tub.chloride += (1.0 - caked) * poured * 1e3 * 0.995 / 58.4428 / litres
    tub.lying_g, tub.dissolves = caked * poured * 1e3 * 0.995, 0.003
    tub.step(2.0)
    technician = Technician(tub, core, Kit(rng, False, 0.1), rng, 3.0, until_h)
    return technician, cause


def pair(technician: Technician) -> None:
    """12 h off and 12 h on by drops, as soon as there is something to lose and the card leaves it to him."""
    technician.do_off_test({})


def play(job: tuple[str, int, str, float]) -> Told:
    story, seed, so, until_h = job
    rng, began = random.Random(f"{story} {seed}"), time.process_time()
    core = Core(so, f"{story} {seed}")
    cause = "neither"
    if story == "s4":
        technician, cause = cabin(core, rng, until_h)
    else:
        technician = (lodge if story == "s1" else mill)(core, rng, until_h)
    told = Told(story, seed, "", cause)
    named = float(next(line for line in core.lines if '"kind":"tub"' in line).split('"volume":"')[1].split('"')[0])
    try:
        if story == "s4":
            fade(technician)
        else:
            technician.play()
    except Exception as problem:  # a broken play is a result, and a failure of the test
        told.problem = repr(problem)[:300]
    told.ended, told.over, told.early, told.shown = technician.ended, technician.over, technician.early, technician.shown
    told.verdict = technician.verdicts[0] if technician.verdicts else "neither"
    for act in technician.acts:
        most = CAPS.get(act["act_id"])
        if "poured_g" in act and (most is None or change(act, 1.25 * named) > 1.01 * most):
            told.capped.append(f"{act['act_id']} {act['amount']:g} {act['amount_unit']}")
    told.acts, told.hours, told.asked = [act["act_id"] for act in technician.acts], technician.tub.hours, core.asked
    if technician.fitted:
        told.week = technician.week_ahead()
    told.cpu_s = time.process_time() - began
    return told


def fade(technician: Technician) -> None:
    """Follow the card; after three days of generator do the pair off and on, then ask for the verdict."""
    on_since, paired = None, 0
    while not technician.ended:
        card = technician.core.ask(technician.tub.hours)
        act = {**card["act"], "proven": "not_proven_because" not in card}
        technician.acts.append({"hours": technician.tub.hours, "made": technician.tub.made, "free": technician.tub.free(), **act})
        name = act["act_id"]
        if name in ("check-cell", "find-demand"):
            technician.follow(act)
            technician.ended = "verdict"
        elif len(technician.acts) >= 45 or name in ("fit-monitor", "hand-over"):
            technician.ended = f"no verdict: {name}"
        elif name == "prove-hold" and act["verb"] == "wait" and on_since is not None and technician.tub.hours - on_since >= 36.0 and \
                paired < 2 and technician.tub.free() > 1.2:
            paired += 1
            pair(technician)
        else:
            technician.follow(act)
        if on_since is None and technician.tub.duty > 0.0:
            on_since = technician.tub.hours


def play_all(stories: list[str], seeds: range, until_h: float, whole: dict[str, tuple[int, ...]], tell: Any = None) -> list[Told]:
    """Each story with each seed, for until_h hours; those named in whole, and S4, until they end."""
    with tempfile.TemporaryDirectory() as folder:
        so = library(folder)
        jobs = [(story, seed, so, 1e9 if seed in whole.get(story, ()) else until_h) for seed in seeds for story in stories]
        told = []
        with multiprocessing.Pool(min(4, os.cpu_count() or 1)) as pool:
            for one in pool.imap(play, jobs):
                told.append(one)
                if tell is not None:
                    tell(one, len(told), len(jobs))
    return told
