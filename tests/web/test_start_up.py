#!/usr/bin/env python3
"""The first two hours of a start-up on a small phone, with all that goes wrong on the way: start_up.py. `make validate` has the whole."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from start_up import play  # noqa: E402

raise SystemExit(play("320x568", 1.75))
