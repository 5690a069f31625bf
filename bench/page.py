#!/usr/bin/env python3
"""The page on a start-up's logbook: page.mjs, and what its files weigh. Prints "name number" lines; nothing where the page is not built."""
from __future__ import annotations

import gzip
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests/web"))
from page import missing, run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402


def packed_kb(paths: list[Path]) -> float:
    return sum(len(gzip.compress(path.read_bytes(), 9)) for path in paths) / 1000


def main() -> int:
    build = Path(sys.argv[1]).resolve()
    os.environ.setdefault("TUBWRIGHT", str(build / "tubwright"))
    os.environ.setdefault("WASM", str(build / "tubwright.wasm"))
    app = build / "site/app"
    if missing() or not app.is_dir():
        return 0
    print(f"page_script_and_style_kb {packed_kb([*app.glob('*.js'), *app.glob('*.css'), build / 'site/sw.js']):.1f}")
    print(f"page_core_kb {packed_kb([app / 'tubwright.wasm']):.1f}", flush=True)
    return run("../../bench/page.mjs", NOW, story=STORY)


if __name__ == "__main__":
    raise SystemExit(main())
