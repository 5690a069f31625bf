#!/usr/bin/env python3
"""A lid link on a phone that never saw its tub: lid.mjs."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

raise SystemExit(run("lid.mjs", NOW, story=STORY, signing_in=True))
