#!/usr/bin/env python3
"""Entries from the future.

A phone whose clock is wrong, or a colleague in another zone: an entry is dated ahead. Typed, it is asked about. Imported, it is kept
and marked, nothing is refused or lost, and no answer uses it before its time."""
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash  # noqa: E402

tap = crash.Tap()
NEXT_DAY = "2026-03-25T12:00:00+01:00"
LATER = "2026-03-26T09:00:00+01:00"
story = Story().begin()
lines = story.here.give()

typed = story.at("10:00", "log", "ph=7.6", "by", "drops", "at", NEXT_DAY)
tap.check(typed.code == 1 and story.here.give() == lines, "typed, it is asked about and not written", typed)

other = story.copy()
written = other.at(NEXT_DAY, "log", "ph=7.6", "by", "drops", "--yes")
assert written.code in (0, 4), written
plain = story.copy()
taken = story.merge(other)
told = json.loads(taken.out)
tap.check(taken.code == 0 and told["added"] == 1, "imported, it is kept", taken)
tap.check(story.here.give() == other.here.give(), "byte for byte")


def known(which: Story, hour: str) -> object:
    water = which.answer(hour, "water")
    return water["water"], which.answer(hour, "now")["act"]


tap.check(known(story, "10:00") == known(plain, "10:00"), "before its time no answer uses it", known(story, "10:00"), known(plain, "10:00"))
said = story.answer("10:00", "logbook")
tap.check([item["ahead"] for item in said["entries"]][-1:] == [True], "it is marked where it stands", said["entries"][-1])
tap.check("doubt-ahead-of-now" in [doubt["doubt"]["id"] for doubt in said["doubts"]], "and it is a doubt", said["doubts"])
tap.check(story.ph(LATER) == other.ph(LATER) and story.ph(LATER)[1] < plain.ph(LATER)[1] - 0.2, "when its time has come it counts",
          story.ph(LATER), plain.ph(LATER))
tap.check("ahead" not in str([doubt["doubt"]["id"] for doubt in story.answer(LATER, "logbook")["doubts"]]), "and is no doubt any more")
tap.end()
