#!/usr/bin/env python3
"""The start-up of tests/scenarios/s1.txt on the page from an empty app to the handover, and its first hours on a small phone and a desk: start_up.py.
Takes minutes; `make check` has the short form (test_start_up.py)."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from start_up import play  # noqa: E402

raise SystemExit(max([play(size, hours) for size, hours in (("390x844", 252), ("320x568", 2.75), ("1280x800", 2.75))]))
