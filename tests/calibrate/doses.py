#!/usr/bin/env python3
"""The dose planner on random tubs, beside the label, its half, one substance at a time and who knows the tub.

usage: doses.py [TUBS [FIRST_SEED]]     default 2,000 tubs, a quarter of an hour on two cores
       doses.py table FILE...           only the table of what such runs wrote

Builds doses.c against the core of BUILD and runs it in parts, one for each processor. Each part is kept beside the build
directory, in doses/, as it ends: a run that was stopped goes on from there, if the program is the same byte for byte. Writes
doses.json there too, prints the table in Markdown, and judges it (TAP): bounds are exact (Clopper and Pearson 1934), 95 %, one-sided.
With a wrong belief (strips that read half too much, products of 80 %) the figures are told and not judged, of every fifth part.
"""
from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from claims import Claims  # noqa: E402

WAYS = {"course": "the planner", "table": "label, whole", "half": "label, half", "oracle": "knows the tub"}
PART = 100  # tubs of one run: some minutes, which is what a stop can lose


def binomial_below(k: int, n: int, p: float) -> float:
    """P(X <= k) of n trials; summed from the largest term, so that nothing vanishes."""
    from math import exp, lgamma, log
    if p <= 0.0:
        return 1.0
    if p >= 1.0:
        return float(k >= n)
    return min(1.0, sum(exp(lgamma(n + 1) - lgamma(i + 1) - lgamma(n - i + 1) + i * log(p) + (n - i) * log(1 - p)) for i in range(k + 1)))


def upper(k: int, n: int, level: float = 0.95) -> float:
    """Largest share under which k or fewer of n are not rarer than 1 - level."""
    if n == 0 or k >= n:
        return 1.0
    low, high = k / n, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if binomial_below(k, n, middle) > 1 - level else (low, middle)
    return high


def lower(k: int, n: int, level: float = 0.95) -> float:
    return 1.0 - upper(n - k, n, level) if n else 0.0


def add(one: Any, other: Any) -> Any:
    """Tallies are sums all the way down."""
    if isinstance(one, dict):
        return {key: add(one.get(key, 0 if not isinstance(other.get(key), dict) else {}), other.get(key, 0 if not isinstance(one.get(key), dict) else {}))
                for key in dict.fromkeys([*one, *other])}
    return one + other


def run_part(program: Path, words: list[str], kept: Path) -> dict[str, Any]:
    """The tally of one part: read where this very program has made it already, else made now, and kept whole or not at all."""
    name = hashlib.sha256(program.read_bytes() + b"\0" + " ".join(words).encode()).hexdigest()[:32]
    part, unfinished = kept / f"{name}.json", kept / f"{name}.unfinished-{os.getpid()}"
    if not part.exists():
        done = subprocess.run([str(program), *words], check=True, stdout=subprocess.PIPE)
        unfinished.write_bytes(done.stdout)
        unfinished.replace(part)
    found: dict[str, Any] = json.loads(part.read_text(encoding="utf-8"))
    return found


def run_all(tubs: int, first: int) -> dict[str, Any]:
    src, build = Path(os.environ["SRC"]).resolve(), Path(os.environ["BUILD"]).resolve()
    kept = build.parent / "doses"
    kept.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "doses"
        include = [src / "src", src / "include", src / "tests", src / "tests/dose", build / "src"]
        subprocess.run(["gcc", "-std=c17", "-O2", "-ffp-contract=off", "-w", *(f"-I{path}" for path in include), str(src / "tests/calibrate/doses.c"),
                        str(build / "libtubwright_core.a"), "-lm", "-o", str(program)], check=True)

        def part(at: int) -> dict[str, Any]:
            ways = "cthow" if (at - first) // PART % 5 == 0 else "ctho"
            return run_part(program, [str(min(PART, first + tubs - at)), str(at), "1000", ways], kept)
        total: dict[str, Any] = {}
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            for found in pool.map(part, range(first, first + tubs, PART)):
                total = add(total, found)
    return total


def share(k: int, n: int) -> str:
    return f"{100 * k / max(n, 1):.1f} %"


def table(rows: dict[str, Any]) -> str:
    text = ["| | " + " | ".join(WAYS[way] for way in rows) + " |", "|---|" + "---|" * len(rows)]

    def line(name: str, value: Any) -> None:
        text.append(f"| {name} | " + " | ".join(value(row, way) for way, row in rows.items()) + " |")
    line("tubs, of them with something to do", lambda r, w: f"{r['tubs']}, {r['acted']}")
    line("crossed a hard limit, ever", lambda r, w: f"{share(r['crossed'], r['tubs'])} (at most {100 * upper(r['crossed'], r['tubs']):.1f})")
    line("of them pH, alkalinity, salt", lambda r, w: ", ".join(str(r["crossed_of"][k]) for k in ("ph", "alkalinity", "salt")))
    line("first steps of longer plans that crossed", lambda r, w: f"{share(r['crossed_first'], r['planned_more'])} of {r['planned_more']}" if r["planned_more"] else "")
    line("in band at the end", lambda r, w: share(r["reached"], r["tubs"]))
    line("in band within the visits promised", lambda r, w: f"{share(r['in_promise'], r['promises'])} of {r['promises']}" if r["promises"] else "")
    line("visits a tub", lambda r, w: f"{r['visits'] / r['tubs']:.2f}")
    line("attended minutes", lambda r, w: f"{r['minutes'] / r['tubs']:.0f}")
    line("grams", lambda r, w: f"{r['grams'] / r['tubs']:.0f}")
    line("gave up; still going after ten visits", lambda r, w: f"{share(r['stuck'], r['tubs'])}; {share(r['unfinished'], r['tubs'])}")
    return "\n".join(text)


def judge(found: dict[str, Any]) -> Claims:
    right, told = found["right"], Claims()
    course, half, oracle = right["course"], right["half"], right["oracle"]
    n, ever = course["tubs"], course["crossed"]
    told.add(ever <= 0.05 * n and upper(ever, n) <= 0.055, f"crossed ever: {share(ever, n)}, at most {100 * upper(ever, n):.2f} %")
    more, first = course["planned_more"], course["crossed_first"]
    told.add(0.01 * more <= first <= 0.05 * more, f"first steps of longer plans: {share(first, more)} of {more}, between 1 and 5 %")
    told.add(course["in_promise"] >= 0.9 * course["promises"], f"in the visits promised: {share(course['in_promise'], course['promises'])} of {course['promises']}")
    told.add(course["visits"] <= half["visits"], f"visits {course['visits'] / n:.2f}, by half doses {half['visits'] / n:.2f}")
    told.add(course["visits"] <= 1.25 * oracle["visits"], f"visits {course['visits'] / oracle['visits']:.2f} times those of who knows the tub")
    told.add(right["table"]["crossed"] > ever and half["crossed"] > ever, "the label and its half cross oftener")
    return told


def main() -> None:
    if sys.argv[1:2] == ["table"]:
        found: dict[str, Any] = {}
        for path in sys.argv[2:]:
            found = add(found, json.loads(Path(path).read_text(encoding="utf-8")))
    else:
        tubs, first = (sys.argv[1:] + ["2000", "1"][len(sys.argv) - 1:])[:2]
        found = run_all(int(tubs), int(first))
        (Path(os.environ["BUILD"]).resolve().parent / "doses.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    for name, rows in found.items():
        print(f"# {name}")
        print("\n".join("# " + line if sys.argv[1:2] != ["table"] else line for line in table(rows).splitlines()))
    if sys.argv[1:2] != ["table"]:
        judge(found).report()


if __name__ == "__main__":
    main()
