#!/usr/bin/env python3
"""The same bits for 2, 4 and 8 lanes and without optimisation: the sampler built three times."""
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parents[2]))
FLAGS = ["-std=c17", "-ffp-contract=off", "-w"]
# (lanes, optimisation); the simulated logs come from libm, the same in all three.
BUILDS = [(8, "-O2"), (4, "-O0"), (2, "-O0")]


def run(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def main() -> int:
    print("1..1", flush=True)
    with tempfile.TemporaryDirectory() as name:
        made = Path(name)
        run(sys.executable, str(SRC / "tools/gen.py"), "--data", str(SRC / "data"), "--out", name)
        include = ["-I", str(SRC / "src"), "-I", str(SRC / "include"), "-I", name, "-I", str(SRC / "tests" / "estimate")]
        listed = [line.split("#")[0].strip() for line in (SRC / "src/core_sources.txt").read_text(encoding="utf-8").splitlines()]
        shared = [str(SRC / "src" / path) for path in listed if path.split("/")[0] in ("num", "units", "water")]
        shared += [str(path) for path in sorted((made / "gen").glob("*.c")) if not re.match(r"(store|cli|paper)_", path.name)]
        objects = []
        for path in shared:
            objects.append(str(made / (path.replace("/", "_") + ".o")))
            run("cc", *FLAGS, "-O0", *include, "-c", path, "-o", objects[-1])
        # What reads the logbook is another matter: the lanes begin at plain events.
        rooms = [str(path) for path in sorted((SRC / "src" / "estimate").glob("*.c"))
                 if not path.name.startswith("from_") and '"estimate/from_book.h"' not in path.read_text(encoding="utf-8")]
        digests = {}
        for lanes, optimisation in BUILDS:
            program = str(made / f"lanes{lanes}")
            run("cc", *FLAGS, optimisation, f"-DTW_ESTIMATE_LANES={lanes}", *include,
                str(SRC / "tests" / "same" / "lanes_digest.c"), *rooms, *objects, "-o", program, "-lm")
            digests[lanes, optimisation] = run(program)
        for key, text in digests.items():
            print(f"# {key[0]} lanes {key[1]}: {text.split()[0][:16]}")
        same = len(set(digests.values())) == 1 and len(text.split()) == 3
    print(("ok" if same else "not ok") + " 1 - lane width and optimisation do not show")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
