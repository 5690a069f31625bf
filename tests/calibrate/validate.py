#!/usr/bin/env python3
"""Demand or production, at length: does the test off and on that the program proposes decide?

usage: validate.py [TUBS [FIRST_SEED]]     default 1000 tubs, about two minutes

Builds trial.c against the core of BUILD. Of the tubs where a test was proposed: decided rightly with 0.95 at least 0.95
times as often as a perfect judge of the same readings (100,000 draws of the prior), wrongly in at most 2 %, and as
often as was promised within 5 points (TAP).
"""
from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from claims import Claims  # noqa: E402
from with_core import run  # noqa: E402


def main() -> None:
    tubs, seed = (sys.argv[1:] + ["1000", "1001"][len(sys.argv) - 1:])[:2]
    found = json.loads(run("calibrate/trial.c", tubs, seed))
    n = max(found["proposed"], 1)
    share, judge = found["right"] / n, found["judge_right"] / n
    print(f"# {found}")
    print(f"# decided rightly {share:.3f}, a perfect judge {judge:.3f}; wrongly {found['wrong'] / n:.3f}, the judge "
          f"{found['judge_wrong'] / n:.3f}; promised {found['promised'] / n:.3f}")
    claims = [(found["failed"] == 0 and found["proposed"] >= int(tubs) // 5, "tests are proposed, and nothing fails"),
              (share >= 0.95 * judge, "decided rightly at least 0.95 times as often as a perfect judge"),
              (found["wrong"] <= 0.02 * n, "wrongly in at most 2 %"),
              (abs(found["promised"] - found["right"] - found["wrong"]) <= 0.05 * n, "as often as promised, within 5 points")]
    told = Claims()
    for claim in claims:
        told.add(*claim)
    told.report()


if __name__ == "__main__":
    main()
