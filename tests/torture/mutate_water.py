#!/usr/bin/env python3
"""Three hundred changes of src/water, nine in ten to be noticed by the room's own tests. See mutate.py.

usage: mutate_water.py [SEED [COUNT]]
"""
from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.dont_write_bytecode = True
from mutate import main  # noqa: E402

if __name__ == "__main__":
    given = sys.argv[1:3]
    sys.argv[1:] = [*given, *["1", "300"][len(given):], "water"]
    main()
