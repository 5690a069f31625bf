#!/usr/bin/env python3
"""What went in with the fill and was not written.

Somebody fills from a source of 400 uS/cm, pours salt, and writes fill and reading in one minute: 6500 uS/cm, and ten minutes later
again. The members follow the two readings, no salt is advised on top of what is there, and the answers say what may have been done, when,
and how it is written. The same with chlorine, soda and acid. What goes in under its own entry takes the place of the guess."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import HISTORY, Story, crash, is_dose  # noqa: E402

tap = crash.Tap()
SOURCE = "hardness=250 ta=150 conductivity=400 ph=7.6 ch=200 iron=0 mn=0 cu=0 po4=0.1 by laboratory of supply"


def filled(read: str) -> Story:
    """A tub in care, its source read, filled; what is read in the minute of the fill is read again ten minutes later."""
    story = Story()
    done = story.at("08:00", "tub", "new", "Barn", "volume=1200L", "start=care")
    assert done.code == 0, done
    story.must("08:01", f"reply {HISTORY} circulation=yes electrician=yes")
    story.must("08:02", "plate output=0.15g/h salt=2000mg/L")
    story.must("08:05", SOURCE)
    story.must("09:00", f"filled 1200 L of supply temperature=38Cel {read} --yes")
    return story


def told(story: Story, hour: str) -> list[dict[str, object]]:
    return story.answer(hour, "water").get("unwritten", [])  # type: ignore[return-value]


calm = filled("conductivity=405 by meter")
calm.must("09:10", "conductivity=405 by meter")
tap.check(told(calm, "09:10") == [], "as it came: nothing went in", told(calm, "09:10"))

salt = filled("conductivity=6500 by meter")
tap.check(not is_dose(salt.answer("09:00", "now")), "read once it is read again first", salt.act("09:00"))
salt.must("09:10", "conductivity=6500 by meter --yes")
water = salt.answer("09:10", "water")
known = water["water"]["salt"]  # type: ignore[index]
tap.check(known["low"] > 2500.0, "read twice the members follow", known)
tap.check(water["contradictions"] == [], "and doubt neither reading", water["contradictions"])
first = told(salt, "09:10")[0]
tap.check(first["unwritten_act"] == "salt-poured" and first["unwritten_p"] > 0.9, "salt, surely", first)  # type: ignore[operator]
tap.check(first["unwritten_until"] == "2026-03-24T09:00:00+01:00", "before the fill was written", first)
for hour in ("09:10", "09:30", "12:00", "20:00"):
    card = salt.answer(hour, "now")["act"]
    tap.check(card.get("substance") != "sodium-chloride", f"{hour}: no salt on top of it", card.get("act_id"))  # type: ignore[attr-defined]
said = " ".join(salt.at("09:10", "now", json_form=False).out.split())
tap.check("Ask what went in with the fill. Log it at the fill's own hour, 09:00" in said, "whom to ask, and how it is written", said)

salt.must("09:20", "added 4.4 kg sodium-chloride at 09:00 --yes")
written = salt.answer("10:40", "water")
tap.check("unwritten" not in written, "written at its hour it takes the place of the guess", written.get("unwritten"))
tap.check(written["water"]["salt"]["median"] > 2500.0, "and the salt is there", written["water"]["salt"])  # type: ignore[index]
tap.check(salt.answer("10:40", "now")["act"].get("substance") != "sodium-chloride", "none goes on top of it")  # type: ignore[attr-defined]

# More chlorine than a supply may carry (5 mg/L: WHO, Guidelines for drinking-water quality, 2022).
CASES = (("fc=8 by drops", "free_chlorine", 7.0, 8.5, "chlorine-poured", "sodium-hypochlorite-120"),
         ("ph=8.6 by meter", "ph", 8.4, 8.8, "base-poured", "sodium-carbonate"))
for read, quantity, low, high, act, substance in CASES:
    story = filled(read)
    story.must("09:10", f"{read} --yes")
    known = story.answer("09:10", "water")["water"][quantity]  # type: ignore[index]
    tap.check(low < known["median"] < high, f"{read}: followed", known)
    tap.check(told(story, "09:10")[0]["unwritten_act"] == act, f"{read}: {act}", told(story, "09:10"))
    card = story.answer("09:10", "now")["act"]
    tap.check(card.get("substance") != substance, f"{read}: none on top of it", card.get("act_id"))  # type: ignore[attr-defined]
tap.end()
