#!/usr/bin/env python3
"""The longer runs, which `make check` leaves out: make torture, calibrate, validate.

usage: longer.py torture|calibrate|validate BUILD

  torture    tests/torture/*.py
  calibrate  tests/calibrate/*.py
  validate   tests/*/validate.py

Each script gets the environment of the tests (TUBWRIGHT, BUILD, SRC) and prints TAP. What ran is
said, with its time; when there is nothing to run the exit code is 1.
"""
from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = {"torture": "tests/torture/*.py", "calibrate": "tests/calibrate/*.py",
           "validate": "tests/*/validate.py"}


def main() -> None:
    if len(sys.argv) != 3 or sys.argv[1] not in SCRIPTS:
        raise SystemExit(__doc__)
    what, build = sys.argv[1], Path(sys.argv[2]).resolve()
    scripts = [path for path in sorted(ROOT.glob(SCRIPTS[what])) if not path.name.startswith("_")]
    if not scripts:
        raise SystemExit(f"{what}: nothing to run: there is no {SCRIPTS[what]}")
    env = {**os.environ, "SRC": str(ROOT), "BUILD": str(build), "TUBWRIGHT": str(build / "tubwright"),
           "WASM": str(build / "tubwright.wasm"), "PYTHONDONTWRITEBYTECODE": "1", "LC_ALL": "C.UTF-8"}
    failed = 0
    for script in scripts:
        print(f"== {script.relative_to(ROOT)}", flush=True)
        began = time.monotonic()
        code = subprocess.run([sys.executable, str(script)], env=env, check=False).returncode
        failed += code != 0
        print(f"== {script.relative_to(ROOT)}: exit {code} after {time.monotonic() - began:.1f} s", flush=True)
    print(f"{len(scripts) - failed} passed, {failed} failed")
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    main()
