#!/usr/bin/env python3
"""What the card's JSON says that "done" writes is what `log done` writes, act after act of a start-up."""
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "support"))
from claims import Claims  # noqa: E402

TELLS_OF_THE_ENTRY = {"id", "tub", "at", "entered", "kind", "writer", "n", "prev", "outcome", "reason", "amount", "amount_unit"}
# What is written at which minute, and which verb the card then has.
STORY = [
    (0, "tub new Barn volume=1180L", "ask"),
    (1, "log reply bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no", "ask"),
    (2, "log source supply origin=mains", "test"),
    (3, "log ph=7.7 ta=190 ch=90 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=25 by laboratory of supply", "do"),
    (4, "log done", "do"),
    (60, "log filled 1180 L of supply volume 1180 L by clock", "ask"),
    (90, "log done", "ask"),
    (91, "log done", "test"),
    (120, "log temp=38 by thermometer", "test"),
    (122, "log ph=7.7 ta=190 by drops", "add"),
    (123, "log done", "wait"),
    (190, "log ph=7.7 ta=190 fc=1 by drops", "add"),
    (191, "log adding", "ask"),
    (192, "log done", "wait"),
]

# A tub in care with too much salt.
OTHER_WATER = [
    (0, "tub new Barn volume=1200L start=care", "ask"),
    (1, "log reply bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no", "test"),
    (2, "log plate salt_target=2000mg/L", "test"),
    (3, "log source hose origin=mains", "test"),
    (4, "log ph=7.6 ta=120 by laboratory of hose", "test"),
    (9, "log ph=7.4 ta=75 ch=90 fc=3.5 by drops", "test"),
    (10, "log ec=6500 temp=37 by meter", "do"),
    (60, "log done", "test"),
]


def main() -> None:
    claims = Claims()
    for story in (STORY, OTHER_WATER):
        play(story, claims)
    claims.report()


def play(story: list, claims: Claims) -> None:
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "HOME": folder, "XDG_DATA_HOME": folder, "TZ": "UTC", "TUBWRIGHT_RANDOM": "done"}

        def run(minute: int, *words: str) -> str:
            at = f"2026-03-09T{8 + minute // 60:02}:{minute % 60:02}:00+01:00"
            done = subprocess.run([os.environ["TUBWRIGHT"], *words, "--at", at], env=env, capture_output=True, text=True, check=False)
            if done.returncode not in (0, 4):
                raise SystemExit(f"{words}: {done.returncode} {done.stderr}")
            return done.stdout

        card: dict = {}
        for minute, words, verb in story:
            before = run(minute, "export").splitlines() if minute else []
            if words == "log done":
                card = json.loads(run(minute, "now", "--json"))["act"]
            run(minute, *words.split())
            written = [json.loads(line) for line in set(run(minute, "export").splitlines()) - set(before)]
            if words == "log done":
                promised = [(fact["kind"], {f["field"]: f["value"] for f in fact["fields"]}) for fact in [*card["done"], card["response"]]]
                facts = [(line["kind"], {k: v for k, v in line.items() if k not in TELLS_OF_THE_ENTRY or (line["kind"] == "addition" and "amount" in k)})
                         for line in written]
                claims.add(card["done_enough"] and sorted(map(str, promised_sorted(promised))) == sorted(map(str, promised_sorted(facts))),
                             f"{card['act_id']}: done writes {', '.join(kind for kind, _ in promised)}", f"{promised}\n{facts}")
            after = json.loads(run(minute, "now", "--json"))
            claims.add(after["act"]["verb"] == verb, f"after {words[:40]!r} the card's verb is {verb}", after["head"]["text"])
            if verb == "wait":
                claims.add("done" not in after["act"], "a wait has nothing to answer", str(after["act"]))


def promised_sorted(entries: list) -> list:
    return [(kind, sorted(fields.items())) for kind, fields in entries]


if __name__ == "__main__":
    main()
