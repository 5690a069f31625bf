#!/usr/bin/env python3
"""A value typed ten or a hundred times too large or too small.

Where it is typed it is asked back with the value that was probably meant, or refused when no reading can have it, and nothing is
written. When somebody insists, or when it comes in with a file, it is kept; but no dose follows from it: the next act is a
retest. An amount that was poured is asked about in the unit in which it was typed."""
import json
import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash, is_dose  # noqa: E402

tap = crash.Tap()
base = Story().ready()
lines = base.here.give().splitlines()
card = base.answer("10:00", "now")
tap.check(card["act"]["act_id"] == "acid-step" and is_dose(card), "before the slip the card advises a dose", card)
print(f"# the card says {card['act']['amount']} mL, {card['act']['amount_g']} g")


def said(done: object) -> str:
    """What was asked back or refused, in one line."""
    return " ".join((done.out + done.err).split())  # type: ignore[attr-defined]


# ---- readings: typed, meant, how it ends ----
READINGS = [
    ("alkalinity", "ta=2000 by drops", "200", 1), ("alkalinity", "ta=23 by drops", "230", 1), ("alkalinity", "ta=2300 by drops", "230", 3),
    ("pH", "ph=0.76 by meter", "7.6", 1), ("pH", "ph=76 by meter", "7.6", 3), ("pH", "ph=760", "7.6", 3),
    ("free chlorine", "fc=14 by drops", "1.4", 1), ("free chlorine", "fc=300", "3.0", 3), ("hardness", "ch=1000 by drops", "100", 1),
    ("conductivity", "ec=6350 by meter", "635", 1), ("temperature", "temp=3.8", "38.0", 1), ("temperature", "temp=380", "38.0", 3),
]
forced = {}
for what, typed, meant, code in READINGS:
    story = base.copy()
    done = story.at("10:00", "log", *typed.split(), json_form=False)
    tap.check(done.code == code and f"Did you mean {meant}?" in said(done), f"{typed}: asked back, meant {meant}", done)
    tap.check(story.here.give().splitlines() == lines, f"{typed}: nothing is written")
    done = story.at("10:00", "log", *typed.split(), "--yes")
    if code == 3:
        tap.check(done.code == 3 and story.here.give().splitlines() == lines, f"{typed}: nobody can insist on what cannot be", done)
        continue
    forced[typed] = story
    card = json.loads(done.out)
    wanted = ("doubtful", "heat", "test-temperature") if what == "temperature" else ("doubtful",)
    tap.check(card["act"]["act_id"] in wanted and not is_dose(card), f"{typed}: insisted on, a retest and no dose", card["act"])

# ---- the same in a file from another installation ----
for typed in ("ta=2000 by drops", "ph=0.76 by meter"):
    other = Story()
    taken = other.take(forced[typed].here.give().splitlines())
    card = other.answer("10:00", "now")
    tap.check(taken.code == 0 and card["act"]["act_id"] == "doubtful" and not is_dose(card), f"{typed}: imported, a retest and no dose", taken, card)
    tap.check(card["act"] == forced[typed].answer("10:00", "now")["act"], f"{typed}: the same card on both sides")

# ---- the ends of what would be believed, by what the instrument can show: inside is not asked, outside is ----
TENS, PADS = [10.0 * n for n in range(60)], [0.0, 0.5, 1.0, 3.0, 5.0, 10.0, 20.0]
for name, digits, tail, shown in (("ta", 0, "by drops", TENS), ("fc", 1, "by strips", PADS)):
    story = base.copy()
    asked = said(story.at("10:00", "log", f"{name}={dict(ta=1900, ph=2, fc=90)[name]}", *tail.split(), json_form=False))
    low, high = map(float, re.search(r"Expected is ([0-9.]+) to ([0-9.]+)\.", asked).groups())  # type: ignore[union-attr]
    inside = [value for value in shown if low <= value <= high]
    inside = [inside[0], inside[-1]]
    outside = [value for value in shown if not low <= value <= high]
    outside = [min(outside, key=lambda value: abs(value - inside[0])), min(outside, key=lambda value: abs(value - inside[1]))]
    for value, code in [(value, 0) for value in inside] + [(value, 1) for value in outside]:
        done = story.copy().log("10:00", f"{name}={value:.{digits}f} {tail}")
        tap.check(done.code == code, f"{name}={value:.{digits}f} with {low} to {high} expected: {'asked' if code else 'taken'}", done)

# ---- amounts poured and announced ----
amount = float(base.answer("10:00", "now")["act"]["amount"])  # type: ignore[index]
for words, meant in [(f"added {10 * amount:.0f} mL hydrochloric-acid-31.45", f"{amount:.0f} mL"),
                     (f"adding {10 * amount:.0f} mL hydrochloric-acid-31.45", f"{amount:.0f} mL"),
                     (f"added {100 * amount:.0f} mL hydrochloric-acid-31.45", f"{amount:.0f} mL"),
                     (f"added {5 * amount:.0f} mL hydrochloric-acid-31.45", f"{amount:.0f} mL"),  # a tub may be given so much, but the card says a fifth
                     ("added 2400 g dry acid", "240 g"), ("added 500 mL sodium-hypochlorite-120", "50 mL"),
                     ("added 19 kg sodium-chloride", "1.9 kg"), ("filled 11300 L of supply", "1130 L"), ("filled 113 L of supply", "1130 L"),
                     ("swapped 3000 L", "300 L"), ("volume 11280 L by meter", "1128 L"), ("topped-up 1000 L", "100 L")]:
    done = base.at("10:00", "log", *words.split(), json_form=False)
    tap.check(done.code == 1 and f"Did you mean {meant}?" in said(done), f"{words}: asked back, meant {meant}", done)
done = Story().at("10:00", "tub", "new", "Loft", "volume=13000L", json_form=False)
tap.check(done.code == 1 and "Did you mean 1300 L?" in said(done), "a tub of 13,000 L: asked back", done)
tap.check(base.here.give().splitlines() == lines, "and nothing was written of all this")
for words in (f"added {amount:.0f} mL hydrochloric-acid-31.45", "added 240 g dry acid", "added 1.90 kg sodium-chloride", "filled 1150 L of supply", "swapped 300 L", "topped-up 60 L"):
    done = base.copy().log("10:00", words)
    tap.check(done.code == 0, f"{words}: usual, not asked", done)

# ---- an amount ten times too large, insisted on or imported: no dose from it, at no hour after it ----
for words in (f"added {10 * amount:.0f} mL hydrochloric-acid-31.45", f"adding {10 * amount:.0f} mL hydrochloric-acid-31.45", "filled 11300 L of supply"):
    story = base.copy()
    done = story.at("10:00", "log", *words.split(), "--yes")
    assert done.code in (0, 4), done
    other = Story()
    other.take(story.here.give().splitlines())
    cards = {hour: other.answer(hour, "now") for hour in ("10:01", "10:20", "14:00")}
    tap.check(not any(is_dose(card) for card in cards.values()), f"{words}: insisted on, no dose follows from it",
              {hour: (card["act"]["act_id"], card["act"].get("amount")) for hour, card in cards.items()})
    print(f"# {words}: {[card['act']['act_id'] for card in cards.values()]}")
# ---- a tub that was let out holds when full what it held before
story = base.copy()
story.must("09:58", "drained 1300 L")
done = story.at("10:00", "log", *"filled 1300 L of hose".split(), json_form=False)
tap.check(done.code in (0, 4), "a refill after the drain is not asked about", done)
story = base.copy()
story.must("09:58", "drained 1300 L")
done = story.at("10:00", "log", *"filled 13000 L of hose".split(), json_form=False)
tap.check(done.code == 1 and "Did you mean 1300 L?" in said(done), "ten times as much is", done)
tap.end()
