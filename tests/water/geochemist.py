"""An independent geochemist: the published model by plain Newton on every component, charge as charge.

Nothing here is taken from src/ or data/: constants are typed from phreeqc.dat (USGS, 2025-09-25) and the papers named,
masses and oxygen are counted from formulas, conservation of water is the balance of oxygen.
"""
from __future__ import annotations

import math
from math import exp, log, log10, sqrt

LN10 = log(10.0)
MW = {"CaCO3": 100.0869, "NaCl": 58.4428, "SO4": 96.0626, "K": 39.0983, "B": 10.811, "Cl2": 70.906, "CYA": 129.0742}
MASTERS = ["H", "CO3", "SO4", "Ca", "Mg", "Na", "K", "H3BO3"]


def an(a1, a2=0.0, a3=0.0, a4=0.0, a5=0.0, a6=0.0):
    return lambda t: a1 + a2 * t + a3 / t + a4 * log10(t) + a5 / t**2 + a6 * t * t


def vh(k25, kj):
    return lambda t: k25 - kj * 1000.0 / (8.3147 * LN10) * (1.0 / t - 1.0 / 298.15)


def add(*f):
    return lambda t: sum(g(t) for g in f)


HCO3 = an(107.8871, 0.03252849, -5151.79, -38.92561, 563713.9)
MGSO4 = an(0, 9.64e-3, -136)
HSO4 = an(-56.889, 0.006473, 2307.9, 19.8858)
# name: (z, composition in masters, oxygen, water activity exponent, log10 K, activity)
ION, DAV, NEU = "ion", "davies", "neutral"
SPECIES = {
    "H": (1, {"H": 1}, 0, 0, None, (ION, 9.0, 0.0)),
    "CO3": (-2, {"CO3": 1}, 3, 0, None, (ION, 5.4, 0.0)),
    "SO4": (-2, {"SO4": 1}, 4, 0, None, (ION, 5.0, -0.04)),
    "Ca": (2, {"Ca": 1}, 0, 0, None, (ION, 5.0, 0.165)),
    "Mg": (2, {"Mg": 1}, 0, 0, None, (ION, 5.5, 0.20)),
    "Na": (1, {"Na": 1}, 0, 0, None, (ION, 4.08, 0.082)),
    "K": (1, {"K": 1}, 0, 0, None, (ION, 3.5, 0.015)),
    "H3BO3": (0, {"H3BO3": 1}, 3, 0, None, (NEU, 0, 0.1)),
    "OH": (-1, {"H": -1}, 1, 1, an(293.29227, 0.1360833, -10576.913, -123.73158, 0, -6.996455e-5), (ION, 3.5, 0.0)),
    "HCO3": (-1, {"H": 1, "CO3": 1}, 3, 0, HCO3, (ION, 5.4, 0.0)),
    "CO2": (0, {"H": 2, "CO3": 1}, 2, -1, an(464.1965, 0.09344813, -26986.16, -165.75951, 2248628.9), (NEU, 0, 0.066)),
    "CaCO3": (0, {"Ca": 1, "CO3": 1}, 3, 0, an(-1228.732, -0.29944, 35512.75, 485.818), (NEU, 0, 0.1)),
    "CaHCO3": (1, {"Ca": 1, "CO3": 1, "H": 1}, 3, 0, an(-6.009, 3.377e-2, 2044), (ION, 6.0, 0.0)),
    "CaOH": (1, {"Ca": 1, "H": -1}, 1, 1, vh(-12.78, 0), (DAV,)),
    "CaSO4": (0, {"Ca": 1, "SO4": 1}, 4, 0, an(1.478, 8.29e-3, -538.2), (NEU, 0, 0.0445)),
    "CaHSO4": (1, {"Ca": 1, "SO4": 1, "H": 1}, 4, 0, add(HSO4, vh(1.08, 0)), (DAV,)),
    "MgCO3": (0, {"Mg": 1, "CO3": 1}, 3, 0, an(0.991, 0.00667), (NEU, 0, 0.1)),
    "MgHCO3": (1, {"Mg": 1, "CO3": 1, "H": 1}, 3, 0, an(48.6721, 0.03252849, -2614.335, -18.00263, 563713.9), (ION, 4.0, 0.0)),
    "MgOH": (1, {"Mg": 1, "H": -1}, 1, 1, vh(-11.44, 15.952 * 4.184), (ION, 6.5, 0.0)),
    "MgSO4": (0, {"Mg": 1, "SO4": 1}, 4, 0, MGSO4, (NEU, 0, 0.20)),
    "Mg(SO4)2": (-2, {"Mg": 1, "SO4": 2}, 8, 0, add(MGSO4, an(0, -1.51e-3, 0, 0, 8.604e4)), (ION, 7.0, 0.047)),
    "NaHCO3": (0, {"Na": 1, "CO3": 1, "H": 1}, 3, 0, add(HCO3, vh(-0.06, 21)), (NEU, 0, 0.20)),
    "NaSO4": (-1, {"Na": 1, "SO4": 1}, 4, 0, an(-0.304, 4.51e-3, -28.9), (ION, 3.5, 0.1072)),
    "Na2SO4": (0, {"Na": 2, "SO4": 1}, 4, 0, an(15.432, -5.75e-3, -4796), (NEU, 0, 0.0885)),
    "KHCO3": (0, {"K": 1, "CO3": 1, "H": 1}, 3, 0, add(HCO3, vh(-0.35, 12)), (NEU, 0, 0.0094)),
    "KSO4": (-1, {"K": 1, "SO4": 1}, 4, 0, an(-3.0246, 9.986e-3, 0, 0, 1.093e5), (ION, 5.4, 0.19)),
    "HSO4": (-1, {"H": 1, "SO4": 1}, 4, 0, HSO4, (DAV,)),
    "H2BO3": (-1, {"H3BO3": 1, "H": -1}, 3, 0, vh(-9.24, 3.224 * 4.184), (DAV,)),
}
NAMES = list(SPECIES)
KSP = an(17.118, -0.046528, -3496)
KH = an(10.5624, -2.3547e-2, -3972.8, 0, 5.8746e5, 1.9194e-5)
CHLORIDE = (ION, 3.63, 0.017)


def kell(t):
    return (999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3 + 105.56302e-9 * t**4
            - 280.54253e-12 * t**5) / (1 + 16.879850e-3 * t)


def dielectric(T):
    bp = -8032.5 + 4.2142e6 / T + 2.1417 * T
    return (342.79 * exp(T * (-5.0866e-3 + 9.469e-7 * T))
            + (-2.0525 + 3115.9 / (T - 182.89)) * log((bp + 1.01325) / (bp + 1000)))


def debye(T):
    th = 1 - T / 647.096
    rho = 322 * (1 + 1.99274064 * th**(1 / 3) + 1.09965342 * th**(2 / 3) - 0.510839303 * th**(5 / 3)
                 - 1.75493479 * th**(16 / 3) - 45.5170352 * th**(43 / 3) - 6.7469445e5 * th**(110 / 3)) / 1000
    e2 = 1.671008e-3 / (dielectric(T) * T)
    b = sqrt(8 * math.pi * 6.02252e23 * e2 * rho / 1000)
    return b * e2 / (2 * LN10), b * 1e-8


def lg(law, z, I, A, B):
    r = sqrt(I)
    if law[0] == NEU:
        return law[2] * I
    if law[0] == DAV:
        return -A * z * z * (r / (1 + r) - 0.3 * I)
    return -A * z * z * r / (1 + B * law[1] * r) + law[2] * I


def gauss(a, b):
    n = len(b)
    for p in range(n):
        q = max(range(p, n), key=lambda r: abs(a[r][p]))
        a[p], a[q], b[p], b[q] = a[q], a[p], b[q], b[p]
        for r in range(p + 1, n):
            f = a[r][p] / a[p][p]
            if f:
                for c in range(p, n):
                    a[r][c] -= f * a[p][c]
                b[r] -= f * b[p]
    x = [0.0] * n
    for p in range(n - 1, -1, -1):
        x[p] = (b[p] - sum(a[p][c] * x[c] for c in range(p + 1, n))) / a[p][p]
    return x


class Constants:
    cache: dict[float, "Constants"] = {}

    def __init__(self, t):
        T = t + 273.15
        self.T, self.t = T, t
        self.lnk = {n: (s[4](T) * LN10 if s[4] else 0.0) for n, s in SPECIES.items()}
        self.A, self.B = debye(T)
        self.ksp, self.kh = KSP(T) * LN10, KH(T) * LN10

    @classmethod
    def at(cls, t):
        if t not in cls.cache:
            cls.cache[t] = cls(t)
        return cls.cache[t]


class Water:
    """The species of 1 kg of water."""

    def __init__(self, c, m, lngam, I, aw, lna, cl):
        self.c, self.m, self.lngam, self.I, self.aw, self.lna, self.cl = c, m, lngam, I, aw, lna, cl
        self.ph = -lna["H"] / LN10

    def total(self, k):
        return sum(SPECIES[n][1].get(k, 0) * x for n, x in self.m.items())

    def alk(self):
        return (self.total("Na") + self.total("K") + 2 * self.total("Ca") + 2 * self.total("Mg") - self.cl
                - 2 * self.total("SO4"))

    def oxygen(self):
        return sum(SPECIES[n][2] * x for n, x in self.m.items())

    def si(self):
        return (self.lna["Ca"] + self.lna["CO3"] - self.c.ksp) / LN10 if "Ca" in self.m else -math.inf

    def pco2(self):
        return (log(self.m["CO2"]) + self.lngam["CO2"] - self.c.kh) / LN10


def solve(t, tot, ph=None, pco2=None, calcite=False, free=None, start_ph=7.5):
    """tot: totals by master and Cl. ph given: H+ is fixed and the total named `free` (CO3 or Na) closes the charge."""
    c = Constants.at(t)
    have = [k for k in MASTERS if k == "H" or tot.get(k, 0.0) > 0 or (k == "CO3" and (pco2 is not None or free == "CO3"))
            or (calcite and k in ("Ca", "CO3")) or k == free]
    names = [n for n in NAMES if all(k in have for k in SPECIES[n][1])]
    p0 = ph if ph is not None else start_ph
    lna = {k: log(max(tot.get(k, 0.0), 1e-5)) - 0.5 for k in have}
    lna["H"] = -p0 * LN10
    if "CO3" in have:
        lna["CO3"] += -2.0 - max(0.0, 8.5 - p0) * LN10
    if pco2 is not None:
        lna["CO3"] = pco2 * LN10 + c.kh - c.lnk["CO2"] - 2 * lna["H"]
    if calcite:
        lna["CO3"] = c.ksp - lna["Ca"]
    unknown = [k for k in have if not (k == "H" and ph is not None)]
    I, aw = max(1e-6, 0.5 * sum(tot.values())), 1.0
    calm = 0
    for it in range(300):
        gam = {n: lg(SPECIES[n][5], SPECIES[n][0], I, c.A, c.B) * LN10 for n in names}
        m = {n: exp(min(5.0, c.lnk[n] - gam[n] + SPECIES[n][3] * log(aw)
                        + sum(v * lna[k] for k, v in SPECIES[n][1].items()))) for n in names}
        rows, res = [], []
        for k in have:
            if k == "H":
                res.append(sum(SPECIES[n][0] * m[n] for n in names) - tot["Cl"])
                rows.append([sum(SPECIES[n][0] * SPECIES[n][1].get(j, 0) * m[n] for n in names) for j in unknown])
                continue
            if k == free:
                continue
            if k == "CO3" and pco2 is not None:
                res.append(lna["CO3"] + 2 * lna["H"] + c.lnk["CO2"] - log(aw) - pco2 * LN10 - c.kh)
                rows.append([{"CO3": 1.0, "H": 2.0}.get(j, 0.0) for j in unknown])
                continue
            if k == "CO3" and calcite:
                res.append(lna["CO3"] + lna["Ca"] - c.ksp)
                rows.append([{"CO3": 1.0, "Ca": 1.0}.get(j, 0.0) for j in unknown])
                continue
            w = {n: SPECIES[n][1].get(k, 0) - (SPECIES[n][1].get("CO3", 0) if calcite and k == "Ca" else 0) for n in names}
            goal = tot[k] - tot["CO3"] if calcite and k == "Ca" else tot[k]
            res.append(sum(w[n] * m[n] for n in names) - goal)
            rows.append([sum(w[n] * SPECIES[n][1].get(j, 0) * m[n] for n in names) for j in unknown])
        scale = [max(abs(x) for x in row) or 1.0 for row in rows]
        dx = gauss([[x / s for x in row] for row, s in zip(rows, scale)], [-r / s for r, s in zip(res, scale)])
        big = max(abs(x) for x in dx)
        part = min(1.0, 1.0 / big) if big else 1.0
        for k, d in zip(unknown, dx):
            lna[k] += part * d
        newI = 0.5 * (sum(SPECIES[n][0] ** 2 * m[n] for n in names) + tot["Cl"])
        newaw = 1 - 0.017 * (sum(m.values()) + tot["Cl"])
        moved = abs(newI - I) / I
        I, aw = (newI if newI < 2 * I else 2 * I), max(newaw, 0.9)
        calm = calm + 1 if big < 1e-11 and moved < 1e-11 else 0
        if calm == 2:
            return Water(c, m, gam, I, aw, dict(lna), tot["Cl"])
    raise ArithmeticError("did not settle")


def totals(row):
    ca, mg = row["ch"] / MW["CaCO3"] / 1e3, row["mh"] / MW["CaCO3"] / 1e3
    salt, so4, k = row["salt"] / MW["NaCl"] / 1e3, row["so4"] / MW["SO4"] / 1e3, row["k"] / MW["K"] / 1e3
    alk = 2 * row["ta"] / MW["CaCO3"] / 1e3
    x = 2 * ca + 2 * mg + k - alk - 2 * so4
    return {"Ca": ca, "Mg": mg, "SO4": so4, "K": k, "H3BO3": row["b"] / MW["B"] / 1e3,
            "Cl": salt + max(0, x), "Na": salt + max(0, -x)}


def inverse(row):
    tot = totals(row)
    w = solve(row["t"], tot, ph=row["ph"], free="CO3")
    tot["CO3"] = w.total("CO3")
    return tot, w


GFW = 18.0153e-3


def moles_of_water(w, kg):
    """Oxygen atoms in the vessel, water and species."""
    return kg / GFW + w.oxygen() * kg


def per_kg(mol, kg):
    return {k: x / kg for k, x in mol.items()}


def settle(mol, oxygen, kg, t, pco2=None, calcite=False, start_ph=7.5):
    """Amounts in the vessel at temperature t; the mass of water follows from oxygen."""
    mol = dict(mol)
    c0, ca0 = mol.get("CO3", 0.0), mol.get("Ca", 0.0)
    w = None
    for _ in range(5):
        w = solve(t, per_kg(mol, kg) if pco2 is None else {**per_kg(mol, kg), "CO3": 0.0}, pco2=pco2, calcite=calcite,
                  start_ph=start_ph)
        ox = oxygen
        if pco2 is not None:
            ox += 2 * (w.total("CO3") * kg - c0)
        if calcite:
            ox -= 3 * (ca0 - w.total("Ca") * kg)
        kg = ox / (1 / GFW + w.oxygen())
    after = dict(mol)
    if pco2 is not None:
        after["CO3"] = w.total("CO3") * kg
    return w, kg, after, ox


DOSES = {"NaHCO3": ({"Na": 1, "CO3": 1}, 3), "Na2CO3": ({"Na": 2, "CO3": 1}, 3), "NaHSO4": ({"Na": 1, "SO4": 1}, 4),
         "HCl": ({"Cl": 1}, 0), "CaCl2": ({"Ca": 1, "Cl": 2}, 0), "NaCl": ({"Na": 1, "Cl": 1}, 0), "NaOH": ({"Na": 1}, 1),
         "CO2": ({"CO3": 1}, 2)}


def buffer(t, tot, ph):
    alk = []
    for p in (ph + 0.001, ph - 0.001):
        w = solve(t, tot, ph=p, free="Na")
        alk.append(w.alk())
    return (alk[0] - alk[1]) / 0.002


VOLUME = {"Na": -1.21, "K": 9.02, "Ca": -17.85, "Mg": -21.17, "Cl": 17.83, "SO4": 13.98, "HCO3": 23.4, "CO3": -4.3,
          "CO2": 32.8, "H3BO3": 39.0, "H2BO3": 22.0}
MASS = {"Na": 22.98977, "K": 39.0983, "Ca": 40.078, "Mg": 24.305, "Cl": 35.453, "SO4": 96.0626, "HCO3": 61.0168,
        "CO3": 60.0089, "CO2": 44.0095, "H3BO3": 61.833, "H2BO3": 60.825}


def density(w):
    n = {k: w.total(k) for k in ("Na", "K", "Ca", "Mg", "SO4")}
    n["Cl"] = w.cl
    n["HCO3"] = sum(w.m.get(s, 0) for s in ("HCO3", "CaHCO3", "MgHCO3", "NaHCO3", "KHCO3"))
    n["CO3"] = sum(w.m.get(s, 0) for s in ("CO3", "CaCO3", "MgCO3"))
    n["CO2"] = w.m.get("CO2", 0)
    n["H3BO3"], n["H2BO3"] = w.m.get("H3BO3", 0), w.m.get("H2BO3", 0)
    return (1000 + sum(n[k] * MASS[k] for k in n)) / (1e6 / kell(w.c.t) + sum(n[k] * VOLUME[k] for k in n))


DW = {"Na": (1.33, 75, 3.627, 0.7037), "K": (1.96, 254, 3.484, 0.1964), "Ca": (0.792, 34, 5.411, 1.046),
      "Mg": (0.705, -4, 5.569, 1.047), "Cl": (2.033, 216, 3.16, 0.7432), "HCO3": (1.18, -190, 11.386, 0),
      "CO3": (0.955, -103, 2.246, 0.3686), "SO4": (1.07, -77.4, 10.14, 0.5549), "H": (9.31, 838, 6.96, 0.206),
      "OH": (5.27, 478, 0.8695, 0), "NaSO4": (0.4, -200, 3.5, 0.5), "KSO4": (1.22, 100, 25, 2.5),
      "MgHCO3": (0.478, 0, 3.5, 0), "CaHCO3": (0.506, 0, 3.5, 0), "HSO4": (1.22, 1000, 15, 0),
      "Mg(SO4)2": (1.11, -500, 3.5, 0.731)}
BJ = {"Na": 0.086, "K": -0.007, "Ca": 0.285, "Mg": 0.385, "Cl": -0.007, "SO4": 0.208, "HCO3": 0.13, "CO3": 0.294,
      "NaSO4": 0.25, "CaHCO3": 0.2, "MgHCO3": 0.3, "CaSO4": 0.3, "MgSO4": 0.4}


def viscosity(t):
    d = 20 - t
    return 1.002 * 10 ** (d / (t + 96) * (1.2378 - 1.303e-3 * d + 3.06e-6 * d * d + 2.55e-8 * d**3))


def conductivity(w):
    T, t, I = w.c.T, w.c.t, w.I
    m = {**w.m, "Cl": w.cl}
    z = {**{n: SPECIES[n][0] for n in w.m}, "Cl": -1}
    on = [n for n in DW if m.get(n, 0) > 0]
    eta, eta25 = viscosity(t), viscosity(25.0)
    D = {n: DW[n][0] * 1e-9 * exp(DW[n][1] / T - DW[n][1] / 298.15) * eta25 / eta for n in on}
    F, R, e = 96485.33, 8.31446, 1.60218e-19
    lam0 = {n: 1e4 * abs(z[n]) * F * F * D[n] / (R * 298.15) for n in on}
    side = {s: [n for n in on if z[n] * s > 0] for s in (1, -1)}
    M = {s: sum(m[n] for n in side[s]) for s in side}
    E = {s: sum(m[n] * abs(z[n]) for n in side[s]) for s in side}
    zz = {s: E[s] / M[s] for s in side}
    mob = {s: sum(m[n] * abs(z[n]) * D[n] for n in side[s]) / M[s] for s in side}
    tt = mob[1] / (mob[1] + mob[-1])
    q = 1 / ((tt / zz[1] + (1 - tt) / zz[-1]) * (zz[1] + zz[-1]))
    B = w.c.B
    a0 = e * e / (6 * math.pi)
    B1 = a0 / (2 * 8.8542e-12 * dielectric(T) * 1.38066e-23 * T) * q / (1 + sqrt(q)) * B * 1e10 * zz[1] * zz[-1]
    B2 = a0 * 6.02252e23 * B * 1e17 / eta
    thick = 1 + sum(b * m.get(n, 0) for n, b in BJ.items())
    total = 0.0
    for s in side:
        weight = (3 * M[s] * (zz[s] - 1) + M[s]) / (2 * E[s] / (E[1] + E[-1]))
        for n in side[s]:
            a = DW[n][2] - (0.126 * abs(z[n]) * (zz[1] - 1) if s < 0 else 0)
            kap = a * B * sqrt(I)
            lam = (lam0[n] - B2 * abs(z[n]) * sqrt(I) / (1 + kap)) * (1 - B1 * sqrt(I) / (1 + kap) ** 2) * thick ** -DW[n][3]
            total += lam * m[n] * z[n] ** 2 / weight
    return 500 * (E[1] + E[-1]) * (kell(t) / 1000) ** 2 * total


def equilibrium(row):
    tot, w = inverse(row)
    out = {"Na_total_mmol_per_kgw": 1e3 * tot["Na"], "Cl_total_mmol_per_kgw": 1e3 * tot["Cl"],
           "DIC_mmol_per_kgw": 1e3 * tot["CO3"], "CO2aq_mmol_per_kgw": 1e3 * w.m["CO2"],
           "HCO3_mmol_per_kgw": 1e3 * w.m["HCO3"], "CO3_mmol_per_kgw": 1e3 * w.m["CO3"], "log10_pCO2_atm": w.pco2(),
           "ionic_strength_mol_per_kgw": w.I, "SI_calcite_log10": w.si(),
           "specific_conductance_at_T_uS_per_cm": conductivity(w), "density_kg_per_L": density(w),
           "Ca_free_mmol_per_kgw": 1e3 * w.m.get("Ca", 0), "CaHCO3_pair_mmol_per_kgw": 1e3 * w.m.get("CaHCO3", 0),
           "CaCO3_pair_mmol_per_kgw": 1e3 * w.m.get("CaCO3", 0), "CaSO4_pair_mmol_per_kgw": 1e3 * w.m.get("CaSO4", 0),
           "borate_H2BO3_mmol_per_kgw": 1e3 * w.m.get("H2BO3", 0)}
    for n, s in (("log10_gamma_HCO3", "HCO3"), ("log10_gamma_CO3", "CO3"), ("log10_gamma_H", "H")):
        out[n] = w.lngam[s] / LN10
    out["log10_gamma_Ca"] = lg(SPECIES["Ca"][5], 2, w.I, w.c.A, w.c.B)
    cc, kg, _, _ = settle(tot, moles_of_water(w, 1.0), 1.0, row["t"], calcite=True, start_ph=row["ph"])
    out["CCPP_closed_mg_per_kgw_as_CaCO3"] = (tot["Ca"] - cc.total("Ca") * kg) * MW["CaCO3"] * 1e3
    out["pH_at_calcite_equilibrium"] = cc.ph
    out["alkalinity_at_calcite_equilibrium_mg_per_kgw_as_CaCO3"] = cc.alk() * MW["CaCO3"] * 500
    if tot["Na"] > 1e-6:
        out["buffer_intensity_dAlk_dpH_mmol_per_kgw_per_pH"] = 1e3 * buffer(row["t"], tot, row["ph"])
    return out


def final(w, kg):
    return {"final_pH": w.ph, "final_alkalinity_mg_per_kgw_as_CaCO3": w.alk() * MW["CaCO3"] * 500,
            "final_DIC_mmol_per_kgw": 1e3 * w.total("CO3"), "final_Ca_total_mmol_per_kgw": 1e3 * w.total("Ca"),
            "final_SI_calcite_log10": w.si(), "final_log10_pCO2_atm": w.pco2(), "final_ionic_strength_mol_per_kgw": w.I,
            "final_Na_mmol_per_kgw": 1e3 * w.total("Na"), "final_Cl_mmol_per_kgw": 1e3 * w.cl,
            "final_SO4_total_mmol_per_kgw": 1e3 * w.total("SO4"), "final_water_mass_kg": kg,
            "final_specific_conductance_at_T_uS_per_cm": conductivity(w)}


def step(state, dose, t, pco2):
    """state: amounts, oxygen, kg, pH. dose: {compound: mmol}."""
    mol, ox, kg, ph = state
    mol = dict(mol)
    for name, mmol in dose.items():
        parts, o = DOSES[name]
        for k, n in parts.items():
            mol[k] = mol.get(k, 0.0) + 1e-3 * mmol * n
        ox += 1e-3 * mmol * o
    w, kg, mol, ox = settle(mol, ox, kg, t, pco2=pco2, start_ph=ph)
    return (mol, ox, kg, w.ph), w


def begin(row):
    tot, w = inverse(row)
    return (tot, moles_of_water(w, 1.0), 1.0, w.ph), w


# ---------------------------------------------------------------------------------------------------------- chlorine

def chlorine(model, t, ph, fc, cya, salt):
    """Ideal and with Davies' activity: all of chlorine on the ring and free, by bisection on HOCl."""
    T = t + 273.15
    c, r = fc / MW["Cl2"] / 1e3, cya / MW["CYA"] / 1e3
    pka = 3000.0 / T - 10.0686 + 0.0253 * T
    full = model == "obrien1974_25C"
    if full:
        pka = 7.54
        pk6, pk7a, pk9a = 6.88, 4.51, 10.12 + 6.90 - 11.40
    else:
        pk6, pk7a, pk9a = 1743 / T + 1.12, 2028 / T - 2.15, 2229 / T - 1.65
    A, _ = debye(T)
    kw = 10 ** SPECIES["OH"][4](T)

    def at(g, aw):
        h = 10.0 ** -ph
        ring = {"H3Cy": (0, 0, 1.0), "H2Cy": (-1, 0, 10 ** -pk6 / h)}
        k9 = 10 ** pk9a
        ring["HClCy"] = (-1, 1, ring["H2Cy"][2] * k9 / aw)
        ring["Cl2Cy"] = (-1, 2, ring["HClCy"][2] * 10 ** pk7a / aw)
        if full:
            ring["HCy"] = (-2, 0, ring["H2Cy"][2] * 10 ** -11.40 / h)
            ring["Cy"] = (-3, 0, ring["HCy"][2] * 10 ** -13.5 / h)
            ring["ClCy"] = (-2, 1, ring["HClCy"][2] * 10 ** -10.12 / h)
            ring["H2ClCy"] = (0, 1, ring["HClCy"][2] * h * 10 ** 5.33)
            ring["HCl2Cy"] = (0, 2, ring["Cl2Cy"][2] * h * 10 ** 3.75)
            ring["Cl3Cy"] = (0, 3, ring["HCl2Cy"][2] * 10 ** 1.80 / aw)

        def species(x):
            weight = {n: v * x**k / g[abs(z)] for n, (z, k, v) in ring.items()}
            free = r / sum(weight.values())
            m = {n: free * v for n, v in weight.items()}
            m["HOCl"], m["OCl"] = x, x * 10 ** -pka / h / g[1]
            return m

        low, high = 0.0, c
        for _ in range(200):
            x = 0.5 * (low + high)
            m = species(x)
            got = m["HOCl"] + m["OCl"] + sum(ring[n][1] * m[n] for n in ring)
            low, high = (x, high) if got < c else (low, x)
        m = species(0.5 * (low + high))
        return m, ring, sum(ring[n][1] * m[n] for n in ring)

    ideal, _, bound = at([1.0] * 4, 1.0)
    if salt is None:
        return {"pKa_HOCl": pka, "pK6_H3Cy": pk6, "pK7a_Cl2Cy_hydrolysis": pk7a, "pK9a_HClCy_hydrolysis": pk9a,
                "HOCl_mg_per_kgw_as_Cl2": ideal["HOCl"] * 70906, "OCl_mg_per_kgw_as_Cl2": ideal["OCl"] * 70906,
                "bound_mg_per_kgw_as_Cl2": bound * 70906, "HOCl_fraction_of_total": ideal["HOCl"] / c,
                "bound_fraction_of_total": bound / c, "HClCy_mmol_per_kgw": 1e3 * ideal["HClCy"],
                "Cl2Cy_mmol_per_kgw": 1e3 * ideal["Cl2Cy"], "H3Cy_mmol_per_kgw": 1e3 * ideal["H3Cy"],
                "H2Cy_mmol_per_kgw": 1e3 * ideal["H2Cy"]}
    cl = salt / MW["NaCl"] / 1e3
    I, aw = max(cl, 1e-6), 1.0
    for _ in range(60):
        d = sqrt(I) / (1 + sqrt(I)) - 0.3 * I
        g = [10 ** (-A * z * z * d) for z in range(4)]
        real, ring, held = at(g, aw)
        h = 10.0 ** -ph / g[1]
        oh = kw * aw / 10.0 ** -ph / g[1]
        charge = sum(-ring[n][0] * real[n] for n in ring) + real["OCl"] + cl + oh - h
        square = sum(ring[n][0] ** 2 * real[n] for n in ring) + real["OCl"] + cl + oh + h
        na = max(charge, 0.0)
        I = 0.5 * (square + abs(charge))
        aw = 1 - 0.017 * (sum(real.values()) + cl + na + oh + h)
    out = {"pKa_HOCl_thermodynamic": pka, "activity_ionic_strength_mol_per_kgw": I, "activity_log10_gamma_monovalent_anion": -A * d}
    for word, m, b in (("ideal", ideal, bound), ("activity", real, held)):
        for n in ("HOCl", "OCl"):
            out[f"{word}_{n}_mg_per_kgw_as_Cl2"] = m[n] * 70906
            out[f"{word}_{n}_fraction_of_total"] = m[n] / c
        out[f"{word}_bound_mg_per_kgw_as_Cl2"] = b * 70906
        out[f"{word}_bound_fraction_of_total"] = b / c
    for n in ("HOCl", "HClCy", "Cl2Cy", "H2ClCy", "H3Cy", "H2Cy"):
        out[f"ideal_{n}_mmol_per_kgw"] = 1e3 * ideal.get(n, 0.0)
    return out
