#!/usr/bin/env python3
"""The same bits from every compiler, processor and WebAssembly.

Each tests/same/same_<name>.c prints one line: a hash over many results of the core. It is built
here with the core's own files by several compilers and options, run with processor features
masked and in node, and every line must be the same: the one in <name>.txt beside it where there is
such a file (functions that should never change again), else that of gcc -O2. A control build that is
allowed to contract a*b+c must print another line, which shows that the hash sees such things.
As a test (env BUILD), what is built already is linked instead of built again: the library as it is
shipped, clang's, and the objects of the WebAssembly module.

usage: test_same.py [--all] [--accept]
  --all     more compilers and options, all built here, and the control (make same)
  --accept  write what gcc -O2 prints to every <name>.txt that is there; for changes of the
            functions, never to make a difference between builds go away
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
wasi.start(new WebAssembly.Instance(module, { wasi_snapshot_preview1: wasi.wasiImport }));
"""

# name, compiler and options, needs all of these programs, belongs to the quick set
BUILDS = [
    ("gcc -O2", ["gcc", "-O2"], [], True),
    ("gcc -O0", ["gcc", "-O0"], [], False),
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


def rooms_of(program: Path) -> list[str]:
    """The rooms that a program includes, and all to their left."""
    used = re.findall(r'^#include "(\w+)/', program.read_text(encoding="utf-8"), flags=re.M)
    return ROOMS[:max(ROOMS.index(room) for room in used if room in ROOMS) + 1]


def run_line(command: list[str], extra: dict[str, str] | None = None) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300,
                          env={**os.environ, **(extra or {})})
    if done.returncode:
        return f"exit {done.returncode}: {done.stderr.strip()}"
    return done.stdout.strip()


def compile_all(command: list[str], sources: list[Path], made: Path, out: Path) -> tuple[list[Path], str]:
    """Objects of the sources, and what the compiler said if it failed."""
    out.mkdir(exist_ok=True)
    objects = []
    for source in sources:
        made_object = out / (re.sub(r"\W+", "_", str(source.relative_to(made))) + ".o")
        done = subprocess.run([*command, "-I", str(made / "src"), "-I", str(made / "include"), "-I", str(made),
                               "-c", str(source), "-o", str(made_object)], capture_output=True, text=True, check=False)
        if done.returncode:
            return [], done.stderr
        objects.append(made_object)
    return objects, ""


def built_already(name: str) -> list[Path]:
    """The core that the build of the tests has made by these options; none that is not at hand and new."""
    build = Path(os.environ.get("BUILD", "/nowhere"))
    if build.name != "gcc":
        return []
    if name == "WebAssembly in node":
        made = (build / "build.ninja").read_text(encoding="utf-8")  # an object of a file that is gone may lie about
        found = [path for path in sorted(build.glob("*.wasm.o")) if not path.name.startswith("wasm_") and path.name in made]
    else:
        folder = {"gcc -O2": build, "clang -O2": build.parent / "clang-14"}.get(name)
        found = [folder / "libtubwright_core.a"] if folder and (folder / "libtubwright_core.a").is_file() else []
    newest = max(path.stat().st_mtime for place in ("src", "data", "include") for path in (ROOT / place).rglob("*"))
    return found if found and max(path.stat().st_mtime for path in found) >= newest else []


def core_of(programs: list[Path], made: Path, command: list[str], place: Path) -> tuple[list[Path], str]:
    """Objects of the rooms that the programs use, made by this compiler and these options."""
    rooms = max((rooms_of(program) for program in programs), key=len)
    listed = (made / "src/core_sources.txt").read_text(encoding="utf-8").split("\n")
    paths = [line.split("#")[0].strip() for line in listed]
    core = [made / "src" / path for path in paths if path.split("/")[0] in rooms]
    tables = [p for p in sorted((made / "gen").glob("*.c")) if not re.match(r"(store|cli|paper|serve)_", p.name)]
    return compile_all(command, core + tables, made, place)


def lines_of(programs: list[Path], made: Path, one: tuple, folder: Path) -> list[tuple[str, str, str]]:
    """(program, claim, printed line or trouble) of one build; a line with SKIP was not run."""
    name, options, needs, _ = one
    lacking = [tool for tool in [options[0], *needs] if not shutil.which(tool)]
    if lacking:
        return [(p.stem, name, f"SKIP {lacking[0]} is not installed") for p in programs]
    wasm = "--target=wasm32-wasi" in options
    command = options + ([] if any(option.startswith("-ffp-contract") for option in options) else STRICT)
    place = folder / re.sub(r"\W+", "_", name)
    place.mkdir(exist_ok=True)
    shared, said = built_already(name) if "--all" not in sys.argv else [], ""
    if not shared:
        shared, said = core_of(programs, made, command, place)
    lines = []
    for program in programs:
        own, own_said = compile_all(command, [program], made, place) if not said else ([], said)
        out = place / program.stem
        if not own_said:
            done = subprocess.run([*command, "-o", str(out), *map(str, own + shared),
                                   "-Wl,-z,stack-size=1048576" if wasm else "-lm"],
                                  capture_output=True, text=True, check=False)
            own_said = done.stderr if done.returncode else ""
        if own_said:
            lines.append((program.stem, name, f"does not build: {own_said}"))
        elif wasm:
            lines.append((program.stem, name, run_line(["node", "--no-warnings", "-e", RUN_WASM, str(out)])))
        else:
            lines.append((program.stem, name, run_line([str(out)])))
            if name == "gcc -O2":
                lines.append((program.stem, name + ", processor features masked", run_line([str(out)], MASK)))
    return lines


def has_fma() -> bool:
    try:
        return " fma " in Path("/proc/cpuinfo").read_text(encoding="utf-8").replace("\n", " ")
    except OSError:
        return False


def judged(everything: bool, accept: bool, made: Path) -> list[tuple[str, str, str]]:
    """(claim, trouble, directive) of every build and program."""
    programs = sorted((made / "same").glob("same_*.c"))
    builds = [one for one in BUILDS if everything or one[3]]
    first = lines_of(programs, made, builds[0], made)
    wanted = {stem: line for stem, name, line in first if name == builds[0][0]}
    for program in programs:
        kept = HERE / (program.stem.removeprefix("same_") + ".txt")
        if kept.exists() and accept:
            kept.write_text(wanted[program.stem] + "\n", encoding="utf-8")
        elif kept.exists():
            wanted[program.stem] = kept.read_text(encoding="utf-8").strip()
    with ThreadPoolExecutor(2) as pool:
        rest = list(pool.map(lambda one: lines_of(programs, made, one, made), builds[1:]))
    results = []
    for stem, name, line in first + [line for lines in rest for line in lines]:
        claim = f"{stem.removeprefix('same_')}: {name}"
        good = line == wanted[stem] and re.match(r"\w+ [0-9a-f]{64} ", line)
        skipped = line.startswith("SKIP")
        results.append((claim, "" if good or skipped else f"printed: {line}\nwanted:  {wanted[stem]}",
                        line if skipped else ""))
    if everything and has_fma():
        for stem, name, line in lines_of(programs, made, CONTROL, made):
            other = re.match(r"\w+ [0-9a-f]{64} ", line) and line != wanted[stem]
            results.append((f"{stem.removeprefix('same_')}: {name}", "" if other else f"printed: {line}", ""))
    return results


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        for folder, copy in ((ROOT / "src", "src"), (ROOT / "include", "include"), (HERE, "same")):
            if folder.is_dir():  # a copy, so that all builds see one state of the sources
                shutil.copytree(folder, Path(name) / copy)
        subprocess.run([sys.executable, str(ROOT / "tools/gen.py"), "--data", str(ROOT / "data"),
                        "--out", name], check=True, stdout=subprocess.DEVNULL)
        results = judged("--all" in sys.argv, "--accept" in sys.argv, Path(name))
    print(f"1..{len(results)}")
    for number, (claim, trouble, directive) in enumerate(results, 1):
        print(f"{'not ok' if trouble else 'ok'} {number} - {claim}{' # ' + directive if directive else ''}")
        print("".join(f"# {line}\n" for line in trouble.splitlines()), end="")
    raise SystemExit(1 if not results or any(trouble for _, trouble, _ in results) else 0)


if __name__ == "__main__":
    main()
