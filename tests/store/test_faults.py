#!/usr/bin/env python3
"""What can be wrong with a logbook's file or its disk, each by name, with its exit code, and the file
left as it was. Nothing acknowledged is lost and nothing is half-written."""
from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _logbook import Place, Writer, crash, place  # noqa: E402

tap = crash.Tap()
LINES = Writer(1).story(30).lines
MORE = Writer(2).story(30).lines
keep = []


def fresh(filled: bool = True) -> Place:
    folder, here = place()
    keep.append(folder)
    if filled:
        done = here.take(LINES)
        assert done.code == 0, done
    return here


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "none"


def named(here: Place, name: str, trouble: str, code: int, *words: str, lines: list[str] | None = None, **how: object) -> None:
    """This command must fail with this name, and leave the file as it was."""
    before = digest(here.logbook)
    done = here.run(*words, stdin="".join(line + "\n" for line in lines or []), **how)  # type: ignore[arg-type]
    good = done.code == code and done.type == trouble and bool(done.problem.get("title")) and digest(here.logbook) == before
    tap.check(good, f"{name}: {trouble}", f"wanted {trouble}, exit {code}", f"file {'same' if digest(here.logbook) == before else 'changed'}", done)


def all_there(here: Place, name: str, lines: list[str]) -> None:
    tap.check(sorted(here.give().splitlines()) == sorted(lines), f"{name}: afterwards the logbook has just its lines", here.run("verify"))


# Names that lead nowhere.
here = fresh(filled=False)
named(here, "a logbook that is not there", "no-file", 5, "export")
named(here, "a folder that is not there", "no-folder", 5, "import", "-", lines=LINES, logbook=here.home / "none/logbook.db")
named(here, "a folder in place of the logbook", "is-folder", 5, "export", logbook=here.home)
os.mkfifo(here.home / "pipe.db")
named(here, "a pipe in place of the logbook", "no-plain-file", 5, "export", logbook=here.home / "pipe.db")
os.symlink(here.home / "b.db", here.home / "a.db")
os.symlink(here.home / "a.db", here.home / "b.db")
named(here, "links in a circle", "link-loop", 5, "import", "-", lines=LINES, logbook=here.home / "a.db")
named(here, "a name that is too long", "name-long", 5, "export", logbook=here.home / ("x" * 300))
os.symlink(here.home / "nowhere/logbook.db", here.home / "dangling.db")
named(here, "a link that leads nowhere", "no-folder", 5, "import", "-", lines=LINES, logbook=here.home / "dangling.db")

# Files that are no logbooks.
here.logbook.write_text("dear diary, " * 500)
named(here, "a text file", "no-database", 5, "import", "-", lines=LINES)
here.logbook.unlink()
db = sqlite3.connect(here.logbook)
db.executescript("create table t (a); pragma application_id = 77;")
db.close()
named(here, "a database of another program", "foreign", 5, "import", "-", lines=LINES)

# Logbooks that are not whole.
here = fresh()
db = sqlite3.connect(here.logbook)
db.execute("pragma user_version = 3")
db.close()
named(here, "a newer schema, writing", "newer", 6, "import", "-", lines=MORE)
named(here, "a newer schema, reading", "newer", 6, "export")
here = fresh()
db = sqlite3.connect(here.logbook)
db.execute("drop trigger fact_no_delete")
db.commit()
db.close()
named(here, "a guard that was taken away", "odd-tables", 5, "import", "-", lines=MORE)
here = fresh()
db = sqlite3.connect(here.logbook)
db.execute("create trigger mine after insert on fact begin select 1; end")
db.commit()
db.close()
named(here, "a guard of another program", "odd-tables", 5, "import", "-", lines=MORE)
here = fresh()
whole = here.logbook.read_bytes()
for size, name in [(0, "no bytes at all"), (50, "less than a header"), (4096, "one page only"), (len(whole) - 4096, "a page too few"),
                   (len(whole) - 100, "a part of a page too few")]:
    here.logbook.write_bytes(whole[:size])
    named(here, name, "cut-off", 5, "import", "-", lines=MORE)
here.logbook.write_bytes(whole)
all_there(here, "put back whole", LINES)
page_of = whole.index(b'"value":"7.3"') // 4096
damaged = bytearray(whole)
damaged[page_of * 4096:page_of * 4096 + 64] = bytes(64)
here.logbook.write_bytes(damaged)
named(here, "a damaged page", "damaged", 5, "logbook")
altered = bytearray(whole)
altered[whole.index(b'"value":"7.3"') + 11] = ord("4")
here.logbook.write_bytes(altered)
named(here, "one bit of a line", "damaged", 5, "logbook")
done = here.run("verify")
tap.check(done.code == 5 and "is not as it was written" in done.out and '"kind": "altered"' in done.out, "verify says which line it is", done)
done = here.run("export")
tap.check(done.out.count("\n") == len(LINES), "and what is there can still be exported", done)

# The newest lines stand in the log beside the file.
here = fresh()
reader = sqlite3.connect(here.logbook)  # keeps the log from being brought into the file
reader.execute("pragma wal_autocheckpoint = 0")
reader.execute("begin")
reader.execute("select count(*) from fact").fetchone()
done = here.run("log", "ph=7.4", "by", "strips")
assert done.code in (0, 1), done
if done.code:
    done = here.run("log", "ph=7.4", "by", "strips", "--yes")
wal = Path(f"{here.logbook}-wal")
copy, log = here.logbook.read_bytes(), wal.read_bytes()
own = [line for line in here.give().splitlines() if line not in LINES]
reader.close()
tap.check(len(log) > 0 and len(own) == 1, "an entry of one's own stands in the log", len(log), own)
for name, remains in [("lost", b""), ("overwritten", b"\x55" * len(log)), ("cut off", log[:40])]:
    for old in here.home.glob("logbook.db*"):
        old.unlink()
    # The same file (by inode) as it would be after a failure: so the copy is written into one.
    here.logbook.write_bytes(copy)
    if remains:
        wal.write_bytes(remains)
    state = next((here.home / ".local/state/tubwright/writers").glob("*"))
    moved = state.with_name(state.name.rsplit("-", 1)[0] + f"-{here.logbook.stat().st_ino}")
    state.rename(moved)
    done = here.run("verify")
    tap.check(done.code == 5 and '"cut_off"' in done.out, f"a log that was {name}: verify says that entries are gone", done)

# Rights and disks.
here = fresh()
root = os.geteuid() == 0
can = not root or (shutil.which("setpriv") is not None and here.run("verify", as_nobody=True).code == 0)
if can:
    here.logbook.chmod(0o000)
    named(here, "no right to read", "forbidden", 5, "export", as_nobody=root)
    here.logbook.chmod(0o444)
    named(here, "a file that is read-only", "read-only", 5, "import", "-", lines=MORE, as_nobody=root)
    here.logbook.chmod(0o666)
    here.home.chmod(0o555)
    named(here, "a folder that is read-only", "read-only", 5, "import", "-", lines=MORE, as_nobody=root)
    named(here, "no new file may be made", "read-only", 5, "import", "-", lines=MORE, as_nobody=root, logbook=here.home / "new.db")
    done = here.run("export", as_nobody=root)
    tap.check(done.code == 0 and done.out.splitlines() == LINES, "from a read-only folder it can still be read", done)
    here.home.chmod(0o755)
else:
    print("# no other user to be here: rights are not looked at")
    tap.check(True, "rights # SKIP needs setpriv")
all_there(here, "rights", LINES)

# Another process: a lock of this one would go with the first file of that name that it closes.
locker = subprocess.Popen([sys.executable, "-c", "import fcntl, sys; f = open(sys.argv[1], 'r+b'); fcntl.lockf(f, fcntl.LOCK_EX);"
                           " print('held', flush=True); sys.stdin.read()", str(here.logbook)],
                          stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
assert locker.stdout is not None and locker.stdout.readline() == "held\n"
named(here, "a file that another program locks", "locked", 5, "import", "-", lines=MORE)
locker.communicate("")
held = sqlite3.connect(here.logbook, isolation_level=None)
held.execute("begin immediate")
named(here, "another writer that does not end", "locked", 5, "import", "-", lines=MORE)
held.execute("rollback")
held.close()

for fault, trouble, name in [("pwrite64:1:ENOSPC:on", "full", "a full disk"), ("pwrite64:3:ENOSPC", "full", "a disk that fills in the middle"),
                             ("pwrite64:2:EIO", "io", "an error of the disk when writing"), ("fdatasync:1:EIO", "io", "an error when syncing"),
                             ("fdatasync:1:ENOSPC", "io", "no space when syncing")]:
    here = fresh()
    done = here.run("import", "-", stdin="".join(line + "\n" for line in MORE), env=crash.preload(TW_FAULT=fault))
    tap.check(done.code == 5 and done.type == trouble, f"{name}: {trouble}", done)
    after = here.give().splitlines()
    # What was written before a failed sync may be there; then all of it is. It was not acknowledged.
    tap.check(after in (LINES, LINES + MORE), f"{name}: all of the file or none", len(after))
    tap.check(here.run("verify").code == 0, f"{name}: whole", here.run("verify"))
    tap.check(here.take(MORE).code == 0 and here.give().splitlines() == LINES + MORE, f"{name}: again, on a disk that works")
here = fresh(filled=False)
done = here.run("import", "-", stdin="".join(line + "\n" for line in LINES), env=crash.preload(TW_FAULT="pwrite64:2:ENOSPC:on"))
tap.check(done.code == 5 and done.type == "full" and not list(here.home.glob("*.db*")), "a full disk leaves no half-made logbook", done,
          list(here.home.glob("*")))
tap.end()
