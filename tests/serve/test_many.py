#!/usr/bin/env python3
"""As many connections as a server takes, and more; the long form, with 10,000, is tests/torture/connections.py."""
from _many import try_many
from _server import Claims, Writer, place

claims = Claims()
keep, here = place()
assert here.take(Writer(1).story(3).lines).code == 0
claims.report(try_many(here, 300, claims, 8))
