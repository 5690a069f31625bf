#!/usr/bin/env python3
"""What `water` says of a tub that was let out, and of a meter that reads off.

What is left in the pipes of an empty tub is no water to judge. A meter of conductivity that shows 1200 in a standard of
1413 uS/cm (potassium chloride, 0.01 mol/L at 25 degrees) is off by a factor: its 1500 counts as 1500 * 1413 / 1200 = 1766,
in whole uS/cm, as it is read."""
import os
import re
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/accidents")
from _story import Story, crash  # noqa: E402

tap = crash.Tap()
base = Story().ready()

# ---- let out
story = base.copy()
story.must("09:00", "drained 1080 L")
water = story.answer("09:05", "water")
left = water["water"]["volume"]["median"]
tap.check(left < 80.0 and f"{left:.0f} L" in str(water.get("hint")), "what is left is named", water.get("hint"))
tap.check("volumes" not in water and "bands" not in water, "and not judged: no volume over what is left, no bands", water.keys())
card = story.answer("09:05", "now")
tap.check(card["act"]["act_id"] == "fill", "the card says to fill", card["head"])
story.must("09:30", "filled 1130 L of supply temperature=38Cel")
water = story.answer("09:35", "water")
tap.check("hint" not in water or "left" not in str(water["hint"]), "filled again it is judged again", water.get("hint"))
tap.check("volumes" in water and "bands" in water, "with its volumes and bands", water.keys())

# ---- off by a factor
story = base.copy()
story.must("08:50", "standard ec 1413 1200 unit=uS/cm by meter serial=E1 --yes")
story.must("08:55", "ec=1500 by meter serial=E1 --yes")
said = " ".join(str(row) for row in story.answer("09:00", "water").get("reads_off", []))
found = re.search(r"([0-9.]+) counts as ([0-9.]+)", said)
tap.check(found is not None and found[1] == "1500" and found[2].isdigit() and abs(float(found[2]) - 1500 * 1413 / 1200) < 0.02 * 1766,
          "in the decimals of the analyte", said)
tap.end()
