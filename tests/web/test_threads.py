#!/usr/bin/env python3
"""Threads that share the work of a fold, where the host lets them: threads.mjs."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

raise SystemExit(run("threads.mjs", NOW, story=STORY))
