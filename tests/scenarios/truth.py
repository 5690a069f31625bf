"""A tub as it really is: the truth behind the variations, written apart from the program.

Carbonate by charge balance with Davies activities (constants: analytic expressions of the PHREEQC
database, published), carbon dioxide lost to the air, chlorine by fourth-order Runge-Kutta
(dC/dt = made - (loss*(1 - w + w*share/0.468) + film*exp(-t/hours) + rate*demand)*C, share of HOCl), conductivity from limiting ion
conductivities and the measured fall of sodium chloride's (published). The instruments are in follow.py.
Amounts are mol per kg unless a name says otherwise."""
from __future__ import annotations

import math

CACO3 = 100.0869
CL2 = 70.906
NACL = 58.4428
AIR_CO2_ATM = 4.2e-4
#             limiting conductivity at 25 C, S cm2/mol (published)
IONS = {"na": 50.1, "cl": 76.35, "ca": 119.0, "hco3": 44.5, "so4": 160.0}
#             sodium chloride: mol/L and equivalent conductivity (published)
FALL = [(0.0, 126.45), (0.0005, 124.51), (0.001, 123.74), (0.005, 120.64), (0.01, 118.53), (0.02, 115.76),
        (0.05, 111.06), (0.1, 106.74)]


def log_k(kelvin: float, a: float, b: float, c: float, d: float = 0.0, e: float = 0.0, f: float = 0.0) -> float:
    return a + b * kelvin + c / kelvin + d * math.log10(kelvin) + e / kelvin ** 2 + f * kelvin ** 2


class Constants:
    """At one temperature and ionic strength, conditional on activities by Davies."""

    def __init__(self, celsius: float, strength: float) -> None:
        t = celsius + 273.15
        k2 = -log_k(t, 107.8871, 0.03252849, -5151.79, -38.92561, 563713.9)
        k12 = log_k(t, 464.1965, 0.09344813, -26986.16, -165.75951, 2248628.9)
        kw = log_k(t, 293.29227, 0.1360833, -10576.913, -123.73158, 0.0, -6.996455e-5)
        a = 1.82e6 * (78.5 * math.exp(-0.0046 * (celsius - 25.0)) * t) ** -1.5
        root = math.sqrt(strength)
        g1 = 10.0 ** (-a * (root / (1.0 + root) - 0.3 * strength))
        g2 = g1 ** 4
        self.g1 = g1
        self.k1 = 10.0 ** (-k12 - k2) / g1
        self.k2 = 10.0 ** k2 * g1 / g2
        self.kw = 10.0 ** kw / g1
        self.hocl = 10.0 ** -(3000.0 / t - 10.0686 + 0.0253 * t) / g1
        self.air = AIR_CO2_ATM * 10.0 ** log_k(t, 10.5624, -2.3547e-2, -3972.8, 0.0, 5.8746e5, 1.9194e-5)

    def parts(self, h: float) -> tuple[float, float]:
        """Shares of carbonate as bicarbonate and carbonate; h is the activity of hydrogen."""
        n = h * h + self.k1 * h + self.k1 * self.k2
        return self.k1 * h / n, self.k1 * self.k2 / n

    def ph(self, alkalinity: float, carbon: float, chlorine: float = 0.0) -> float:
        low, high = 3.0, 12.0
        for _ in range(34):
            mid = 0.5 * (low + high)
            h = 10.0 ** -mid
            bi, carb = self.parts(h)
            over = carbon * (bi + 2.0 * carb) + self.kw / h - h / self.g1 + chlorine * self.hocl / (h + self.hocl)
            if over > alkalinity:
                high = mid
            else:
                low = mid
        return 0.5 * (low + high)

    def carbon(self, alkalinity: float, ph: float) -> float:
        h = 10.0 ** -ph
        bi, carb = self.parts(h)
        return (alkalinity - self.kw / h + h / self.g1) / (bi + 2.0 * carb)


class Tub:
    """The truth. Litres and kilograms are taken as one."""

    def __init__(self, litres: float, celsius: float, ph: float, ta: float, ch: float, chloride_mg: float = 20.0) -> None:
        self.litres, self.celsius = litres, celsius
        self.alkalinity = 2e-3 * ta / CACO3
        self.calcium = 1e-3 * ch / CACO3
        self.chloride, self.sulfate = chloride_mg / 35453.0, 0.0
        self.carbon = Constants(celsius, 0.005).carbon(self.alkalinity, ph)
        self.lying_g, self.dissolves = 0.0, 3.0  # salt on the floor; share an hour
        self.made = self.remnant = self.demand = 0.0  # mg/L
        self.loss, self.film, self.film_h, self.rate = 0.015, 0.0, 24.0, 0.05
        self.follows = 0.0  # part of the loss that goes with HOCl's share; no cyanurate here
        self.output_g_per_h, self.duty = 0.15, 0.0
        self.well_g_per_h, self.salt_limit = 0.15, 2000.0  # of a healthy cell; mg/L on the plate
        self.still, self.jets, self.air = 0.03, 2.0, False
        self.hours = 0.0
        self.dosed_h: float | None = None
        self.lowest_ph = 14.0

    # ---- what can be seen
    def strength(self) -> float:
        return self.chloride + self.calcium + 0.5 * self.alkalinity + 1.5 * self.sulfate + 0.002

    def constants(self) -> Constants:
        return Constants(self.celsius, self.strength())

    def ph(self) -> float:
        return self.constants().ph(self.alkalinity, self.carbon, self.free() / CL2 / 1e3)

    def ta(self) -> float:
        return self.alkalinity * CACO3 / 2e-3

    def salt(self) -> float:
        return self.chloride * NACL * 1e3

    def free(self) -> float:
        return self.made + self.remnant

    def conductivity(self) -> float:
        """uS/cm at 25 C."""
        i = self.strength()
        for (c0, l0), (c1, l1) in zip(FALL, FALL[1:]):
            if i <= c1:
                part = (math.sqrt(i) - math.sqrt(c0)) / (math.sqrt(c1) - math.sqrt(c0))
                fall = (l0 + part * (l1 - l0)) / FALL[0][1]
                break
        else:
            fall = FALL[-1][1] / FALL[0][1]
        bicarbonate = self.alkalinity
        sodium = max(0.0, self.chloride + bicarbonate + 2.0 * self.sulfate - 2.0 * self.calcium)
        return 1e6 * (IONS["na"] * sodium * fall + IONS["cl"] * self.chloride * fall + IONS["hco3"] * bicarbonate * fall +
                      (IONS["ca"] * self.calcium + IONS["so4"] * self.sulfate) * fall ** 2) / 1e3

    def makes(self) -> float:
        """Share of its output that the cell makes: less with little salt, less in cold water."""
        missing = max(0.0, 1.0 - self.salt() / (0.875 * self.salt_limit))
        return (1.0 - missing ** 2) * (1.0 - max(0.0, 0.02 * (25.0 - self.celsius)))

    # ---- what happens
    def step(self, hours: float) -> None:
        left = hours
        while left > 1e-9:
            dt = min(left, 0.1 if self.air else 0.5)
            self._carbon(dt)
            self._chlorine(dt)
            gone = self.lying_g * (1.0 - math.exp(-self.dissolves * dt))
            self.lying_g -= gone
            self.chloride += gone / NACL / self.litres
            self.hours += dt
            left -= dt

    def _carbon(self, dt: float) -> None:
        k = self.constants()
        warm = 1.024 ** (self.celsius - 20.0)
        rate = (self.jets if self.air else self.still) * warm
        for _ in range(2):
            ph = k.ph(self.alkalinity, self.carbon, self.free() / CL2 / 1e3)
            h = 10.0 ** -ph
            bi, carb = k.parts(h)
            co2 = self.carbon * (1.0 - bi - carb)
            self.carbon -= min(rate * 0.5 * dt, 0.5) * (co2 - k.air)

    def _chlorine(self, dt: float) -> None:
        if self.free() <= 0.0 and self.duty <= 0.0:
            return
        n = max(1, round(dt / 0.1))
        h = dt / n
        k = self.constants()
        share = 1.0 / (1.0 + k.hocl * 10.0 ** self.ph()) if self.follows > 0.0 else 0.468
        loss = self.loss * (1.0 + self.follows * (share / 0.468 - 1.0))  # of pH 7.5
        gain = 1e3 * self.output_g_per_h * self.makes() * self.duty / self.litres

        def slope(y: tuple[float, float, float], at: float) -> tuple[float, float, float]:
            made, remnant, demand = y
            k = loss * math.exp(-6014.0 * (1.0 / (self.celsius + 273.15) - 1.0 / 311.15)) + self.rate * demand
            if self.dosed_h is not None:
                k += self.film * math.exp(-(at - self.dosed_h) / self.film_h)
            return gain - k * made, -k * remnant, -self.rate * demand * (made + remnant)

        y = (self.made, self.remnant, self.demand)
        for i in range(n):
            t = self.hours + i * h
            a = slope(y, t)
            b = slope(tuple(v + 0.5 * h * d for v, d in zip(y, a)), t + 0.5 * h)  # type: ignore[arg-type]
            c = slope(tuple(v + 0.5 * h * d for v, d in zip(y, b)), t + 0.5 * h)  # type: ignore[arg-type]
            d = slope(tuple(v + h * e for v, e in zip(y, c)), t + h)  # type: ignore[arg-type]
            y = tuple(v + h / 6.0 * (p + 2.0 * q + 2.0 * r + s) for v, p, q, r, s in zip(y, a, b, c, d))  # type: ignore[assignment]
        self.made, self.remnant, self.demand = y

    def add(self, mmol_per_g: dict[str, float], grams: float) -> None:
        """A substance by its totals, mmol per g (columns of data/substances.csv)."""
        mol = {name: 1e-3 * value * grams / self.litres for name, value in mmol_per_g.items()}
        if mol.get("active_chlorine", 0.0) > 0.0:
            self.remnant += mol["active_chlorine"] * CL2 * 1e3
            self.dosed_h = self.hours if self.dosed_h is None else self.dosed_h
        self.alkalinity += mol["na"] + mol["k"] + 2.0 * mol["ca"] + 2.0 * mol["mg"] - mol["cl"] - 2.0 * mol["so4"]
        self.carbon += mol["dic"]
        self.calcium += mol["ca"]
        self.sulfate += mol["so4"]
        if mmol_per_g["na"] == mmol_per_g["cl"] and mmol_per_g["cl"] > 10.0:
            self.lying_g += 1e-3 * mmol_per_g["na"] * grams * NACL
        else:
            self.chloride += mol["cl"]
        self.lowest_ph = min(self.lowest_ph, self.ph())
