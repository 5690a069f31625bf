#!/usr/bin/env python3
"""Export, import, verify: lossless, idempotent, each line for itself, the same bytes whichever way
the entries came together, and what verify finds."""
from __future__ import annotations

import hashlib
import json
import os
import random
import re
import sqlite3
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _logbook import TUB, Place, Writer, canonical, crash, place, shuffled  # noqa: E402

tap = crash.Tap()
keep = []


def fresh(lines: list[str] | None = None) -> Place:
    folder, here = place()
    keep.append(folder)
    if lines:
        done = here.take(lines)
        assert done.code == 0, done
    return here


def text(lines: list[str]) -> str:
    return "".join(line + "\n" for line in lines)


# Lossless.
a = Writer(1).story(12).lines
b = Writer(2).story(9).lines
here = fresh(a)
given = here.give()
tap.check(given == text(a), "what was taken in goes out, byte for byte", given)
other = fresh()
done = other.run("import", "-", stdin=given)
told = json.loads(done.out)
tap.check(other.give() == given and told["added"] == len(a), "import(export(x)) exports the same bytes", done)
again = json.loads(other.run("import", "-", stdin=given).out)
tap.check(again["added"] == 0 and again["seal"] == told["seal"] and other.give() == given, "taking it in again changes nothing", again)
mixed = fresh(shuffled(a + b, 7))
tap.check(mixed.give() == text(a + b), "the order of export is writer and number, not arrival")
crlf = fresh()
done = crlf.run("import", "-", stdin=given.replace("\n", "\r\n").removesuffix("\r\n"))
tap.check(done.code == 0 and crlf.give() == given, "line ends of another system, and none at the end, are taken as line ends", done)
special = Writer(3)
special.write(kind="note", words="Ä \"quoted\" back\\slash — 漢字 🛁 tab\\t")
tap.check(fresh(special.lines).give() == text(special.lines), "text of any script goes through unchanged")

# Union, in both orders.
common = a[:5]
one, two = fresh(a), fresh(common + b)
from_one, from_two = one.give(), two.give()
one.run("import", "-", stdin=from_two)
two.run("import", "-", stdin=from_one)
tap.check(one.give() == two.give() and one.seal() == two.seal(), "two logbooks merged in both orders are one: bytes and seal")
heads = sorted([(Writer(1).id, len(a), a[-1]), (Writer(2).id, len(b), b[-1])])
seal = hashlib.sha256(text([f"{w} {n} {hashlib.sha256(line.encode()).hexdigest()}" for w, n, line in heads]).encode()).hexdigest()
tap.check(one.seal() == seal, "the seal is the digest of the heads, as the documents say")
rng = random.Random(1)
for turn in range(3):
    target = fresh()
    parts = shuffled(a + b, turn)
    while parts:
        size = rng.randint(1, len(parts))
        target.take(parts[:size] + parts[:1])
        parts = parts[size:]
    tap.check(target.give() == one.give() and target.seal() == seal, f"pieces in any order, with repeats, give the same ({turn})")

# One bad line.
good = a[3]
bad = {
    "not JSON": (a[3][:-1], "form"),
    "not canonical": (a[3].replace(",", ", ", 1), "form"),
    "a value out of range": (canonical({**json.loads(a[3]), "value": "77"}), "above"),
    "a number that is none": (canonical({**json.loads(a[3]), "value": "7,4"}), "decimal"),
    "a field that is missing": (canonical({k: v for k, v in json.loads(a[3]).items() if k != "analyte"}), "missing"),
    "an id that is none": (canonical({**json.loads(a[3]), "id": "7"}), "uuid"),
    "a time without offset": (canonical({**json.loads(a[3]), "at": "2026-03-24T10:40:00"}), "time"),
    "too long": (canonical({**json.loads(a[3]), "remark": "x" * 9000}), "line-long"),
    "not a text": (a[3].replace('"7.2"', "7.2"), "not-text"),
}
for name, (line, fault) in bad.items():
    here = fresh(a[:2])
    done = here.run("import", "-", stdin=text(a[2:3] + ["", line] + a[4:]))
    problem = done.problem
    told = json.loads(done.out)
    tap.check(done.code == 3 and problem.get("fault") == fault and problem.get("line") == "3" and told["refused"] == 1
              and told["added"] == len(a) - 3 and here.give() == text(a[:3] + a[4:]), f"one bad line is named, and blocks no other: {name}", done)
    untouched = fresh()
    done = untouched.run("import", "-", stdin=text([line]))
    tap.check(done.code == 3 and not list(untouched.home.glob("*.db*")), f"alone it makes no logbook: {name}")
done = fresh().run("import", "-", stdin=text([a[0], *(line for line, _ in bad.values())]), json_form=False)
tap.check(done.code == 3 and all(f"line {number}: " in done.err for number in range(2, 11)) and "1 of them new" in done.out and "9 refused" in done.out,
          "every refused line is named", done)
done = fresh().run("import", "-", stdin="x\n" * 3000 + a[0] + "\n", json_form=False)
tap.check(done.code == 3 and "and 2980 more" in done.err and "1 of them new" in done.out, "of very many the first", done.err[-300:])
here = fresh()
done = here.run("import", "-", stdin=text(a[:3]).encode() + b'{"by":"\xff"}\n')
tap.check(done.code == 3 and done.problem.get("line") == "4", "bytes that are no UTF-8", done)
above = fresh().run("import", "-", stdin=text([bad["a value out of range"][0]]), json_form=False)
tap.check(all(word in above.err for word in ("line 1", "value", "77", "14")), "the sentence names line, field, value and what is allowed", above)
done = here.run("import", str(here.home / "none.jsonl"))
tap.check(done.code == 3 and done.type == "input", "a file that is not there", done)
done = here.run("import", "-", stdin="")
tap.check(done.code == 0 and json.loads(done.out)["lines"] == 0, "an empty file is no lines", done)

# What a newer version wrote is kept; what is dated ahead too.
newer = Writer(4)
newer.write(kind="tub", name="Barn")
newer.write(kind="ozone-log", grams="3")
newer.write(kind="note", words="later", at="2027-01-01T00:00:00+01:00", entered="2026-03-24T10:40:00+01:00")
newer.write(kind="reading", analyte="bromine", form="value", value="3.0", unit="mg/L")
here = fresh()
done = here.take(newer.lines)
told = json.loads(done.out)
tap.check(done.code == 0 and told["newer"] == 2 and told["ahead"] == 1 and here.give() == text(newer.lines),
          "entries of a newer version and entries ahead of the clock are kept and counted", done)

# Files.
here = fresh(a)
target = here.home / "out.jsonl"
done = here.run("export", str(target))
tap.check(target.read_text() == given and done.out == "" and json.loads(done.err)["lines"] == len(a), "into a file, the seal on standard error", done)
for bad_target in (here.home / "none/out.jsonl", Path("/dev/full"), here.home):
    done = here.run("export", str(bad_target))
    tap.check(done.code == 5 and done.type == "output", f"a file that cannot be written is a problem: {bad_target.name}", done)
done = here.run("export", str(here.logbook))
tap.check(done.code == 2 and here.give() == given, "the logbook itself is never overwritten", done)
done = here.run("verify", str(target) if target.read_text() == given else "-", stdin=given)
tap.check(done.code == 0 and json.loads(done.out)["whole"], "an exported file can be verified", done)
second = Writer(5)
second.write(kind="tub", name="Loft", tub=TUB[:-1] + "b")
here.take(second.lines)
tap.check(here.run("export", "--tub", "Loft").out == text(second.lines), "one tub alone")
tap.check(here.run("export", "--tub", "Cellar").code != 0, "a tub that is not there is a problem")

# Verify.
here = fresh(a + b)
done = here.run("verify")
found = json.loads(done.out)
tap.check(done.code == 0 and found["whole"] and found["entries"] == len(a + b) and found["writers"] == 2, "a whole logbook is whole", done)
done = here.run("verify", "--seal", found["seal"].upper())
tap.check(done.code == 0, "its own seal fits", done)
done = here.run("verify", "--seal", "0" * 64)
tap.check(done.code == 5 and json.loads(done.out)["seal_given"] is False, "another seal does not", done)
tap.check(here.run("verify", "--seal", "12").code == 2, "what is no seal is refused")
cut = fresh(a[:-2] + b)
tap.check(cut.run("verify").code == 0 and cut.run("verify", "--seal", found["seal"]).code == 5,
          "an end that was cut off shows only against a seal kept elsewhere")
here = fresh(a[:4] + a[6:])
found = json.loads(here.run("verify").out)
tap.check(not found["whole"] and [(t["kind"], t["n"], t["last"]) for t in found["trouble"]] == [("missing", 5, 6)], "missing entries are named", found)
altered = list(a)
altered[6] = canonical({**json.loads(a[6]), "value": "8.1"})
found = json.loads(fresh(altered).run("verify").out)
tap.check([(t["kind"], t["n"], t["entry"]) for t in found["trouble"]] == [("altered", 7, json.loads(a[6])["id"])], "an altered entry is named", found)
found = json.loads(fresh(a + [altered[6]]).run("verify").out)
kinds = {(t["kind"], t["n"]) for t in found["trouble"]}
tap.check(("forked", 7) in kinds, "a fork is named", found)
both = {t.get("hash") for t in found["trouble"] if t["kind"] == "forked"}
tap.check(both == {hashlib.sha256(line.encode()).hexdigest() for line in (a[6], altered[6])}, "with both hashes", found)
done = fresh(altered).run("verify", json_form=False)
tap.check(done.code == 5 and "altered: entry 7 of writer" in done.out and "seal " in done.out, "in words too", done)

# What stands beside the entries: refusals and clocks.
beside = fresh(a)
with sqlite3.connect(beside.logbook) as db:
    db.execute("insert into refused values ('office', ?, 'not-of-role', 'A reader does not write this.', 1774345200000)",
               [hashlib.sha256(a[3].encode()).digest()])
    db.execute("insert into clock values (?, 215000, 40, 1774345200000), (?, -900, 40, 1774345200000)", [Writer(1).id, Writer(2).id])
db.close()
done = beside.run("verify", json_form=False)
tap.check(done.code == 0 and f"refused by office: entry 4 of writer {Writer(1).id}: A reader does not write this." in done.out
          and f"clock: writer {Writer(1).id} was 3 min 35 s ahead of this machine, give or take 1 s" in done.out and Writer(2).id not in done.out,
          "what another side refused, and a clock that is off, are shown", done)

# The forms of --json are those that the documents promise.
def fits(schema: dict, value: object) -> bool:
    """The few words of JSON Schema that these schemas use."""
    if "enum" in schema:
        return value in schema["enum"]
    kind = {"object": dict, "array": list, "string": str, "integer": int, "boolean": bool}[schema["type"]]
    if not isinstance(value, kind) or (kind is int and (isinstance(value, bool) or value < schema.get("minimum", value))):
        return False
    if kind is dict:
        return (set(schema["required"]) <= set(value) <= set(schema["properties"])
                and all(fits(schema["properties"][name], part) for name, part in value.items()))
    if kind is list:
        return all(fits(schema["items"], part) for part in value)
    return kind is not str or re.search(schema.get("pattern", ""), value) is not None


forms = {name: json.loads((Path(os.environ["SRC"]) / "docs/schemas" / f"{name}.schema.json").read_text())
         for name in ("export", "import", "verify")}
here = fresh(altered + a[6:7])
for name, shown in [("export", here.run("export").err), ("import", here.run("import", "-", stdin=given).out), ("verify", here.run("verify").out), ("verify", beside.run("verify").out),
                    ("verify", fresh(a[:4] + a[6:]).run("verify", "--seal", "0" * 64).out)]:
    tap.check(fits(forms[name], json.loads(shown)), f"{name} --json fits its schema", shown)
tap.check(not fits(forms["verify"], {**json.loads(shown), "more": 1}) and not fits(forms["verify"], {"whole": True}), "and what does not fit is seen")

# Help.
for name in ("export", "import", "verify"):
    done = here.run(name, "--help", json_form=False)
    tap.check(done.code == 0 and done.out.startswith(f"  tubwright {name}"), f"{name} --help begins with an example", done)
tap.end()
