#!/usr/bin/env python3
"""What the rise of salt alone says of a tub's volume. Conductivities of sodium chloride at 25 C: molar 118.45 and 115.70 S cm2/mol at 0.01 and 0.02 mol/L
(CRC Handbook of Chemistry and Physics), so 1184.5 and 2314 uS/cm are 584.4 mg/L apart."""
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "support"))
from claims import Claims  # noqa: E402

BEGIN = ["tub new Barn volume=1400L", "log filled 1400 L temperature=25Cel"]
# What is written, hour after hour, and the litres that it says; None: nothing.
TUBS = {
    "grams over milligrams a litre": (["log salt=100 by photometer", "log added 1000 g sodium-chloride", "log salt=900 by photometer"], 1250.0, 0.001),
    "the handbook's conductivities": (["log conductivity=1184.5 by meter", "log added 700 g sodium-chloride", "log conductivity=2314 by meter"], 700e3 / 584.4, 0.015),
    "two pours between the readings": (["log salt=100 by photometer", "log added 500 g sodium-chloride", "log added 500 g sodium-chloride", "log salt=900 by photometer"], 1250.0, 0.001),
    "two instruments": (["log salt=100 by drops", "log added 1000 g sodium-chloride", "log salt=900 by photometer"], None, 0.0),
    "water between the readings": (["log salt=100 by photometer", "log drained 200 L", "log added 1000 g sodium-chloride", "log salt=900 by photometer"], None, 0.0),
    "a rise that is too small": (["log salt=500 by photometer", "log added 300 g sodium-chloride", "log salt=740 by photometer"], None, 0.0),
}


def litres(story: list[str]) -> list[float]:
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "HOME": folder, "XDG_DATA_HOME": folder, "TZ": "UTC", "TUBWRIGHT_RANDOM": "rise"}

        def run(hour: int, *words: str) -> str:
            done = subprocess.run([os.environ["TUBWRIGHT"], *words, "--yes", "--at", f"2026-03-09T{8 + hour:02}:00:00+01:00"], env=env, capture_output=True, text=True, check=False)
            if done.returncode not in (0, 4):
                raise SystemExit(f"{words}: {done.returncode} {done.stderr}")
            return done.stdout

        for hour, words in enumerate(BEGIN + story):
            run(hour, *words.split())
        return [way["volume_said_l"] for way in json.loads(run(len(BEGIN + story), "water", "--json"))["volumes"]]


def main() -> None:
    claims = Claims()
    for name, (story, wanted, near) in TUBS.items():
        said = litres(story)
        claims.add(said == [] if wanted is None else len(said) == 1 and abs(said[0] / wanted - 1.0) <= near, f"{name}: {'nothing' if wanted is None else f'{wanted:.0f} L'}", str(said))
    claims.report()


if __name__ == "__main__":
    main()
