"""Ten thousand waters by another solver: make validate. VALIDATE_WATERS=500 takes so many."""
from __future__ import annotations

import os
import subprocess
from pathlib import Path


def main() -> int:
    oracle = Path(os.environ["BUILD"]) / "tests/test-water-oracle"
    return subprocess.run([str(oracle), "20261125", os.environ.get("VALIDATE_WATERS", "10000")], check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
