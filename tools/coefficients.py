#!/usr/bin/env python3
"""Recompute the constants of src/num/coefficients.h (needs mpmath; not part of the build).

Each polynomial interpolates its function at Chebyshev nodes with 60 digits, is written in powers
of its variable and rounded to doubles; the comment beside it states the error that was found.

usage: coefficients.py > src/num/coefficients.h
"""
from mpmath import (atanh, cos, erfc, exp, ln, linspace, log, mp, mpf, pi, sqrt, floor, legendre,
                    findroot, diff)

mp.dps = 60


def interpolate(f, low, high, degree):
    """Coefficients in powers of x of the interpolant at the Chebyshev nodes of low..high."""
    low, high = mpf(low), mpf(high)
    nodes = [(low + high) / 2 + (high - low) / 2 * cos(pi * (2 * k + 1) / (2 * degree + 2))
             for k in range(degree + 1)]
    table = [f(x) for x in nodes]
    for j in range(1, degree + 1):
        for i in range(degree, j - 1, -1):
            table[i] = (table[i] - table[i - 1]) / (nodes[i] - nodes[i - j])
    power = [table[degree]]
    for i in range(degree - 1, -1, -1):
        step = [mpf(0)] * (len(power) + 1)
        for k, value in enumerate(power):
            step[k + 1] += value
            step[k] -= value * nodes[i]
        step[0] += table[i]
        power = step
    return [mpf(float(value)) for value in power]


def evaluate(power, x):
    total = mpf(0)
    for value in reversed(power):
        total = total * x + value
    return total


def exp_rest(r):
    """(e^r - 1 - r - r^2/2) / r^3"""
    if abs(r) < mpf(10) ** -12:
        return mpf(1) / 6 + r / 24
    return (exp(r) - 1 - r - r * r / 2) / r ** 3


def log_rest(z):
    """(2 atanh(s) - 2 s) / (s z), z = s^2"""
    s = sqrt(z)
    return mpf(2) / 3 + 2 * z / 5 if z < mpf(10) ** -15 else (2 * atanh(s) - 2 * s) / (s * z)


def log_rest_long(z):
    """((atanh(s)/s - 1)/z - 1/3) / z, z = s^2"""
    return mpf(1) / 5 + z / 7 if z < mpf(10) ** -12 else ((atanh(sqrt(z)) / sqrt(z) - 1) / z - mpf(1) / 3) / z


def mills(t):
    """e^(x^2/2) P(Z > x) (x + a), t = (x - a)/(x + a), a = 3.5"""
    if t == 1:
        return 1 / sqrt(2 * pi)
    x = mpf("3.5") * (1 + t) / (1 - t)
    return exp(x * x / 2) * erfc(x / sqrt(2)) / 2 * (x + mpf("3.5"))


def show(name, what, power, error):
    lines = [f"/* {what}",
             f" * Largest error {error}. */",
             f"#define TW_{name}_TERMS {len(power)}"]
    for i, value in enumerate(power):
        lines.append(f"#define TW_{name}_{i} {float(value).hex()}")
    return "\n".join(lines) + "\n"


def cut(value, bits):
    """value with so many bits, rounded towards zero."""
    scale = mpf(2) ** (bits - 1 - int(floor(log(value, 2))))
    return floor(value * scale) / scale


def constant(name, value, comment):
    return f"#define TW_{name} {float(value).hex()} /* {comment} */"


def main():
    print("/* num/coefficients.h: constants of the elementary functions and the normal distribution.")
    print(" * Made by tools/coefficients.py with 60 digits; exact as hexadecimal constants. Private to num. */")
    print("#ifndef TW_NUM_COEFFICIENTS_H\n#define TW_NUM_COEFFICIENTS_H\n")
    ln2, ln10 = ln(mpf(2)), ln(mpf(10))
    high = cut(ln2, 32)
    print(constant("LN2_HIGH", high, "ln 2 to 32 bits, so that k * LN2_HIGH is exact for |k| < 2^21"))
    print(constant("LN2_LOW", ln2 - high, "the rest"))
    print(constant("INV_LN2", 1 / ln2, "1 / ln 2"))
    print(constant("LN10_HIGH", mpf(float(ln10)), "ln 10"))
    print(constant("LN10_LOW", ln10 - mpf(float(ln10)), "the rest"))
    print(constant("INV_LN10_HIGH", mpf(float(1 / ln10)), "1 / ln 10"))
    print(constant("INV_LN10_LOW", 1 / ln10 - mpf(float(1 / ln10)), "the rest"))
    print(constant("THIRD_LOW", mpf(1) / 3 - mpf(float(mpf(1) / 3)), "1/3 - (double)1/3"))
    print(constant("INV_SQRT_2PI", 1 / sqrt(2 * pi), "density of the normal distribution at 0"))
    print(constant("MILLS_A", mpf("3.5"), "centre of the map of 0..inf to -1..1"))
    print()

    edge = mpf("0.42")  # ln 2 / 2 would do for exp; expm1 needs a little more
    p = interpolate(exp_rest, -edge, edge, 9)
    worst = max(abs((evaluate(p, r) - exp_rest(r)) * r ** 3) / exp(r) for r in linspace(-edge, edge, 999))
    print(show("EXP", "(e^r - 1 - r - r^2/2)/r^3 in r, |r| <= 0.42.", p, f"{float(worst * 2**53):.3f} ulp of e^r"))

    edge = ((sqrt(mpf(2)) - 1) / (sqrt(mpf(2)) + 1)) ** 2 * (1 + mpf(2) ** -20)
    p = interpolate(log_rest, 0, edge, 6)
    worst = max(abs((evaluate(p, z) - log_rest(z)) * z ** mpf("1.5") / (2 * atanh(sqrt(z))))
                for z in linspace(mpf(10) ** -6, edge, 999))
    print(show("LOG", "(2 atanh(s) - 2 s)/(s z) in z = s^2, s = f/(2+f), 1+f in sqrt(1/2)..sqrt(2).", p,
               f"{float(worst * 2**53):.3f} ulp of log(1+f)"))

    p = interpolate(log_rest_long, 0, edge, 7)
    worst = max(abs((evaluate(p, z) - log_rest_long(z)) * z * z) for z in linspace(mpf(10) ** -6, edge, 999))
    print(show("LOGL", "((atanh(s)/s - 1)/z - 1/3)/z in z = s^2, for logarithms in two parts.", p,
               f"2^{float(log(worst, 2)):.1f} of log(1+f)"))

    for name, degree in (("MILLS", 23), ("MILLS_LANE", 14)):
        p = interpolate(mills, -1, 1, degree)
        worst = max(abs(evaluate(p, t) / mills(t) - 1) for t in linspace(-1, mpf("0.999"), 999))
        print(show(name, "e^(x^2/2) P(Z > x) (x + a) in t = (x - a)/(x + a), x >= 0.", p,
                   f"{float(worst):.1e} of the value"))

    print("/* Gauss-Legendre, 6 points on -1..1: the three positive nodes and their weights. */")
    for i, guess in enumerate((0.2386, 0.6612, 0.9325)):
        node = findroot(lambda x: legendre(6, x), mpf(guess))
        weight = 2 / ((1 - node ** 2) * diff(lambda x: legendre(6, x), node) ** 2)
        print(f"#define TW_GAUSS_NODE_{i} {float(node).hex()}")
        print(f"#define TW_GAUSS_WEIGHT_{i} {float(weight).hex()}")
    print("\n#endif")


if __name__ == "__main__":
    main()
