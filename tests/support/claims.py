"""Claims of a test in Python, reported as TAP: a number, what is claimed, and what was seen where it does not hold."""
from __future__ import annotations


class Claims:
    def __init__(self) -> None:
        self.lines: list[tuple[bool, str, str]] = []

    def add(self, good: object, claim: str, said: object = "") -> None:
        self.lines.append((bool(good), claim, str(said)))

    def report(self, notes: list[str] | None = None) -> None:
        """Print all of them and leave: exit 0 when there are some and all hold."""
        print(f"1..{len(self.lines)}")
        for note in notes or []:
            print(f"# {note}")
        for number, (good, claim, said) in enumerate(self.lines, 1):
            print(f"{'ok' if good else 'not ok'} {number} - {claim}")
            if not good:
                print("".join(f"# {line}\n" for line in said.splitlines()[:12]), end="")
        raise SystemExit(0 if self.lines and all(good for good, *_ in self.lines) else 1)
