"""Mass and charge of a substance, from its formula: what a wrong row in a table cannot pass."""
from __future__ import annotations

import re

ATOM = {"H": 1.00794, "C": 12.0107, "N": 14.0067, "O": 15.9994, "Na": 22.98977, "Mg": 24.3050, "P": 30.973762,
        "S": 32.065, "Cl": 35.453, "K": 39.0983, "Ca": 40.078, "B": 10.811, "La": 138.90547}  # IUPAC, published

# Atoms of each total in its reference form (ions; CO2, H3BO3, H3Cy, HOCl, H3PO4), and the charge of the strong ones.
TOTAL_ATOMS = {"na": {"Na": 1}, "k": {"K": 1}, "ca": {"Ca": 1}, "mg": {"Mg": 1}, "cl": {"Cl": 1}, "so4": {"S": 1, "O": 4},
               "dic": {"C": 1, "O": 2}, "borate": {"B": 1, "H": 3, "O": 3},
               "cyanurate": {"C": 3, "H": 3, "N": 3, "O": 3}, "active_chlorine": {"H": 1, "O": 1, "Cl": 1},
               "phosphate": {"H": 3, "P": 1, "O": 4}}
CHARGE = {"na": 1, "k": 1, "ca": 2, "mg": 2, "cl": -1, "so4": -2}
# What leaves the water for good: oxygen gas given off, lanthanum phosphate on the filter.
LEAVES = {"H2O2": {"O": 2}, "K5H3S4O18": {"O": 2}, "LaCl3.7H2O": {"La": 1, "P": 1, "O": 4}}


def atoms(formula: str) -> dict[str, int]:
    """Na2S2O3.5H2O -> {'Na': 2, 'S': 2, 'O': 8, 'H': 10}; one level of brackets."""
    found: dict[str, int] = {}
    for part in formula.split("."):
        head = re.match(r"\d*", part)[0]
        body = part[len(head):]
        body = re.sub(r"\(([^()]*)\)(\d*)", lambda m: m[1] * int(m[2] or 1), body)
        if not re.fullmatch(r"([A-Z][a-z]?\d*)+", body):
            raise ValueError(f"{formula!r} is no formula")
        for symbol, count in re.findall(r"([A-Z][a-z]?)(\d*)", body):
            if symbol not in ATOM:
                raise ValueError(f"{formula!r}: no element {symbol}")
            found[symbol] = found.get(symbol, 0) + int(head or 1) * int(count or 1)
    return found


def g_per_mol(formula: str) -> float:
    return sum(ATOM[symbol] * n for symbol, n in atoms(formula).items())


def alkalinity(totals: dict[str, float]) -> float:
    """Strong-ion alkalinity of these totals, eq for each mol of formula."""
    return sum(CHARGE.get(t, 0) * n for t, n in totals.items())


def imbalance(formula: str, totals: dict[str, float]) -> str:
    """'' when formula = totals + what leaves + protons (minus the alkalinity) + water, atom by atom.

    The protons come from the charge of the strong ions, the water from the oxygen; then hydrogen and
    every other element must agree. A total too many, an ion with the wrong charge or a hydrate with
    the wrong water all show here."""
    left = {symbol: float(n) for symbol, n in atoms(formula).items()}

    def take(parts: dict[str, int], n: float) -> None:
        for symbol, count in parts.items():
            left[symbol] = left.get(symbol, 0.0) - count * n

    for total, n in totals.items():
        take(TOTAL_ATOMS[total], n)
    take(LEAVES.get(formula, {}), 1)
    take({"H": 1}, -alkalinity(totals))
    take({"H": 2, "O": 1}, left.get("O", 0.0))
    wrong = [f"{symbol} {n:+g}" for symbol, n in sorted(left.items()) if abs(n) > 1e-9]
    return ", ".join(wrong)
