#!/usr/bin/env python3
"""When is a tub said to hold? The trade's rule, the remnant's, ours and an oracle's on the same simulated start-ups.

usage: validate.py [TUBS [FIRST_SEED]]     default 200 tubs, some three minutes

Builds tests/calibrate/startups.c against the core of BUILD and writes startups.json beside the build directory (TAP).
"""
from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from claims import Claims  # noqa: E402
from with_core import BUILD, run  # noqa: E402


def main() -> None:
    tubs, seed = (sys.argv[1:] + ["200", "9001"][len(sys.argv) - 1:])[:2]
    written = run("calibrate/startups.c", tubs, seed)
    (BUILD.parent / "startups.json").write_text(written, encoding="utf-8")
    rows = json.loads(written)["all"]
    for rule, row in rows.items():
        print(f"# {rule}: {row}")
    trade, remnant, ours, oracle = (rows[rule] for rule in ("trade", "remnant", "ours", "oracle"))
    claims = [(trade["tubs_with_a_false_hold"] >= 10, "the trade's rule has false holds to compare with"),
              (10 * ours["tubs_with_a_false_hold"] <= trade["tubs_with_a_false_hold"], "ours has a tenth of the trade's false holds or fewer"),
              (ours["median_day"] <= oracle["median_day"] + 1, "the median day is at most one later than the oracle's"),
              (ours["median_day"] <= remnant["median_day"], "and not later than the remnant rule's")]
    told = Claims()
    for claim in claims:
        told.add(*claim)
    told.report()


if __name__ == "__main__":
    main()
