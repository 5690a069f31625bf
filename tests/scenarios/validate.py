"""Two hundred seeded variations of each story, to the hand-over: make validate.
VALIDATE=20 plays so many; VALIDATE_STORIES=s1,s4 only these."""
from __future__ import annotations

import os
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["SRC"]) / "tests/scenarios"))
sys.dont_write_bytecode = True
from laws import judge, notes  # noqa: E402
from variations import Told, play_all  # noqa: E402

BEGAN = time.monotonic()


def tell(one: Told, done: int, of: int) -> None:
    if done % 20 == 0 or done == of:
        print(f"# {done} of {of} after {time.monotonic() - BEGAN:.0f} s: {one.story} seed {one.seed} {one.ended}", flush=True)


def main() -> int:
    stories = os.environ.get("VALIDATE_STORIES", "s1,s2,s4").split(",")
    told = play_all(stories, range(1001, 1001 + int(os.environ.get("VALIDATE", "200"))), 1e9, {}, tell)
    results = [(good, f"all: {claim}") for good, claim in judge(told)]
    for story in stories:
        results += [(good, f"{story}: {claim}") for good, claim in judge([t for t in told if t.story == story])]
    print(f"1..{len(results)}")
    for line in notes(told):
        print(f"# {line}")
    for number, (good, claim) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
    return 0 if all(good for good, _ in results) else 1


if __name__ == "__main__":
    raise SystemExit(main())
