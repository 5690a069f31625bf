"""Twenty seeded variations of each story, for the first day; two of S1 and S2 to the
hand-over, S4 to its verdict. validate.py plays all of them to the end."""
from __future__ import annotations

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["SRC"]) / "tests/scenarios"))
sys.dont_write_bytecode = True
from laws import judge, notes  # noqa: E402
from variations import play_all  # noqa: E402

SEEDS = range(1, 21)
UNTIL_H = 30.0     # doses are over, and the first dip after the chlorine has been seen
TO_THE_END = {"s1": (2, 6), "s2": (2, 5)}


def main() -> int:
    if "-san" in os.environ["BUILD"]:
        print("1..0 # SKIP hundreds of estimates; the same code is run with sanitizers by the stories")
        return 0
    told = play_all(["s1", "s2", "s4"], SEEDS, UNTIL_H, TO_THE_END)
    results = judge(told)
    print(f"1..{len(results)}")
    for line in notes(told):
        print(f"# {line}")
    for number, (good, claim) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
    return 0 if all(good for good, _ in results) else 1


if __name__ == "__main__":
    raise SystemExit(main())
