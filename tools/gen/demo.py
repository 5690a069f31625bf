"""Stories of the demo: data/demo/*.txt -> gen/cli_demo.h, .c. The first by name is the default."""
from __future__ import annotations

from pathlib import Path

from _common import c_string


def generate(data_dir: Path, out_dir: Path) -> None:
    paths = sorted((data_dir / "demo").glob("*.txt"))
    if not paths:
        raise SystemExit("data/demo: there is no story")
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    header = ["/* Made from data/demo by tools/gen/demo.py. */", "#ifndef TW_GEN_CLI_DEMO_H", "#define TW_GEN_CLI_DEMO_H",
              "", "/* A story: its name, its script. */", "typedef struct {", "    const char *name, *text;",
              "} tw_demo_story;", "", f"/* How many there are, and the one that is told when none is named. */",
              f"#define TW_DEMO_STORIES {len(paths)}", f"#define TW_DEMO_FIRST {c_string(paths[0].stem)}",
              "extern const tw_demo_story tw_cli_demo_stories[TW_DEMO_STORIES];", "", "#endif", ""]
    source = ["/* Made from data/demo by tools/gen/demo.py. */", '#include "gen/cli_demo.h"', ""]
    for number, path in enumerate(paths):
        # As an array of characters: a string literal may not be longer than 4095 in C17.
        data = path.read_bytes() + b"\0"
        rows = [", ".join(str(b if b < 128 else b - 256) for b in data[i:i + 24]) for i in range(0, len(data), 24)]
        source += [f"static const char STORY_{number}[] = {{", *(f"    {row}," for row in rows), "};", ""]
    source += ["const tw_demo_story tw_cli_demo_stories[TW_DEMO_STORIES] = {",
               *(f"    {{{c_string(path.stem)}, STORY_{number}}}," for number, path in enumerate(paths)), "};", ""]
    (gen / "cli_demo.h").write_text("\n".join(header), encoding="utf-8")
    (gen / "cli_demo.c").write_text("\n".join(source), encoding="utf-8")
