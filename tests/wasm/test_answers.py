#!/usr/bin/env python3
"""The same lines give the same bytes: the program on SQLite, and the core as WebAssembly in Node."""
import os
import subprocess
import tempfile
from pathlib import Path

from module import answers

NOW = "2026-03-24T12:50:00+01:00"
STORY = [
    ("2026-03-23T08:00:00+01:00", ["tub", "new", "Barn", "volume=1300L"]),
    ("2026-03-23T08:05:00+01:00", ["tub", "plate", "output=0.16g/h", "salt=2000mg/L"]),
    ("2026-03-23T08:10:00+01:00", ["tub", "volume", "1180L", "by", "clock", "spread=5%"]),
    ("2026-03-23T09:00:00+01:00", ["log", "filled", "1180", "L", "of", "hose"]),
    ("2026-03-23T09:20:00+01:00", ["log", "ph=7.7", "ta=190", "ch=90", "by", "drops"]),
    ("2026-03-24T12:40:00+01:00", ["log", "ph=7,4", "ta=120?", "th=60..120", "fc=0", "cya=<30", "by", "strips", "lot=B"]),
    ("2026-03-24T12:45:00+01:00", ["log", "duty=42%", "cover=open", "note", "windy"]),
]
QUESTIONS = ["logbook", "tubs", "tub", "water", "forecast", "now", "why", "bathing", "sheet", "ahead", "plan", "worth"]


class Book:
    def __init__(self, folder: str) -> None:
        self.env = {**os.environ, "HOME": folder, "XDG_DATA_HOME": folder, "TZ": "UTC", "TUBWRIGHT_RANDOM": "wasm"}

    def run(self, *words: str, at: str = NOW) -> bytes:
        done = subprocess.run([os.environ["TUBWRIGHT"], *words, "--at", at], env=self.env, capture_output=True, check=False)
        if done.returncode not in (0, 4):
            raise SystemExit(f"{words}: {done.returncode} {done.stderr.decode()}")
        return done.stdout


def main() -> None:
    if not Path(os.environ.get("WASM", "")).is_file():
        print("1..0 # SKIP no WebAssembly in this build")
        return
    results = []
    with tempfile.TemporaryDirectory() as folder:
        book = Book(folder)
        for at, words in STORY:
            book.run(*words, at=at)
        lines = Path(folder) / "lines.jsonl"
        lines.write_bytes(book.run("export"))
        results.append((lines.read_bytes().count(b"\n") >= 12, "the export has every entry", ""))
        asked = [(word, form) for word in QUESTIONS for form in ("json", "text")]
        said = answers(lines, [f"{word} at={NOW} as={form}{'' if word == 'tubs' else ' tub=Barn'}" for word, form in asked])
        for (word, form), module in zip(asked, said, strict=True):
            command = {"tubs": ["tub"], "tub": ["tub", "Barn"]}.get(word, [word])
            native = book.run(*command, *(["--json"] if form == "json" else []))
            same = native == module and len(native) > 20
            results.append((same, f"{word} as {form}: the same {len(native)} bytes", first_difference(native, module)))
        questions = [f"{word} at={NOW} as=json tub=Barn" for word in ("now", "worth")]
        alone = answers(lines, questions)
        for hands in (2, 3, 4):
            shared = answers(lines, questions, hands=hands)
            results.append((shared == alone and len(alone[0]) > 20, f"{hands} threads that share the work say the same", shared[0][:200].decode(errors="replace")))
    print(f"1..{len(results)}")
    for number, (good, claim, said) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
        if not good:
            print("".join(f"# {line}\n" for line in said.splitlines()[:20]), end="")
    raise SystemExit(0 if all(good for good, *_ in results) else 1)


def first_difference(a: bytes, b: bytes) -> str:
    left, right = a.decode(errors="replace").splitlines(), b.decode(errors="replace").splitlines()
    for number, (x, y) in enumerate(zip(left, right)):
        if x != y:
            return f"line {number}:\n  program {x}\n  module  {y}"
    return f"lengths {len(left)} and {len(right)} lines\n" + "\n".join(right[:3])


if __name__ == "__main__":
    main()
