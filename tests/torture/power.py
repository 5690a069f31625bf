#!/usr/bin/env python3
"""Power cuts, the long form: after every event, many torn variants each, several seeds. See _crash.py for the model
and tests/store/test_powercut.py for what it is to show."""
import sys

import _crash as crash

tap = crash.Tap()
seeds = [int(text) for text in sys.argv[1:]] or [1, 2, 3]
for seed in seeds:
    print("# seed", seed)
    for count, options in [(40, ["checkpoint=8"]), (40, ["checkpoint=1000"]), (24, ["sessions=12"]),
                           (60, ["batch=12", "checkpoint=16"]), (24, ["sessions=3", "batch=2", "checkpoint=6"])]:
        found = crash.power_cuts(count, seed, 6, *options)
        name = f"{count} entries, {' '.join(options)}"
        print("#", found)
        tap.check(found.acknowledged == count and found.lost == 0 and found.broken == 0, name, found)
    planted = crash.power_cuts(24, seed, 2, "normal", "checkpoint=20")
    print("# planted synchronous=NORMAL:", planted)
    tap.check(planted.lost > 0, "synchronous=NORMAL, planted, is caught", planted)
tap.end()
