#!/usr/bin/env python3
"""10,000 random histories of installations that write, meet and die; see tests/sync/test_histories.py.

usage: sync.py [SEED [COUNT [WAY]]]   WAY to the server: store (default), http or tls"""
import os
import subprocess
import sys

import _crash as crash

tap = crash.Tap()
seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
count = int(sys.argv[2]) if len(sys.argv) > 2 else 10000
way = sys.argv[3] if len(sys.argv) > 3 else "store"
EACH = 500
for first in range(seed, seed + count, EACH):
    number = min(EACH, seed + count - first)
    with crash.scratch() as folder:
        done = subprocess.run([os.environ["BUILD"] + "/tests/histories", folder, str(first), str(number), str(EACH), way], capture_output=True,
                              text=True, check=False)
    print(done.stdout, end="")
    tap.check(done.returncode == 0, f"over {way}: histories {first} to {first + number - 1}", done.stderr)
tap.end()
