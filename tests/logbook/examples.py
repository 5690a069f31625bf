"""Good entries of good_entries.txt and their canonical lines, for the tests in Python."""
from __future__ import annotations

import json
import os
import sys
from pathlib import Path

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parent.parent.parent))
sys.path.insert(0, str(SRC / "tools/gen"))
sys.dont_write_bytecode = True

COMMON = {"id": "01890000-0000-7000-8000-000000000001", "tub": "01890000-0000-7000-8000-00000000000a",
          "at": "2026-03-24T10:40:00+01:00", "entered": "2026-03-24T10:41:00+01:00",
          "writer": "5a000000-0000-4000-8000-00000000000a", "n": "2",
          "prev": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
          "role": "technician", "by": "M.R.", "remark": "windy"}


def good_entries() -> list[dict[str, str]]:
    blocks: list[dict[str, str]] = []
    now: dict[str, str] = {}
    text = (SRC / "tests/logbook/good_entries.txt").read_text(encoding="utf-8")
    for line in [*text.splitlines(), ""]:
        if line.startswith("#"):
            continue
        if not line and now:
            blocks.append(now)
            now = {}
        elif line:
            name, value = line.split("=", 1)
            now[name] = value
    return blocks


def canonical(entry: dict[str, str]) -> bytes:
    """RFC 8785 for texts: what json.dumps escapes is just what may be escaped. Names here are ASCII.
    Bytes that are no UTF-8 are carried through as surrogates (PEP 383)."""
    return json.dumps(entry, sort_keys=True, separators=(",", ":"),
                      ensure_ascii=False).encode("utf-8", "surrogateescape")


def tell(results: list[tuple[bool, str, str]]) -> None:
    """TAP: claims with what was seen when they fail; ends the program."""
    print(f"1..{len(results)}")
    for number, (good, claim, seen) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
        if not good:
            print("".join(f"# {line}\n" for line in seen.splitlines()[:40]), end="")
    raise SystemExit(0 if all(good for good, *_ in results) else 1)
