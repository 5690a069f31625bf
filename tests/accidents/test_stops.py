#!/usr/bin/env python3
"""A stop is always shown, with its reason and its remedy, and in the exit code.

Every act of data/acts.csv that stops is brought about here, each by what a person would write. Whatever is asked of a stopped tub
(the card, its reasons, may we bathe, the sheet for the owner, the water, the forecast) says so at its head and ends with the
code of a stop; "done", "does not apply" and a waiver do not lift it, and what the card names as the remedy does."""
import csv
import json
import os
import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import _story  # noqa: E402
from _story import Story, canonical, crash  # noqa: E402

tap = crash.Tap()
base = Story().begin()
TUB = json.loads(base.here.give().splitlines()[0])["tub"]
NEWER = canonical({"id": "01890000-0000-7000-8000-000000000077", "tub": TUB, "at": "2026-03-24T09:30:00+01:00", "n": "1", "kind": "ozone-hour",
                   "entered": "2026-03-24T09:30:00+01:00", "writer": "5a000000-0000-4000-8000-000000000009"})


def told(words: str) -> Story:
    story = base.copy()
    story.must("09:50", words)
    return story


def imported() -> Story:
    story = base.copy()
    story.take([NEWER])
    return story


def lodge(*changes: "tuple[str, str]") -> Story:
    """The lodge of _story.py with other words."""
    as_it_was = list(_story.READY)
    for old, new in changes:
        assert any(old in words for _, words in _story.READY), old
        _story.READY[:] = [(hour, words.replace(old, new)) for hour, words in _story.READY]
    story = Story().ready()
    _story.READY[:] = as_it_was
    return story


# act: how it comes about, and the words that lift it (None: words alone do not)
WAYS = {
    **{f"clear-{what}": (lambda what=what: told(f"reply {what}=yes"), f"reply {what}-cleared=yes")
       for what in ("bromine", "biguanide", "silver", "copper", "monopersulfate", "ozone")},
    "incident": (lambda: told("seen stool"), "filled 1300 L of hose"),
    "body": (lambda: told("seen rash"), "reply authority-cleared=yes"),
    "trip": (lambda: told("seen trip"), "reply trip-cleared=yes"),
    "update": (imported, None),
    "no-stock": (lambda: lodge(("stock 5 kg hydrochloric-acid-31.45 ", "")), "stock 5 kg hydrochloric-acid-31.45"),
    "cannot-dose": (lambda: lodge(("log plate ", "log plate ta_min=20mg/L ta_max=60mg/L "), ("ph=7.6 ta=235", "ph=7.9 ta=40"),
                                  ("ph=7.61 by meter", "ph=8.1 by drops"), ("ta=230", "ta=40"), ("added 13 mL sodium-hypochlorite-120", "added 13 mL sodium-hypochlorite-120 --yes")), None),
}
with open(os.environ["SRC"] + "/data/acts.csv", encoding="utf-8") as file:
    stops = [row["id"] for row in csv.DictReader(file) if row["verb"] == "stop"]
tap.check(sorted(stops) == sorted(WAYS), "every act of the table that stops is here", sorted(set(stops) ^ set(WAYS)))

with open(os.environ["SRC"] + "/data/conditions.csv", encoding="utf-8") as file:
    may_be_waived = {row["act"] for row in csv.DictReader(file) if row["waivable"] == "1"}
WHOLE = ("clear-bromine", "incident")  # asked for everything; of the others the card and bathing

for act, (way, lifted_by) in WAYS.items():
    story = way()
    done = story.at("10:00", "now")
    card = json.loads(done.out or "{}")
    code = 6 if act == "update" else 4
    tap.check(done.code == code and card.get("act", {}).get("act_id") == act, f"{act}: the card stops, exit code {code}", done)
    if not card:
        continue
    tap.check(card["weight"] == "stop" and card["act"]["verb"] == "stop" and "amount" not in card["act"], f"{act}: no amount stands on it", card)
    tap.check(len(card["why"]) > 0 and len(card["lift"]) > 0 and all(len(said["text"]) > 15 for said in card["why"] + card["lift"]),
              f"{act}: with reason and remedy", card)
    for word in ("now", "why", "bathing", "sheet", "water", "forecast") if act in WHOLE else ("now", "bathing") if act in ("trip", "cannot-dose") else ("now",):
        done = story.at("10:00", word, json_form=False)
        text = " ".join(done.out.split())
        shown = [" ".join(said["text"].split()) for said in [card["head"], *card["why"], *card["lift"]]]
        heavy = re.search(r"^={60}$", done.out, re.M) is not None
        tap.check(done.code in (code, 4) and heavy and all(line in text for line in shown), f"{act}: {word} says so, with reason and remedy, under the double rule", done)
    for word in () if act in ("clear-biguanide", "clear-silver", "clear-copper") else ("done",) if act in may_be_waived else ("done", "na") if act in WHOLE else ("na",):
        done = story.at("10:01", "log", word, "there was none")
        still = done.code == 1 or json.loads(done.out)["act"]["act_id"] == act
        tap.check(still, f"{act}: '{word}' does not lift it", done)
    if lifted_by is not None:
        done = story.at("10:05", "log", *lifted_by.split(), "--yes")
        tap.check(done.code == 0 and json.loads(done.out)["act"]["act_id"] != act, f"{act}: '{lifted_by}' does", done)
tap.end()
