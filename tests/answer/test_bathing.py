#!/usr/bin/env python3
"""What `bathing` says where a reading lies outside of the rules and the rest of the logbook does not believe it.

The rules speak of readings: combined chlorine is total less free chlorine of one sample (0.5 mg/L at most in the guidance of
a let house), so 1.4 and 0.4 are 1.0, whatever a model of combined chlorine makes of it; and a pH over its limit is not "met" because
a meter read another one before."""
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/accidents")
from _story import Story, crash  # noqa: E402

tap = crash.Tap()
base = Story().ready()
base.must("09:50", "ph=7.4 ta=75 by photometer --yes")


def condition(story: Story, hour: str, name: str) -> "tuple[str, str]":
    """Verdict and sentence."""
    for row in story.answer(hour, "bathing")["conditions"]:
        if row["condition"]["id"] == name:
            return row["verdict"], row["said"]["text"]
    return "", ""


# ---- combined chlorine by two readings
story = base.copy()
story.must("10:00", "fc=4.0 tc=4.2 by drops step=0.2")
verdict, said = condition(story, "10:05", "analyte-combined-chlorine")
tap.check(verdict == "met", "4.2 less 4.0 is within 0.5", said)
story.must("11:00", "bathers 6 for 60 min")
story.must("12:10", "fc=3.0 tc=4.0 by drops step=0.2 --yes")
verdict, said = condition(story, "12:15", "analyte-combined-chlorine")
tap.check(verdict == "not-met" and "1.0" in said, "4.0 less 3.0 is not", said)
story.must("12:40", "fc=3.0 by drops step=0.2 --yes")
verdict, said = condition(story, "12:45", "analyte-combined-chlorine")
tap.check(verdict == "not-met" and "1.0" in said, "nor is it after free chlorine was read again", said)
story.must("13:00", "cc=0.2 by photometer --yes")
verdict, said = condition(story, "13:05", "analyte-combined-chlorine")
tap.check(verdict != "not-met", "combined chlorine read by itself is later, and counts", said)

# ---- a reading outside that the rest does not believe
story = base.copy()
for minute, value in (("00", "7.41"), ("10", "7.40"), ("20", "7.42")):
    story.must(f"10:{minute}", f"ph={value} by meter --yes")
verdict, said = condition(story, "10:22", "analyte-ph")
tap.check(verdict == "met", "pH by the meter", said)
story.must("10:25", "ph=8.4 by strips lot=Z --yes")
verdict, said = condition(story, "10:30", "analyte-ph")
tap.check(verdict != "met" and "8.4" in said, "is not met once a strip reads 8.4", said)
tap.end()
