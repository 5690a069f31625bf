#!/usr/bin/env python3
"""One forecast in four places.

An advisor that shows one number on its card and another in its chart is believed in neither. The card, the drawing, the sheet for
the owner and the JSON of each carry the digest of the forecast that they speak of, at one hour it is one digest, and the figures
are the same; another plan, another entry or another hour has another."""
import json
import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash  # noqa: E402

tap = crash.Tap()
story = Story().ready()
story.must("08:55", "added 30 mL sodium-hypochlorite-120 --yes")  # so that 4 mg/L are no surprise: in doubt no forecast is shown
for stage in ("alkalinity", "calcium-up", "phosphate", "salt"):
    story.at("09:50", "log", "waive", stage, "done by a colleague")
story.must("10:00", "fc=4.0 tc=4.0 by drops --yes")
story.must("10:01", "duty=60%")
HOUR = "10:05"
whole = {word: str(story.answer(HOUR, word)["forecast"]) for word in ("now", "forecast", "sheet")}
digest = whole["now"]
tap.check(re.fullmatch(r"[0-9a-f]{64}", digest) is not None and set(whole.values()) == {digest}, "card, drawing and sheet as JSON: one digest", whole)
drawn = {word: story.at(HOUR, word, json_form=False).out for word in ("now", "forecast", "sheet")}
for word, text in drawn.items():
    found = re.search(r"^Forecast ([0-9a-f]+)$", text, re.M)
    tap.check(found is not None and digest.startswith(found.group(1)) and len(found.group(1)) >= 8, f"{word} for people: the beginning of it", text)

# The figures behind it: the sentence above the drawing, the drawing and the JSON.
fan = story.answer(HOUR, "forecast")
last = fan["hours"][-1]["fc"]  # type: ignore[index]
said = re.search(r"([0-9.]+) mg/L free chlorine by .*?\(([0-9.]+) to ([0-9.]+)\); now ([0-9.]+)\.", " ".join(drawn["forecast"].split()))
figures = [float(text) for text in said.groups()] if said else []  # type: ignore[union-attr]
wanted = [last["median"], last["low"], last["high"], fan["hours"][0]["fc"]["median"]]  # type: ignore[index]
tap.check(len(figures) == 4 and all(abs(a - b) <= 0.0501 for a, b in zip(figures, wanted)), "the sentence has the figures of the JSON", figures, wanted)
axis = next(line for line in drawn["forecast"].splitlines() if re.fullmatch(r" +0( +[0-9.]+)+", line))
marks = [(match.start(), float(match.group())) for match in re.finditer(r"[0-9.]+", axis)]
mg_per_column = (marks[-1][1] - marks[0][1]) / (marks[-1][0] - marks[0][0])
rows = [line for line in drawn["forecast"].splitlines() if re.match(r"[0-9]{2}:[0-9]{2} .*o", line)]
apart = [abs((row.index("o") - marks[0][0]) * mg_per_column - hour["fc"]["median"]) for row, hour in zip(rows, fan["hours"])]  # type: ignore[arg-type]
tap.check(len(rows) == len(fan["hours"]) and max(apart) < 1.5 * mg_per_column, "the drawing has them too, within its columns", apart, mg_per_column)  # type: ignore[arg-type]

for words, name in ((["--duty", "10%"], "another duty"), (["--temperature", "30"], "another temperature")):
    other = str(json.loads(story.at(HOUR, "forecast", *words).out)["forecast"])
    tap.check(other != digest, f"{name}: another digest", other)
tap.check(str(json.loads(story.at(HOUR, "forecast", "--hours", "24").out)["forecast"]) == digest, "a shorter drawing of the same forecast: the same digest")
tap.check(str(story.answer("11:05", "now")["forecast"]) != digest, "an hour later it is another forecast")
later = story.copy()
later.must("10:04", "fc=3.2 by drops")
again = {word: str(later.answer(HOUR, word)["forecast"]) for word in ("now", "forecast", "sheet")}
tap.check(len(set(again.values())) == 1 and digest not in again.values(), "with one reading more: one digest, another one", again)
tap.end()
