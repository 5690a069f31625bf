#!/usr/bin/env python3
"""A writing program killed at any moment, and two that write at once: acknowledged entries are
there, chains are whole. Short form of tests/torture/kills.py."""
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/torture")
import _crash as crash

tap = crash.Tap()
crash.kills(tap, 24, 20260324)
crash.at_once(tap, 2, 40)
tap.end()
