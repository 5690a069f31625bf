#!/usr/bin/env python3
"""Pictures of the page for docs/pictures, from those that `make pictures` takes: the few that stand beside the sketches, in sixteen shades of the book's own
inks, so that each is small.

usage: pictures.py FROM TO
"""
from __future__ import annotations

import struct
import sys
import zlib
from pathlib import Path

# Name in docs/pictures, and the picture it is made of.
WANTED = {
    "01-now": "now-day-390x844", "02-wait-dusk": "wait-dusk-390x844", "03-not-proven": "not-proven-day-390x844", "04-stop": "stopped-day-390x844",
    "05-pad-between": "log-day-390x844", "06-forecast": "forecast-other-day-390x844", "07-water": "water-day-390x844", "08-round": "round-day-390x844",
    "09-logbook": "logbook-day-390x844", "10-why": "why-day-390x844", "11-desk": "forecast-other-day-1280x800", "12-sheet": "sheet-paper",
    "13-narrow-now": "now-day-320x568", "14-narrow-pad": "log-day-320x568", "15-forecast-dusk": "forecast-other-dusk-390x844",
}
Colour = tuple[int, int, int]
DAY: list[Colour] = [(0xFA, 0xF8, 0xF3), (0x1E, 0x1B, 0x18), (0x8C, 0x4A, 0x1A)]
DUSK: list[Colour] = [(0x14, 0x12, 0x0F), (0xDE, 0xD5, 0xC6), (0xF0, 0xA8, 0x60)]
PAPER: list[Colour] = [(0xFF, 0xFF, 0xFF), *DAY[1:]]


def shades(book: list[Colour]) -> list[Colour]:
    """From paper to ink in eleven steps, from paper to the accent in six."""
    paper, ink, accent = book
    mix = lambda to, share: tuple(round(a + (b - a) * share) for a, b in zip(paper, to))  # noqa: E731
    return [*(mix(ink, i / 10) for i in range(11)), *(mix(accent, i / 5) for i in range(1, 6))]  # type: ignore[misc]


def unfilter(raw: bytes, width: int, height: int, size: int) -> list[bytes]:
    """Rows of a picture without interlace (PNG, ISO/IEC 15948, section 9)."""
    rows: list[bytes] = []
    above = bytes(width * size)
    for y in range(height):
        start = y * (width * size + 1)
        kind, row = raw[start], bytearray(raw[start + 1:start + 1 + width * size])
        for i in range(len(row)):
            left = row[i - size] if i >= size else 0
            corner = above[i - size] if i >= size else 0
            if kind == 1:
                row[i] = (row[i] + left) & 255
            elif kind == 2:
                row[i] = (row[i] + above[i]) & 255
            elif kind == 3:
                row[i] = (row[i] + (left + above[i]) // 2) & 255
            elif kind == 4:
                guess = left + above[i] - corner
                a, b, c = abs(guess - left), abs(guess - above[i]), abs(guess - corner)
                row[i] = (row[i] + (left if a <= b and a <= c else above[i] if b <= c else corner)) & 255
        above = bytes(row)
        rows.append(above)
    return rows


def read(path: Path) -> tuple[int, int, list[bytes], int]:
    data = path.read_bytes()
    at, packed, head = 8, b"", b""
    while at < len(data):
        (n,), kind = struct.unpack(">I", data[at:at + 4]), data[at + 4:at + 8]
        body = data[at + 8:at + 8 + n]
        head = body if kind == b"IHDR" else head
        packed += body if kind == b"IDAT" else b""
        at += 12 + n
    width, height, depth, colour = struct.unpack(">IIBB", head[:10])
    if depth != 8 or colour not in (2, 6):
        raise SystemExit(f"{path}: not a picture of eight bits a colour")
    size = 3 if colour == 2 else 4
    return width, height, unfilter(zlib.decompress(packed), width, height, size), size


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def small(path: Path) -> bytes:
    """The picture in the nearest of sixteen shades."""
    width, height, rows, size = read(path)
    corner = tuple(rows[height // 2][:3])
    book = min((DAY, DUSK, PAPER), key=lambda inks: sum((a - b) ** 2 for a, b in zip(inks[0], corner)))
    palette = shades(book)
    known: dict[bytes, int] = {}
    packed = bytearray()
    for row in rows:
        line = [0] * (width + width % 2)
        for x in range(width):
            pixel = row[x * size:x * size + 3]
            if pixel not in known:
                known[pixel] = min(range(16), key=lambda i: sum((a - b) ** 2 for a, b in zip(palette[i], pixel)))
            line[x] = known[pixel]
        packed += b"\0" + bytes(line[x] << 4 | line[x + 1] for x in range(0, len(line), 2))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 4, 3, 0, 0, 0)) + chunk(b"PLTE", bytes(c for shade in palette for c in shade))
            + chunk(b"IDAT", zlib.compress(bytes(packed), 9)) + chunk(b"IEND", b""))


def main() -> None:
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    source, target = Path(sys.argv[1]), Path(sys.argv[2])
    target.mkdir(parents=True, exist_ok=True)
    total = 0
    for name, picture in WANTED.items():
        data = small(source / f"{picture}.png")
        (target / f"{name}.png").write_bytes(data)
        total += len(data)
    print(f"{target}: {len(WANTED)} pictures, {total / 1000:.0f} kB")


if __name__ == "__main__":
    main()
