#!/usr/bin/env python3
"""The page in headless Chromium against a running server: first_hour.mjs."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402

raise SystemExit(run("first_hour.mjs"))
