#!/usr/bin/env python3
"""A device that chooses its language: language.mjs."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

if __name__ == "__main__":
    raise SystemExit(run("language.mjs", NOW, "de", story=STORY[:8]))
