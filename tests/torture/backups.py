#!/usr/bin/env python3
"""1,000 backups of a logbook into which entries come without pause, each restored into another place and replayed to the same seal.

usage: backups.py [COUNT]"""
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/store")
import _backups as backups
from _logbook import crash

tap = crash.Tap()
backups.under_load(tap, int(sys.argv[1]) if len(sys.argv) > 1 else 1000, 1)
tap.end()
