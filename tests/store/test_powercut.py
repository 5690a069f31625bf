#!/usr/bin/env python3
"""Power cuts: whatever the disk kept of unsynced writes, every acknowledged entry is there and all
chains are whole. A planted synchronous=NORMAL is caught by the same test. Short form of
tests/torture/power.py."""
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/torture")
import _crash as crash

tap = crash.Tap()
for name, count, options in [
    ("one entry at a time, the log brought into the file on the way", 14, ["checkpoint=12"]),
    ("the logbook closed and opened between", 8, ["sessions=4"]),
    ("batches", 12, ["batch=4", "checkpoint=12"]),
]:
    found = crash.power_cuts(count, 20260324, 1, *options)
    print("#", found)
    tap.check(found.cuts > 100 and found.acknowledged == count, f"{name}: the test cut often enough", found)
    tap.check(found.lost == 0, f"{name}: no acknowledged entry is lost", found)
    tap.check(found.broken == 0, f"{name}: file and chains are whole", found)
planted = crash.power_cuts(6, 20260324, 1, "normal")
print("# planted synchronous=NORMAL:", planted)
tap.check(planted.lost > 0, "synchronous=NORMAL, planted, is caught", planted)
tap.end()
