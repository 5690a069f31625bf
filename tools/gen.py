#!/usr/bin/env python3
"""Make the tables: every module in tools/gen/ writes its part of DIR/gen from data/*.csv.

usage: gen.py --data data --out DIR    write
       gen.py --data data --list       print what would be written, relative to DIR
"""
from __future__ import annotations

import argparse
import importlib
import sys
import tempfile
from pathlib import Path

GENERATORS = Path(__file__).resolve().parent / "gen"


def generate(data: Path, out: Path) -> None:
    for path in sorted(GENERATORS.glob("*.py")):
        if not path.name.startswith("_"):
            importlib.import_module(path.stem).generate(data, out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--out", type=Path)
    where.add_argument("--list", action="store_true")
    options = parser.parse_args()
    sys.path.insert(0, str(GENERATORS))
    sys.dont_write_bytecode = True
    if options.list:
        with tempfile.TemporaryDirectory() as folder:
            generate(options.data, Path(folder))
            made = sorted(path.relative_to(folder).as_posix() for path in Path(folder).rglob("*") if path.is_file())
        print("\n".join(made))
    else:
        generate(options.data, options.out)


if __name__ == "__main__":
    main()
