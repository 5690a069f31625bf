#!/usr/bin/env python3
"""The structure of the sources: tools/structure.py, whose rules are also shown to find faults."""
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(os.environ.get("SRC", Path(__file__).resolve().parent.parent.parent)).resolve()
raise SystemExit(subprocess.run([sys.executable, str(ROOT / "tools/structure.py")], check=False).returncode)
