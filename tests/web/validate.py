#!/usr/bin/env python3
"""The start-up of tests/scenarios/s1.txt on the page from an empty app to the handover, on a phone, a small one and a desk: start_up.py.
Takes minutes; `make check` has the short form (test_start_up.py)."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from start_up import play  # noqa: E402

raise SystemExit(max([play(size, 252) for size in ("390x844", "320x568", "1280x800")]))
