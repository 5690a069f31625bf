#!/usr/bin/env python3
"""The handover sheet on paper: sheet.mjs prints it, poppler reads what stands there. Given a folder it leaves the PDF and a picture there."""
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import missing, run  # noqa: E402
from test_views import NOW, STORY  # noqa: E402

SIZES = {"A4": (595, 842), "Letter": (612, 792)}  # points
WANTED = ["Deck", "Handover", "Not proven yet", "volume", "Put in", "335 g", "100 %", "free chlorine 8.3 mg/L, drops", "For this water", "Each week", "Never add",
          "Close and stop when", "handed over by", "taken over by", "Seal of the logbook"]
UNWANTED = ["forecast", "Print the sheet", "round"]


def of(*words: str) -> str:
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def claims(folder: Path) -> list[tuple[bool, str, str]]:
    found = []
    for name, size in SIZES.items():
        pdf = str(folder / f"{name}.pdf")
        about = of("pdfinfo", pdf)
        text = of("pdftotext", "-layout", pdf, "-")
        pages = int(re.search(r"Pages:\s+(\d+)", about)[1])  # type: ignore[index]
        paper = tuple(round(float(n)) for n in re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", about).groups())  # type: ignore[union-attr]
        found.append((pages == 1, f"{name}: one sheet", about))
        found.append((all(abs(a - b) <= 1 for a, b in zip(paper, size)), f"{name}: of its size", str(paper)))
        lacking = [words for words in WANTED if words not in text]
        found.append((not lacking, f"{name}: record, cautions, room for signatures", f"{lacking} in\n{text}"))
        found.append((len(re.findall(r"\d \([\d.]+ to [\d.]+\)", text)) >= 8, f"{name}: values stand with their intervals", text))
        found.append((not [words for words in UNWANTED if re.search(rf"^\s*{words}\s*$", text, re.M)], f"{name}: nothing to touch", text))
        fonts = of("pdffonts", pdf)
        found.append(("Tubwright" in fonts and all(line.split()[-5] == "yes" for line in fonts.splitlines()[2:]), f"{name}: in the book's type, embedded", fonts))
        subprocess.run(["pdftoppm", "-gray", "-r", "60", "-singlefile", pdf, str(folder / name)], check=True)
        pixels = (folder / f"{name}.pgm").read_bytes().split(b"\n", 3)[3]
        found.append((sum(pixels) / len(pixels) > 215 and pixels[0] == 255, f"{name}: ink on white paper, though the screen is dark", str(sum(pixels) / len(pixels))))
    german = str(folder / "A4-de.pdf")  # where German is spoken, paper is A4
    text = of("pdftotext", "-layout", german, "-")
    found.append((re.search(r"Pages:\s+1\n", of("pdfinfo", german)) and "freies Chlor" in text and "8,3 (8,2 bis" in text, "A4: one sheet in German too", text))
    return found


def main() -> int:
    if missing() or not shutil.which("pdftotext"):
        print(f"1..0 # SKIP {missing() or 'no poppler-utils'}")
        return 0
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(sys.argv[1] if len(sys.argv) > 1 else temporary)
        folder.mkdir(parents=True, exist_ok=True)
        code = run("sheet.mjs", NOW, str(folder), story=[row for row in STORY if "Deck" in row[1]])
        if code:
            return code
        results = claims(folder)
    print(f"1..{len(results)}")
    for number, (good, claim, said) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
        if not good:
            print("".join(f"# {line}\n" for line in said.splitlines()[:60]), end="")
    return 0 if all(good for good, *_ in results) else 1


if __name__ == "__main__":
    raise SystemExit(main())
