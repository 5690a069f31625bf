#!/usr/bin/env python3
"""Run the benchmarks and write their numbers as one flat object.

usage: run.py BUILD OUT.json

Each program BUILD/bench/bench-* prints "name number" lines (bench.h). Every x_ns or x_ms must have
its x_ratio beside it, and no name may come twice.
"""
from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path


def in_wasm(build: Path, native: dict[str, float]) -> dict[str, float]:
    """The year in node, as ratios to native; nothing where there is no node or no module."""
    module, program = build / "tubwright.wasm", build / "bench/bench-year"
    if shutil.which("node") is None or not module.is_file() or not program.is_file():
        return {}
    with tempfile.NamedTemporaryFile("w", suffix=".jsonl") as lines:
        lines.write(subprocess.run([str(program), "lines"], capture_output=True, text=True, check=True).stdout)
        lines.flush()
        done = subprocess.run(["node", str(Path(__file__).parent / "wasm.mjs"), str(module), lines.name],
                              capture_output=True, text=True, check=True)
    said = dict(line.split() for line in done.stdout.splitlines())
    return {f"{name}_to_native": float(ms) / native[name.removeprefix("wasm_") + "_ms"] for name, ms in said.items()}


def in_page(build: Path) -> dict[str, float]:
    """What the page weighs and takes in a browser; nothing where there is none."""
    done = subprocess.run([sys.executable, str(Path(__file__).parent / "page.py"), str(build)], capture_output=True, text=True, check=True)
    return {name: float(value) for name, value in (line.split() for line in done.stdout.splitlines() if line[:1].isalpha())}


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
    numbers.update(in_wasm(Path(sys.argv[1]), numbers))
    numbers.update(in_page(Path(sys.argv[1])))
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
