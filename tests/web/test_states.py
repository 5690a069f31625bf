#!/usr/bin/env python3
"""Empty, loading, offline, refused, without storage, without the program: states.mjs. Given a folder it leaves a picture of each there."""
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

raise SystemExit(run("states.mjs", NOW, *[os.path.abspath(folder) for folder in sys.argv[1:2]], story=[row for row in STORY if "Barn" in row[1]]))
