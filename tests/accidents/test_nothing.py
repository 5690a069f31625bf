#!/usr/bin/env python3
"""Null, empty, a dash, zero and missing.

A cell that is left empty in a table has been read as zero before now, and a zero as "not tested". Here each has its own meaning,
the same where it is typed, in a file and in the page: zero is a value and counts; a dash is a test that was not done and a
question mark a pad that cannot be read, and neither counts as a reading; empty is refused and says so; null is no text; what
is missing where it is needed is asked for. In answers null is "not known" and never stands for zero."""
import json
import os
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, canonical, crash  # noqa: E402

tap = crash.Tap()
base = Story().ready()
lines = base.here.give().splitlines()
TUB = json.loads(lines[0])["tub"]


def entry_of(words: str) -> "tuple[int, dict[str, str], str]":
    """Exit code, the fields of the entry that the words would become, what was said."""
    done = base.log("10:00", words + " --dry-run")
    entry = json.loads(done.out.splitlines()[0]) if done.code == 0 else {}
    return done.code, entry, done.problem.get("title", "") if done.problem else ""  # type: ignore[return-value]


def known(words: str) -> "tuple[int, float]":
    """How many readings inform the estimate, and the free chlorine that is believed, after these words."""
    story = base.copy()
    if words:
        story.at("10:00", "log", *words.split(), "--yes")
    water = story.answer("10:00", "water")
    return int(water["readings"]), water["water"]["free_chlorine"]["median"]  # type: ignore[call-overload, index]


# ---- typed ----
for words, fields in {"fc=0 by drops": {"form": "value", "value": "0"}, "fc=0.00": {"form": "value", "value": "0.00"}, "fc=-": {"form": "not-done"},
                      "fc=?": {"form": "unreadable"}, "fc=0?": {"form": "value", "value": "0", "doubt": "other"}, "fc=<0.5 by strips": {"form": "below", "value": "0.5"}}.items():
    code, entry, said = entry_of(words)
    got = {key: entry[key] for key in ("form", "value", "doubt") if key in entry}
    tap.check(code == 0 and got == fields, f"typed, {words} is {fields}", entry, said)
for words, code, part in [("fc=", 2, "no value"), ("fc", 2, "not understood"), ("fc=null", 3, "no plain number"), ("fc=none", 3, "no plain number"), ("fc=nan", 3, "no plain number"),
                          ("note", 3, "empty"), ("added dry acid", 2, "how much")]:
    got, entry, said = entry_of(words)
    tap.check(got == code and part in said, f"typed, {words} is refused: {part}", got, entry, said)

# ---- what they do to what is known ----
none, believed = known("")
for words, counts in (("fc=0 by drops", 1), ("fc=-", 0), ("fc=?", 0)):
    readings, chlorine = known(words)
    tap.check(readings == none + counts, f"{words}: {counts} reading more informs the estimate", readings, none)
    tap.check((chlorine < 0.7 * believed) if counts else (chlorine == believed), f"{words}: {'the chlorine believed sinks' if counts else 'what is believed stays, to the digit'}", chlorine, believed)

# A test that the card asks for is not answered by a dash: it is asked for again.
WEEKS = "2026-04-14T10:00:00+02:00"
asked = base.answer(WEEKS, "now")["act"]
for form in ("-", "?"):
    story = base.copy()
    done = story.at(WEEKS, "log", f"ph={form}", f"ta={form}")
    card = json.loads(done.out)["act"]
    tap.check(asked["verb"] == "test" and (card["act_id"], card["tests"]) == (asked["act_id"], asked["tests"]), f"ph={form} ta={form}: the card asks for the test again", asked, card)  # type: ignore[index]

# ---- in a file, and in the page: the same sentence ----
PLAIN = {"id": "01890000-0000-7000-8000-000000000079", "tub": TUB, "kind": "reading", "analyte": "free-chlorine", "form": "value", "unit": "mg/L", "value": "0",
         "at": "2026-03-24T09:50:00+01:00", "entered": "2026-03-24T09:50:00+01:00", "writer": "5a000000-0000-4000-8000-000000000009", "n": "1"}


def without(*names: str) -> "dict[str, str]":
    return {key: value for key, value in PLAIN.items() if key not in names}


FILES = [
    ("zero", canonical(PLAIN), None), ("not done", canonical({**without("value", "unit"), "form": "not-done"}), None),
    ("unreadable", canonical({**without("value", "unit"), "form": "unreadable"}), None),
    ("empty", canonical({**PLAIN, "value": ""}), "value is empty"), ("a dash", canonical({**PLAIN, "value": "-"}), "no plain number"),
    ("null", canonical(PLAIN).replace('"value":"0"', '"value":null'), "every value is text"), ("the number 0", canonical(PLAIN).replace('"value":"0"', '"value":0'), "every value is text"),
    ("missing", canonical(without("value")), "value"), ("a zero that was not done", canonical({**PLAIN, "form": "not-done"}), "does not go with"),
]
PAGE = """
import { load } from "%s/tests/wasm/core.mjs";
const core = load(process.env.WASM);
core.reset();
console.log(JSON.stringify(JSON.parse(process.argv[1]).map((line) => core.add(line).fault)));
""" % os.environ["SRC"]
page = None
if Path(os.environ.get("WASM", "")).is_file():
    done = subprocess.run(["node", "--input-type=module", "-e", PAGE, json.dumps([line for _, line, _ in FILES])], capture_output=True, text=True, check=False, timeout=60)
    page = json.loads(done.stdout) if done.returncode == 0 else [done.stderr] * len(FILES)
for number, (name, line, wrong) in enumerate(FILES):
    story = base.copy()
    done = story.take([line])
    detail = str(done.problem.get("detail", ""))
    if wrong is None:
        tap.check(done.code == 0 and line in story.here.give().splitlines(), f"in a file, {name} is kept as it is", done)
    else:
        tap.check(done.code == 3 and wrong in detail and story.here.give().splitlines() == lines, f"in a file, {name} is refused: {wrong}", done)
    if page is not None:
        tap.check((page[number] == "") if wrong is None else (page[number] != "" and page[number] in detail), f"in the page, {name}: the same", page[number], detail)

# ---- in answers: what is not known is said to be so, never 0 ----
new = Story()
new.at("09:00", "tub", "new", "Barn")
fields = [field["field"] for field in json.loads(new.at("09:01", "tub", "Barn").out)["described"][0]["fields"]]
tap.check(fields == ["name"], "a tub without a volume has none, not one of 0 L", fields)
text = " ".join(new.at("09:01", "bathing", json_form=False).out.split())
tap.check("NOT KNOWN free chlorine never read" in text, "water that nobody read: its chlorine is not known", text)
zero = base.copy()
zero.at("10:00", "log", "fc=0", "by", "drops", "--yes")
text = " ".join(zero.at("10:01", "bathing", json_form=False).out.split())
tap.check("NOT MET free chlorine" in text, "water in which none was found: it is not met", text)
for words in ("fc=-", "fc=?"):
    other = base.copy()
    other.at("10:00", "log", words)
    text = " ".join(other.at("10:01", "bathing", json_form=False).out.split())
    tap.check("NOT KNOWN free chlorine never read" in text, f"{words}: still not known", text)
tap.end()
