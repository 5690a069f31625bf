"""Chemistry: data/constants.csv, species.csv, conductivity.csv, molar.csv -> gen/water_tables.h and .c."""
from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from pathlib import Path

from _common import c_string, read_csv

REACTIONS = ["id", "reaction", "form", "a1", "a2", "a3", "a4", "a5", "a6", "low_c", "high_c",
             "instead_1974", "source", "mark"]
SPECIES = ["id", "formula", "group", "count", "charge", "h", "co3", "so4", "po4", "hocl", "water",
           "constants", "law", "size_a", "per_i", "parts", "g_per_mol", "volume_cm3", "source", "mark"]
MOBILITY = ["species", "d25_1e9_m2_per_s", "d_temp_k", "size_a", "v", "b_l_per_mol", "source", "mark"]
MOLAR = ["id", "name", "g_per_mol", "source", "mark"]
# Species that follow from the unknowns alone, then a group for each total that the solver takes out of the problem,
# then the inert ones. In the file, species that are in most waters come first: the solver goes in blocks of eight.
GROUPS = ["free", "na", "k", "ca", "mg", "borate", "cyanurate", "cl", "other"]
UNKNOWNS = ["h", "co3", "so4", "po4", "hocl"]
LAWS = ["ion", "davies", "neutral"]
MARKS = {"published", "published, second hand", "from memory", "common practice", "computed"}
MAX_TERMS = 6


def number(text: str, where: str) -> str:
    """A decimal constant for C; an empty cell is 0."""
    if text == "":
        return "0.0"
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise SystemExit(f"{where}: '{text}' is not a number") from None
    if not value.is_finite():
        raise SystemExit(f"{where}: '{text}' is not finite")
    return text if re.search(r"[.e]", text) else text + ".0"


def ids(rows: list[dict[str, str]], key: str, where: str) -> list[str]:
    names = [row[key] for row in rows]
    for row in rows:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", row[key]):
            raise SystemExit(f"{where}: '{row[key]}' is no name")
        if row["mark"] not in MARKS or not row["source"]:
            raise SystemExit(f"{where}, {row[key]}: source and a known mark are needed")
    if len(set(names)) != len(names):
        raise SystemExit(f"{where}: a name stands twice")
    return names


def terms(text: str, reactions: list[str], where: str) -> list[tuple[int, int]]:
    """'+hco3-hclcy' -> [(index, +1), (index, -1)]."""
    found = re.findall(r"([+-])([a-z0-9_]+)", text)
    if "".join(sign + name for sign, name in found) != text or len(found) > MAX_TERMS:
        raise SystemExit(f"{where}: '{text}' is no sum of constants")
    for _, name in found:
        if name not in reactions:
            raise SystemExit(f"{where}: no constant '{name}'")
    return [(reactions.index(name), 1 if sign == "+" else -1) for sign, name in found]


def check_species(rows: list[dict[str, str]], by_id: dict[str, dict[str, str]]) -> None:
    """Groups, and charge from the parts: H+ carries one, CO3 -2, SO4 -2, PO4 -3."""
    base = {"free": 0, "na": 1, "k": 1, "ca": 2, "mg": 2, "borate": 0, "cyanurate": 0, "cl": -1, "other": -1}
    for row in rows:
        where = f"species.csv, {row['id']}"
        if row["group"] not in GROUPS:
            raise SystemExit(f"{where}: group is one of {GROUPS}")
        if row["law"] not in LAWS:
            raise SystemExit(f"{where}: law is one of {LAWS}")
        charge = (int(row["count"]) * base[row["group"]] + int(row["h"]) - 2 * int(row["co3"])
                  - 2 * int(row["so4"]) - 3 * int(row["po4"]))
        if charge != int(row["charge"]):
            raise SystemExit(f"{where}: its parts carry {charge}")
        for part in row["parts"].split():
            if part not in by_id or by_id[part]["parts"]:
                raise SystemExit(f"{where}: '{part}' is no simple species")
        if bool(row["parts"]) == bool(row["g_per_mol"]):
            raise SystemExit(f"{where}: either parts or mass and volume")


def of_parts(row: dict[str, str], by_id: dict[str, dict[str, str]], key: str) -> str:
    parts = row["parts"].split()
    return str(sum((Decimal(by_id[p][key]) for p in parts), Decimal(0)) if parts else Decimal(row[key]))


def header(reactions: list[dict[str, str]], species: list[dict[str, str]], molar: list[dict[str, str]]) -> str:
    out = ["/* Made by tools/gen/water.py from data/constants.csv, species.csv, conductivity.csv, molar.csv. */",
           "#ifndef TW_GEN_WATER_TABLES_H", "#define TW_GEN_WATER_TABLES_H", ""]
    for what, prefix, rows, name in (("tw_reaction", "TW_REACTION_", reactions, "reaction"),
                                     ("tw_species", "TW_SPECIES_", species, "formula"),
                                     ("tw_molar", "TW_MOLAR_", molar, "name")):
        count = {"tw_reaction": "TW_REACTIONS", "tw_species": "TW_SPECIES", "tw_molar": "TW_MOLARS"}[what]
        out += [f"typedef enum {what} {{"]
        out += [f"    {prefix}{r['id'].upper()}, /* {r[name]} */" for r in rows]
        out += [f"    {count}", f"}} {what};", ""]
    out += ["typedef enum tw_species_group {"]
    out += [f"    TW_GROUP_{g.upper()}," for g in GROUPS]
    out += ["    TW_GROUPS", "} tw_species_group;", "",
            "/* log10 K = a[0] + a[1] T + a[2]/T + a[3] log10 T + a[4]/T^2 + a[5] T^2. */",
            "typedef struct {", "    const char *name, *reaction, *source, *mark;",
            "    double a[6];", "    double low_c, high_c; /* range that the source states */",
            "    tw_reaction in_1974;  /* which one stands in its place in the 1974 set */",
            "} tw_reaction_row;", "",
            "typedef enum tw_activity_law { TW_LAW_ION, TW_LAW_DAVIES, TW_LAW_NEUTRAL } tw_activity_law;", "",
            f"#define TW_SPECIES_TERMS {MAX_TERMS}",
            "typedef struct {", "    const char *name, *formula;", "    tw_species_group group;",
            "    signed char count;        /* of the group's own part in it              */",
            "    signed char charge;",
            "    signed char of[5];        /* H+, CO3, SO4, PO4, HOCl in its formation   */",
            "    signed char water;        /* H2O in its formation                       */",
            "    double nu[5], z2, alk;    /* of, charge squared, strong-ion alkalinity  */",
            "    signed char terms;        /* constants in its formation                 */",
            "    signed char sign[TW_SPECIES_TERMS];",
            "    tw_reaction term[TW_SPECIES_TERMS];",
            "    tw_activity_law law;", "    double size_a, per_i;",
            "    double g_per_mol, volume_cm3_per_mol;",
            "    double d25_m2_per_s, d_temp_k, ec_size_a, ec_v, ec_b_l_per_mol; /* conductivity */",
            "} tw_species_row;", "",
            "typedef struct {", "    const char *name;", "    double g_per_mol;", "} tw_molar_row;", "",
            "extern const tw_reaction_row tw_water_reactions[TW_REACTIONS];",
            "extern const tw_species_row tw_water_species[TW_SPECIES];",
            "extern const tw_molar_row tw_water_molar[TW_MOLARS];",
            "/* First species of each group: what the others hold of it. */",
            "extern const unsigned char tw_water_group_first[TW_GROUPS];", "", "#endif", ""]
    return "\n".join(out)


def reaction_rows(rows: list[dict[str, str]], names: list[str]) -> list[str]:
    out = []
    for row in rows:
        where = f"constants.csv, {row['id']}"
        a = [number(row[f"a{i}"], where) for i in range(1, 7)]
        if row["form"] == "vant_hoff":
            # log K = a1 - a2/(R ln 10) (1/T - 1/298.15); a2 in kJ/mol, R = 8.3147 J/mol/K as in phreeqc.dat.
            slope = f"{a[1]} / (8.3147e-3 * 2.30258509299404568)"
            a = [f"{a[0]} + {slope} / 298.15", "0.0", f"-({slope})", "0.0", "0.0", "0.0"]
        elif row["form"] != "analytic":
            raise SystemExit(f"{where}: form is analytic or vant_hoff")
        instead = row["instead_1974"] or row["id"]
        if instead not in names:
            raise SystemExit(f"{where}: no constant '{instead}'")
        out.append(f"    {{{c_string(row['id'])}, {c_string(row['reaction'])}, {c_string(row['source'])}, "
                   f"{c_string(row['mark'])}, {{{', '.join(a)}}}, {number(row['low_c'], where)}, "
                   f"{number(row['high_c'], where)}, TW_REACTION_{instead.upper()}}},")
    return out


def species_rows(rows: list[dict[str, str]], by_id: dict[str, dict[str, str]], names: list[str],
                 moving: dict[str, dict[str, str]]) -> list[str]:
    out = []
    for row in rows:
        where = f"species.csv, {row['id']}"
        sum_of = terms(row["constants"], names, where)
        padded = sum_of + [(0, 0)] * (MAX_TERMS - len(sum_of))
        mobility = moving.get(row["id"], {})
        of = [int(row[u]) for u in UNKNOWNS]
        alk = 2 * of[1] + 3 * of[3] - of[0]
        ec = [number(mobility.get(key, ""), where) for key in MOBILITY[1:6]]
        out.append(
            f"    {{{c_string(row['id'])}, {c_string(row['formula'])}, TW_GROUP_{row['group'].upper()}, "
            f"{int(row['count'])}, {int(row['charge'])}, "
            f"{{{', '.join(map(str, of))}}}, {int(row['water'])}, {{{', '.join(f'{n}.0' for n in of)}}}, "
            f"{int(row['charge']) ** 2}.0, {alk}.0, {len(sum_of)}, "
            f"{{{', '.join(str(sign) for _, sign in padded)}}}, "
            f"{{{', '.join('TW_REACTION_' + names[i].upper() for i, _ in padded)}}}, "
            f"TW_LAW_{row['law'].upper()}, {number(row['size_a'], where)}, {number(row['per_i'], where)}, "
            f"{number(of_parts(row, by_id, 'g_per_mol'), where)}, {number(of_parts(row, by_id, 'volume_cm3'), where)}, "
            f"{ec[0]} * 1e-9, {', '.join(ec[1:])}}},")
    return out


def generate(data_dir: Path, out_dir: Path) -> None:
    reactions = read_csv(data_dir / "constants.csv", REACTIONS)
    species = read_csv(data_dir / "species.csv", SPECIES)
    mobility = read_csv(data_dir / "conductivity.csv", MOBILITY)
    molar = read_csv(data_dir / "molar.csv", MOLAR)
    names = ids(reactions, "id", "constants.csv")
    ids(species, "id", "species.csv")
    ids(mobility, "species", "conductivity.csv")
    ids(molar, "id", "molar.csv")
    by_id = {row["id"]: row for row in species}
    check_species(species, by_id)
    moving = {row["species"]: row for row in mobility}
    for name in moving:
        if name not in by_id:
            raise SystemExit(f"conductivity.csv: no species '{name}'")
    begins = [next(i for i, row in enumerate(species) if row["group"] == g) for g in GROUPS]
    out = ["/* Made by tools/gen/water.py from data/constants.csv, species.csv, conductivity.csv, molar.csv. */",
           '#include "gen/water_tables.h"', "",
           "const tw_reaction_row tw_water_reactions[TW_REACTIONS] = {", *reaction_rows(reactions, names), "};", "",
           "const tw_species_row tw_water_species[TW_SPECIES] = {",
           *species_rows(species, by_id, names, moving), "};", "",
           "const tw_molar_row tw_water_molar[TW_MOLARS] = {"]
    out += [f"    {{{c_string(r['name'])}, {number(r['g_per_mol'], 'molar.csv')}}}," for r in molar]
    out += ["};", "", "const unsigned char tw_water_group_first[TW_GROUPS] = {"
            + ", ".join(map(str, begins)) + "};", ""]
    target = out_dir / "gen"
    target.mkdir(parents=True, exist_ok=True)
    (target / "water_tables.h").write_text(header(reactions, species, molar), encoding="utf-8")
    (target / "water_tables.c").write_text("\n".join(out), encoding="utf-8")
