#!/usr/bin/env python3
"""Demand or production, at length: does the test off and on that the program proposes decide?

usage: validate.py [TUBS [FIRST_SEED]]     default 1000 tubs, about two minutes

Builds trial.c against the core of BUILD. Of the tubs where a test was proposed: decided rightly with 0.95 at least 0.95
times as often as a perfect judge of the same readings (100,000 draws of the prior), wrongly in at most 2 %, and as
often as was promised within 5 points (TAP).
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
    tubs, seed = (sys.argv[1:] + ["1000", "1001"][len(sys.argv) - 1:])[:2]
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "trial"
        subprocess.run(["gcc", "-std=c17", "-O2", "-ffp-contract=off", "-w", "-D_POSIX_C_SOURCE=200809L", f"-I{SRC}/src", f"-I{SRC}/include",
                        f"-I{SRC}/tests", f"-I{SRC}/tests/estimate", f"-I{BUILD}/src", str(SRC / "tests/calibrate/trial.c"),
                        str(BUILD / "libtubwright_core.a"), "-lm", "-o", str(program)], check=True)
        found = json.loads(subprocess.run([str(program), tubs, seed], check=True, capture_output=True, text=True).stdout)
    n = max(found["proposed"], 1)
    share, judge = found["right"] / n, found["judge_right"] / n
    print(f"# {found}")
    print(f"# decided rightly {share:.3f}, a perfect judge {judge:.3f}; wrongly {found['wrong'] / n:.3f}, the judge "
          f"{found['judge_wrong'] / n:.3f}; promised {found['promised'] / n:.3f}")
    claims = [(found["failed"] == 0 and found["proposed"] >= int(tubs) // 5, "tests are proposed, and nothing fails"),
              (share >= 0.95 * judge, "decided rightly at least 0.95 times as often as a perfect judge"),
              (found["wrong"] <= 0.02 * n, "wrongly in at most 2 %"),
              (abs(found["promised"] - found["right"] - found["wrong"]) <= 0.05 * n, "as often as promised, within 5 points")]
    print(f"1..{len(claims)}")
    for number, (good, claim) in enumerate(claims, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
    raise SystemExit(0 if all(good for good, _ in claims) else 1)


if __name__ == "__main__":
    main()
