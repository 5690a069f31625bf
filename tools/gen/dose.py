"""Substances and waits: data/substances.csv, data/waits.csv -> gen/dose_tables.h, .c.

A substance whose totals do not follow from its formula, whose atoms or charges do not balance, whose
molar mass is not that of its formula, or whose CAS number fails its own check digit is refused here,
before anybody pours it. The totals written to C are the exact ones of the formula, not the rounded
ones of the table, so that charges cancel to the last digit."""
from __future__ import annotations

from pathlib import Path

import _formula
from _common import c_string, read_csv

TOTALS = ["na", "k", "ca", "mg", "cl", "so4", "dic", "borate", "cyanurate", "active_chlorine", "phosphate"]
COLUMNS = ["id", "plain", "name", "cas", "formula", "formula_g_per_mol", "assay_mass_fraction", "assay_sd_ln", "state",
           "density_kg_per_l", "bulk_density_kg_per_l", "effect", "who", "hazard", "family", "ageing", "loss_per_month",
           "measure", "measure_step", *[f"{t}_mmol_per_g" for t in TOTALS], "source", "mark"]
WAIT_COLUMNS = ["effect", "wait_min", "test_min", "tests", "source", "mark"]
EFFECTS = ["TA+", "TA-", "CH+", "salt+", "FC+", "CYA+", "B+", "FC-", "PO4-", "oxidiser", "MgH+"]
WHO = ["anyone", "trained", "calculator"]
HAZARDS = ["acid", "base", "strong-base", "mild", "heats", "chlorine", "cal-hypo", "dust", "reducer", "peroxide",
           "irritant", "oxidiser"]
# What meets what: families of the substances, then of what is in tubs without being in the table.
FAMILIES = ["acid", "base", "carbonate", "calcium", "hypochlorite", "dichlor", "cal-hypo", "reducer", "peroxide",
            "monopersulfate", "lanthanum", "cyanurate", "borate", "plain",
            "sequestrant", "bromide", "biguanide", "copper", "ammonia", "organic"]
AGEING = ["keeps", "cakes", "slow", "fast"]
# What one formula brings once it has acted: mol of each total for each mol. Reducers and lanthanum take away;
# hypochlorite solution brings the salt of its making and a twentieth of free lye (common practice).
PER_FORMULA = {
    "NaHCO3": {"na": 1, "dic": 1}, "Na2CO3": {"na": 2, "dic": 1}, "NaHSO4": {"na": 1, "so4": 1}, "HCl": {"cl": 1},
    "H2SO4": {"so4": 1}, "NaOH": {"na": 1}, "CaCl2": {"ca": 1, "cl": 2}, "CaCl2.2H2O": {"ca": 1, "cl": 2},
    "NaCl": {"na": 1, "cl": 1}, "NaC3N3O3Cl2": {"na": 1, "cyanurate": 1, "active_chlorine": 2},
    "NaC3N3O3Cl2.2H2O": {"na": 1, "cyanurate": 1, "active_chlorine": 2}, "Ca(OCl)2": {"ca": 1, "active_chlorine": 2},
    "NaOCl": {"na": 1, "active_chlorine": 1}, "C3H3N3O3": {"cyanurate": 1}, "H3BO3": {"borate": 1},
    "Na2B4O7.5H2O": {"na": 2, "borate": 4}, "Na2B4O7.10H2O": {"na": 2, "borate": 4},
    "Na2SO3": {"na": 2, "so4": 1, "cl": 1, "active_chlorine": -1},
    "Na2S2O3.5H2O": {"na": 2, "so4": 2, "cl": 4, "active_chlorine": -4}, "H2O2": {"cl": 1, "active_chlorine": -1},
    "LaCl3.7H2O": {"cl": 3, "phosphate": -1}, "K5H3S4O18": {"k": 5, "so4": 4},
    "MgCl2.6H2O": {"mg": 1, "cl": 2}, "MgSO4.7H2O": {"mg": 1, "so4": 1}}
SOLUTION_BRINGS = {"NaOCl": {"na": 1.05, "cl": 1}}


def word(text: str) -> str:
    """TA- -> TA_DOWN, cal-hypo -> CAL_HYPO."""
    for sign, name in (("+", "_UP"), ("-", "_DOWN")):
        if text.endswith(sign):
            text = text[:-1] + name
    return text.upper().replace("-", "_").replace(".", "_")


def _check_cas(cas: str, where: str) -> None:
    digits = cas.replace("-", "")
    total = sum((i + 1) * int(d) for i, d in enumerate(reversed(digits[:-1])))
    if total % 10 != int(digits[-1]):
        raise SystemExit(f"{where}: CAS {cas} fails its check digit")


def totals_of(row: dict[str, str]) -> dict[str, float]:
    """Exact mmol of each total for a gram, checked against the table; refuses the row otherwise."""
    where, formula = f"substances.csv, {row['id']}", row["formula"]
    if formula not in PER_FORMULA:
        raise SystemExit(f"{where}: say in PER_FORMULA what {formula} brings")
    wrong = _formula.imbalance(formula, PER_FORMULA[formula])
    if wrong:
        raise SystemExit(f"{where}: {formula} does not balance with its totals: {wrong} over")
    molar, assay = float(row["formula_g_per_mol"]), float(row["assay_mass_fraction"])
    if abs(molar - _formula.g_per_mol(formula)) > 1e-4:
        raise SystemExit(f"{where}: {formula} has {_formula.g_per_mol(formula):.4f} g/mol, not {molar}")
    if not 0.0 < assay <= 1.0:
        raise SystemExit(f"{where}: a strength of {assay} is not within 0..1")
    mmol = 1000.0 * assay / _formula.g_per_mol(formula)
    brings = dict(PER_FORMULA[formula])
    for total, n in SOLUTION_BRINGS.get(formula, {}).items():
        brings[total] = brings.get(total, 0) + n
    tolerance = 2e-6
    if formula == "NaOCl":  # known by its available chlorine; the mass fraction is rounded to 1e-4
        tolerance = 2e-3
        if abs(mmol - float(row["active_chlorine_mmol_per_g"])) > tolerance * mmol:
            raise SystemExit(f"{where}: strength and available chlorine disagree")
        mmol = float(row["active_chlorine_mmol_per_g"])
    for t in TOTALS:
        got, want = float(row[f"{t}_mmol_per_g"]), mmol * brings.get(t, 0)
        if abs(got - want) > max(6e-6, tolerance * abs(want) if formula != "NaOCl" else 2e-5):
            raise SystemExit(f"{where}: {t} is {got}, by its formula {want:.5f} mmol/g")
    return {t: mmol * brings[t] for t in TOTALS if brings.get(t, 0)}


def check_row(row: dict[str, str]) -> None:
    where = f"substances.csv, {row['id']}"
    _check_cas(row["cas"], where)
    for column, allowed in (("effect", EFFECTS), ("who", WHO), ("hazard", HAZARDS), ("state", ["solid", "liquid"]),
                            ("family", FAMILIES), ("ageing", AGEING), ("measure", ["g", "mL"])):
        if row[column] not in allowed:
            raise SystemExit(f"{where}: {column} is {row[column]!r}, allowed: {', '.join(allowed)}")
    if not row["source"] or not row["mark"]:
        raise SystemExit(f"{where}: a row needs its source and its mark")
    if (row["state"] == "liquid") != bool(row["density_kg_per_l"]) or (row["measure"] == "mL") != (row["state"] == "liquid"):
        raise SystemExit(f"{where}: a liquid has a density and is measured in mL, a solid neither")
    if not 0.0 <= float(row["loss_per_month"]) < 1.0 or (row["ageing"] in ("slow", "fast")) != (float(row["loss_per_month"]) > 0):
        raise SystemExit(f"{where}: what ages slowly or fast loses a share of its strength each month, the rest none")
    if not float(row["measure_step"]) > 0 or not 0 <= float(row["assay_sd_ln"]) < 1:
        raise SystemExit(f"{where}: measure_step above 0, assay_sd_ln within 0..1")


def _enum(comment: str, name: str, prefix: str, members: list[str], count: str) -> list[str]:
    return [f"/* {comment} */", f"typedef enum {name} {{", *[f"    {prefix}{word(m)}," for m in members],
            f"    {count}", f"}} {name};", ""]


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "substances.csv", COLUMNS)
    waits = read_csv(data_dir / "waits.csv", WAIT_COLUMNS)
    if len({row["id"] for row in rows}) != len(rows):
        raise SystemExit("substances.csv: an id stands twice")
    if [w["effect"] for w in waits] != EFFECTS:
        raise SystemExit(f"waits.csv: one row for each of {', '.join(EFFECTS)}, in this order")
    made = "/* Made from data/substances.csv and data/waits.csv by tools/gen/dose.py. */"
    header = [made, "#ifndef TW_GEN_DOSE_TABLES_H", "#define TW_GEN_DOSE_TABLES_H", "",
              *_enum("What a substance is used for.", "tw_effect", "TW_EFFECT_", EFFECTS, "TW_EFFECTS"),
              *_enum("Who may be told to pour it.", "tw_who", "TW_WHO_", WHO, "TW_WHOS"),
              *_enum("How it can hurt; cautions go by this.", "tw_hazard", "TW_HAZARD_", HAZARDS, "TW_HAZARDS"),
              *_enum("What may meet what goes by this.", "tw_family", "TW_FAMILY_", FAMILIES, "TW_FAMILIES"),
              *_enum("How it keeps: for years; but takes up water; losing strength.", "tw_ageing", "TW_AGEING_", AGEING, "TW_AGEINGS"),
              *_enum("Rows of the table of substances.", "tw_substance_id", "TW_SUBSTANCE_", [r["id"] for r in rows], "TW_SUBSTANCES"),
              "#endif", ""]
    body = [made, '#include "dose/substance.h"', "", "const char *const tw_dose_families[TW_FAMILIES] = {",
            *[f"    {c_string(f)}," for f in FAMILIES], "};", "", "const tw_substance tw_dose_substances[TW_SUBSTANCES] = {"]
    for r in rows:
        check_row(r)
        totals = ", ".join(f"[TW_TOTAL_{t.upper()}] = {n / 1000!r}" for t, n in totals_of(r).items())
        body.append(f"    {{{c_string(r['id'])}, {c_string(r['plain'])}, {c_string(r['name'])}, "
                    f"{float(r['assay_mass_fraction'])!r}, {float(r['assay_sd_ln'])!r}, "
                    f"{float(r['density_kg_per_l'] or 0)!r}, {float(r['bulk_density_kg_per_l'] or 0)!r}, "
                    f"{int(r['state'] == 'liquid')}, TW_EFFECT_{word(r['effect'])}, TW_WHO_{word(r['who'])}, "
                    f"TW_HAZARD_{word(r['hazard'])}, TW_FAMILY_{word(r['family'])}, TW_AGEING_{word(r['ageing'])}, "
                    f"{float(r['loss_per_month'])!r}, {float(r['measure_step'])!r}, {{{totals}}}}},")
    body += ["};", "", "const tw_dose_wait tw_dose_waits[TW_EFFECTS] = {",
             *[f"    {{{float(w['wait_min'])!r}, {float(w['test_min'])!r}}}," for w in waits], "};", ""]
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    (gen / "dose_tables.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "dose_tables.c").write_text("\n".join(body), encoding="utf-8")
