#!/usr/bin/env python3
"""10,000 connections at once, and more; see tests/serve/_many.py.

usage: connections.py [COUNT]"""
import os
import sys

sys.path.insert(0, os.environ["SRC"] + "/tests/serve")
from _many import try_many  # noqa: E402
from _server import Claims, Writer, place  # noqa: E402

claims = Claims()
keep, here = place()
assert here.take(Writer(1).story(3).lines).code == 0
claims.report(try_many(here, int(sys.argv[1]) if len(sys.argv) > 1 else 10000, claims, 60))
