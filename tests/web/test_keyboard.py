#!/usr/bin/env python3
"""Every flow by keys alone: keyboard.mjs."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

raise SystemExit(run("keyboard.mjs", NOW, story=[row for row in STORY if "Deck" not in row[1] and "Loft" not in row[1]]))
