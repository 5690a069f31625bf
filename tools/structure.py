#!/usr/bin/env python3
"""Check the structure of the sources, and that each check would find a fault (TAP).

usage: structure.py [ROOT]

Each rule of tools/structure_rules.py runs over the tree, then over a scratch copy with a fault
planted in it: a rule that does not find its planted fault has failed as well. Files longer than
600 lines are named in a comment.
"""
from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import structure_rules as rules
from structure_rules import Tree

ROOT = Path(__file__).resolve().parent.parent

# rule, the file to plant, its text, a word that the finding must have
PLANTED = [
    (rules.include_direction, "src/dose/planted.c", '#include "logbook/entry.h"\n', "dose does not include"),
    (rules.include_direction, "src/logbook/planted.c", '#include "water/totals.h"\n', "logbook does not include"),
    (rules.include_direction, "src/answer/planted.c", '#include "store/store.h"\n', "answer does not include"),
    (rules.include_direction, "src/water/planted.c", "#include <stdio.h>\n", "<stdio.h>"),
    (rules.symbol_names, "src/water/planted.c",
     "int tw_dose_planted(void);\nint tw_dose_planted(void) { return 1; }\n", "tw_dose_planted"),
    (rules.symbol_names, "src/store/planted.c", "const int planted_name = 1;\n", "planted_name"),
    (rules.no_state, "src/num/planted.c",
     "int tw_planted(void);\nint tw_planted(void) { static int calls; return ++calls; }\n", "calls"),
    (rules.core_imports, "src/units/planted.c",
     "double strtod(const char *, char **);\ndouble tw_units_planted(const char *);\n"
     "double tw_units_planted(const char *text) { return strtod(text, 0); }\n", "strtod"),
    (rules.core_imports, "src/num/planted.c",
     "double exp(double);\ndouble tw_planted(double);\ndouble tw_planted(double x) { return exp(x); }\n", "exp"),
    (rules.core_words, "src/num/planted.c", "int tw_planted(unsigned long n);\n", "long"),
    (rules.documented_names, "src/num/planted.h",
     "/* num/planted.h: a header. */\n\nint tw_planted(int a,\n               int b);\n", "tw_planted"),
    (rules.documented_names, "src/num/planted.h",
     "/* num/planted.h: a header. */\n\n#define TW_PLANTED 4\n", "TW_PLANTED"),
    (rules.documented_names, "src/num/planted.h",
     "/* num/planted.h: a header. */\n\ntypedef struct {\n    int a;\n} tw_planted;\n", "planted.h:3"),
    (rules.lists_complete, "src/num/planted.c", "/* not listed */\n", "num/planted.c"),
    (rules.nothing_generated, "data/unit_tables.h", "/* generated */\n", "data/unit_tables.h"),
    (rules.generators_short, "tools/gen/planted.py", "x = 1\n" * 251, "251 lines"),
    (rules.nothing_left_over, "docs/planted.md", "TO" "DO: say more\n", "docs/planted.md:1"),
    (rules.nothing_left_over, "tools/planted.py", "ROOT = '/wo" "rk/here'\n", "tools/planted.py:1"),
]


def tracked(root: Path) -> list[str]:
    """Paths under version control; of a tarball, all of it but build/."""
    done = subprocess.run(["git", "-C", str(root), "ls-files"], capture_output=True, text=True, check=False)
    if done.returncode == 0 and done.stdout:
        return [name for name in done.stdout.splitlines() if (root / name).is_file()]
    return [path.relative_to(root).as_posix() for path in sorted(root.rglob("*"))
            if path.is_file() and path.relative_to(root).parts[0] not in ("build", ".git")]


def make_tables(root: Path, out: Path) -> None:
    (out / "gen").mkdir(parents=True, exist_ok=True)
    subprocess.run([sys.executable, str(root / "tools/gen.py"), "--data", str(root / "data"), "--out", str(out)],
                   check=True, stdout=subprocess.DEVNULL)


def copy(root: Path, scratch: Path) -> None:
    """The folders that the rules read, to plant faults in."""
    for name in ("src", "include", "tools/gen"):
        if (root / name).is_dir():
            shutil.copytree(root / name, scratch / name)


def find_planted(tree: Tree, scratch: Path, rule, name: str, text: str) -> list[str]:
    """What a rule says of the copy with one more file. Objects that are made already are used again."""
    path = scratch / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    try:
        return rule(Tree(scratch, tree.made, scratch, [name], dict(tree.objects), name))
    finally:
        path.unlink()


def main() -> None:
    root = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else ROOT
    checks = list(dict.fromkeys(rule for rule, *_ in PLANTED))
    results: list[tuple[bool, str, list[str]]] = []
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        make_tables(root, work / "made")
        tree = Tree(root, work / "made", work, tracked(root))
        for rule in checks:
            faults = rule(tree)
            results.append((not faults, (rule.__doc__ or "").strip().splitlines()[0], faults))
        copy(root, work / "planted")
        for rule, name, text, word in PLANTED:
            faults = find_planted(tree, work / "planted", rule, name, text)
            results.append((any(word in fault for fault in faults),
                            f"{rule.__name__} finds the fault planted in {name} ({word})", faults))
    long = [(lines, name) for name in tracked(root) if name.endswith((".c", ".h", ".py"))
            and (lines := len((root / name).read_text(encoding="utf-8").splitlines())) > 600]
    print(f"1..{len(results)}")
    for number, (good, claim, faults) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim.replace('#', '')}")
        for fault in faults if not good else []:
            print(f"#   {fault}")
    for lines, name in sorted(long, reverse=True):
        print(f"# {name} has {lines} lines")
    raise SystemExit(0 if all(good for good, *_ in results) else 1)


if __name__ == "__main__":
    main()
