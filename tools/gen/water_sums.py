"""The sums over species that the solver of the room water needs, written out from data/species.csv -> gen/water_sums.h.

How often H+, CO3, ... stand in a species is a small whole number, most often 0: written out, every product with 0
falls away and those with 1 need no multiplication. Each sum runs in the order of the file.
"""
from __future__ import annotations

from pathlib import Path

from _common import read_csv
from water import GROUPS, SPECIES, UNKNOWNS

SOLVED = GROUPS[:-2]  # the inert ones take no part
LANES = 8             # length of a block, TW_LANES of num/elementary_inline.h
RARE = {"k", "borate", "cyanurate"}


def sum_of(terms: list[tuple[int, str]]) -> str:
    """'a - b + 2.0 * c' of whole factors and what they multiply."""
    text = ""
    for factor, what in terms:
        if factor == 0:
            continue
        sign = ("-" if factor < 0 else "") if not text else (" - " if factor < 0 else " + ")
        text += sign + (what if abs(factor) == 1 else f"{abs(factor)}.0 * {what}")
    return text or "0.0"


class Group:
    """The species of one group: their places and whole numbers."""

    def __init__(self, name: str, species: list[dict[str, str]]) -> None:
        self.name = name
        self.rows = [(place, row) for place, row in enumerate(species) if row["group"] == name]
        self.nu = {place: [int(row[u]) for u in UNKNOWNS] for place, row in self.rows}
        self.z2 = {place: int(row["charge"]) ** 2 for place, row in self.rows}

    def add(self, factors: dict[int, int], of: str = "m[{}]") -> str:
        return sum_of([(factors[place], of.format(place)) for place, _ in self.rows])

    def ones(self) -> dict[int, int]:
        return {place: 1 for place, _ in self.rows}

    def of_unknown(self, k: int) -> dict[int, int]:
        return {place: nu[k] for place, nu in self.nu.items()}

    def linear(self) -> list[str]:
        return [f"        x->m = {self.add(self.ones())};", f"        x->charge = {self.add(self.z2)};",
                *(f"        x->x[{k}] = {self.add(self.of_unknown(k))};" for k in range(len(UNKNOWNS)))]

    def moments(self) -> list[str]:
        out = [f"        const double p{place} = slope[{place}] * m[{place}];" for place, _ in self.rows]
        out += [f"        x->slope_m = {self.add(self.ones(), 'p{}')};",
                f"        x->slope_charge = {self.add(self.z2, 'p{}')};"]
        for k in range(len(UNKNOWNS)):
            nu = self.of_unknown(k)
            charged = {place: nu[place] * self.z2[place] for place in nu}
            out += [f"        x->slope_x[{k}] = {self.add(nu, 'p{}')};", f"        x->charge_x[{k}] = {self.add(charged)};"]
            for j in range(k + 1):
                both = {place: nu[place] * self.nu[place][j] for place in nu}
                out.append(f"        x->xx[{k}][{j}] = {self.add(both)};")
        return out


def switch(head: str, bodies: list[tuple[str, list[str]]]) -> list[str]:
    """One body a group; no one asks for the inert ones, whose labels stand with the last."""
    out = [head, "{", "    switch (g) {"]
    for name, body in bodies:
        labels = [f"    case TW_GROUP_{name.upper()}:"]
        if name == bodies[-1][0]:
            labels += [f"    case TW_GROUP_{other.upper()}:" for other in GROUPS[-2:]] + ["    case TW_GROUPS:", "    default:"]
        out += [*labels[:-1], labels[-1] + " {", *body, "        break;", "    }"]
    return out + ["    }", "}", ""]


def tables(species: list[dict[str, str]], lanes: int) -> list[str]:
    """Whole numbers by unknown, for loops over lanes; what each species and each block of lanes wants."""
    out = ["/* How often H+, CO3, SO4, PO4, HOCl and H2O stand in each species. */",
           f"static const double TW_WATER_NU[5][{lanes}] = {{"]
    out += ["    {" + ", ".join(f"{int(row[u])}.0" for row in species[:lanes]) + "}," for u in UNKNOWNS]
    out += ["};", f"static const double TW_WATER_H2O[{lanes}] = {{"
            + ", ".join(f"{int(row['water'])}.0" for row in species[:lanes]) + "};", ""]
    wants, blocks = [], [0] * (lanes // LANES)
    for place, row in enumerate(species):
        unknowns = sum(1 << k for k, u in enumerate(UNKNOWNS) if int(row[u]))
        group = 0 if row["group"] == "free" else 1 << (len(UNKNOWNS) + GROUPS.index(row["group"]))
        wants.append(unknowns | group)
        rare = group if row["group"] in RARE else unknowns & 0b11000
        if place < lanes and row["group"] in SOLVED:
            blocks[place // LANES] |= rare or 1
    common = next(place for place, row in enumerate(species) if row["po4"] != "0" or row["hocl"] != "0") // LANES * LANES
    out += ["/* Before this place, an end of a block, PO4 and HOCl are in no species. */", f"#define TW_WATER_COMMON {common}", "",
            "/* Bits of the unknowns and, from TW_WATER_GROUP_BIT on, of the group that a species is made of. */",
            f"#define TW_WATER_GROUP_BIT {len(UNKNOWNS)}",
            f"static const unsigned short TW_WATER_WANTS[{len(species)}] = {{{', '.join(map(str, wants))}}};",
            "/* A block of lanes is worth a look when the water has any of these; bit 0, H+, is always there. */",
            f"static const unsigned short TW_WATER_BLOCK_WANTS[{len(blocks)}] = {{{', '.join(map(str, blocks))}}};", ""]
    return out


def generate(data_dir: Path, out_dir: Path) -> None:
    species = read_csv(data_dir / "species.csv", SPECIES)
    inert = [row["group"] for row in species[-2:]]
    if inert != GROUPS[-2:] or any(row["group"] in inert for row in species[:-2]):
        raise SystemExit("species.csv: the inert species stand last")
    if [row["id"] for row in species if row["count"] not in ("0", "1")] != ["na2so4"]:
        raise SystemExit("species.csv: na2so4 alone may hold its group's part twice")
    active = len(species) - 2
    lanes = (active + LANES - 1) // LANES * LANES
    if lanes > len(species):
        raise SystemExit("species.csv: room for whole blocks is lacking; let the last one be shared with the inert ones")
    groups = [Group(name, species) for name in SOLVED]
    out = ["/* Made by tools/gen/water_sums.py from data/species.csv. */",
           "#ifndef TW_GEN_WATER_SUMS_H", "#define TW_GEN_WATER_SUMS_H", "", '#include "gen/water_tables.h"', "",
           "/* Places of the species that are solved for, filled up to whole blocks. */",
           f"#define TW_WATER_LANES {lanes}", "", *tables(species, lanes),
           "/* Sums over a group: of m, of the charge squared times m and of nu m. */",
           "typedef struct {", "    double m, charge, x[5];", "} tw_water_linear;", "",
           "/* The same weighed with slope = d ln gamma/dI; nu m with the charge squared and with nu once more (c <= a). */",
           "typedef struct {", "    double slope_m, slope_charge, slope_x[5], charge_x[5], xx[5][5];",
           "} tw_water_moments;", "",
           *switch("static inline void tw_water_group_sum(tw_species_group g, const double *m, double *sum)",
                   [(g.name, [f"        *sum = {g.add(g.ones())};"]) for g in groups]),
           *switch("static inline void tw_water_group_linear(tw_species_group g, const double *m, tw_water_linear *x)",
                   [(g.name, g.linear()) for g in groups]),
           *switch("static inline void tw_water_group_moments(tw_species_group g, const double *m, const double *slope, "
                   "tw_water_moments *x)", [(g.name, g.moments()) for g in groups]),
           *switch("static inline void tw_water_group_scale(tw_species_group g, double *m, double a)",
                   [(g.name, [f"        m[{place}] *= a;" for place, _ in g.rows]) for g in groups]),
           "#endif", ""]
    (out_dir / "gen").mkdir(parents=True, exist_ok=True)
    (out_dir / "gen" / "water_sums.h").write_text("\n".join(out), encoding="utf-8")
