#!/usr/bin/env python3
"""A stage that is closed because nothing else cleared it.

People write "done" when that is the only way to make a question go away. Here "couldn't" is one word away, as are "won't", "later" and
"does not apply": the reason is kept, the stage stays open, and the same act is asked for again. Only what the table allows is set
aside, by a role that may, with a reason."""
import csv
import json
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, canonical, crash, is_dose  # noqa: E402

tap = crash.Tap()
base = Story().ready()
lines = base.here.give().splitlines()


def stands(card: "dict[str, object]") -> "tuple[str, str]":
    return card["stage"]["id"], card["act"]["act_id"]  # type: ignore[index]


before = base.answer("10:00", "now")
for words, kept in [(["couldn't", "no acid here"], "no acid here"), (["couldn't"], "could not be done"), (["won't", "too much work"], "too much work"),
                    (["later", "guests come"], "guests come"), (["will"], "will be done"), (["not-done", "forgot"], "forgot")]:
    story = base.copy()
    done = story.at("10:00", "log", *words)
    card = json.loads(done.out)
    tap.check(done.code == 0 and stands(card) == stands(before), f"{words[0]}: one word, the stage stays open and the act stands", done)
    tap.check(kept in story.here.give() or kept in story.at("10:01", "logbook", json_form=False).out, f"{words[0]}: and what was said is kept", kept)
    if len(words) > 1 and words[0] in ("couldn't", "later"):
        tap.check(stands(story.answer("10:40", "now")) == stands(before), f"{words[0]}: it is asked for again later")
    if words == ["couldn't"]:
        cards = [story.answer(hour, "now") for hour in ("2026-03-29T18:00:00+02:00",)]
        tap.check(all(card["stage"]["id"] == before["stage"]["id"] for card in cards), "days do not close the stage either", cards)

# A stop and a thing that cannot be waived: the same.
for begin, what in (("reply bromine=yes", "clear-bromine"), ("seen trip", "trip")):
    story = base.copy()
    story.must("10:00", begin)
    done = story.at("10:01", "log", "couldn't", "nobody here")
    tap.check(done.code == 4 and json.loads(done.out)["act"]["act_id"] == what, f"{what}: couldn't keeps it stopped", done)
empty = Story()
for hour, words in (("09:00", "tub new Barn volume=1300L"), ("09:01", "log reply bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no"),
                    ("09:02", "log na only-one-tap"), ("09:03", "log na cannot-test"), ("09:04", "log na new-shell")):
    done = empty.at(hour, *words.split())
    assert done.code == 0, done
tap.check(empty.act("09:05") == "fill", "what may be set aside was, up to the fill", empty.act("09:05"))
done = empty.at("09:05", "log", "na", "it is full")
tap.check(done.code == 1 and empty.act("09:06") == "fill", "the fill cannot be set aside: it is said so, and it stays open", done)

# ---- "does not apply" and waivers: a reason, a role, and only what may be ----
story = base.copy()
done = story.at("10:00", "log", "na")
tap.check(done.code == 1 and story.here.give().splitlines() == lines, "does not apply without a reason: asked why, nothing is written", done)
done = story.at("10:00", "log", "na", "the plate allows 250")
card = json.loads(done.out)
tap.check(done.code == 0 and card["act"]["act_id"] != "acid-step", "with a reason the next thing is due", card)
with open(os.environ["SRC"] + "/data/conditions.csv", encoding="utf-8") as file:
    fixed = [row["id"] for row in csv.DictReader(file) if row["waivable"] == "0"]
for condition in fixed:
    if condition in ("no-bromine", "not-bleached", "handed-over", "filled"):
        done = base.at("10:00", "log", "waive", condition, "in a hurry")
        tap.check(done.code == 1 and "stays open" in done.err, f"{condition}: may not be waived, it is said so", done)
done = base.at("10:00", "log", "waive", "weather", "it rains")
tap.check(done.code == 3 and "alkalinity-not-high" in done.err, "an unknown condition: refused, those that are known are named", done)
nobody = Story().begin()
done = nobody.at("10:00", "log", "waive", "source-tested", "no kit")
tap.check(done.code == 1 and "who" in done.err, "a waiver without a role: asked who", done)
done = nobody.at("10:00", "log", "waive", "source-tested", "no kit", "--role", "reader")
tap.check(done.code == 1, "somebody who only reads waives nothing", done)
done = nobody.at("10:00", "log", "waive", "source-water", "no kit", "--role", "owner")
tap.check(done.code == 0 and json.loads(done.out)["stage"]["id"] != "stage-source-water", "the owner waives a whole stage, with a reason", done)
tap.check(base.here.give().splitlines() == lines, "and nothing was written of what was refused")

# Imported, a waiver of what may not be waived is kept and closes nothing.
story = Story().begin()
story.must("09:20", "reply bromine=unknown")
line = canonical({"id": "01890000-0000-7000-8000-000000000078", "tub": json.loads(story.here.give().splitlines()[0])["tub"], "kind": "waiver", "condition": "no-bromine",
                  "reason": "in a hurry", "role": "owner", "at": "2026-03-24T09:30:00+01:00", "entered": "2026-03-24T09:30:00+01:00",
                  "writer": "5a000000-0000-4000-8000-000000000009", "n": "1"})
taken = story.take([line])
tap.check(taken.code == 0 and line in story.here.give().splitlines() and story.act("10:00") == "clear-bromine" and not is_dose(story.answer("10:00", "now")),
          "imported, a waiver of bromine is kept and lifts nothing", taken)
tap.end()
