#!/usr/bin/env python3
"""Run the table generator for a build folder and touch only what has changed.

usage: tables.py --out DIR      (writes DIR/gen/...)

Most edits of data/ change one table; a file whose text stays the same keeps its time, so that
only what includes the changed table is compiled again.
"""
from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    out = parser.parse_args().out
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, str(ROOT / "tools/gen.py"), "--data", str(ROOT / "data"),
                        "--out", folder], check=True)
        for path in sorted(Path(folder).rglob("*")):
            if not path.is_file():
                continue
            target = out / path.relative_to(folder)
            text = path.read_bytes()
            if not target.exists() or target.read_bytes() != text:
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(text)


if __name__ == "__main__":
    main()
