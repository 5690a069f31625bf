#!/usr/bin/env python3
"""The digest of the built core, for the keys of caches: what another core worked out is not used.

usage: core_digest.py ARCHIVE OUT.c
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
        f'/* Made by tools/core_digest.py of the core\'s archive. */\n#include "cli/book_io.h"\n\n'
        f"const uint8_t tw_cli_core_digest[32] = {{{numbers}}};\n", encoding="utf-8")


if __name__ == "__main__":
    main()
