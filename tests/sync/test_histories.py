#!/usr/bin/env python3
"""Installations that write, meet and die at random, with lost, doubled, late and spoilt messages: in the end all hold one seal and give
one answer, nothing acknowledged is lost or doubled, and each planted fault is found and located. Short form of tests/torture/sync.py."""
import os
import subprocess
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/torture")
import _crash as crash

tap = crash.Tap()
seed = sys.argv[1] if len(sys.argv) > 1 else "20260324"
with crash.scratch() as folder:
    done = subprocess.run([os.environ["BUILD"] + "/tests/histories", folder, seed, "40", "40"], capture_output=True, text=True, check=False)
print(done.stdout, end="")
tap.check(done.returncode == 0, "40 histories end in one seal and one answer, each planted fault is found", done.stderr)
tap.check(" 40 histories over store:" in done.stdout and all(f" {name} 2" in done.stdout for name in (
    "drop-coming", "drop-going", "double-coming", "double-going", "alter-coming", "alter-going", "fork", "altered", "gap", "refused")),
    "each fault was planted twice")
for way, number in (("http", "5"), ("tls", "5")):
    with crash.scratch() as folder:
        done = subprocess.run([os.environ["BUILD"] + "/tests/histories", folder, seed, number, "100", way], capture_output=True, text=True,
                              check=False)
    print(done.stdout, end="")
    tap.check(done.returncode == 0, f"the same over {way}", done.stderr)
tap.end()
