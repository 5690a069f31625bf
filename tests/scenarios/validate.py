"""Two hundred seeded variations of each story, to the hand-over: make validate.
VALIDATE=20 plays so many; VALIDATE_STORIES=s1,s4 only these."""
from __future__ import annotations

import os
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(os.environ["SRC"]) / "tests" / room) for room in ("scenarios", "support")]
sys.dont_write_bytecode = True
from claims import Claims  # noqa: E402
from laws import judge, notes  # noqa: E402
from variations import Told, play_all  # noqa: E402

BEGAN = time.monotonic()


def tell(one: Told, done: int, of: int) -> None:
    if done % 20 == 0 or done == of:
        print(f"# {done} of {of} after {time.monotonic() - BEGAN:.0f} s: {one.story} seed {one.seed} {one.ended}", flush=True)


def main() -> None:
    stories = os.environ.get("VALIDATE_STORIES", "s1,s2,s4").split(",")
    told = play_all(stories, range(1001, 1001 + int(os.environ.get("VALIDATE", "200"))), 1e9, {}, tell)
    claims = Claims()
    for name, some in [("all", told), *((story, [t for t in told if t.story == story]) for story in stories)]:
        for good, claim in judge(some):
            claims.add(good, f"{name}: {claim}")
    claims.report(notes(told))


if __name__ == "__main__":
    main()
