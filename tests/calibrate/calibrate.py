#!/usr/bin/env python3
"""Calibration at length: 90 % intervals must hold 87 to 93 % of the truths of simulated tubs.

usage: calibrate.py [TUBS [FIRST_SEED]]     default 1000 tubs, a few minutes

Builds calibrate.c against the core of BUILD and prints its table as a comment (TAP).
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
    tubs, seed = (sys.argv[1:] + ["1000", "1"][len(sys.argv) - 1:])[:2]
    with tempfile.TemporaryDirectory() as folder:
        program, told = Path(folder) / "calibrate", Path(folder) / "told.json"
        subprocess.run(["gcc", "-std=c17", "-O2", "-ffp-contract=off", "-w", f"-I{SRC}/src", f"-I{SRC}/include",
                        f"-I{SRC}/tests", f"-I{BUILD}/src", str(SRC / "tests/calibrate/calibrate.c"),
                        str(BUILD / "libtubwright_core.a"), "-lm", "-o", str(program)], check=True)
        subprocess.run([str(program), tubs, seed, str(told)], check=True)
        found = json.loads(told.read_text(encoding="utf-8"))
    print("# " + ", ".join(f"{name} {value}" for name, value in found.items() if name != "quantities"))
    print(f"1..{len(found['quantities'])}")
    bad = 0
    for number, (name, row) in enumerate(found["quantities"].items(), 1):
        good = 0.87 <= row["coverage_90"] <= 0.93
        bad += not good
        print(f"{'ok' if good else 'not ok'} {number} - {name}: the 90 % interval holds {100 * row['coverage_90']:.1f} %, "
              f"the 50 % interval {100 * row['coverage_50']:.1f} %")
    raise SystemExit(1 if bad else 0)


if __name__ == "__main__":
    main()
