#!/usr/bin/env python3
"""The page for `tubwright serve`: built from web/, then embedded, each file as it is and packed.

usage: site.py OUT TABLES MODULE   writes OUT/site/ (the page as static files), OUT/serve_site.c and OUT/serve_site.S
       site.py OUT                 without the page (its tools are not here): empty tables
"""
from __future__ import annotations

import gzip
import hashlib
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TYPES = {".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".wasm": "application/wasm",
         ".woff2": "font/woff2", ".language": "application/octet-stream", ".webmanifest": "application/manifest+json", ".svg": "image/svg+xml", ".txt": "text/plain; charset=utf-8"}


def build(out: Path, tables: str, module: str) -> list[tuple[str, Path]]:
    fonts, site = out / "fonts", out / "site"
    subprocess.run(["/usr/bin/python3", str(ROOT / "tools/font.py"), str(fonts)], check=True, stderr=subprocess.DEVNULL)
    subprocess.run(["node", str(ROOT / "web/build.mjs"), tables, module, str(fonts), str(site)], check=True)
    files = [("/", site / "index.html"), ("/sw.js", site / "sw.js")]
    return files + [(f"/app/{path.name}", path) for path in sorted((site / "app").iterdir())]


def main() -> None:
    out = Path(sys.argv[1]).resolve()
    files = build(out, *sys.argv[2:4]) if len(sys.argv) == 4 else []
    packs = out / "site-packed"
    packs.mkdir(parents=True, exist_ok=True)
    assembly = ["/* Made by tools/site.py. */", "    .section .rodata"]
    rows, names = [], []
    for number, (path, file) in enumerate(files):
        data = file.read_bytes()
        packed = packs / f"{number}.gz"
        packed.write_bytes(gzip.compress(data, 9, mtime=0))
        for name, source in ((f"tw_site_plain_{number}", file), (f"tw_site_packed_{number}", packed)):
            assembly += [f"    .globl {name}, {name}_end", "    .balign 8", f"{name}:", f'    .incbin "{source}"', f"{name}_end:", "    .byte 0"]
            names.append(f"extern const unsigned char {name}[], {name}_end[];")
        tag = hashlib.sha256(data).hexdigest()[:32]
        rows.append(f'    {{"{path}", "{TYPES[file.suffix]}", "\\"{tag}\\"", tw_site_plain_{number}, tw_site_plain_{number}_end, '
                    f"tw_site_packed_{number}, tw_site_packed_{number}_end}},")
    assembly += ['    .section .note.GNU-stack,"",@progbits', ""]
    (out / "serve_site.S").write_text("\n".join(assembly), encoding="utf-8")
    (out / "serve_site.c").write_text("\n".join(["/* Made by tools/site.py. */", '#include "serve/site.h"', "", *names, "", "const tw_site_file tw_site_files[] = {",
                                                 *(rows or ["    {0},"]), "};", f"const size_t tw_site_count = {len(rows)};", ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
