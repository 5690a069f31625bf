#!/usr/bin/env python3
"""What there is to build: sources, tables, tests, fuzzers and benchmarks, as meson reads them.

usage: found.py                 print one line a thing, "what|name|path"
       found.py --refresh DIR   configure the build folder DIR again if that list has changed

The lists of sources stand in src/core_sources.txt and src/program_sources.txt; everything else is
found by its name, so that a new test or table needs no line anywhere.

  core|NAME|PATH    a file of the core (native archive and WebAssembly)
  shell|NAME|PATH   a file of the program; all but cli/main.c go into a library that tests link to
  wasm|NAME|PATH    a file of src/wasm: the few exports, beside the core
  export|NAME|PATH  a function that the WebAssembly module exports, from the headers of src/wasm
  table|NAME|PATH   what the generated tables are made from
  page|NAME|PATH    what the page is built from
  made|NAME|PATH    a generated file (NAME is its name in DIR/gen)
  tool|NAME|yes     whether a tool or library that parts depend on is here
  helper|NAME|PATH  a program that tests run, in tests/support
  ctest, pytest, cli, fuzz, bench|NAME|PATH
"""
from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def listed(name: str) -> list[str]:
    """Paths in a list of sources, without blank lines and comments; each must exist, once."""
    paths: list[str] = []
    for line in (ROOT / "src" / name).read_text(encoding="utf-8").splitlines():
        path = line.split("#", 1)[0].strip()
        if not path:
            continue
        if path in paths:
            raise SystemExit(f"src/{name}: {path} stands there twice")
        if not (ROOT / "src" / path).is_file():
            raise SystemExit(f"src/{name}: there is no file src/{path}")
        paths.append(path)
    return paths


def made_tables() -> list[str]:
    """Names of the files that the generator writes into DIR/gen."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, str(ROOT / "tools/gen.py"), "--data", str(ROOT / "data"),
                        "--out", folder], check=True, stdout=subprocess.DEVNULL)
        gen = Path(folder) / "gen"
        return sorted(path.name for path in gen.iterdir() if path.is_file()) if gen.is_dir() else []


def test_name(path: Path, prefix: str) -> str:
    """tests/dose/test_plan.c -> dose/plan."""
    folder = path.parent.relative_to(ROOT / "tests").as_posix()
    return f"{folder}/{path.stem.removeprefix(prefix)}"


def sources() -> list[str]:
    core = listed("core_sources.txt")
    lines = [f"core|{Path(p).stem}|src/{p}" for p in core if not p.startswith("wasm/")]
    lines += [f"shell|{Path(p).stem}|src/{p}" for p in listed("program_sources.txt")]
    lines += [f"wasm|{p.stem}|src/wasm/{p.name}" for p in sorted((ROOT / "src/wasm").glob("*.c"))]
    for header in sorted((ROOT / "src/wasm").glob("*.h")):
        text = re.sub(r"/\*.*?\*/", "", header.read_text(encoding="utf-8"), flags=re.S)
        for name in re.findall(r"\b(tw_wasm_\w+)\s*\(", text):
            lines.append(f"export|{name}|{header.relative_to(ROOT).as_posix()}")
    return lines


def tables() -> list[str]:
    found = sorted((ROOT / "data").rglob("*.csv")) + sorted((ROOT / "data/demo").glob("*.txt")) + sorted((ROOT / "data/pages").glob("*.html"))
    found += sorted((ROOT / "tools/gen").glob("*.py")) + [ROOT / "tools/gen.py"]
    return [f"table|{p.stem}|{p.relative_to(ROOT).as_posix()}" for p in found]


def page() -> list[str]:
    """What the page is built from."""
    found = sorted(path for path in (ROOT / "web").rglob("*") if path.is_file() and "node_modules" not in path.parts)
    return [f"page|{path.name}|{path.relative_to(ROOT).as_posix()}" for path in found]


def tests() -> list[str]:
    lines = [f"helper|{path.stem}|{path.relative_to(ROOT).as_posix()}"
             for path in sorted((ROOT / "tests/support").glob("*.c"))]
    for what, pattern, prefix in (("ctest", "test_*.c", "test_"), ("pytest", "test_*.py", "test_"),
                                  ("fuzz", "fuzz_*.c", "fuzz_")):
        for path in sorted((ROOT / "tests").rglob(pattern)):
            lines.append(f"{what}|{test_name(path, prefix)}|{path.relative_to(ROOT).as_posix()}")
    for path in sorted((ROOT / "tests/cli").glob("*.txt")):
        lines.append(f"cli|cli/{path.stem}|{path.relative_to(ROOT).as_posix()}")
    for path in sorted((ROOT / "bench").glob("bench_*.c")):
        lines.append(f"bench|{path.stem.removeprefix('bench_')}|{path.relative_to(ROOT).as_posix()}")
    return lines


def tools() -> list[str]:
    """What decides which parts are built; a package that came later configures again."""
    wanted = {"cmocka": "/usr/include/cmocka.h", "sqlite3": "/usr/include/sqlite3.h",
              "gsl": "/usr/include/gsl/gsl_cdf.h", "sodium": "/usr/include/sodium.h",
              "microhttpd": "/usr/include/microhttpd.h", "jansson": "/usr/include/jansson.h", "curl": next(Path("/usr/include").glob("*/curl/curl.h"), "none"),
              "wasi": "/usr/include/wasm32-wasi/math.h",
              "builtins": "/usr/lib/llvm-14/lib/clang/14.0.6/lib/wasi/libclang_rt.builtins-wasm32.a"}
    lines = [f"tool|{name}|{'yes' if Path(path).exists() else 'no'}" for name, path in wanted.items()]
    lines.append(f"tool|npm|{'yes' if (ROOT / 'web/node_modules/.package-lock.json').exists() else 'no'}")
    lines.append(f"tool|font|{'yes' if Path('/usr/share/fonts/truetype/andika/Andika-Regular.ttf').exists() and Path('/usr/lib/python3/dist-packages/fontTools').exists() else 'no'}")
    return lines + [f"tool|{name}|{'yes' if shutil.which(name) else 'no'}" for name in ("clang-14", "wasm-ld-14", "node")]


def refresh(folder: Path) -> None:
    """Configure again when a file came or went, or the generator writes other files."""
    kept = folder / "found.txt"
    known = kept.read_text(encoding="utf-8").splitlines() if kept.exists() else []
    made = [line for line in known if line.startswith("made|")]
    now = tools() + sources() + tables() + page() + tests()
    inputs = [ROOT / line.split("|")[2] for line in tables()]
    newest = max((path.stat().st_mtime for path in inputs), default=0.0)
    if not known or newest > kept.stat().st_mtime:
        made = [f"made|{name}|gen/{name}" for name in made_tables()]
    if now + made == known:
        kept.touch()
        return
    if (folder / "build.ninja").exists() and known:
        subprocess.run(["meson", "setup", "--reconfigure", str(folder), str(ROOT)], check=True,
                       stdout=subprocess.DEVNULL)
    kept.write_text("\n".join(now + made) + "\n", encoding="utf-8")


def main() -> None:
    if len(sys.argv) == 3 and sys.argv[1] == "--refresh":
        refresh(Path(sys.argv[2]))
    elif len(sys.argv) == 1:
        lines = tools() + sources() + tables() + page() + tests()
        lines += [f"made|{name}|gen/{name}" for name in made_tables()]
        print("\n".join(lines))
    else:
        raise SystemExit(__doc__)


if __name__ == "__main__":
    main()
