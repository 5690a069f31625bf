#!/usr/bin/env python3
"""The font of page and paper: a subset of Andika (SIL Open Font License 1.1) under a name of its own, since that name is reserved.

usage: font.py OUT   writes OUT/book-regular.woff2, book-bold.woff2, the same as .ttf, and the licence. Run by the Python that has fontTools.
"""
import shutil
import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FROM = Path("/usr/share/fonts/truetype/andika")
LICENCE = Path("/usr/share/doc/fonts-sil-andika/copyright")
NAME = "Tubwright Book"
GLYPHS = [*range(0x20, 0x7F), *range(0xA0, 0x100), *map(ord, "–—‘’“”…→←−×≤≥₂₃₄½")]


def write(style: str, out: Path) -> None:
    font = TTFont(FROM / f"Andika-{style}.ttf", recalcTimestamp=False)
    options = subset.Options(layout_features=["kern", "liga", "mark", "mkmk", "ccmp", "locl"], hinting=False, name_IDs=[0, 1, 2, 3, 4, 6, 13, 14], notdef_outline=True)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=GLYPHS)
    cutter.subset(font)
    for record in font["name"].names:
        new = {1: NAME, 3: f"{NAME} {style}", 4: f"{NAME} {style}", 6: f"{NAME.replace(' ', '')}-{style}"}.get(record.nameID)
        if new:
            record.string = new
    path = out / f"book-{style.lower()}"
    font.save(path.with_suffix(".ttf"))
    font.flavor = "woff2"
    font.save(path.with_suffix(".woff2"))


def main() -> None:
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    for style in ("Regular", "Bold"):
        write(style, out)
    shutil.copy(LICENCE, out / "OFL.txt")


if __name__ == "__main__":
    main()
