"""C programs of the longer runs, built against the core of BUILD."""
from __future__ import annotations

import os
import subprocess
import tempfile
from pathlib import Path

SRC, BUILD = Path(os.environ["SRC"]).resolve(), Path(os.environ["BUILD"]).resolve()


def run(source: str, *words: str) -> str:
    """Build tests/<source>, run it with these words, and return what it prints."""
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "program"
        include = [SRC / "src", SRC / "include", SRC / "tests", SRC / "tests/estimate", BUILD / "src"]
        subprocess.run(["gcc", "-std=c17", "-O2", "-ffp-contract=off", "-w", "-D_POSIX_C_SOURCE=200809L", *(f"-I{path}" for path in include),
                        str(SRC / "tests" / source), str(BUILD / "libtubwright_core.a"), "-lm", "-o", str(program)], check=True)
        return subprocess.run([str(program), *words], check=True, stdout=subprocess.PIPE, text=True).stdout
