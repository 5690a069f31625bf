"""What a long run of tubs has made is kept part by part: read again by the same program and words, never by another."""
from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

SRC = Path(os.environ.get("SRC", Path(__file__).resolve().parents[2]))
sys.dont_write_bytecode = True
sys.path[:0] = [str(SRC / "tests/support"), str(SRC / "tests/calibrate")]
from claims import Claims  # noqa: E402
from doses import add, run_part  # noqa: E402


def program_of(folder: Path, tubs: str, end: str = "") -> Path:
    """Counts each time it is run; answers with its words, or breaks off after half of the answer."""
    program = folder / "program"
    program.write_text(f"#!/bin/sh\necho x >> {folder}/runs\nprintf '{{\"tubs\": %s' {tubs}\n{end}\nprintf ', \"first\": %s}}' $2\n",
                       encoding="utf-8")
    program.chmod(0o755)
    return program


def main() -> None:
    told = Claims()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        kept = folder / "kept"
        kept.mkdir()

        def runs() -> int:
            return (folder / "runs").read_text(encoding="utf-8").count("x")
        try:
            run_part(program_of(folder, "$1", "exit 3"), ["5", "1"], kept)
            told.add(False, "a part that breaks off is an error")
        except Exception as error:  # noqa: BLE001
            told.add("3" in str(error), "a part that breaks off is an error", error)
        told.add(not list(kept.iterdir()), "and nothing of it is kept", list(kept.iterdir()))
        program, before = program_of(folder, "$1"), runs()
        first = run_part(program, ["5", "1"], kept)
        told.add(first == {"tubs": 5, "first": 1} and runs() == before + 1, "a part that ends is what the program said", first)
        told.add(run_part(program, ["5", "1"], kept) == first and runs() == before + 1, "asked again it is read, not made", runs())
        told.add(run_part(program, ["5", "6"], kept) == {"tubs": 5, "first": 6} and runs() == before + 2, "other seeds are made", runs())
        other = run_part(program_of(folder, "7"), ["5", "1"], kept)
        told.add(other == {"tubs": 7, "first": 1} and runs() == before + 3, "another program takes nothing of the first", other)
        told.add(run_part(program_of(folder, "$1"), ["5", "1"], kept) == first and runs() == before + 3, "the first one's parts are still there", runs())
    told.add(add({"a": {"b": 1}}, {"a": {"b": 2, "c": 3}, "d": 4}) == {"a": {"b": 3, "c": 3}, "d": 4}, "parts are summed all the way down")
    told.report()


if __name__ == "__main__":
    main()
