"""A wrong row in the tables of the dose room is refused when they are made, with its name."""
from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parents[2]))
MAKE = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[1]); sys.dont_write_bytecode = True
import dose, dose_pairs
dose.generate(Path(sys.argv[2]), Path(sys.argv[3])); dose_pairs.generate(Path(sys.argv[2]), Path(sys.argv[3]))
"""

# table, key column, row, column, new cell, what the refusal must name
WRONG = [
    ("substances.csv", "id", "sodium-bicarbonate", "na_mmol_per_g", "11.81", "na is 11.81"),
    ("substances.csv", "id", "sodium-bicarbonate", "dic_mmol_per_g", "0", "dic is 0"),
    ("substances.csv", "id", "sodium-chloride", "k_mmol_per_g", "0.1", "k is 0.1"),
    ("substances.csv", "id", "sodium-sulfite", "active_chlorine_mmol_per_g", "7.6958", "active_chlorine is 7.6958"),
    ("substances.csv", "id", "sodium-thiosulfate-pentahydrate", "so4_mmol_per_g", "4.02927", "so4 is 4.02927"),
    ("substances.csv", "id", "sodium-hypochlorite-120", "cl_mmol_per_g", "0", "cl is 0"),
    ("substances.csv", "id", "sodium-hypochlorite-120", "assay_mass_fraction", "0.12", "strength and available chlorine"),
    ("substances.csv", "id", "sodium-carbonate", "cas", "497-19-7", "check digit"),
    ("substances.csv", "id", "borax-decahydrate", "formula", "Na2B4O7.5H2O", "g/mol"),
    ("substances.csv", "id", "boric-acid", "formula", "H3BO4", "PER_FORMULA"),
    ("substances.csv", "id", "boric-acid", "assay_mass_fraction", "1.2", "strength"),
    ("substances.csv", "id", "boric-acid", "mark", "", "source and its mark"),
    ("substances.csv", "id", "boric-acid", "who", "everyone", "who is"),
    ("substances.csv", "id", "boric-acid", "family", "boron", "family is"),
    ("substances.csv", "id", "boric-acid", "density_kg_per_l", "1.4", "a liquid has a density"),
    ("substances.csv", "id", "boric-acid", "loss_per_month", "0.1", "ages"),
    ("substances.csv", "id", "boric-acid", "id", "cyanuric-acid", "twice"),
    ("pairs.csv", "a", "bromide", "b", "water", "families are"),
    ("pairs.csv", "a", "calcium", "wait_min", "0", "wait_min"),
    ("pairs.csv", "a", "calcium", "source", "", "source"),
    ("pairs.csv", "a", "calcium", "why", "pair-nothing", "no sentence"),
    ("hazards.csv", "hazard", "acid", "cautions", "caution-label caution-nothing", "no sentence"),
    ("hazards.csv", "hazard", "acid", "hazard", "acids", "in this order"),
]
# Formulas whose totals lack an atom or have the wrong charge.
UNBALANCED = [("Na2SO3", {"na": 2, "so4": 1}), ("NaHCO3", {"na": 1}), ("CaCl2.2H2O", {"ca": 1, "cl": 1}),
              ("Na2S2O3.5H2O", {"na": 2, "so4": 1, "cl": 2, "active_chlorine": -2}),
              ("NaC3N3O3Cl2", {"na": 1, "cyanurate": 1, "cl": 2}), ("LaCl3.7H2O", {"cl": 3}),
              ("Na2B4O7.5H2O", {"na": 1, "borate": 4}), ("H2O2", {"active_chlorine": -1})]


def make(data: Path, out: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", MAKE, str(SRC / "tools/gen"), str(data), str(out)], capture_output=True,
                          text=True, check=False)


def change(path: Path, key: str, row: str, column: str, cell: str) -> None:
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    first = next(r for r in rows if r[key] == row)
    first[column] = cell
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def main() -> int:
    results: list[tuple[bool, str]] = []
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        shutil.copytree(SRC / "data", data)
        done = make(data, Path(folder) / "out")
        results.append((done.returncode == 0, "the tables as they are"))
        for table, key, row, column, cell, names in WRONG:
            kept = (data / table).read_bytes()
            change(data / table, key, row, column, cell)
            done = make(data, Path(folder) / "out")
            said = done.stderr + done.stdout
            good = done.returncode != 0 and names in said and "Traceback" not in said
            results.append((good, f"{table}: {row}, {column} = {cell!r} is refused"))
            if not good:
                print(f"# said: {said.strip()[-300:]}")
            (data / table).write_bytes(kept)
    sys.path.insert(0, str(SRC / "tools/gen"))
    sys.dont_write_bytecode = True
    import _formula
    import dose
    for formula, totals in UNBALANCED:
        results.append((bool(_formula.imbalance(formula, totals)), f"{formula} with {totals} does not balance"))
    for formula, totals in dose.PER_FORMULA.items():
        results.append((not _formula.imbalance(formula, totals), f"{formula} balances"))
    results.append((abs(_formula.g_per_mol("Na2S2O3.5H2O") - 248.1841) < 1e-4, "mass of a hydrate"))
    results.append((_formula.atoms("Ca(OCl)2") == {"Ca": 1, "O": 2, "Cl": 2}, "brackets"))
    print(f"1..{len(results)}")
    for i, (good, name) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {i} - {name}")
    return 0 if all(good for good, _ in results) else 1


if __name__ == "__main__":
    sys.exit(main())
