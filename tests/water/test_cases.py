#!/usr/bin/env python3
"""Tables that nobody has seen: `solve` against a geochemist of its own (geochemist.py), on random cases.

usage: test_cases.py [SEED [ROWS]]     env TUBWRIGHT; default: seed 1, 14 rows a table

The rows are wider than any tub's: 0 to 45 C, totals of zero, very hard water at high pH, ionic strength to 0.2, alkalinity
below that of borate. The tables themselves are as people send them: byte order mark, CRLF, columns in any order, quoted
cells, columns that mean nothing here. Each result must be within the tolerance that the room promises for it, and a row
has none exactly where the geochemist finds no water.
"""
from __future__ import annotations

import csv
import io
import math
import os
import random
import subprocess
import sys

from geochemist import DOSES, begin, chlorine, equilibrium, final, step

SEED = int(sys.argv[1]) if len(sys.argv) > 1 else 1
ROWS = int(sys.argv[2]) if len(sys.argv) > 2 else 14
COLUMNS = {"t": "temperature_C", "ph": "pH", "ta": "total_alkalinity_mg_per_kgw_as_CaCO3",
           "ch": "calcium_hardness_mg_per_kgw_as_CaCO3", "mh": "magnesium_hardness_mg_per_kgw_as_CaCO3",
           "salt": "NaCl_added_mg_per_kgw", "so4": "sulfate_mg_per_kgw_as_SO4", "k": "potassium_mg_per_kgw",
           "b": "boron_mg_per_kgw_as_B"}
INITIAL = {key: ("initial_" if key in ("t", "ph", "ta") else "") + name for key, name in COLUMNS.items()}
# What is promised: the first word that stands in the name of a column; absolute, relative.
TOLERANCES = [("activity_", 1e-12, 0.01), ("ideal_", 1e-12, 0.001), ("pH", 0.002, 0), ("SI", 0.005, 0), ("CCPP", 0.2, 0.005),
              ("alkalinity", 0.2, 0.005), ("DIC", 0, 0.001), ("ionic", 0, 0.002), ("buffer", 0, 0.005),
              ("conductance", 0, 0.02), ("density", 0.001, 0), ("log10", 0.001, 0), ("mass", 1e-8, 0), ("", 1e-9, 0.001)]
NO_WATER = (ArithmeticError, ValueError, OverflowError, ZeroDivisionError)


class Judge:
    """Draws the cases of one table, and compares."""

    def __init__(self, which: str) -> None:
        self.which = which
        self.draw = random.Random(f"{which} {SEED}")
        self.rows: list[dict[str, object]] = []
        self.wanted: dict[str, dict[str, float] | None] = {}
        self.wrong: list[str] = []
        self.worst = (0.0, "")

    def maybe(self, low: float, high: float, zero: float) -> float:
        return 0.0 if self.draw.random() < zero else round(self.draw.uniform(low, high), 3)

    def water(self) -> dict[str, float]:
        d, kind = self.draw, self.draw.choice(["wide", "wide", "hard", "salty", "corner"])
        w = {"t": round(d.uniform(0, 45), 2), "ph": round(d.uniform(6.3, 9.0), 3), "ta": round(d.uniform(10, 300), 2),
             "ch": self.maybe(1, 600, 0.2), "mh": self.maybe(1, 200, 0.2), "salt": self.maybe(20, 6000, 0.1),
             "so4": self.maybe(1, 600, 0.2), "k": self.maybe(1, 60, 0.2), "b": self.maybe(1, 50, 0.4)}
        if kind == "hard":
            w |= {"ph": round(d.uniform(8.2, 9.0), 3), "ch": round(d.uniform(400, 900), 2)}
        if kind == "salty":
            w |= {"salt": round(d.uniform(6000, 10500), 1)}
        if kind == "corner":
            w |= {"t": d.choice([0, 5, 25, 45]), "ph": d.choice([6.3, 8.8]), "ta": d.choice([5, 15, 300]), "ch": d.choice([0, 5, 600]),
                  "mh": d.choice([0, 200]), "salt": d.choice([0, 20, 9000]), "so4": d.choice([0, 600, 1500]), "b": d.choice([0, 50, 100])}
        return w

    def add(self, case: str, row: dict[str, object], answer) -> None:
        """answer: a function without arguments that gives the wanted results, or fails where no water is."""
        self.rows.append({"case_id": case, **row})
        try:
            self.wanted[case] = answer()
        except NO_WATER:
            self.wanted[case] = None

    def text(self) -> str:
        names = [*self.rows[0], "remark, of no meaning"]
        self.draw.shuffle(names)
        out = io.StringIO()
        writer = csv.writer(out, quoting=csv.QUOTE_ALL if self.draw.random() < 0.5 else csv.QUOTE_MINIMAL)
        writer.writerow(names)
        writer.writerows([row.get(name, 'said "so", twice') for name in names] for row in self.rows)
        return "\ufeff" + out.getvalue()

    def compare(self) -> None:
        done = subprocess.run([os.environ["TUBWRIGHT"], "solve", self.which], input=self.text().encode(), capture_output=True, check=False)
        found = {row["case_id"]: row for row in csv.DictReader(io.StringIO(done.stdout.decode()))}
        none = [case for case, want in self.wanted.items() if want is None]
        if done.returncode != (1 if none else 0) or list(found) != list(self.wanted):
            self.wrong.append(f"exit {done.returncode}, {len(found)} of {len(self.wanted)} rows: {done.stderr.decode()[:300]}")
        for case, want in self.wanted.items():
            got = found.get(case, {})
            if want is None:
                filled = [name for name, cell in got.items() if cell and name != "case_id"]
                self.wrong += [f"{case}: there is no such water, but {name} is answered" for name in filled[:1]]
            for name, value in (want or {}).items():
                self.judge(case, name, value, got.get(name) or "")

    def judge(self, case: str, name: str, value: float, cell: str) -> None:
        if cell == "" or math.isinf(value):
            if cell != "" or not math.isinf(value):
                self.wrong.append(f"{case} {name}: '{cell}', wanted {value:.9g}")
            return
        absolute, relative = next((a, r) for word, a, r in TOLERANCES if word in name)
        share = abs(float(cell) - value) / max(absolute, relative * abs(value), 1e-12)
        self.worst = max(self.worst, (share, f"{case} {name}"))
        if share > 1.0:
            self.wrong.append(f"{case} {name}: {cell}, wanted {value:.9g}")


def waters(j: Judge) -> None:
    for i in range(ROWS):
        w = j.water()
        j.add(f"E{i}", {COLUMNS[key]: x for key, x in w.items()}, lambda w=w: equilibrium(w))


def dose_of(j: Judge, name: str, ta: float) -> float:
    return round(j.draw.uniform(0, 0.5 * ta / 50 if name in ("HCl", "NaHSO4", "NaOH", "CO2") else 3), 3)


def dosing(j: Judge) -> None:
    for i in range(ROWS):
        w = j.water()
        dose = {name: 0.0 for name in DOSES}
        for name in j.draw.sample(list(DOSES), j.draw.choice([0, 1, 1, 2, 3])):
            dose[name] = dose_of(j, name, w["ta"])
        t, gas = round(j.draw.uniform(0, 45), 2), j.draw.choice([None, None, -3.38, -2.5])

        def answer(w=w, dose=dose, t=t, gas=gas):
            state, _ = begin(w)
            state, after = step(state, dose, t, gas)
            return final(after, state[2])
        j.add(f"D{i}", {**{INITIAL[key]: x for key, x in w.items()},
                        **{f"dose_{name}_mmol_per_kgw": x for name, x in dose.items()},
                        "final_temperature_C": t, "imposed_log10_pCO2_atm": "" if gas is None else gas}, answer)


def chains(j: Judge) -> None:
    for i in range(max(1, ROWS // 6)):
        w = j.water()
        w |= {"ta": max(w["ta"], 60.0), "b": min(w["b"], 10.0)}
        state, t = begin(w)[0], w["t"]
        for n in range(8):
            kind = "start" if n == 0 else j.draw.choice(["temperature", "dose", "dose", "outgas"])
            name = j.draw.choice(list(DOSES)) if kind == "dose" else ""
            amount = 0.4 * dose_of(j, name, w["ta"]) if name else ""
            t = round(j.draw.uniform(0, 45), 2) if kind == "temperature" else t
            gas = j.draw.choice([-3.38, -3.0, -2.2]) if kind == "outgas" else None
            state, after = step(state, {name: amount} if name else {}, t, gas)
            want = final(after, state[2])
            j.add(f"C{i}-{n}", {"chain_id": f"C{i}", "step": n, "kind": kind, "chemical": name, "amount_mmol_per_kgw": amount,
                                "temperature_C": t, "imposed_log10_pCO2_atm": "" if gas is None else gas,
                                **{INITIAL[key]: x for key, x in w.items()}}, lambda want=want: want)
    j.draw.shuffle(j.rows)
    j.wanted = {str(row["case_id"]): j.wanted[str(row["case_id"])] for row in j.rows}


def chlorines(j: Judge) -> None:
    for i in range(3 * ROWS):
        model = j.draw.choice(["obrien1974_25C", "morris_no_CYA", "wahman2019_simple_ideal"])
        t = 25.0 if model.startswith("o") else round(j.draw.uniform(0, 45), 2)
        ph, mg = round(j.draw.uniform(5.5, 9.5), 2), round(j.draw.choice([j.draw.uniform(0.1, 20), j.draw.uniform(20, 200)]), 3)
        ring = 0.0 if model.startswith("m") or j.draw.random() < 0.1 else round(j.draw.choice([j.draw.uniform(1, 1500), 1.82 * mg, 0.5 * mg]), 2)
        salt = None if model.startswith("w") else j.maybe(10, 10000, 0.2)
        j.add(f"L{i}", {"model": model, "temperature_C": t, "pH": ph, "total_available_chlorine_mg_per_kgw_as_Cl2": mg,
                        "cyanuric_acid_mg_per_kgw": ring, "NaCl_background_mg_per_kgw": "" if salt is None else salt},
              lambda args=(model, t, ph, mg, ring, salt): chlorine(*args))


def main() -> None:
    print(f"# seed {SEED}, {ROWS} rows\n1..4")
    failed = 0
    for number, (which, fill) in enumerate((("equilibrium", waters), ("dosing", dosing), ("chain", chains), ("chlorine", chlorines)), 1):
        judge = Judge(which)
        fill(judge)
        judge.compare()
        failed += bool(judge.wrong)
        none = sum(want is None for want in judge.wanted.values())
        print(f"{'not ok' if judge.wrong else 'ok'} {number} - solve {which}: {len(judge.rows)} unseen rows, {none} without a water")
        print(f"# worst {judge.worst[0]:.4f} of its tolerance: {judge.worst[1]}")
        print("".join(f"# {line}\n" for line in judge.wrong[:8]), end="")
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    main()
