"""What must not meet, and cautions: data/pairs.csv, data/hazards.csv -> gen/dose_pairs.h, .c."""
from __future__ import annotations

from pathlib import Path

import dose
import text
from _common import c_string, read_csv


def _message(name: str, known: set[str], where: str) -> str:
    if name not in known:
        raise SystemExit(f"{where}: no sentence {name!r} in data/text")
    return "TW_SAY_" + name.upper().replace("-", "_")


def generate(data_dir: Path, out_dir: Path) -> None:
    pairs = read_csv(data_dir / "pairs.csv", ["a", "b", "wait_min", "apart", "boxes", "why", "source", "mark"])
    hazards = read_csv(data_dir / "hazards.csv", ["hazard", "cautions", "source", "mark"])
    known = {row["id"] for row in text.rows(data_dir)}
    if [h["hazard"] for h in hazards] != dose.HAZARDS:
        raise SystemExit(f"hazards.csv: one row for each of {', '.join(dose.HAZARDS)}, in this order")
    header = ["/* Made from data/pairs.csv by tools/gen/dose_pairs.py. */", "#ifndef TW_GEN_DOSE_PAIRS_H",
              "#define TW_GEN_DOSE_PAIRS_H", "", f"#define TW_PAIRS {len(pairs)}", "", "#endif", ""]
    body = ["/* Made from data/pairs.csv and data/hazards.csv by tools/gen/dose_pairs.py. */", '#include "dose/hazard.h"',
            '#include "dose/pairs.h"', "", "const tw_dose_pair tw_dose_pairs[TW_PAIRS] = {"]
    seen = set()
    for p in pairs:
        where = f"pairs.csv, {p['a']} + {p['b']}"
        if p["a"] not in dose.FAMILIES or p["b"] not in dose.FAMILIES:
            raise SystemExit(f"{where}: families are {', '.join(dose.FAMILIES)}")
        if frozenset((p["a"], p["b"])) in seen:
            raise SystemExit(f"{where}: stands there twice")
        seen.add(frozenset((p["a"], p["b"])))
        if p["apart"] not in ("0", "1") or p["boxes"] not in ("0", "1") or not (float(p["wait_min"]) > 0 or p["wait_min"] == "-1"):
            raise SystemExit(f"{where}: apart and boxes are 0 or 1, wait_min is minutes or -1 (waiting does not help)")
        if not p["source"] or not p["mark"]:
            raise SystemExit(f"{where}: a row needs its source and its mark")
        body.append(f"    {{TW_FAMILY_{dose.word(p['a'])}, TW_FAMILY_{dose.word(p['b'])}, {float(p['wait_min'])!r}, {p['apart']}, "
                    f"{p['boxes']}, {_message(p['why'], known, where)}, {c_string(p['source'])}, {c_string(p['mark'])}}},")
    body += ["};", "", "const tw_dose_hazard tw_dose_hazards[TW_HAZARDS] = {"]
    for h in hazards:
        where, cautions = f"hazards.csv, {h['hazard']}", h["cautions"].split()
        if not 1 <= len(cautions) <= 6 or not h["source"] or not h["mark"]:
            raise SystemExit(f"{where}: one to six cautions, a source and a mark")
        body.append(f"    {{{len(cautions)}, {{{', '.join(_message(c, known, where) for c in cautions)}}}, "
                    f"{c_string(h['source'])}, {c_string(h['mark'])}}},")
    body += ["};", ""]
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "dose_pairs.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "dose_pairs.c").write_text("\n".join(body), encoding="utf-8")
