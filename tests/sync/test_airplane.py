#!/usr/bin/env python3
"""Two logbooks of one tub, written apart for a week, one by a clock that is three minutes ahead; merged by file and by server in both
orders: every answer has the same bytes."""
import os
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, os.environ["SRC"] + "/tests/torture")
sys.path.insert(0, os.environ["SRC"] + "/tests/serve")
import _crash as crash
from _server import Place, Server

tap = crash.Tap()
scratch = crash.scratch()
FOLDER = Path(scratch.name)
VIEWS = ["now", "why", "water", "forecast", "ahead", "logbook", "bathing", "sheet"]


def run(who: str, at: str, *words: str, stdin: str = "") -> str:
    """The program in one installation's home; its own logbook and its own notes."""
    home = FOLDER / who
    home.mkdir(exist_ok=True)
    keep = {name: os.environ[name] for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS") if name in os.environ}
    env = {**keep, "HOME": str(home), "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC", "TUBWRIGHT_NOW": at,
           "TUBWRIGHT_LOGBOOK": str(home / "logbook.db")}
    done = subprocess.run([os.environ["TUBWRIGHT"], *words], env=env, input=stdin, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1, 4):
        tap.check(False, f"{who} {at} {' '.join(words)}", done.returncode, done.stdout, done.stderr)
    return done.stdout


def march(day: int, clock: str) -> str:
    return f"2026-03-{day:02d}T{clock}:00+01:00"


# Together: the tub is started.
run("phone", march(5, "09:00"), "tub", "new", "Yard", "volume=1420L", "use=lodging")
run("phone", march(5, "09:10"), "log", "plate", "output=0.18g/h", "salt=2000mg/L", "stock", "5", "kg", "hypochlorite", "stock", "25", "kg", "salt",
    "reply", "bromine=no", "biguanide=no", "silver=no", "copper=no", "monopersulfate=no", "ozone=no", "reply", "circulation=yes", "electrician=yes",
    "source", "supply", "origin=mains")
run("phone", march(5, "09:20"), "log", "care", "purge", "done", "filled", "1420", "L", "of", "supply", "temperature=38Cel")
run("phone", march(5, "09:30"), "log", "temp=38", "by", "thermometer", "ph=7.4", "ta=80", "by", "drops", "step=10")
run("office", march(5, "10:00"), "import", "-", stdin=run("phone", march(5, "10:00"), "export"))

# Apart. The phone's clock is three minutes ahead; both write of the same days, once even of the same dose.
for day in (6, 9, 12):
    run("phone", march(day, "08:03"), "log", f"ph=7.{3 + day % 3}", "by", "meter")
    run("office", march(day, "18:00"), "log", f"fc={1 + day % 4}", "by", "strips")
run("phone", march(8, "12:03"), "log", "added", "48", "mL", "hypochlorite", "--yes")
run("office", march(8, "12:05"), "log", "added", "48", "mL", "hypochlorite", "--yes")
run("office", march(9, "12:00"), "log", "added", "2.8", "kg", "salt", "--yes")
run("phone", march(10, "07:03"), "log", "conductivity=4260", "by", "meter")

# Merged by file: phone into office and office into phone; and two that were empty, in both orders.
NOW = march(12, "20:00")
phone, office = run("phone", NOW, "export"), run("office", NOW, "export")
apart = {who: run(who, NOW, "logbook", "--json") for who in ("phone", "office")}
tap.check(apart["phone"] != apart["office"], "apart they say different things")
run("phone", NOW, "import", "-", stdin=office)
run("office", NOW, "import", "-", stdin=phone)
for who, files in (("first", (phone, office)), ("second", (office, phone))):
    for lines in files:
        run(who, NOW, "import", "-", stdin=lines)
everyone = ["phone", "office", "first", "second"]
exports = {run(who, NOW, "export") for who in everyone}
union = set(phone.splitlines()) | set(office.splitlines())
tap.check(len(exports) == 1 and sorted(exports.pop().splitlines()) == sorted(union), "all four hold every line once, in the same bytes")
seals = {run(who, NOW, "verify", "--json") for who in everyone}
tap.check(len(seals) == 1 and '"whole": true' in seals.pop(), "one seal, and every chain is whole")
for view in VIEWS:
    answers = {run(who, NOW, view, "--json") for who in (everyone if view == "now" else everyone[:2])}
    tap.check(len(answers) == 1 and len(next(iter(answers))) > 40, f"one answer: {view}", *answers)
cards = {who: run(who, NOW, "now") for who in everyone[:2]}
tap.check(cards["phone"] == cards["office"] and "ONE DOSE OR TWO" in cards["phone"], "one card, and the dose that both wrote down is asked about", cards)

# Merged by server: each gives its lines to one that had none, in both orders, and takes what that one has.
for order in ((phone, office), (office, phone)):
    here = Place(FOLDER / f"server-{order[0] is office}")
    here.home.mkdir()
    with Server(here, now=NOW) as server:
        for lines in order:
            given = server.ask("POST", "/api/entries", lines, Content_Type="application/jsonl")
            tap.check(given.status == 200, "the server takes them", given)
        back = server.ask("GET", "/api/export").body.decode()
        card = server.ask("GET", "/api/tubs/Yard/now?at=" + NOW.replace("+", "%2B")).body.decode()
    tap.check(back == run("phone", NOW, "export"), "and holds the same bytes")
    tap.check(card == run("phone", NOW, "now", "--json"), "and gives the same answer", card)
scratch.cleanup()
tap.end()
