#!/usr/bin/env python3
"""The same bits for 2, 4 and 8 lanes and without optimisation: the sampler built three times."""
import importlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(SRC / "tools" / "gen"))
sys.dont_write_bytecode = True
FLAGS = ["-std=c17", "-ffp-contract=off", "-w"]
# (lanes, optimisation); the simulated logs come from libm, the same in all three.
BUILDS = [(8, "-O2"), (4, "-O0"), (2, "-O0")]


def run(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def main() -> int:
    print("1..1", flush=True)
    with tempfile.TemporaryDirectory() as name:
        made = Path(name)
        for table in ("units", "water", "estimate"):
            importlib.import_module(table).generate(SRC / "data", made)
        include = ["-I", str(SRC / "src"), "-I", name, "-I", str(SRC / "tests" / "estimate")]
        shared = [str(path) for room in ("num", "units", "water") for path in sorted((SRC / "src" / room).glob("*.c"))
                  if path.name != "said.c"]  # sentences: another table, not needed here
        shared += [str(made / "gen" / f"{table}_tables.c") for table in ("unit", "water", "estimate")]
        objects = []
        for path in shared:
            objects.append(str(made / (path.replace("/", "_") + ".o")))
            run("cc", *FLAGS, "-O0", *include, "-c", path, "-o", objects[-1])
        rooms = [str(path) for path in sorted((SRC / "src" / "estimate").glob("*.c"))
                 if not path.name.startswith("from_") and path.name != "fold.c"]
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
