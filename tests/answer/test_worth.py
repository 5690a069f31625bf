#!/usr/bin/env python3
"""What `worth` names where the decision is whether the residual holds.

Free chlorine, pH (the share that is lost), salt and conductivity (the litres, and what is in them) and cyanuric acid bear on it. Calcium, hardness
and alkalinity do not: by a thousand members they go with it as often as chance has it, and are no advice."""
import json
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/accidents")
from _story import HISTORY, Story, crash  # noqa: E402

tap = crash.Tap()
story = Story()


def at(hours: float, *words: str) -> str:
    day, rest = divmod(8.0 + hours, 24.0)
    when = f"2026-03-{2 + int(day):02d}T{int(rest):02d}:{round(60 * (rest % 1.0)) % 60:02d}:00+01:00"
    return story.at(when, *words).out


def log(hours: float, words: str) -> None:
    at(hours, "log", *words.split(), "--yes")


at(0.0, "tub", "new", "Larch", "volume=1200L", "use=private")
log(0.0, f"plate output=0.2g/h salt=1800mg/L source w origin=mains reply {HISTORY} circulation=yes electrician=yes")
log(0.1, "ph=7.4 ta=70 ch=80 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=20 by laboratory of w")
log(0.2, "care purge done")
log(1.0, "filled 1200 L of w temperature=38Cel")
log(1.1, "volume 1200 L by meter")
log(1.2, "temperature=38 by thermometer")
log(1.5, "added 2.131 kg sodium-chloride")
log(3.5, "salt=1800 by meter")
log(4.5, "salt=1800 by meter")
log(4.6, "ph=7.5 ta=70 by photometer")
log(5.0, "added 40 mL sodium-hypochlorite-120")
log(6.5, "fc=4.0 by drops step=0.2")
log(6.55, "ch=80 th=100 by drops step=10")
log(6.6, "duty=40%")
asked, named = 0, set()
for hours, value in ((18, 4.0), (30, 3.8), (42, 4.0), (54, 3.8), (66, 4.0), (78, 4.0), (90, 4.0), (96, 4.2), (102, 4.0), (108, 4.0), (114, 4.2), (120, 4.2), (132, 4.2), (144, 4.2),
                     (156, 4.2), (168, 4.4)):
    log(hours, f"fc={value} by drops step=0.2")
    log(hours + 0.05, "ph=7.4 ta=70 by photometer")
    for later in (0.1, 8.0) if hours >= 132 else ():
        worth = json.loads(at(hours + later, "worth"))
        if worth["decision"] == "hold":
            asked += 1
            named |= {row["worth_analyte"] for row in worth.get("worths", []) if not row["worth_asked"]}
tap.check(asked >= 6, "asked while it is not decided", asked)
tap.check("analyte-conductivity" in named or "analyte-ph" in named, "what bears on it is named", named)
tap.check(not named & {"analyte-total-hardness", "analyte-calcium-hardness", "analyte-total-alkalinity"}, "what does not is not", named)
tap.end()
