#!/usr/bin/env python3
"""200 kills of a writing program after 5 to 60 ms, on one logbook; then four that write at once. See tests/store/test_kill.py."""
import sys

import _crash as crash

tap = crash.Tap()
crash.kills(tap, 200, int(sys.argv[1]) if len(sys.argv) > 1 else 1)
crash.at_once(tap, 4, 200)
tap.end()
