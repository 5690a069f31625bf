#!/usr/bin/env python3
"""Entries that the WebAssembly module composes have the bytes of those that the program wrote (write.mjs)."""
import json
import os
import subprocess
import tempfile
from pathlib import Path

from test_answers import NOW, STORY, Book


def main() -> int:
    if not Path(os.environ.get("WASM", "")).is_file():
        print("1..0 # SKIP no WebAssembly in this build")
        return 0
    with tempfile.TemporaryDirectory() as folder:
        book = Book(folder)
        for at, words in STORY:
            book.run(*words, at=at)
        lines = Path(folder) / "lines.jsonl"
        lines.write_bytes(book.run("export"))
        seal = json.loads(book.run("logbook", "--json"))["logbook_seal"]
        return subprocess.run(["node", str(Path(__file__).parent / "write.mjs"), os.environ["WASM"], str(lines), NOW, seal], check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
