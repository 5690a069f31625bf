#!/usr/bin/env python3
"""Advice repeated while an announced dose is open.

A person says that they are adding what the card says and puts the phone away. Whoever looks next, however much later and on
whichever device, is asked whether it went in; the dose is not offered a second time, by the card or by "adding". Written as
"added" it is asked whether it is the one announced, so that it is not counted twice. Answered "not done" the same dose is
offered again; answered "done" the wait begins, and the dose is not offered before the water was read."""
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash, is_dose  # noqa: E402

tap = crash.Tap()
base = Story().ready()
card = base.answer("10:00", "now")
amount, substance = card["act"]["amount"], card["act"]["substance"]  # type: ignore[index]
tap.check(is_dose(card), "the card offers a dose", card)
story = base.copy()
story.must("10:00", "adding")
intent = json.loads(story.here.give().splitlines()[-1])
tap.check(intent["kind"] == "intent" and float(intent["amount"]) == amount and intent["substance"] == substance, "adding alone announces what the card says", intent)
lines = story.here.give().splitlines()

other = base.copy()
other.take(lines)
for name, which, hour in (("the same device, at once", story, "10:01"), ("another device", other, "10:01"), ("two hours later", story, "12:00"), ("three days later", story, "2026-03-27T10:00:00+01:00")):
    card = which.answer(hour, "now")
    tap.check(card["act"]["act_id"] == "answer-intent" and not is_dose(card) and f"{amount:.0f} mL" in card["head"]["text"],  # type: ignore[index]
              f"{name}: asked whether it went in, no dose is offered", card["head"])
for words, part in (("adding", "nothing is to be added"), (f"adding {amount:.0f} mL {substance}", "not answered yet"), ("adding 30 g sodium-bicarbonate", "not answered yet"),
                    (f"added {amount:.0f} mL {substance}", "If it is that one"), (f"added {amount - 10:.0f} mL {substance}", "If it is that one"),
                    ("added 30 mL sodium-hypochlorite-120", "not answered yet")):
    done = story.at("10:02", "log", *words.split(), json_form=False)
    tap.check(done.code == 1 and part in " ".join((done.out + done.err).split()), f"{words}: asked back", done)
tap.check(story.here.give().splitlines() == lines, "and nothing of it was written")

# The same dose is what the plan of a second announcement would have doubled.
once, twice = story.copy(), story.copy()
once.must("10:05", "done")
done = twice.log("10:05", f"added {amount:.0f} mL {substance} --yes")
assert done.code == 0, done
twice.must("10:06", "done")
tap.check(once.ph("10:10")[1] > twice.ph("10:10")[1] + 0.2, "insisted on, it counts as two", once.ph("10:10"), twice.ph("10:10"))

kinds = [json.loads(line)["kind"] for line in once.here.give().splitlines()[len(lines):]]
tap.check(sorted(kinds) == ["addition", "response"], "done writes one addition and the answer", kinds)
for hour in ("10:06", "10:25", "11:00", "13:00"):
    card = once.answer(hour, "now")
    tap.check(not is_dose(card) and card["act"]["act_id"] in ("wait-mixing", "air", "test-acids"), f"done, at {hour}: not offered again before the water was read", card["act"])  # type: ignore[index]
refused = story.copy()
done = refused.log("10:05", "not-done")
card = json.loads(done.out)
tap.check(card["act"]["act_id"] == "acid-step" and abs(card["act"]["amount"] - amount) <= 10.0, "not done: the same dose is offered again", card["act"])
tap.end()
