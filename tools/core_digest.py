#!/usr/bin/env python3
"""The digest of the built core, for the keys of caches: what another core worked out is not used.

usage: core_digest.py ARCHIVE HEADER
"""
from __future__ import annotations

import hashlib
import sys
from pathlib import Path


def main() -> None:
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    digest = hashlib.sha256(Path(sys.argv[1]).read_bytes()).digest()
    numbers = ", ".join(map(str, digest))
    Path(sys.argv[2]).write_text(
        "/* Made by tools/core_digest.py of the core's archive. */\n#ifndef TW_CORE_DIGEST_H\n#define TW_CORE_DIGEST_H\n\n"
        f"#define TW_CORE_DIGEST {{{numbers}}}\n\n#endif\n", encoding="utf-8")


if __name__ == "__main__":
    main()
