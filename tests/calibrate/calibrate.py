#!/usr/bin/env python3
"""Calibration at length: 90 % intervals must hold 87 to 93 % of the truths of simulated tubs.

usage: calibrate.py [TUBS [FIRST_SEED]]     default 4000 tubs, half an hour

Builds calibrate.c, wrong.c (a fifth of the tubs) and quantiles.c (a thirty-third against 16,384 states, a two-hundredth
against 102,400) against the core of BUILD; writes calibration.json and calibration.svg (how often the truth had each
rank) beside the build directory and judges the 90 % intervals, those under wrong models, quantiles, widths and scores
against long runs, and whether broken samplers are caught (TAP).
"""
from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from claims import Claims  # noqa: E402
from with_core import BUILD, run  # noqa: E402


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


def measure(name: str, *words: str) -> dict[str, Any]:
    """What one of the C programs beside this file writes."""
    found: dict[str, Any] = json.loads(run(f"calibrate/{name}.c", *words))
    return found


def mutants(ways: dict[str, Any]) -> list[tuple[bool, str]]:
    """Each broken sampler must fail one of the two yardsticks that the sampler itself meets better."""
    own = ways["itself"]["mean"]
    claims = []
    for name, way in ways.items():
        if name in ("itself", "independent"):
            continue
        rows = {what: row for what, row in way.items() if what != "mean"}
        caught = (way["mean"]["near"] < own["near"] - 0.15 or abs(way["mean"]["coverage_90"] - 0.9) > abs(own["coverage_90"] - 0.9) + 0.1
                  or any(row["near"] < 0.5 * ways["itself"][what]["near"] for what, row in rows.items()))
        claims.append((caught, f"{name} is caught: {100 * way['mean']['near']:.0f} % of quantiles near a long run's (itself "
                               f"{100 * own['near']:.0f} %), coverage {100 * way['mean']['coverage_90']:.0f} % ({100 * own['coverage_90']:.0f} %)"))
    return claims


def sharpness(long_run: dict[str, Any], reference: dict[str, Any]) -> list[tuple[bool, str]]:
    """Quantiles near a long run's, as far as chance lets them; no wider than the reference, and no worse."""
    own, best = long_run["ways"]["itself"]["mean"], long_run["ways"]["independent"]["mean"]
    claims = [(own["near"] >= 0.85,
               f"{100 * own['near']:.1f} % of 5 and 95 % quantiles near a long run's (independent draws {100 * best['near']:.1f} %), "
               f"{100 * own['off']:.1f} % far ({100 * best['off']:.1f} %)")]
    for name, row in reference["ways"]["itself"].items():
        if "width" in row:
            score = row.get("crps", 1.0)
            claims.append((abs(row["width"] - 1) <= 0.1 and abs(score - 1) <= 0.1,
                           f"{name}: width {row['width']:.3f}, CRPS {score:.3f} of {reference['states_of_the_long_run']} draws'"))
    return claims


def main() -> None:
    tubs, seed = (sys.argv[1:] + ["4000", "1"][len(sys.argv) - 1:])[:2]
    fewer = str(max(1, int(tubs) // 5))
    found = measure("calibrate", tubs, seed)
    found["wrong_models"] = measure("wrong", fewer, seed)
    found["long_run"] = measure("quantiles", str(max(1, int(tubs) // 33)), seed, "-", "4")
    found["reference"] = measure("quantiles", str(max(1, int(tubs) // 200)), seed, "-", "25", "sharp")
    (BUILD.parent / "calibration.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    (BUILD.parent / "calibration.svg").write_text(plot(found), encoding="utf-8")
    print("# " + ", ".join(f"{name} {value}" for name, value in found.items() if isinstance(value, (int, float))))
    claims = [(0.87 <= row["coverage_90"] <= 0.93, f"{name}: the 90 % interval holds {100 * row['coverage_90']:.1f} %, "
               f"the 50 % interval {100 * row['coverage_50']:.1f} %") for name, row in found["quantities"].items()]
    for kind, rows in found["wrong_models"]["kinds"].items():
        for name, row in rows.items():
            claims.append((row["coverage_90"] >= 0.8, f"{kind}, {name}: {100 * row['coverage_90']:.1f} % held, interval score "
                           f"{row['score_per_width']:.2f} widths, median off by {row['bias_in_widths']:+.2f} widths"))
    claims += sharpness(found["long_run"], found["reference"])
    claims += mutants(found["long_run"]["ways"])
    told = Claims()
    for claim in claims:
        told.add(*claim)
    told.report()


if __name__ == "__main__":
    main()
