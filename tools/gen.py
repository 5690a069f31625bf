#!/usr/bin/env python3
"""Make the tables: every module in tools/gen/ writes its part of DIR/gen from data/*.csv.

usage: gen.py --data data --out DIR
"""
from __future__ import annotations

import argparse
import importlib
import sys
from pathlib import Path

GENERATORS = Path(__file__).resolve().parent / "gen"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    sys.path.insert(0, str(GENERATORS))
    sys.dont_write_bytecode = True
    for path in sorted(GENERATORS.glob("*.py")):
        if not path.name.startswith("_"):
            importlib.import_module(path.stem).generate(options.data, options.out)


if __name__ == "__main__":
    main()
