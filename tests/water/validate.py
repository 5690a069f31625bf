"""make validate: ten thousand waters by another solver, and how far the published tables are away, as a picture.

VALIDATE_WATERS=500 takes so many waters. Writes docs/water-accuracy.svg: the error of pH (after doses, heating, air) and
of the calcite index against pH, temperature and ionic strength, every row a point, the demand a line.
"""
from __future__ import annotations

import csv
import math
import os
import subprocess
from pathlib import Path

SRC, BUILD = Path(os.environ["SRC"]), Path(os.environ["BUILD"])
VECTORS = SRC / "tests/vectors/water"
FLOOR = 1e-8  # smaller errors are drawn there
TOP = 1e-2
WIDE, HIGH, LEFT, GAP = 240, 200, 62, 34
Panel = tuple[str, str, float, list[tuple[float, float]]]


def rows_of(text: str) -> dict[str, dict[str, str]]:
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {row["case_id"]: row for row in csv.DictReader(lines)}


def solved(kind: str) -> list[tuple[dict[str, str], dict[str, str]]]:
    """(what the table says, what the program says) of each row."""
    path = VECTORS / f"{kind}.csv"
    done = subprocess.run([os.environ["TUBWRIGHT"], "solve", kind, str(path)], capture_output=True, text=True, check=True)
    ours = rows_of(done.stdout)
    return [(row, ours[name]) for name, row in rows_of(path.read_text(encoding="utf-8")).items()]


def panels() -> list[Panel]:
    out: list[Panel] = []
    for kind, what, column, limit, ph in (("dosing", "pH", "final_pH", 0.002, "final_pH"),
                                          ("equilibrium", "calcite index", "SI_calcite_log10", 0.005, "pH")):
        strength = "final_ionic_strength_mol_per_kgw" if kind == "dosing" else "ionic_strength_mol_per_kgw"
        pairs = solved(kind)
        warm = "final_temperature_C" if kind == "dosing" else "temperature_C"
        for label, axis in (("pH", ph), ("temperature, C", warm), ("ionic strength, mol/kg", strength)):
            out.append((what, label, limit, [(float(row[axis]), abs(float(mine[column]) - float(row[column])))
                                             for row, mine in pairs]))
    return out


def height(error: float) -> float:
    """Down from the top of a panel, by decades."""
    span = math.log10(TOP / FLOOR)
    return HIGH * math.log10(TOP / max(error, FLOOR)) / span


def draw(panel: Panel, x0: float, y0: float) -> list[str]:
    what, label, limit, points = panel
    low, high = min(x for x, _ in points), max(x for x, _ in points)
    out = [f'<rect x="{x0}" y="{y0}" width="{WIDE}" height="{HIGH}" fill="none" stroke="#888"/>',
           f'<text x="{x0 + WIDE / 2}" y="{y0 + HIGH + 30}" text-anchor="middle">{label}</text>',
           f'<text x="{x0}" y="{y0 - 6}">error of {what}, {len(points)} rows, worst {max(e for _, e in points):.1e}</text>']
    for decade in range(-8, -1, 2):
        y = y0 + height(10.0 ** decade)
        out += [f'<line x1="{x0}" y1="{y:.1f}" x2="{x0 + WIDE}" y2="{y:.1f}" stroke="#ddd"/>',
                f'<text x="{x0 - 6}" y="{y + 4:.1f}" text-anchor="end">1e{decade}</text>']
    y = y0 + height(limit)
    out += [f'<line x1="{x0}" y1="{y:.1f}" x2="{x0 + WIDE}" y2="{y:.1f}" stroke="#b00" stroke-dasharray="5 3"/>',
            f'<text x="{x0 + WIDE - 4}" y="{y + 12:.1f}" text-anchor="end" fill="#b00">demand {limit:g}</text>']
    for x, anchor in ((low, "start"), (high, "end")):
        out.append(f'<text x="{x0 + (WIDE if anchor == "end" else 0)}" y="{y0 + HIGH + 15}" text-anchor="{anchor}">{x:.3g}</text>')
    for x, error in sorted(points):
        out.append(f'<circle cx="{x0 + WIDE * (x - low) / (high - low):.1f}" cy="{y0 + height(error):.1f}" r="2.2" '
                   'fill="#036" fill-opacity="0.6"/>')
    return out


def picture(all_panels: list[Panel]) -> str:
    wide, high = LEFT + 3 * (WIDE + LEFT), 2 * (HIGH + 2 * GAP) + GAP
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" font-family="sans-serif" font-size="11">',
           f'<rect width="{wide}" height="{high}" fill="#fff"/>']
    for i, panel in enumerate(all_panels):
        out += draw(panel, LEFT + (i % 3) * (WIDE + LEFT), GAP + (i // 3) * (HIGH + 2 * GAP))
    return "\n".join([*out, "</svg>", ""])


def main() -> int:
    drawn = panels()
    (SRC / "docs/water-accuracy.svg").write_text(picture(drawn), encoding="utf-8")
    print("# docs/water-accuracy.svg written")
    for what, label, limit, points in drawn:
        worst = max(error for _, error in points)
        print(f"# error of {what} over {label}: worst {worst:.2g}, demand {limit:g}")
        if not worst <= limit:
            return 1
    oracle = BUILD / "tests/test-water_oracle"
    return subprocess.run([str(oracle), "20261125", os.environ.get("VALIDATE_WATERS", "10000")], check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
