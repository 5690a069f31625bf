#!/usr/bin/env python3
"""The page on a start-up's logbook and on a round of many tubs: page.mjs, and what its files weigh. Prints "name number" lines and, after a #, each
budget beside its aim; nothing where the page is not built."""
from __future__ import annotations

import datetime
import gzip
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests/web"), str(ROOT / "tests/scenarios")]
from page import missing, run  # noqa: E402

HOURS = 46.8  # of the start-up: 86 entries, its proof of hold is weighed

# Kilobytes are packed; milliseconds are on a processor four times slower.
AIMS = {
    "page_script_and_style_kb": 120, "page_core_kb": 300, "page_entry_shown_slowed_ms": 100, "page_advice_slowed_ms": 800, "page_advice_by_hand_slowed_ms": 800, "page_checkpoint_advice_slowed_ms": 150,
    "page_first_paint_slowed_ms": 500, "page_kept_card_slowed_ms": 500, "page_round_50_slowed_ms": 1000,
}


def packed_kb(paths: list[Path]) -> float:
    return sum(len(gzip.compress(path.read_bytes(), 9)) for path in paths) / 1000


def main() -> int:
    build = Path(sys.argv[1]).resolve()
    os.environ.setdefault("SRC", str(ROOT))
    os.environ.setdefault("TUBWRIGHT", str(build / "tubwright"))
    os.environ.setdefault("WASM", str(build / "tubwright.wasm"))
    app = build / "site/app"
    if missing() or not app.is_dir():
        return 0
    import play
    from start_up import story

    play.START = datetime.datetime.now(datetime.timezone.utc).replace(microsecond=0) - datetime.timedelta(hours=HOURS + 0.2)
    numbers = {"page_script_and_style_kb": packed_kb([*app.glob("*.js"), *app.glob("*.css"), build / "site/sw.js"]), "page_core_kb": packed_kb([app / "tubwright.wasm"])}
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryFile("w+") as said:
        lines = Path(folder) / "story.jsonl"
        lines.write_text(story(HOURS), encoding="utf-8")
        year = build / "bench/bench-year"
        if not year.is_file():
            subprocess.run(["ninja", "-C", str(build), "--quiet", "bench/bench-year"], check=True, stdout=sys.stderr)
        (Path(folder) / "year.jsonl").write_text(subprocess.run([str(year), "lines"], capture_output=True, text=True, check=True).stdout, encoding="utf-8")
        code = run("../../bench/page.mjs", str(lines), f"{folder}/year.jsonl", out=said)
        said.seek(0)
        for line in said:
            if line.startswith("#"):
                print(line, end="")
            else:
                name, value = line.split()
                numbers[name] = float(value)
    for name, value in numbers.items():
        print(f"{name} {value:.6g}")
    for name, aim in AIMS.items():
        if name in numbers:
            print(f"# {name}: {numbers[name]:.0f} of {aim}{'' if numbers[name] <= aim else ' MISSED'}")
    return code


if __name__ == "__main__":
    raise SystemExit(main())
