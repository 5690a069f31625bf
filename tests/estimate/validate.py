#!/usr/bin/env python3
"""When is a tub said to hold? The trade's rule, the remnant's, ours and an oracle's on the same simulated start-ups.

usage: validate.py [TUBS [FIRST_SEED]]     default 200 tubs, some three minutes

Builds tests/calibrate/startups.c against the core of BUILD and writes startups.json beside the build directory (TAP).
"""
from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

SRC, BUILD = Path(os.environ["SRC"]).resolve(), Path(os.environ["BUILD"]).resolve()


def main() -> None:
    tubs, seed = (sys.argv[1:] + ["200", "9001"][len(sys.argv) - 1:])[:2]
    told = BUILD.parent / "startups.json"
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "startups"
        subprocess.run(["gcc", "-std=c17", "-O2", "-ffp-contract=off", "-w", f"-I{SRC}/src", f"-I{SRC}/include", f"-I{SRC}/tests",
                        f"-I{SRC}/tests/estimate", f"-I{BUILD}/src", str(SRC / "tests/calibrate/startups.c"),
                        str(BUILD / "libtubwright_core.a"), "-lm", "-o", str(program)], check=True)
        subprocess.run([str(program), tubs, seed, str(told)], check=True)
    rows = json.loads(told.read_text(encoding="utf-8"))["all"]
    for rule, row in rows.items():
        print(f"# {rule}: {row}")
    trade, remnant, ours, oracle = (rows[rule] for rule in ("trade", "remnant", "ours", "oracle"))
    claims = [(trade["tubs_with_a_false_hold"] >= 10, "the trade's rule has false holds to compare with"),
              (10 * ours["tubs_with_a_false_hold"] <= trade["tubs_with_a_false_hold"], "ours has a tenth of the trade's false holds or fewer"),
              (ours["median_day"] <= oracle["median_day"] + 1, "the median day is at most one later than the oracle's"),
              (ours["median_day"] <= remnant["median_day"], "and not later than the remnant rule's")]
    print(f"1..{len(claims)}")
    for number, (good, claim) in enumerate(claims, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
    raise SystemExit(0 if all(good for good, _ in claims) else 1)


if __name__ == "__main__":
    main()
