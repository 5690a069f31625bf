#!/usr/bin/env python3
"""Calibration at length: 90 % intervals must hold 87 to 93 % of the truths of simulated tubs.

usage: calibrate.py [TUBS [FIRST_SEED]]     default 1000 tubs, a few minutes

Builds calibrate.c against the core of BUILD; writes calibration.json and calibration.svg (how often the truth
had each rank) beside the build directory and judges the 90 % intervals (TAP).
"""
from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

SRC, BUILD = Path(os.environ["SRC"]).resolve(), Path(os.environ["BUILD"]).resolve()


CAPTION = ("How often the truth had each sixteenth of the ranks among the draws: level bars are right, the shaded band holds",
           "99 of 100 of them. Below each: the share of truths that the 90 % and the 50 % intervals held.")


def panel(name: str, row: dict[str, Any], x: int, y: int) -> str:
    """Bars of sixteen groups of ranks; the band holds 99 of 100 bars when every rank is as likely."""
    even = row["n"] / 16
    spread = 2.576 * (even * (1 - 1 / 16)) ** 0.5
    scale = 30 / even
    bars = "".join(f'<rect x="{x + 10 * k}" y="{y + 60 - count * scale:.1f}" width="9" height="{count * scale:.1f}" fill="#467"/>'
                   for k, count in enumerate(row["ranks"]))
    band = (f'<rect x="{x}" y="{y + 60 - (even + spread) * scale:.1f}" width="160" height="{2 * spread * scale:.1f}" '
            'fill="#c83" fill-opacity="0.3"/>')
    return (f'{bars}{band}<text x="{x}" y="{y + 74}">{name.replace("_", " ").replace("ph ", "pH ")}: {100 * row["coverage_90"]:.0f} of 90, '
            f'{100 * row["coverage_50"]:.0f} of 50 %</text>')


def plot(found: dict[str, Any]) -> str:
    rows = list(found["quantities"].items())
    panels = "\n".join(panel(name, row, 10 + 230 * (k % 3), 50 + 95 * (k // 3)) for k, (name, row) in enumerate(rows))
    height = 60 + 95 * ((len(rows) + 2) // 3)
    caption = "".join(f'<text x="10" y="{18 + 15 * k}">{line}</text>' for k, line in enumerate(CAPTION))
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="700" height="{height}" viewBox="0 0 700 {height}" '
            f'font-family="sans-serif" font-size="11">\n<rect width="100%" height="100%" fill="#fff"/>\n{caption}\n{panels}\n</svg>\n')


def main() -> None:
    tubs, seed = (sys.argv[1:] + ["1000", "1"][len(sys.argv) - 1:])[:2]
    with tempfile.TemporaryDirectory() as folder:
        program, told = Path(folder) / "calibrate", Path(folder) / "told.json"
        subprocess.run(["gcc", "-std=c17", "-O2", "-ffp-contract=off", "-w", f"-I{SRC}/src", f"-I{SRC}/include",
                        f"-I{SRC}/tests", f"-I{BUILD}/src", str(SRC / "tests/calibrate/calibrate.c"),
                        str(BUILD / "libtubwright_core.a"), "-lm", "-o", str(program)], check=True)
        subprocess.run([str(program), tubs, seed, str(told)], check=True)
        text = told.read_text(encoding="utf-8")
    found = json.loads(text)
    (BUILD.parent / "calibration.json").write_text(text, encoding="utf-8")
    (BUILD.parent / "calibration.svg").write_text(plot(found), encoding="utf-8")
    print("# " + ", ".join(f"{name} {value}" for name, value in found.items() if name not in ("quantities", "strata")))
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
