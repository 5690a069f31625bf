#!/usr/bin/env python3
"""One reading after a long gap.

A start-up is left in the middle; three weeks later somebody reads one thing. What was known then is not known now: the next
act is a test, and no dose follows from one reading alone, whichever it is. With the tests that the card asks for it goes on."""
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash, is_dose  # noqa: E402

tap = crash.Tap()
base = Story().ready()
tap.check(is_dose(base.answer("10:00", "now")), "on the day itself the card advises a dose")
WEEKS = "2026-04-14T"
card = base.answer(f"{WEEKS}10:00:00+02:00", "now")
tap.check(card["act"]["verb"] == "test", "three weeks later, with nothing read, the act is a test", card["act"])  # type: ignore[index]
for words in ("ta=230 by drops", "ph=8.4 by meter", "fc=0 by drops", "salt=400 by meter", "temp=37"):
    story = base.copy()
    done = story.at(f"{WEEKS}10:00:00+02:00", "log", *words.split(), "--yes")
    card = json.loads(done.out)
    tests = [test["analyte"] for test in card["act"]["tests"]]  # type: ignore[index]
    tap.check(done.code == 0 and card["act"]["verb"] in ("test", "do") and not is_dose(card), f"{words} alone: the act is a test and no dose", card["act"], tests)  # type: ignore[index]
story = base.copy()
story.at(f"{WEEKS}10:00:00+02:00", "log", *"ph=8.5 ta=225 by drops".split(), "--yes")
card = story.answer(f"{WEEKS}10:05:00+02:00", "now")
tap.check(is_dose(card) or card["act"]["act_id"] not in ("doubtful", "test-acids"), "with pH and alkalinity read it goes on", card["act"])  # type: ignore[index]
tap.end()
