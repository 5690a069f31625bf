#!/usr/bin/env python3
"""Killed after "I am adding".

A person says that they are adding acid. The program writes it down, and while it works on its answer the machine
takes it away. Nobody knows whether the acid went in. When the program is there again the dose counts as possible, between none
and all; the next act is to ask; nothing else is advised and no second one is announced until it is answered."""
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash, is_dose  # noqa: E402

tap = crash.Tap()
story = Story().begin()
before = story.copy()


def killed(hour: str, words: str) -> int:
    """Run log and kill it as soon as the entry can be seen from outside; its return code."""
    watch = sqlite3.connect(story.here.logbook)
    count = watch.execute("select count(*) from fact").fetchone()[0]
    env = {"HOME": str(story.here.home), "PATH": "/usr/bin:/bin", "TZ": "UTC", "LC_ALL": "C.UTF-8",
           "TUBWRIGHT_NOW": f"2026-03-24T{hour}:00+01:00", "TUBWRIGHT_RANDOM": story.word,
           "TUBWRIGHT_LOGBOOK": str(story.here.logbook)}
    process = subprocess.Popen([os.environ["TUBWRIGHT"], "log", *words.split()], env=env,
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    until = time.monotonic() + 30
    while watch.execute("select count(*) from fact").fetchone()[0] == count and time.monotonic() < until:
        time.sleep(0.001)
    process.send_signal(signal.SIGKILL)
    watch.close()
    return process.wait()


code = killed("10:05", "adding 60 g dry acid")
tap.check(code in (-signal.SIGKILL, 0), "the program was killed after it had written", code)
tap.check(story.here.run("verify").code == 0, "the logbook is whole", story.here.run("verify"))
card = story.answer("10:06", "now")
tap.check(card["act"]["act_id"] == "answer-intent" and not is_dose(card), "the next act is to ask whether it was added", card)
none = before.ph("10:06")
open_ = story.ph("10:06")
again = story.log("10:07", "adding 60 g dry acid")
tap.check(again.code == 1 and story.act("10:08") == "answer-intent", "advice repeated while it is open is asked back", again)

added = story.copy()
added.must("10:10", "done")
refused = story.copy()
refused.must("10:10", "not-done")
all_ = added.ph("10:10")
nothing = refused.ph("10:10")
print(f"# pH without it {none}, open {open_}, done {all_}, not done {nothing}")
tap.check(all_[1] < none[1] - 0.1, "the dose is large enough to be seen", none, all_)
# Anything between none and all: the ends of this interval lie a little inside those of the two answers,
# because each of them has only a share of the chance.
tap.check(open_[0] <= all_[0] + 0.2 and open_[2] >= none[2] - 0.2 and open_[2] - open_[0] > 1.5 * (none[2] - none[0]), "while it is open both are possible: none and all", none, open_, all_)
tap.check(abs(nothing[1] - none[1]) < 0.1, "answered with not done it counts as nothing", none, nothing)
tap.check(added.act("10:11") != "answer-intent" and refused.act("10:11") != "answer-intent", "answered, it is not asked again")
tap.check(added.act("10:11") == "wait-mixing", "done, the wait begins", added.answer("10:11", "now"))

# Killed in the middle of the write: nothing was said, and there is the whole entry or none of it.
for call, when in [("pwrite64", 1), ("pwrite64", 2), ("pwrite64", 4), ("fdatasync", 1)]:
    half = before.copy()
    lines = half.here.give().splitlines()
    done = half.at("10:05", "log", *"adding 60 g dry acid".split(), env=crash.preload(TW_FAULT=f"{call}:{when}:KILL"))
    after = half.here.give().splitlines()
    whole = half.here.run("verify").code == 0
    tap.check(done.code == -signal.SIGKILL and done.out == "" and whole and (len(after) - len(lines)) in (0, 1)
              and set(lines) <= set(after), f"killed at {call} {when}: all of it or none, whole", done, len(after) - len(lines))
    wanted = "answer-intent" if len(after) > len(lines) else before.act("10:06")
    tap.check(half.act("10:06") == wanted, f"killed at {call} {when}: and the card fits what is there", half.act("10:06"))
tap.end()
