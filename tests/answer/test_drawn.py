#!/usr/bin/env python3
"""What a drawing is made of: the fan's plan and its ghost, what was read and done before, an amount reduced to its terms.

Held against the same question without a plan, against what was typed, and against arithmetic on published molar masses."""
import json
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/accidents")
from _story import Story, crash  # noqa: E402

tap = crash.Tap()
story = Story().ready()


def when(clock: str) -> str:
    return f"2026-03-24T{clock}:00+01:00"


# ---- an amount reduced to its terms: 97 g dry acid, 31.45 % acid or what the card says
why = story.answer("10:00", "why")
act = story.answer("10:00", "now")["act"]
terms = why["terms"]
signs = [term["term_sign"] for term in terms]
tap.check(signs[:4] == ["", "times", "over", "equals"] and act["verb"] == "add", "an act that adds is reduced: change, times, over, equals", signs)
change, litres, brings, grams = (term["term"] for term in terms[:4])
tap.check(abs(change * litres / brings - grams) < 0.005 * grams, "the terms make the grams", terms)
tap.check(abs(grams - act["amount_g"]) < 0.1 and abs(litres - why["known"]["volume"]["median"]) < 1.0, "of the card's amount and the water that is known", terms)
# 31.45 % HCl, 36.461 g/mol (IUPAC): a gram takes 0.3145 / 36.461 eq, each 50.043 g as CaCO3.
acid = {"hydrochloric-acid-31.45": -0.3145 / 36.461 * 50043.0}
tap.check(act["substance"] in acid and abs(brings - acid[act["substance"]]) < 0.5, "what a gram takes is the acid's by its formula", brings, act["substance"])
if len(terms) == 6:
    tap.check(abs(terms[3]["term"] / terms[4]["term"] - act["amount"]) < 0.005 * act["amount"], "and by the density the millilitres of the card", terms)
after = why["after"]["after_alkalinity"]["median"] - why["known"]["total_alkalinity"]["median"]
tap.check(abs(change - after) < 4.0, "the change is what the answer foretells of alkalinity, but for what else moves it", change, after)
own = story.copy()
own.must("09:58", "stock 5 kg hydrochloric-acid-31.45 strength=20%")
tap.check("terms" not in own.answer("10:00", "why"), "a stock with a strength of its own is not reduced by the table's")

# ---- what was read and done
for stage in ("alkalinity", "calcium-up", "phosphate", "salt"):
    story.at("09:50", "log", "waive", stage, "done by a colleague")
story.must("08:55", "added 30 mL sodium-hypochlorite-120 --yes")
story.must("10:00", "fc=4.0 tc=4.0 by drops --yes")
story.must("10:01", "duty=60%")
story.must("10:02", "fc=3..5 by strips --yes")
HOUR = "10:05"
fan = story.answer(HOUR, "forecast")
lately = [(row["drawn_as"], row["lately_at"]) for row in fan["lately"]]
tap.check(lately == [("dose", when("08:45")), ("dose", when("08:55")), ("reading", when("10:00")), ("duty", when("10:01")), ("reading", when("10:02"))],
          "readings, doses and duty of the hours before, in their order", lately)
tap.check([row["rest_until"] for row in fan["lately"] if row["drawn_as"] == "dose"] == [when("09:45"), when("09:55")], "a dose of chlorine rests for the hour of data/waits.csv", fan["lately"])
drops, strip = (row["read_as"] for row in fan["lately"] if row["drawn_as"] == "reading")
# 4.0 by drops of 0.5: the last drop fell between 3.5 and 4.0, and what the instrument adds lies around that.
tap.check(drops["median"] == 4.0 and 2.9 < drops["low"] < 3.5 and 4.0 < drops["high"] < 4.6, "drops have the bracket of their step", drops)
tap.check(strip["median"] is None and strip["low"] < 3.0 and strip["high"] > 5.0, "between two pads: from below the one to above the other", strip)
story.must("10:03", "void last")
tap.check(len(story.answer(HOUR, "forecast")["lately"]) == 4, "what was taken back is not drawn")
tap.check(story.answer("23:30", "forecast")["lately"] == [], "twelve hours later nothing of it is")
fan = story.answer(HOUR, "forecast")
tap.check((fan["fc_floor"], fan["fc_ceiling"]) == (3.0, 5.0), "the band stands beside it")
tap.check("same_said" not in fan and all("fc_same" not in row and row["duty"] == 60 for row in fan["hours"]), "as it is: no ghost, one duty")

# ---- a plan, and the ghost of leaving everything as it is
done = story.at(HOUR, "forecast", "0h:duty=30%", "12h:duty=80%", "24h:bathers=4x90")
plan = json.loads(done.out)
tap.check([row["duty"] for row in plan["hours"]] == [30 if 2 * i < 12 else 80 for i in range(len(plan["hours"]))], "the duty of the plan, hour by hour", done.out[:400])
apart = [abs(a["fc_same"] - b["fc"]["median"]) for a, b in zip(plan["hours"], fan["hours"])]
tap.check(len(apart) == 25 and max(apart) == 0.0, "the ghost is the forecast without the plan", apart)
tap.check(max(abs(row["fc_same"] - row["fc"]["median"]) for row in plan["hours"]) > 0.2, "and not the plan's own")
end = fan["hours"][-1]["fc"]
said = plan["same_said"]["text"]
tap.check(all(f"{end[name]:.1f}" in said for name in ("median", "low", "high")), "its sentence has its figures", said, end)

# ---- what the planned people use up: 4 to 9 g each in an hour (reference/water-balance.md 3), six person-hours in the litres that are known
litres = story.answer(HOUR, "why")["known"]["volume"]["median"]
wants = plan["use_demand"]
tap.check(6 * 4.0e3 / litres < wants["median"] < 6 * 9.0e3 / litres and wants["low"] < wants["median"] < wants["high"], "the bathing is told in mg/L", wants, litres)
grams = wants["median"] * litres / 1000.0
tap.check(any(f"about {g} g" in plan["use_demand_said"]["text"] for g in range(int(0.95 * grams), int(1.05 * grams) + 2)), "and in grams", plan["use_demand_said"], grams)

# ---- demand or production is told whatever the card asks for first
later = story.at("2026-03-27T10:00:00+01:00", "worth")
card = json.loads(story.at("2026-03-27T10:00:00+01:00", "now").out)["act"]
tap.check(card["act_id"] != "prove-hold" and "trial" in json.loads(later.out), "demand or production is told whatever the card asks for first", card["act_id"])

# ---- the forecast says what may be at fault, with the chance that worth has
weak = story.copy()
weak.must("10:06", "duty=100%")
for k, value in enumerate(("3.6", "3.2", "2.8", "2.6", "2.2", "2.0")):
    weak.at(f"2026-03-{24 + (k + 1) // 2}T{10 + 12 * ((k + 1) % 2)}:20:00+01:00", "log", f"fc={value}", "by", "drops", "step=0.2", "--yes")
hour = "2026-03-27T10:25:00+01:00"
held = json.loads(weak.at(hour, "forecast").out)
trial = json.loads(weak.at(hour, "worth").out)["trial"]
tap.check(abs(held["held"]["p_weak"] - trial["p_weak"]) < 0.002 and held["held"]["p_demand"] >= 0.0, "a weak cell has one chance in both", held["held"], trial)
cause = held.get("held_cause", {"text": ""})["text"]
tap.check(held["held"]["p_weak"] > 0.25 and f"{100.0 * held['held']['p_weak']:.0f} %" in cause.replace("over ", ""), "and is said where it will not hold", held["held"], cause)
tap.check("held_cause" not in fan or max(fan["held"]["p_weak"], fan["held"]["p_demand"]) >= 0.25, "not where neither has a chance", fan["held"])

# ---- when little is left of doses
hours = fan["held"]["remnant_hours"]
far = json.loads(story.at(HOUR, "forecast", "--hours", "336", "--step", "1").out)["hours"]
then = far[round(hours)]["fc_remnant"]["high"]
tap.check(abs(then - 1.0) <= 0.05, "the hour at which less than 1 mg/L is left of doses is where the fan's 95 % goes under it", hours, then)
tap.end()
