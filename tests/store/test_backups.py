#!/usr/bin/env python3
"""Backups under load, each restored and replayed to the same seal; what restore shows, asks and keeps. Short form of tests/torture/backups.py."""
import json
import os
import re
import sqlite3
import sys
from pathlib import Path

import _backups as backups
from _logbook import Writer, crash, place

tap = crash.Tap()
backups.under_load(tap, 5, 1)

scratch, here = place()
logbook = here.logbook
here.take(Writer(1).story(5).lines)
done = here.run("backup", json_form=False)
tap.check(done.code == 0 and "verified" in done.out and (here.home / "backups/logbook-20260325T090000Z.db").exists(),
          "without FILE a backup stands beside the logbook, named by the time", done)
copy = here.home / "stick.db"
done = here.run("backup", str(copy))
made = json.loads(done.out)
tap.check(done.code == 0 and made["verified"] and made["entries"] == 6 and made["seal"] == here.seal(), "a backup is verified", done)
tap.check(here.run("backup", str(copy)).type == "there", "a file that is there is not replaced unasked")
tap.check(here.run("backup", str(logbook), "--yes").type == "same-file", "the logbook itself never is")
tap.check(here.run("backup", str(here.home / "no/where.db")).code == 5, "where it cannot be made there is none")
tap.check(here.run("backup", str(copy), "--keep", "3").code == 2 and here.run("backup", "--keep", "3x").code == 2, "rules are for the folder")

# Restore.
second = Writer(2).story(3)
here.take(second.lines)
whole = here.seal()
done = here.run("restore", str(copy), json_form=False)
tap.check(done.code == 1 and "4 entries that are there now would be gone" in done.out and here.seal() == whole,
          "restore shows what would be gone, and does nothing unasked", done)
done = here.run("restore", str(copy), "--yes")
back = json.loads(done.out)
tap.check(done.code == 0 and back["gone"] == 4 and here.seal() == made["seal"], "it puts the backup back", done)
tap.check(json.loads(here.run("verify", logbook=Path(back["kept"])).out)["seal"] == whole, "and keeps what was there", back)
here.run("log", "ph=7.4", "by", "strips")
writers = json.loads(here.run("verify").out)["writers"]
tap.check(writers == 2, "it goes on as a new writer", writers)
damaged = here.home / "damaged.db"
content = bytearray(copy.read_bytes())
line = content.find(b'"value":"7.')
content[line + 11] ^= 1
damaged.write_bytes(content)
before = here.seal()
done = here.run("restore", str(damaged), "--yes")
tap.check(done.code == 5 and here.seal() == before, "a damaged backup is not put back", done)
logbook.write_bytes(b"\0" * 5000)
done = here.run("restore", str(copy), "--yes")
tap.check(done.code == 0 and here.seal() == made["seal"] and Path(json.loads(done.out)["kept"]).read_bytes() == b"\0" * 5000,
          "a damaged logbook is put aside", done)

# The rule.
for day in range(21, 29):
    here.run("backup", "--keep", "2,3d", env={"TUBWRIGHT_NOW": f"2026-02-{day:02d}T10:00:00+01:00"})
names = sorted(path.name for path in (here.home / "backups").glob("*.db"))
tap.check(names == ["logbook-20260227T090000Z.db", "logbook-20260228T090000Z.db", "logbook-20260325T090000Z.db"],
          "the rule thins out older ones", names)
tap.check(len(list((here.home / "backups").glob("*.replaced-*"))) == 1, "and touches nothing of another name")

# The forms of --json.
for name, shown in (("backup", made), ("restore", back)):
    form = json.loads((Path(os.environ["SRC"]) / f"docs/schemas/{name}.schema.json").read_text())
    kinds = {"string": str, "integer": int, "boolean": bool}
    good = set(shown) == set(form["required"]) == set(form["properties"]) and all(
        type(value) is kinds[form["properties"][key]["type"]] and re.search(form["properties"][key].get("pattern", ""), str(value))
        for key, value in shown.items())
    tap.check(good, f"{name} --json fits its schema", shown)
tap.check(sqlite3.connect(copy).execute("pragma integrity_check").fetchone() == ("ok",), "SQLite's own eyes find a backup whole")
scratch.cleanup()
tap.end()
