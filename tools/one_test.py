#!/usr/bin/env python3
"""Build and run one test and show all that it prints.

usage: one_test.py BUILD NAME [SEED]     NAME as in "dose/plan"; the seed goes to the program
"""
from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path


def main() -> None:
    if len(sys.argv) < 3:
        raise SystemExit(__doc__)
    build, name, seed = Path(sys.argv[1]), sys.argv[2], sys.argv[3:4]
    tests = json.loads((build / "meson-info/intro-tests.json").read_text(encoding="utf-8"))
    found = [test for test in tests if test["name"] == name]
    if not found:
        near = [test["name"] for test in tests if name and name.split("/")[0] in test["name"]]
        raise SystemExit(f"there is no test {name!r}; there are: {' '.join(near or [t['name'] for t in tests])}")
    test = found[0]
    targets = json.loads((build / "meson-info/intro-targets.json").read_text(encoding="utf-8"))
    root = build.resolve()
    wanted = [str(Path(file).relative_to(root)) for target in targets if target["id"] in test["depends"]
              for file in target["filename"]]
    wanted += [str(Path(part).relative_to(root)) for part in test["cmd"][:1]
               if Path(part).is_relative_to(root)]
    subprocess.run(["ninja", "-C", str(build), "--quiet", *dict.fromkeys(wanted)], check=True)
    began = time.monotonic()
    code = subprocess.run([*test["cmd"], *seed], env={**os.environ, **test["env"]}, check=False).returncode
    print(f"# {name}: exit {code} after {time.monotonic() - began:.2f} s")
    raise SystemExit(1 if code else 0)


if __name__ == "__main__":
    main()
