"""Questions to the core as WebAssembly, through tests/wasm/core.mjs in Node."""
from __future__ import annotations

import os
import subprocess
from pathlib import Path


def answers(lines: Path, questions: list[str], pack: Path | None = None, hands: int = 1) -> list[bytes]:
    """The answers of one module to all questions, one after the other, on the entries of a file; in the language of a pack, by so many threads."""
    done = subprocess.run(["node", str(Path(__file__).parent / "core.mjs"), os.environ["WASM"], str(lines), *questions],
                          env={**os.environ, "PACK": str(pack or ""), "HANDS": str(hands)}, capture_output=True, check=False)
    if done.returncode:
        return [done.stderr] * len(questions)
    out, rest = [], done.stdout
    while rest:
        length, rest = rest.split(b"\n", 1)
        out.append(rest[:int(length)])
        rest = rest[int(length):]
    return out
