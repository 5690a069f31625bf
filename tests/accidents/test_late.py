#!/usr/bin/env python3
"""Entries that come in late, shuffled and from two files, with questions in between; caches deleted and full of rubbish.

Two people write at one tub, each into a logbook of their own. Five installations get the lines in five ways. Each is asked in
between, so that whatever it keeps is kept of half the story. In the end all five, and the page, give the same bytes as answers.
(The same inside one process, in every build: tests/same/same_answers.c and test_kept.c.)"""
import os
import random
import sqlite3
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash  # noqa: E402

tap = crash.Tap()
HOUR = "14:00"
WORDS = ("now", "water", "logbook")
one = Story().ready()
two = one.copy()
one.must("10:00", "adding 80 mL hydrochloric-acid-31.45")
one.must("10:05", "done")
one.must("10:20", "care aerate started")
two.must("12:20", "care aerate done")
two.must("12:21", "ph=8.3 by meter ta=195 by drops step=10")
two.must("12:30", "note windy")
files = [which.here.give().splitlines() for which in (one, two)]
every = sorted(set(files[0]) | set(files[1]))
tap.check(len(every) > len(files[0]) > 10, "two files with lines in common and lines of their own", [len(lines) for lines in (*files, every)])


PAGE = """
import { load } from "%s/tests/wasm/core.mjs";
const core = load(process.env.WASM);
const [lines, ...questions] = process.argv.slice(1);
core.reset();
for (const line of lines.split("\\n")) core.add(line);
for (const question of questions) process.stdout.write(core.ask(question).bytes);
""" % os.environ["SRC"]


def answers(story: Story) -> "list[str]":
    return [story.at(HOUR, word).out for word in WORDS]


def parts(lines: "list[str]", n: int, seed: int) -> "list[list[str]]":
    lines = list(lines)
    random.Random(seed).shuffle(lines)
    return [lines[k::n] for k in range(n)]


whole = Story()
whole.take(every)
wanted = answers(whole)
tap.check(all(text.startswith("{") and len(text) > 500 for text in wanted), "the answers of all lines at once", wanted)


def same(name: str, story: Story) -> None:
    got = answers(story)
    tap.check(got == wanted, f"{name}: the same bytes", *[f"{word}: {a == b}" for word, a, b in zip(WORDS, got, wanted)])
    tap.check(story.here.give() == whole.here.give() and story.here.seal() == whole.here.seal(), f"{name}: the same export and seal")


merged = one.copy()
merged.merge(two)
same("the second file after the first", merged)

late = Story()
for chunk in parts(every, 4, 7):
    assert late.take(chunk).code == 0
    late.at(HOUR, "now")
same("in four shuffled parts, asked after each", late)

turns = Story()
for a, b in zip(parts(files[0], 2, 1), parts(files[1], 2, 2)):
    assert turns.take(a).code == 0 and turns.take(b).code == 0
    turns.at(HOUR, "water")
same("two shuffled files in turn, asked in between", turns)

# Whatever stands in the table of caches: nothing, rubbish, more rubbish.
for name, statement in (("rubbish in the caches", "insert into cache values ('belief', zeroblob(32), randomblob(4096)), ('', zeroblob(32), zeroblob(0))"), ("caches deleted", "delete from cache")):
    with sqlite3.connect(late.here.logbook) as db:
        db.execute(statement)
    db.close()
    tap.check(answers(late) == wanted and late.here.run("verify").code == 0, f"{name}: the same bytes, the logbook is whole")

wasm = os.environ.get("WASM", "")
if Path(wasm).is_file():
    shuffled = parts(every, 1, 3)[0]
    done = subprocess.run(["node", "--input-type=module", "-e", PAGE, "\n".join(shuffled), *(f"{word} at=2026-03-24T{HOUR}:00+01:00 tub=Lodge" for word in WORDS)],
                          capture_output=True, text=True, check=False)
    tap.check(done.stdout == "".join(wanted), "the page, of shuffled lines: the same bytes", done.stderr, len(done.stdout))
tap.end()
