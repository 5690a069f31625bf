"""Substances, pairs and waits: data/substances.csv, data/waits.csv -> gen/dose_tables.h, .c.

A substance whose totals do not follow from its formula, whose charges do not balance, or whose CAS
number fails its own check digit is refused here, before anybody pours it."""
from __future__ import annotations

from pathlib import Path

from _common import c_string, read_csv

TOTALS = ["na", "k", "ca", "mg", "cl", "so4", "dic", "borate", "cyanurate", "active_chlorine", "phosphate"]
ENUM = {"na": "NA", "k": "K", "ca": "CA", "mg": "MG", "cl": "CL", "so4": "SO4", "dic": "DIC", "borate": "BORATE",
        "cyanurate": "CYANURATE", "active_chlorine": "ACTIVE_CHLORINE", "phosphate": "PHOSPHATE"}
COLUMNS = ["id", "plain", "name", "cas", "formula", "formula_g_per_mol", "assay_mass_fraction", "assay_sd_ln", "state",
           "density_kg_per_l", "bulk_density_kg_per_l", "effect", "who", "hazard",
           *[f"{t}_mmol_per_g" for t in TOTALS], "source", "mark"]
WAIT_COLUMNS = ["effect", "wait_min", "test_min", "tests", "source", "mark"]
EFFECTS = ["TA+", "TA-", "CH+", "salt+", "FC+", "CYA+", "B+", "FC-", "PO4-", "oxidiser", "MgH+"]
WHO = ["anyone", "trained", "calculator"]
HAZARDS = ["acid", "base", "strong-base", "mild", "heats", "chlorine", "cal-hypo", "dust", "reducer", "peroxide",
           "irritant", "oxidiser"]
# What one formula brings, by its main element: moles of each total for each mole of the formula.
PER_FORMULA = {
    "NaHCO3": {"na": 1, "dic": 1}, "Na2CO3": {"na": 2, "dic": 1}, "NaHSO4": {"na": 1, "so4": 1}, "HCl": {"cl": 1},
    "H2SO4": {"so4": 1}, "NaOH": {"na": 1}, "CaCl2": {"ca": 1, "cl": 2}, "CaCl2.2H2O": {"ca": 1, "cl": 2},
    "NaCl": {"na": 1, "cl": 1}, "NaC3N3O3Cl2": {"na": 1, "cyanurate": 1, "active_chlorine": 2},
    "NaC3N3O3Cl2.2H2O": {"na": 1, "cyanurate": 1, "active_chlorine": 2}, "Ca(OCl)2": {"ca": 1, "active_chlorine": 2},
    "C3H3N3O3": {"cyanurate": 1}, "H3BO3": {"borate": 1}, "Na2B4O7.5H2O": {"na": 2, "borate": 4},
    "Na2B4O7.10H2O": {"na": 2, "borate": 4}, "Na2SO3": {"na": 2, "so4": 1, "cl": 1, "active_chlorine": -1},
    "Na2S2O3.5H2O": {"na": 2, "so4": 2 - 1, "cl": 2, "active_chlorine": -2}, "H2O2": {"cl": 1, "active_chlorine": -1},
    "LaCl3.7H2O": {"cl": 3, "phosphate": -1}, "K5H3S4O18": {"k": 5, "so4": 4},
    "MgCl2.6H2O": {"mg": 1, "cl": 2}, "MgSO4.7H2O": {"mg": 1, "so4": 1}}


def _word(text: str) -> str:
    return text.upper().replace("+", "_UP").replace("-", "_DOWN" if text.endswith("-") else "_").replace(".", "_")


def _ident(text: str) -> str:
    return text.upper().replace("-", "_").replace(".", "_")


def _check_cas(cas: str, where: str) -> None:
    digits = cas.replace("-", "")
    total = sum((i + 1) * int(d) for i, d in enumerate(reversed(digits[:-1])))
    if total % 10 != int(digits[-1]):
        raise SystemExit(f"{where}: CAS {cas} fails its check digit")


def _check_row(row: dict[str, str]) -> None:
    where = f"substances.csv, {row['id']}"
    _check_cas(row["cas"], where)
    for column, allowed in (("effect", EFFECTS), ("who", WHO), ("hazard", HAZARDS), ("state", ["solid", "liquid"])):
        if row[column] not in allowed:
            raise SystemExit(f"{where}: {column} is {row[column]!r}, allowed: {', '.join(allowed)}")
    if not row["source"] or not row["mark"]:
        raise SystemExit(f"{where}: a row needs its source and its mark")
    if row["formula"] in PER_FORMULA and not row["id"].startswith(("sodium-hypochlorite", "sodium-thiosulfate")):
        mmol = 1000.0 * float(row["assay_mass_fraction"]) / float(row["formula_g_per_mol"])
        for t in TOTALS:
            want = mmol * PER_FORMULA[row["formula"]].get(t, 0)
            got = float(row[f"{t}_mmol_per_g"])
            if abs(got - want) > 2e-4 * max(1.0, abs(want)):
                raise SystemExit(f"{where}: {t} is {got}, by its formula {want:.5f} mmol/g")


def generate(data_dir: Path, out_dir: Path) -> None:
    rows = read_csv(data_dir / "substances.csv", COLUMNS)
    waits = read_csv(data_dir / "waits.csv", WAIT_COLUMNS)
    for row in rows:
        _check_row(row)
    if [w["effect"] for w in waits] != EFFECTS:
        raise SystemExit(f"waits.csv: one row for each of {', '.join(EFFECTS)}, in this order")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    header = ["/* Made from data/substances.csv and data/waits.csv by tools/gen/dose.py. */", "#ifndef TW_GEN_DOSE_TABLES_H",
              "#define TW_GEN_DOSE_TABLES_H", "", "/* What a substance is used for. */", "typedef enum tw_effect {",
              *[f"    TW_EFFECT_{_word(e)}," for e in EFFECTS], "    TW_EFFECTS", "} tw_effect;", "",
              "/* Who may be told to pour it. */", "typedef enum tw_who {",
              *[f"    TW_WHO_{w.upper()}," for w in WHO], "    TW_WHOS", "} tw_who;", "",
              "/* How it can hurt; cautions go by this. */", "typedef enum tw_hazard {",
              *[f"    TW_HAZARD_{_ident(h)}," for h in HAZARDS], "    TW_HAZARDS", "} tw_hazard;", "",
              "/* Rows of the table of substances. */", "typedef enum tw_substance_id {",
              *[f"    TW_SUBSTANCE_{_ident(r['id'])}," for r in rows], "    TW_SUBSTANCES", "} tw_substance_id;", "",
              "#endif", ""]
    body = ["/* Made from data/substances.csv and data/waits.csv by tools/gen/dose.py. */", '#include "dose/substance.h"', "",
            "const tw_substance tw_dose_substances[TW_SUBSTANCES] = {"]
    for r in rows:
        totals = ", ".join(f"[TW_TOTAL_{ENUM[t]}] = {float(r[f'{t}_mmol_per_g']) / 1000!r}" for t in TOTALS
                           if float(r[f"{t}_mmol_per_g"]) != 0)
        body.append(f"    {{{c_string(r['id'])}, {c_string(r['plain'])}, {c_string(r['name'])}, "
                    f"{float(r['assay_mass_fraction'])!r}, {float(r['assay_sd_ln'])!r}, "
                    f"{float(r['density_kg_per_l'] or 0)!r}, {float(r['bulk_density_kg_per_l'] or 0)!r}, "
                    f"{int(r['state'] == 'liquid')}, TW_EFFECT_{_word(r['effect'])}, TW_WHO_{r['who'].upper()}, "
                    f"TW_HAZARD_{_ident(r['hazard'])}, {{{totals or '0'}}}}},")
    body += ["};", "", "const tw_dose_wait tw_dose_waits[TW_EFFECTS] = {"]
    for w in waits:
        body.append(f"    {{{float(w['wait_min'])!r}, {float(w['test_min'])!r}}},")
    body += ["};", ""]
    (gen / "dose_tables.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "dose_tables.c").write_text("\n".join(body), encoding="utf-8")
