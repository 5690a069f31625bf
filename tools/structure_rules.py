"""The rules of the structure, each a function from a tree to the faults found in it.

A fault is one line that names the file. tools/structure.py runs the rules and plants a fault for
each of them, to show that it would be found.
"""
from __future__ import annotations

import re
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

# Which rooms a room may include from, beside itself. The planner (dose) sees no logbook, and the
# logbook no chemistry: each can be read, tested and changed without the other.
CORE = {
    "num": [],
    "units": ["num"],
    "water": ["num", "units"],
    "dose": ["num", "units", "water"],
    "logbook": ["num", "units"],
    "estimate": ["num", "units", "water", "dose", "logbook"],
    "procedure": ["num", "units", "water", "dose", "logbook", "estimate"],
    "answer": ["num", "units", "water", "dose", "logbook", "estimate", "procedure", "tubwright"],
}
SHELLS = {
    "wasm": [*CORE, "tubwright"],
    "store": ["num", "units", "logbook"],
    "paper": [*CORE, "tubwright"],
    "sync": ["num", "units", "logbook", "store"],
    "serve": [*CORE, "tubwright", "store", "sync", "paper"],
    "cli": [*CORE, "tubwright", "store", "sync", "paper", "serve"],
}
ROOMS = {**CORE, **SHELLS}
# What the core may include of the standard library. stdlib.h is for abort() in num/require.h.
CORE_SYSTEM = {"float.h", "inttypes.h", "limits.h", "math.h", "stdbool.h", "stddef.h", "stdint.h",
               "string.h", "stdlib.h"}
# Everything that the core may ask of its surroundings. Ten names.
CORE_IMPORTS = {"abort", "ceil", "floor", "memcmp", "memcpy", "memmove", "memset", "sqrt", "strlen",
                "trunc"}
# What the choice between processors asks of the compiler's runtime, not of the system.
PROCESSOR_NAMES = {"__cpu_indicator_init", "__cpu_model", "__cpu_features2"}
# The one place where the core speaks to the compiler: functions made for several processors, the same bits.
PROCESSOR_WORDS = {"src/estimate/lanes.h": re.compile(r"#define TW_(WIDE|INLINE)\b.*__attribute__")}
PREFIXES = {room: (f"tw_{room}_",) for room in ROOMS}
PREFIXES["num"] = ("tw_",)
PREFIXES["answer"] = ("tw_answer_", "tw_core_")
PREFIXES["cli"] = ("tw_cli_", "main")

INCLUDE = re.compile(r'^\s*#\s*include\s+([<"])([^>"]+)[>"]', re.M)
PLAIN_FLAGS = ["-std=c17", "-O0", "-w", "-ffp-contract=off", "-fno-pic", "-fno-pie",
               "-fno-stack-protector", "-U_FORTIFY_SOURCE"]


@dataclass
class Tree:
    """A source tree with its generated tables, and objects that were made plainly from it."""

    root: Path
    made: Path                      # holds gen/*.h and gen/*.c
    work: Path                      # a folder for objects
    tracked: list[str]              # paths under version control
    objects: dict[str, Path] = field(default_factory=dict)   # source -> object, filled once
    planted: str = ""               # a file that is compiled although no list has it

    def room_files(self, *endings: str) -> list[Path]:
        return [path for room in ROOMS for path in sorted((self.root / "src" / room).glob("*"))
                if path.suffix in endings]

    def name(self, path: Path) -> str:
        base = self.made if path.is_relative_to(self.made) else self.root
        return path.relative_to(base).as_posix()

    def compile(self) -> dict[str, Path]:
        """Objects of all sources without sanitizers, stack protection or debug text."""
        built = listed(self.root, "core_sources.txt") | listed(self.root, "program_sources.txt")
        sources = [path for path in self.room_files(".c") if f"{path.parent.name}/{path.name}" in built
                   or path.parent.name == "wasm" or self.name(path) == self.planted]
        sources += sorted((self.made / "gen").glob("*.c"))
        todo = [path for path in sources if self.name(path) not in self.objects]

        def one(path: Path) -> None:
            target = self.work / (self.name(path).replace("/", "-") + ".o")
            done = subprocess.run(
                ["gcc", *PLAIN_FLAGS, f"-I{self.root}/src", f"-I{self.root}/include", f"-I{self.made}",
                 "-c", str(path), "-o", str(target)], capture_output=True, text=True, check=False)
            if done.returncode:
                raise SystemExit(f"{path}: {done.stderr}")
            self.objects[self.name(path)] = target

        with ThreadPoolExecutor(2) as pool:
            list(pool.map(one, todo))
        return self.objects


def listed(root: Path, name: str) -> set[str]:
    """The paths in a list of sources."""
    lines = (root / "src" / name).read_text(encoding="utf-8").splitlines()
    return {line.split("#")[0].strip() for line in lines} - {""}


def room_of(name: str) -> str:
    """src/water/ph.c -> water; gen/unit_tables.c -> gen."""
    parts = name.split("/")
    return parts[1] if parts[0] == "src" else parts[0]


def without_comments(text: str) -> str:
    """The text with comments and the inside of strings blanked, lines kept."""
    blank = lambda found: re.sub(r"[^\n]", " ", found[0]) if found[0].startswith("/") else '""'
    return re.sub(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"', blank, text, flags=re.S)


def include_direction(tree: Tree) -> list[str]:
    """A room includes only from the rooms before it; the core no more of libc than it may."""
    faults = []

    def look(path: Path, room: str, chain: str, seen: set[str]) -> None:
        for bracket, wanted in INCLUDE.findall(path.read_text(encoding="utf-8")):
            first = wanted.split("/")[0]
            if bracket == "<":
                if room in CORE and wanted not in CORE_SYSTEM and first != "tubwright":
                    faults.append(f"{chain}: the core does not include <{wanted}>")
            elif first == "gen":
                if wanted not in seen and (tree.made / wanted).is_file():
                    look(tree.made / wanted, room, f"{chain} -> {wanted}", seen | {wanted})
            elif first not in (room, *ROOMS[room]):
                faults.append(f"{chain}: {room} does not include {wanted}")

    for path in tree.room_files(".c", ".h"):
        look(path, room_of(tree.name(path)), tree.name(path), set())
    return faults


def symbol_names(tree: Tree) -> list[str]:
    """What other files can see starts with the room's own prefix."""
    faults = []
    for name, kind, symbol in nm(tree):
        room = room_of(name)
        prefixes = PREFIXES.get(room, ("tw_",))
        if kind.isupper() and kind != "U" and not symbol.startswith(prefixes):
            faults.append(f"{name}: {symbol} does not start with {' or '.join(prefixes)}")
    return faults


def no_state(tree: Tree) -> list[str]:
    """The core keeps nothing between calls: all its data is constant."""
    return [f"{name}: {symbol} is data that can be written" for name, kind, symbol in nm(tree)
            if kind in "BbDdGgSsC" and room_of(name) in (*CORE, "gen")]


def nm(tree: Tree) -> list[tuple[str, str, str]]:
    """(file, kind, symbol) of all objects."""
    objects = tree.compile()
    of_object = {str(path): name for name, path in objects.items()}
    done = subprocess.run(["nm", "-A", *of_object], capture_output=True, text=True, check=True)
    found = []
    for line in sorted(done.stdout.splitlines()):
        path, rest = line.split(":", 1)
        kind, symbol = rest.split()[-2:]
        found.append((of_object[path], kind, symbol))
    return found


def core_imports(tree: Tree) -> list[str]:
    """All files of the core, linked together, ask for no more than ten names of libc."""
    if len(CORE_IMPORTS) > 10:
        return ["the list of allowed names is longer than ten"]
    # Tables of the program (gen/cli_..., gen/store_...) do not belong to the core.
    core = [(name, path) for name, path in sorted(tree.compile().items())
            if room_of(name) in CORE or room_of(name) == "gen"
            and not re.match(r"gen/(store|cli|paper|serve)_", name)]
    joined = tree.work / "core.joined.o"
    subprocess.run(["ld", "-r", "-o", str(joined), *(str(path) for _, path in core)], check=True)
    asked = {line.split()[-1] for line in subprocess.run(
        ["nm", "-u", str(joined)], capture_output=True, text=True, check=True).stdout.splitlines()}
    asked -= {"_GLOBAL_OFFSET_TABLE_"} | PROCESSOR_NAMES
    users: dict[str, list[str]] = {}
    for name, kind, symbol in nm(tree) if asked - CORE_IMPORTS else []:
        if kind == "U" and name in dict(core):
            users.setdefault(symbol, []).append(name)
    return [f"{' '.join(users.get(symbol, []))}: the core asks for {symbol}"
            for symbol in sorted(asked - CORE_IMPORTS)]


def core_words(tree: Tree) -> list[str]:
    """The core has no long (its size differs in WebAssembly), no float, no compiler's own words."""
    bad = re.compile(r"\b(long|float|__attribute__|__builtin_\w+|__int128|asm|typeof)\b")
    faults = []
    for path in tree.room_files(".c", ".h"):
        if room_of(tree.name(path)) not in CORE:
            continue
        for number, line in enumerate(without_comments(path.read_text(encoding="utf-8")).splitlines(), 1):
            known = PROCESSOR_WORDS.get(tree.name(path))
            if line.lstrip().startswith("#include") or known and known.match(line):
                continue
            if found := bad.search(line):
                faults.append(f"{tree.name(path)}:{number}: {found[0]} in the core")
    return faults


def declarations(text: str) -> list[tuple[int, int, str]]:
    """(first line, last line, name) of what a header declares at its outer level."""
    found: list[tuple[int, int, str]] = []
    first, depth, chunk, directive = 0, 0, "", False
    undefined = set(re.findall(r"#\s*undef\s+(\w+)", text))
    plain = re.sub(r"#\s*ifdef\s+__cplusplus.*?#\s*endif", lambda cpp: re.sub(r"[^\n]", " ", cpp[0]),
                   without_comments(text), flags=re.S)
    for number, code in enumerate(plain.splitlines(), 1):
        if not code.strip():
            continue
        macro = re.match(r"\s*#\s*define\s+(\w+)", code)
        if macro and not chunk and not macro[1].endswith("_H") and macro[1] not in undefined:
            found.append((number, number, macro[1]))
        directive, inside = code.rstrip().endswith("\\") and (directive or code.lstrip().startswith("#")), directive
        if inside or code.lstrip().startswith("#"):
            continue
        first = first if chunk else number
        chunk += code + "\n"
        depth += code.count("{") - code.count("}")
        if depth == 0 and re.search(r"[;}]\s*$", code):
            named = (re.search(r"\}\s*(\w+)\s*;\s*$", chunk) or re.search(r"\b(\w+)\s*\(", chunk)
                     or re.search(r"\b(\w+)\s*(?:\[[^\]]*\]\s*)?;\s*$", chunk)
                     or re.search(r"\b(?:enum|struct|union)\s+(\w+)", chunk))
            forward = re.fullmatch(r"\s*typedef (struct|union) (\w+) \2;\s*", chunk)
            if named and not forward and not chunk.lstrip().startswith("_Static_assert"):
                found.append((first, number, named[1]))
            chunk = ""
    return found


def documented_names(tree: Tree) -> list[str]:
    """Each function, type and macro of a header has a comment before it, beside it or in its body,
    or is named in a comment of the header; a group without empty lines shares the first comment."""
    faults = []
    headers = tree.room_files(".h") + sorted((tree.root / "include").rglob("*.h"))
    for path in headers:
        text = path.read_text(encoding="utf-8")
        lines, plain = text.splitlines(), without_comments(text).splitlines()
        comments = " ".join(re.findall(r"/\*.*?\*/|//[^\n]*", text, flags=re.S))
        told_until = -1
        for first, last, name in declarations(text):
            above = lines[first - 2].strip() if first > 1 else ""
            told = (bool(above) and not plain[first - 2].strip() or told_until == first - 1
                    or any("/*" in line or "//" in line for line in lines[first - 1:last])
                    or re.search(rf"\b{name}\b", comments))
            if told:
                told_until = last
                while told_until < len(lines) and (plain[told_until].lstrip().startswith("#undef")
                                                   or lines[told_until - 1].rstrip().endswith("\\")):
                    told_until += 1
            else:
                faults.append(f"{tree.name(path)}:{first}: nothing says what {name} is")
    return faults


def lists_complete(tree: Tree) -> list[str]:
    """Each .c file of a room stands in the list that builds it."""
    faults = []
    for name, rooms in (("core_sources.txt", CORE), ("program_sources.txt", {"store", "sync", "paper", "serve", "cli"})):
        there = {f"{path.parent.name}/{path.name}" for path in tree.room_files(".c") if path.parent.name in rooms}
        faults += [f"src/{path}: not in src/{name}" for path in sorted(there - listed(tree.root, name))]
        faults += [f"src/{name}: {path} is no file of its rooms" for path in sorted(listed(tree.root, name) - there)]
    return faults


def nothing_generated(tree: Tree) -> list[str]:
    """What tools/gen.py writes is made at build time, never kept under version control."""
    made = {path.name for path in (tree.made / "gen").rglob("*") if path.is_file()}
    return [f"{path}: a generated file is kept" for path in tree.tracked
            if path.split("/")[-1] in made or path.startswith("build/")
            or path.startswith("src/gen/") and not path.endswith("meson.build")]


def generators_short(tree: Tree) -> list[str]:
    """A generator is one small module for one target: 250 lines at most."""
    return [f"{tree.name(path)}: {lines} lines" for path in sorted((tree.root / "tools/gen").glob("*.py"))
            if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 250]


def nothing_left_over(tree: Tree) -> list[str]:
    """No note of work to be done later, and no path of somebody's machine."""
    bad = re.compile("|".join([r"\bTO" r"DO\b", r"\bFIX" r"ME\b", r"\bXX" r"X\b", "/wo" "rk/", "/tm" "p/tw"]))
    faults = []
    for name in tree.tracked:
        path = tree.root / name
        if path.suffix in {".c", ".h", ".py", ".sh", ".csv", ".md", ".txt", ".build", ".json", ""} and path.is_file():
            for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), 1):
                if found := bad.search(line):
                    faults.append(f"{name}:{number}: {found[0]}")
    return faults
