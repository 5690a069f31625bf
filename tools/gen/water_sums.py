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

    def __init__(self, name: str, species: list[dict[str, str]], unknowns: int, tied: str = "") -> None:
        self.name = name
        self.unknowns = unknowns
        self.shared = name != "free" and not tied
        self.rows = [(place, row) for place, row in enumerate(species)
                     if row["group"] == name and not any(int(row[u]) for u in UNKNOWNS[unknowns:])]
        self.nu = {place: [int(row[u]) for u in UNKNOWNS] for place, row in self.rows}
        if tied:  # its logarithm is a constant less that of this unknown
            for nu in self.nu.values():
                nu[UNKNOWNS.index(tied)] -= 1
        self.z2 = {place: int(row["charge"]) ** 2 for place, row in self.rows}

    def add(self, factors: dict[int, int], of: str = "m[{}]") -> str:
        return sum_of([(factors[place], of.format(place)) for place, _ in self.rows])

    def ones(self) -> dict[int, int]:
        return {place: 1 for place, _ in self.rows}

    def of_unknown(self, k: int) -> dict[int, int]:
        return {place: nu[k] for place, nu in self.nu.items()}

    def total_up(self) -> list[str]:
        sums = [self.of_unknown(k) for k in range(self.unknowns)]
        return [f"        s->solutes += {self.add(self.ones())};", f"        s->strength += {self.add(self.z2)};",
                *(f"        s->sum[{k}] += {self.add(nu)};" for k, nu in enumerate(sums) if any(nu.values()))]

    def scale(self) -> list[str]:
        return [f"        m[{place}] *= {' * '.join(['a'] * int(row['count']))};" for place, row in self.rows]

    def share(self) -> list[str]:
        """a D1 + 2 a^2 D2 = total, D2 what holds the group's part twice."""
        once, twice = ({place: int(int(row["count"]) == n) for place, row in self.rows} for n in (1, 2))
        if not any(twice.values()):
            return [f"        const double a = total / ({self.add(once)});", *self.scale()]
        return [f"        const double once = {self.add(once)}, twice = {self.add(twice)};",
                "        const double a = 2.0 * total / (once + sqrt(once * once + 8.0 * twice * total));", *self.scale()]

    def add_up(self) -> list[str]:
        """What the group adds to the sums and their derivatives. Its own logarithm follows the others: with held parts
        counted (1, but 2 in Na2SO4),  d ln a = -(sum held nu m du - sum held slope m dI) / sum held^2 m,  which takes
        from every derivative what moves along with it."""
        place_of_all = list(self.nu)
        held = {place: int(row["count"]) for place, row in self.rows} if self.shared else {}
        here = range(self.unknowns)
        out = [f"        const double p{place} = by_i[{place}] * m[{place}];" for place in place_of_all]
        less = {"m": "", "charge": ""} | {f"x{k}": "" for k in here}
        if self.shared:
            weighed = {place: held[place] * self.z2[place] for place in held}
            out += [f"        const double held = {self.add(held)};",
                    f"        const double inverse = 1.0 / ({self.add({p: h * h for p, h in held.items()})});",
                    f"        const double slope = {self.add(held, 'p{}')};",
                    f"        const double charge = {self.add(weighed)};"]
            out += [f"        const double x{k} = {self.add({p: held[p] * self.nu[p][k] for p in held})}, f{k} = x{k} * inverse;"
                    for k in here if any(held[p] * self.nu[p][k] for p in held)]
        out += [f"        s->solutes += {self.add(self.ones())};", f"        s->strength += {self.add(self.z2)};",
                f"        s->solutes_by_i += {'held * slope * inverse - ' if self.shared else '-'}({self.add(self.ones(), 'p{}')});",
                f"        s->strength_by_i += {'charge * slope * inverse - ' if self.shared else '-'}({self.add(self.z2, 'p{}')});"]
        for k in here:
            nu = self.of_unknown(k)
            if not any(nu.values()):
                continue
            charged = {place: nu[place] * self.z2[place] for place in nu}
            out += [f"        s->sum[{k}] += {self.add(nu)};",
                    f"        s->sum_by_i[{k}] += {f'f{k} * slope - ' if self.shared else '-'}({self.add(nu, 'p{}')});",
                    f"        s->strength_by_u[{k}] += {self.add(charged)}{f' - f{k} * charge' if self.shared else ''};",
                    f"        s->solutes_by_u[{k}] += {self.add(nu)}{f' - f{k} * held' if self.shared else ''};"]
            for j in range(k + 1):
                both = {place: nu[place] * self.nu[place][j] for place in nu}
                if any(self.of_unknown(j).values()):
                    out.append(f"        s->jacobian[{k}][{j}] += {self.add(both)}{f' - f{k} * x{j}' if self.shared else ''};")
        return out


def switch(head: str, bodies: list[tuple[str, list[str]]]) -> list[str]:
    """One body a group; no one asks for others, whose labels stand with the last."""
    out = [head, "{", "    switch (g) {"]
    named = [name for name, _ in bodies]
    for name, body in bodies:
        labels = [f"    case TW_GROUP_{name.upper()}:"]
        if name == named[-1]:
            labels += [f"    case TW_GROUP_{other.upper()}:" for other in GROUPS if other not in named]
            labels += ["    case TW_GROUPS:", "    default:"]
        out += [*labels[:-1], labels[-1] + " {", *body, "        break;", "    }"]
    return out + ["    }", "}", ""]


def functions(species: list[dict[str, str]], unknowns: int) -> list[str]:
    """What a water of the first so many unknowns needs."""
    groups = [Group(name, species, unknowns) for name in SOLVED]
    name = f"tw_water_group_{{}}_{unknowns}"
    adds = "const double *restrict m, const double *restrict by_i, tw_water_sums *restrict s"
    totals = "const double *restrict m, tw_water_sums *restrict s"
    share, total, add = (name.format(what) for what in ("share", "total_up", "add_up"))
    return [f"/* Of the first {unknowns} unknowns. Share a total out among the species of a group, whose molalities are known but for",
            " * the activity of what they share. */",
            *switch(f"static inline void {share}(tw_species_group g, double total, double *m)", [(g.name, g.share()) for g in groups[1:]]),
            "/* Add the sums of a group. */",
            *switch(f"static inline void {total}(tw_species_group g, {totals})", [(g.name, g.total_up()) for g in groups]),
            "/* The same with derivatives; by_i: d ln gamma/dI of each species. */",
            *switch(f"static inline void {add}(tw_species_group g, {adds})", [(g.name, g.add_up()) for g in groups])]


def tables(species: list[dict[str, str]], lanes: int) -> list[str]:
    """Whole numbers by unknown, for loops over lanes; what each species and each block of lanes wants."""
    out = ["/* How often H+, CO3, SO4, PO4, HOCl and H2O stand in each species. */",
           f"static const double TW_WATER_NU[5][{lanes}] = {{"]
    out += ["    {" + ", ".join(f"{int(row[u])}.0" for row in species[:lanes]) + "}," for u in UNKNOWNS]
    out += ["};", f"static const double TW_WATER_H2O[{lanes}] = {{"
            + ", ".join(f"{int(row['water'])}.0" for row in species[:lanes]) + "};", ""]
    wants, blocks, whole = [], [0] * (lanes // LANES), [0] * (lanes // LANES)
    for place, row in enumerate(species):
        unknowns = sum(1 << k for k, u in enumerate(UNKNOWNS) if int(row[u]))
        group = 0 if row["group"] == "free" else 1 << (len(UNKNOWNS) + GROUPS.index(row["group"]))
        wants.append(unknowns | group)
        rare = group if row["group"] in RARE else unknowns & 0b11000
        if place < lanes and row["group"] in SOLVED:
            blocks[place // LANES] |= rare or 1
        if place < lanes:
            whole[place // LANES] |= wants[-1]
    common = next(place for place, row in enumerate(species) if row["po4"] != "0" or row["hocl"] != "0") // LANES * LANES
    out += ["/* Before this place, an end of a block, PO4 and HOCl are in no species. */", f"#define TW_WATER_COMMON {common}", "",
            "/* Bits of the unknowns and, from TW_WATER_GROUP_BIT on, of the group that a species is made of. */",
            f"#define TW_WATER_GROUP_BIT {len(UNKNOWNS)}", f"#define TW_WATER_UNKNOWN_BITS {2 ** len(UNKNOWNS) - 1}u",
            f"static const unsigned short TW_WATER_WANTS[{len(species)}] = {{{', '.join(map(str, wants))}}};",
            "/* A block of lanes is worth a look when the water has any of these; bit 0, H+, is always there. */",
            f"static const unsigned short TW_WATER_BLOCK_WANTS[{len(blocks)}] = {{{', '.join(map(str, blocks))}}};",
            "/* All that the species of a block are made of. */",
            f"static const unsigned short TW_WATER_BLOCK_OF[{len(blocks)}] = {{{', '.join(map(str, whole))}}};", ""]
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
    calcium = Group("ca", species, 5, "co3")
    out = ["/* Made by tools/gen/water_sums.py from data/species.csv. */",
           "#ifndef TW_GEN_WATER_SUMS_H", "#define TW_GEN_WATER_SUMS_H", "", "#include <math.h>", "",
           '#include "gen/water_tables.h"', "",
           "/* Places of the species that are solved for, filled up to whole blocks. */",
           f"#define TW_WATER_LANES {lanes}", "", *tables(species, lanes),
           "/* All sums, and how they answer to the unknowns u and to the ionic strength I (jacobian: c <= a). */",
           "typedef struct {", "    double sum[5], sum_by_i[5], jacobian[5][5];        /* of nu m             */",
           "    double strength, strength_by_u[5], strength_by_i; /* of the charge squared m */",
           "    double solutes, solutes_by_u[5], solutes_by_i;    /* of m                */", "} tw_water_sums;", "",
           *functions(species, 3), *functions(species, 5),
           "/* Calcium in balance with calcite: its logarithm is a constant less that of CO3. Its sum, its molalities times a,",
           " * what it adds. */",
           "static inline double tw_water_calcite_sum(const double *m)", "{", f"    return {calcium.add(calcium.ones())};", "}", "",
           "static inline void tw_water_calcite_scale(double *m, double a)", "{", *(line[4:] for line in calcium.scale()), "}", "",
           "static inline void tw_water_calcite_add_up(const double *restrict m, const double *restrict by_i, "
           "tw_water_sums *restrict s)", "{", *(line[4:] for line in calcium.add_up()), "}", "", "#endif", ""]
    (out_dir / "gen").mkdir(parents=True, exist_ok=True)
    (out_dir / "gen" / "water_sums.h").write_text("\n".join(out), encoding="utf-8")
