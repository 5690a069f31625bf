#!/usr/bin/env python3
"""Answers in the units that somebody wants to see: sentences and rows alone change, by the factors of NIST SP 811; what was typed in a unit comes back in it as
it was typed; ids, numbers and keys of JSON are the same bytes, in both languages."""
from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ["SRC"]).resolve()
sys.path[:0] = [str(SRC / "tests" / room) for room in ("support", "web")]
from claims import Claims  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

US = "degF,gal-us,oz"
VIEWS = ["now", "why", "water", "logbook", "bathing", "sheet", "plan", "ahead", "forecast"]
G_PER_OZ, L_PER_GAL = 28.34952, 3.785412   # NIST SP 811 (2008), appendix B.8
MORE = [("2026-03-24T12:50:00+01:00", "-t Barn log temp=99.5F by thermometer"), ("2026-03-24T12:51:00+01:00", "-t Barn log temp=37.5 by thermometer")]


def numbers_alone(value: object) -> object:
    """An answer without what its sentences say."""
    if isinstance(value, dict):
        return value["id"] if value.keys() == {"id", "text"} else {key: numbers_alone(one) for key, one in value.items()}
    return [numbers_alone(one) for one in value] if isinstance(value, list) else value


def main() -> None:
    claims = Claims()
    with tempfile.TemporaryDirectory() as home:
        env = {**os.environ, "HOME": home, "XDG_DATA_HOME": home, "TZ": "Europe/Berlin", "TUBWRIGHT_RANDOM": "units"}

        def run(*words: str, at: str = NOW, **more: str) -> subprocess.CompletedProcess[str]:
            return subprocess.run([os.environ["TUBWRIGHT"], "--at", at, *words], env={**env, **more}, capture_output=True, text=True, check=False)

        for at, words in [row for row in STORY if "Barn" in row[1]] + MORE:
            done = run("--yes", *words.split(), at=at)
            if done.returncode not in (0, 4):
                raise SystemExit(f"{words}: {done.stderr}")
        for language in ("en", "de"):
            base = ["-t", "Barn", "--language", language]
            for view in VIEWS:
                plain, shown = (json.loads(run(view, *base, "--json", *units).stdout) for units in ([], ["--units", US]))
                claims.add(numbers_alone(plain) == numbers_alone(shown), f"{language} {view}: ids, numbers and keys are those of before")
                text = run(view, *base, "--units", US).stdout
                # What each 10 g do in 1,000 L is a table of its own, and no amount of this tub.
                left = [line for line in text.splitlines() if re.search(r"\d (?:kg|g|mL|L)\b(?!/)", line) and not re.search(r"\b1[,.]?000 L|\b10 g ", line)]
                claims.add(text and not left, f"{language} {view}: nothing is said in grams or litres", "\n".join(left))
                wide = [line for line in text.splitlines() if len(line) > 60]
                claims.add(not wide, f"{language} {view}: 60 columns hold", wide)
            water, gallons = (run("water", *base, *units).stdout for units in ([], ["--units", US]))
            litres = float(re.search(r"\n(?:volume|Volumen) +([\d.]+)", water)[1])
            shown_gal = float(re.search(r"\n(?:volume|Volumen) +([\d.]+).* US gal\n", gallons)[1])
            claims.add(abs(shown_gal - litres / L_PER_GAL) <= 0.5 * (1 + 1 / L_PER_GAL), f"{language}: {litres} L are {shown_gal} US gal", gallons)
            card = json.loads(run("now", *base, "--json", "--units", US).stdout)
            said = float(re.search(r"([\d.,]+) oz", card["head"]["text"])[1].replace(",", "."))
            claims.add(abs(said * G_PER_OZ / card["act"]["amount"] - 1) <= 0.005, f"{language}: {card['act']['amount']} g are {said} oz", card["head"])
            point = "," if language == "de" else "."
            typed = {units: run("logbook", *base, *(["--units", units] if units else [])).stdout for units in ("", "degF")}
            claims.add(f"99{point}5 °F" in typed["degF"] and f"99{point}5 °F" in typed[""], f"{language}: what was typed in a unit comes back in it", typed["degF"])
            claims.add(f"37{point}5 °C" in typed[""], f"{language}: and in the other one as it was typed there", typed[""])
        by_env = run("water", "-t", "Barn", TUBWRIGHT_UNITS=US).stdout
        claims.add(by_env == run("water", "-t", "Barn", "--units", US).stdout, "TUBWRIGHT_UNITS does the same")
        for bad in ("gal", "gal-us,gal-imp", "oz,stone"):
            done = run("now", "-t", "Barn", "--units", bad)
            claims.add(done.returncode == 2 and "degF, oz, and one of gal-us and gal-imp" in done.stderr, f"--units {bad}: refused, and what there is gets named", done.stderr)
    claims.report()


main()
