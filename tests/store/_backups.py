"""Backups made while a program writes, each restored and replayed."""
from __future__ import annotations

import json
import subprocess
from pathlib import Path

from _logbook import crash, place


def under_load(tap: "crash.Tap", count: int, seed: int) -> None:
    """Backups one after the other while entries come in without pause; each is restored into another place, where every entry is read."""
    scratch, here = place()
    state = here.home / "load"
    start = [str(crash.build("appender")), "write", str(here.logbook), str(state)]
    subprocess.run([*start, "1", "50"], check=True, stdout=subprocess.DEVNULL)
    writing = subprocess.Popen([*start, str(1000 + seed), "100000000"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    seals: set[str] = set()
    bad = grew = last = 0
    first = ""
    try:
        for number in range(count):
            copy, back = here.home / f"copy-{number}.db", here.home / f"back-{number}.db"
            made = here.run("backup", str(copy))
            told = json.loads(made.out) if made.code == 0 else {}
            restored = here.run("restore", str(copy), "--yes", logbook=back)
            found = here.run("verify", logbook=back)
            seen = json.loads(found.out) if found.out else {}
            good = (made.code == 0 and restored.code == 0 and found.code == 0 and seen["whole"] and seen["seal"] == told["seal"]
                    and seen["entries"] == told["entries"])
            bad += not good
            first = first or ("" if good else f"backup {number}:\n{made}\n{restored}\n{found}")
            grew += good and told["entries"] > last
            last = told.get("entries", last)
            seals.add(str(told.get("seal")))
            for path in (copy, back):
                path.unlink(missing_ok=True)
            if last > 4000:  # a new logbook, so that the long form does not take ever longer
                writing.kill()
                writing.wait()
                for path in here.home.glob("logbook.db*"):
                    path.unlink()
                subprocess.run([*start, "1", "50"], check=True, stdout=subprocess.DEVNULL)
                writing = subprocess.Popen([*start, str(1000 + seed), "100000000"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                last = 0
        alive = writing.poll() is None
    finally:
        writing.kill()
        writing.wait()
    tap.check(bad == 0, f"{count} backups, each restored and replayed to its seal", first)
    tap.check(alive and grew >= count * 0.9 and len(seals) == count, "all the while entries came in", alive, grew, len(seals))
    end = here.run("verify")
    tap.check(end.code == 0, "and the logbook is whole", end)
    scratch.cleanup()
