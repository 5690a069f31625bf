"""Somebody who knows nothing, at a terminal: names a tub, types what was read, is told the one thing to do now
with its amount, what comes first, why, how long to wait and what to test next, and leaves on q."""
from __future__ import annotations

import json
import os
import pty
import re
import select
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["SRC"]) / "tests/support"))
from claims import Claims  # noqa: E402

PROGRAM = os.environ["TUBWRIGHT"]
PATIENCE_S = 60.0
WAITS = re.compile(rb"(> |\? |know\. )$")


class Terminal:
    """The program on a terminal of its own."""

    def __init__(self, env: dict[str, str]) -> None:
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.execve(PROGRAM, [PROGRAM, "prompt"], env)
        self.ended = False

    def until_it_waits(self) -> str:
        """What it says until it waits for a line, or ends."""
        said = b""
        patience = time.monotonic() + PATIENCE_S
        while time.monotonic() < patience and not WAITS.search(said):
            if not select.select([self.fd], [], [], 0.2)[0]:
                continue
            try:
                part = os.read(self.fd, 4096)
            except OSError:
                part = b""
            if not part:
                self.ended = True
                break
            said += part
        return said.decode().replace("\r\n", "\n")

    def say(self, line: str) -> str:
        os.write(self.fd, line.encode() + b"\n")
        return self.until_it_waits()

    def code(self) -> int:
        """Its exit code, once it has ended."""
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


def first_tub(claims: Claims, there: Terminal) -> None:
    said = there.until_it_waits()
    claims.add("q leaves" in said and "called?" in said, "an empty logbook asks for the name of the tub", said)
    claims.add("called?" in there.say(""), "an empty line asks again")
    claims.add("how much water" in there.say("Barn"), "then for a rough volume")
    said = there.say("350 gal")
    claims.add("gal-us" in said and "gal-imp" in said and "how much water" in said, "a bare gallon is asked about, and the question comes again", said)
    said = there.say("1300 L")
    claims.add("LOGGED tub Barn" in said and "ANSWER: " in said and said.rstrip().endswith(">"), "the first card follows", said)


def slips(claims: Claims, there: Terminal) -> None:
    said = there.say("ph=74")
    claims.add(re.search(r'"74".*allowed are 0 to 14', said) and "Did you mean 7.4?" in said, "ph=74: value, what is allowed, and 7.4", said)
    said = there.say("frobnicate")
    claims.add("not understood: frobnicate" in said and "help" in said, "a word it does not know: named, and where the words stand", said)
    said = there.say("help")
    claims.add("ph=7.4" in said and "added 97 g" in said, "help shows the words", said)
    claims.add(there.say("note 'open").count("quote") == 1, "a quote left open is told")


def to_an_amount(claims: Claims, there: Terminal) -> None:
    claims.add("LOGGED pH 7.4" in there.say("ph=7,4"), "7,4 is 7.4")
    said = there.say("none")
    claims.add("LOGGED bromine: no" in said and "ANSWER: " in said, "one word answers what was in the last water", said)
    said = ""
    for line in ("yes", "ch=90 by drops", "yes", "temp=38", "log ph=7,4 ta=180 by drops"):
        said = there.say(line)
    said = re.sub(r"\033\[[0-9;]*m", "", said)
    amount = re.search(r"^ADD (\d+) g ", said, re.M)
    claims.add(amount and 20 <= int(amount[1]) <= 120, "one act with an amount", said)
    for word, claim in (("FIRST", "what must be so first"), ("HOW", "how"), ("THEN", "what then"), ("NEXT", "the next test and its hour"),
                        ("WHY", "the reason"), ("SURE", "how sure")):
        claims.add(re.search(rf"^{word} +\S", said, re.M), f"the card says {claim}", said)
    claims.add(len(re.findall(r"^(?:ADD|SET|WAIT|TEST|ANSWER:) ", said, re.M)) == 1, "one act, not two", said)
    said = there.say("why")
    claims.add("READ" in said, "why is a word here too", said)


def another_tub(claims: Claims, there: Terminal) -> None:
    claims.add("Deck" in there.say("tub new Deck volume=900L"), "a second tub")
    claims.add("Barn, Deck" in there.say("tub"), "tub: which there are")
    claims.add("BARN" in there.say("tub Barn"), "tub Barn: that one from now on")
    claims.add("there is no such tub" in there.say("tub Nobody"), "a tub that is not there is told")
    claims.add("BARN" in there.say("now"), "and the one before stays")


def main() -> None:
    claims = Claims()
    with tempfile.TemporaryDirectory() as home:
        env = {"HOME": home, "PATH": os.environ["PATH"], "TZ": "UTC", "TERM": "dumb", "TUBWRIGHT_RANDOM": "prompt",
               "TUBWRIGHT_NOW": "2026-03-24T10:40:00+00:00", "COLUMNS": "80"}
        there = Terminal(env)
        first_tub(claims, there)
        slips(claims, there)
        to_an_amount(claims, there)
        another_tub(claims, there)
        there.say("q")
        claims.add(there.ended and there.code() == 0, "q leaves with exit 0")
        lines = subprocess.run([PROGRAM, "export"], env=env, capture_output=True, text=True, check=False).stdout.splitlines()
        kinds = [json.loads(line)["kind"] for line in lines]
        claims.add(kinds.count("tub") == 2 and kinds.count("reading") == 5 and kinds.count("reply") == 8 and len(kinds) == 15,
                   "what was taken is in the logbook, what was refused is not", kinds)
        again = Terminal(env)
        claims.add("Which one?" in again.until_it_waits(), "with two tubs it asks which")
        claims.add("DECK" in again.say("Deck"), "and shows its card")
        again.say("q")
        plain = {**env, "NO_COLOR": "1"}
        bare = Terminal({**plain, "TUBWRIGHT_TUB": "Barn"})
        claims.add("\033" not in bare.until_it_waits(), "NO_COLOR: nothing but text")
        bare.say("q")
        claims.add(again.code() == 0 and bare.code() == 0, "both left with exit 0")
    claims.report()


if __name__ == "__main__":
    main()
