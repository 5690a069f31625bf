#!/usr/bin/env python3
"""Entries of a newer version.

A colleague has updated, you have not. Their logbook holds a kind, a field or a word that your program does not know. It is kept byte for
byte. For that tub no addition is advised, the answer says that an update is needed, and so does the exit code; for other tubs
nothing changes. Typed here, the same is refused."""
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, canonical, crash, is_dose  # noqa: E402

tap = crash.Tap()
base = Story().begin()
tub = json.loads(base.here.give().splitlines()[0])["tub"]
COMMON = {"id": "01890000-0000-7000-8000-000000000077", "tub": tub, "at": "2026-03-24T09:30:00+01:00", "n": "1",
          "entered": "2026-03-24T09:30:00+01:00", "writer": "5a000000-0000-4000-8000-000000000009"}
PH = {"kind": "reading", "analyte": "ph", "form": "value", "value": "7.9"}
for name, fields in {
    "a kind": {"kind": "ozone-hour", "grams": "3"},
    "a field": {**PH, "colour": "red"},
    "a word": {**PH, "instrument": "spectrometer"},
    "an analyte": {**PH, "analyte": "bromine", "unit": "mg/L"},
}.items():
    story = base.copy()
    line = canonical({**COMMON, **fields})
    taken = story.here.run("import", "-", stdin=line + "\n")
    tap.check(taken.code == 0 and json.loads(taken.out)["newer"] == 1, f"{name}: kept", taken)
    tap.check(line in story.here.give().splitlines(), f"{name}: and given on byte for byte")
    card = story.at("10:00", "now")
    tap.check(card.code == 6 and json.loads(card.out)["act"]["act_id"] == "update" and not is_dose(json.loads(card.out)),
              f"{name}: no addition, an update is needed, exit code 6", card)
    said = story.answer("10:00", "logbook")
    tap.check(len(said["entries"]) == len(story.here.give().splitlines()), f"{name}: the logbook shows it with all the others", said)
    tap.check(story.here.run("verify").code == 0, f"{name}: the chains are whole")

story = base.copy()
story.here.run("import", "-", stdin=canonical({**COMMON, "kind": "ozone-hour", "grams": "3"}) + "\n")
done = story.at("10:00", "tub", "new", "Loft", "volume=900L")
other = story.at("10:01", "now", "--tub", "Loft")
tap.check(other.code == 0 and json.loads(other.out)["act"]["act_id"] != "update", "another tub goes on as before", done, other)
for words in ("bromine=3", "ozone-hour 3"):
    typed = base.log("10:00", words)
    tap.check(typed.code in (2, 3), f"typed, it is refused: {words}", typed)
tap.end()
