#!/usr/bin/env python3
"""Reading order, large letters, the reader's own colours, motion spared: readers.mjs. Given a folder it leaves pictures there."""
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

raise SystemExit(run("readers.mjs", NOW, *[os.path.abspath(folder) for folder in sys.argv[1:2]], story=STORY))
