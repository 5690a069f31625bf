#!/usr/bin/env python3
"""Run the benchmarks and write their numbers as one flat object.

usage: run.py BUILD OUT.json

Each program BUILD/bench/bench-* prints "name number" lines (bench.h). Every x_ns or x_ms must have
its x_ratio beside it, and no name may come twice.
"""
from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path


def main() -> None:
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    programs = [path for path in sorted((Path(sys.argv[1]) / "bench").glob("bench-*")) if path.is_file()]
    if not programs:
        raise SystemExit("no benchmark was built")
    numbers: dict[str, float] = {}
    for program in programs:
        done = subprocess.run([str(program)], capture_output=True, text=True, check=True)
        for line in done.stdout.splitlines():
            name, value = line.split()
            if name in numbers:
                raise SystemExit(f"{program.name}: {name} came twice")
            numbers[name] = float(value)
    for name in numbers:
        for unit in ("_ns", "_ms"):
            if name.endswith(unit) and name.removesuffix(unit) + "_ratio" not in numbers:
                raise SystemExit(f"{name} has no ratio")
    Path(sys.argv[2]).write_text(json.dumps(numbers, indent=2, sort_keys=True) + "\n", encoding="utf-8")
    width = max(map(len, numbers))
    for name in sorted(numbers):
        print(f"{name:<{width}}  {numbers[name]:.6g}")


if __name__ == "__main__":
    main()
