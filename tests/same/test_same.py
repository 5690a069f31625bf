#!/usr/bin/env python3
"""The same bits from every compiler, processor and WebAssembly.

Each tests/same/same_<name>.c prints one line: a hash over many results of the core. It is built
here with the core's own files by several compilers and options, run with processor features
masked and in node, and every line must be the one in <name>.txt beside it. A control build that
is allowed to contract a*b+c must print another line, which shows that the hash sees such things.

usage: test_same.py [--all [BUILD]] [--accept]
  --all     more compilers and options, and the control (make same)
  --accept  write what gcc -O2 prints to <name>.txt; for changes of the functions, never of bits
"""
from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
ROOMS = ["num", "units", "water", "dose", "logbook", "estimate", "procedure", "answer"]
STRICT = ["-std=c17", "-ffp-contract=off"]
CLANG = shutil.which("clang-14") or shutil.which("clang")
MASK = {"GLIBC_TUNABLES": "glibc.cpu.hwcaps=-FMA,-AVX2,-FMA4,-AVX512F"}
RUN_WASM = """
const { WASI } = require('node:wasi');
const wasi = new WASI({ version: 'preview1', args: ['same'], env: {} });
const module = new WebAssembly.Module(require('fs').readFileSync(process.argv[1]));
wasi.start(new WebAssembly.Instance(module, wasi.getImportObject()));
"""

# name, compiler and options, needs all of these programs, belongs to the quick set
BUILDS = [
    ("gcc -O2", ["gcc", "-O2"], [], True),
    ("gcc -O0", ["gcc", "-O0"], [], True),
    ("gcc -O3 -march=native", ["gcc", "-O3", "-march=native"], [], True),
    ("gcc -O1 with sanitizers", ["gcc", "-O1", "-fsanitize=address,undefined",
                                 "-fno-sanitize-recover=all"], [], False),
    ("clang -O2", [CLANG or "clang", "-O2"], [], True),
    ("clang -O3 -march=native", [CLANG or "clang", "-O3", "-march=native"], [], False),
    ("clang -O0", [CLANG or "clang", "-O0"], [], False),
    ("WebAssembly in node", [CLANG or "clang", "-O2", "--target=wasm32-wasi"], ["node", "wasm-ld-14"], True),
]
CONTROL = ("control: contraction changes the hash",
           ["gcc", "-O2", "-march=native", "-ffp-contract=fast", "-std=gnu17"], [], False)


def files_for(program: Path) -> list[Path]:
    """The core's files of the rooms that the program includes, and of all rooms to their left."""
    used = re.findall(r'^#include "(\w+)/', program.read_text(encoding="utf-8"), flags=re.M)
    last = max(ROOMS.index(room) for room in used if room in ROOMS)
    listed = (ROOT / "src/core_sources.txt").read_text(encoding="utf-8").split("\n")
    paths = [line.split("#")[0].strip() for line in listed]
    return [ROOT / "src" / path for path in paths if path and path.split("/")[0] in ROOMS[:last + 1]]


def run_line(command: list[str], extra: dict[str, str] | None = None) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300,
                          env={**os.environ, **(extra or {})})
    if done.returncode:
        return f"exit {done.returncode}: {done.stderr.strip()}"
    return done.stdout.strip()


def build(program: Path, made: Path, options: list[str], out: Path) -> str:
    """Empty when it worked, else what the compiler said."""
    sources = files_for(program) + sorted(p for p in (made / "gen").glob("*.c")
                                          if not re.match(r"(store|cli|paper|serve)_", p.name))
    strict = [] if any(option.startswith("-ffp-contract") for option in options) else STRICT
    command = [*options, *strict, "-I", str(ROOT / "src"), "-I", str(made), "-o", str(out), str(program),
               *map(str, sources)] + ([] if "--target=wasm32-wasi" in options else ["-lm"])
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.stderr if done.returncode else ""


def lines_of(program: Path, made: Path, one: tuple, folder: Path) -> list[tuple[str, str]]:
    """(claim, printed line or trouble) of one build; a line that starts with SKIP was not run."""
    name, options, needs, _ = one
    lacking = [tool for tool in [options[0], *needs] if not shutil.which(tool)]
    if lacking:
        return [(name, f"SKIP {lacking[0]} is not installed")]
    wasm = "--target=wasm32-wasi" in options
    out = folder / re.sub(r"\W+", "_", name)
    said = build(program, made, options, out)
    if said:
        return [(name, f"does not build: {said}")]
    if wasm:
        return [(name, run_line(["node", "--no-warnings", "-e", RUN_WASM, str(out)]))]
    lines = [(name, run_line([str(out)]))]
    if name == "gcc -O2":
        lines.append((name + ", processor features masked", run_line([str(out)], MASK)))
    return lines


def has_fma() -> bool:
    try:
        return " fma " in Path("/proc/cpuinfo").read_text(encoding="utf-8").replace("\n", " ")
    except OSError:
        return False


def main() -> None:
    everything = "--all" in sys.argv
    accept = "--accept" in sys.argv
    builds = [one for one in BUILDS if everything or one[3]]
    results: list[tuple[str, str, str]] = []  # claim, trouble, directive
    with tempfile.TemporaryDirectory() as name:
        made = Path(name)
        subprocess.run([sys.executable, str(ROOT / "tools/gen.py"), "--data", str(ROOT / "data"),
                        "--out", name], check=True, stdout=subprocess.DEVNULL)
        for program in sorted(HERE.glob("same_*.c")):
            room = program.stem.removeprefix("same_")
            kept = HERE / f"{room}.txt"
            if accept:
                kept.write_text(lines_of(program, made, BUILDS[0], made)[0][1] + "\n", encoding="utf-8")
            want = kept.read_text(encoding="utf-8").strip() if kept.exists() else "(no line is kept)"
            with ThreadPoolExecutor(2) as pool:
                for lines in pool.map(lambda one: lines_of(program, made, one, made), builds):
                    for claim, line in lines:
                        if line.startswith("SKIP"):
                            results.append((f"{room}: {claim}", "", line))
                        else:
                            trouble = "" if line == want else f"printed: {line}\nwanted:  {want}"
                            results.append((f"{room}: {claim}", trouble, ""))
            if everything and has_fma():
                claim, line = lines_of(program, made, CONTROL, made)[0]
                trouble = "" if re.match(room + " [0-9a-f]{64}", line) and line != want else f"printed: {line}"
                results.append((f"{room}: {claim}", trouble, ""))
    print(f"1..{len(results)}")
    for number, (claim, trouble, directive) in enumerate(results, 1):
        print(f"{'not ok' if trouble else 'ok'} {number} - {claim}{' # ' + directive if directive else ''}")
        print("".join(f"# {line}\n" for line in trouble.splitlines()), end="")
    raise SystemExit(1 if not results or any(trouble for _, trouble, _ in results) else 0)


if __name__ == "__main__":
    main()
