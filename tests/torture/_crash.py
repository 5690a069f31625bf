"""What the tests of crashes share: building the preloaded library and the writing program, the model
of a disk that loses power, and TAP.

The disk keeps what was synced. Of the rest, at a cut, it may have kept anything: each write since
the file's last sync wholly, not at all, or some of its sectors of 512 bytes; each cut of a file or not;
of the names made and removed since the folder's last sync the first few.
"""
from __future__ import annotations

import os
import random
import shutil
import signal
import struct
import subprocess
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

SRC = Path(os.environ["SRC"])
BUILD = Path(os.environ["BUILD"])
SECTOR = 512
EVENT = struct.Struct("<IIQQ")


class Tap:
    def __init__(self) -> None:
        self.count = 0
        self.bad = 0

    def check(self, good: bool, name: str, *why: object) -> None:
        self.count += 1
        self.bad += not good
        print(f"{'ok' if good else 'not ok'} {self.count} - {name}", flush=True)
        if not good:
            for line in why:
                print("# " + str(line).replace("\n", "\n# "), flush=True)

    def end(self) -> None:
        print(f"1..{self.count}")
        raise SystemExit(1 if self.bad else 0)


def scratch() -> tempfile.TemporaryDirectory[str]:
    """In memory where that can be had: the disk is a model here, and a real one only makes it wait."""
    memory = Path("/dev/shm")
    return tempfile.TemporaryDirectory(prefix="tubwright-crash-",
                                       dir=memory if memory.is_dir() and os.access(memory, os.W_OK) else None)


def compiler() -> tuple[str, list[str]]:
    """As the build folder was made: its archives may need the sanitizers' runtime."""
    name = BUILD.name
    cc = "clang" if name.startswith("clang") else "gcc"
    return cc, ["-fsanitize=address,undefined"] if "-san" in name else []


def build(name: str) -> Path:
    """Compile tests/torture/<name>.c into the build folder, when it is not there or older."""
    source = SRC / "tests/torture" / f"{name}.c"
    folder = BUILD / "torture"
    folder.mkdir(parents=True, exist_ok=True)
    shared = name == "record"
    target = folder / (name + (".so" if shared else ""))
    archives = [BUILD / "libtubwright_shell.a", BUILD / "libtubwright_core.a"]
    newest = max(path.stat().st_mtime for path in [source, *([] if shared else archives)])
    if target.exists() and target.stat().st_mtime > newest:
        return target
    cc, sanitize = compiler()
    made = target.with_suffix(f".{os.getpid()}")
    if shared:
        command = ["gcc", "-shared", "-fPIC", "-O1", "-w", str(source), "-o", str(made)]
    else:
        command = [cc, "-std=c17", "-D_POSIX_C_SOURCE=200809L", "-O1", "-g", "-w", *sanitize, f"-I{SRC}/src",
                   f"-I{BUILD}/src", str(source), *map(str, archives), "-lsqlite3", "-lm", "-o", str(made)]
    subprocess.run(command, check=True)
    made.replace(target)
    return target


def preload(**more: str) -> dict[str, str]:
    """The environment of a program that runs over the library."""
    env = {**os.environ, **more, "LD_PRELOAD": str(build("record"))}
    env["ASAN_OPTIONS"] = "verify_asan_link_order=0:detect_leaks=0"
    return env


@dataclass
class File:
    """The bytes of a file as synced, and what was done to it since: (offset, bytes) or (size, None)."""
    kept: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes | None]] = field(default_factory=list)

    def copy(self) -> "File":
        return File(bytearray(self.kept), list(self.since))


def apply(data: bytearray, offset: int, payload: bytes | None) -> None:
    if payload is None:
        if offset < len(data):
            del data[offset:]
        else:
            data.extend(bytes(offset - len(data)))
        return
    if len(data) < offset:
        data.extend(bytes(offset - len(data)))
    data[offset:offset + len(payload)] = payload


def torn(payload: bytes, offset: int, rng: random.Random) -> list[tuple[int, bytes]]:
    """Some of the sectors of a write."""
    pieces = []
    at = 0
    while at < len(payload):
        size = min(SECTOR - (offset + at) % SECTOR, len(payload) - at)
        if rng.random() < 0.5:
            pieces.append((offset + at, payload[at:at + size]))
        at += size
    return pieces


class Disk:
    def __init__(self) -> None:
        self.files: dict[int, File] = {}
        self.names: dict[str, int] = {}           # as synced
        self.names_since: list[tuple[str, ...]] = []
        self.now: dict[str, int] = {}             # as the program sees them
        self.acknowledged: list[str] = []

    def feed(self, kind: str, file: int, offset: int, payload: bytes) -> None:
        if kind == "o":
            name = payload.decode()
            self.files.setdefault(file, File())
            if self.now.get(name) != file:
                self.now[name] = file
                self.names_since.append(("make", name, str(file)))
        elif kind == "w":
            self.files[file].since.append((offset, payload))
        elif kind == "t":
            self.files[file].since.append((offset, None))
        elif kind == "s":
            entry = self.files[file]
            for where, what in entry.since:
                apply(entry.kept, where, what)
            entry.since = []
        elif kind == "d":
            for change in self.names_since:
                self.rename(self.names, change)
            self.names_since = []
        elif kind in "lr":
            old, new = payload.split(b"\0")
            file = self.now[old.decode()]
            self.names_since.append(("make", new.decode(), str(file)))
            self.now[new.decode()] = file
            if kind == "r":
                self.names_since.append(("drop", old.decode()))
                del self.now[old.decode()]
        elif kind == "u":
            self.now.pop(payload.decode(), None)
            self.names_since.append(("drop", payload.decode()))
        elif kind == "a":
            self.acknowledged.append(payload.decode().split()[1])

    @staticmethod
    def rename(names: dict[str, int], change: tuple[str, ...]) -> None:
        if change[0] == "make":
            names[change[1]] = int(change[2])
        else:
            names.pop(change[1], None)

    def cut(self, folder: Path, how: str, rng: random.Random) -> None:
        """Write into a folder what the disk may hold: how is none, all, or torn."""
        names = dict(self.names)
        keep = {"none": 0, "all": len(self.names_since)}.get(how, rng.randint(0, len(self.names_since)))
        for change in self.names_since[:keep]:
            self.rename(names, change)
        for name, file in names.items():
            data = bytearray(self.files[file].kept)
            for offset, payload in self.files[file].since:
                luck = {"none": 0.0, "all": 1.0}.get(how, rng.random())
                if luck > 0.6:
                    apply(data, offset, payload)
                elif luck > 0.3 and payload is not None:
                    for where, piece in torn(payload, offset, rng):
                        apply(data, where, piece)
            (folder / Path(name).name).write_bytes(data)


def events(path: Path) -> list[tuple[str, int, int, bytes]]:
    data = path.read_bytes()
    out = []
    at = 0
    while at < len(data):
        kind, size, file, offset = EVENT.unpack_from(data, at)
        at += EVENT.size
        out.append((chr(kind), file, offset, data[at:at + size]))
        at += size
    return out


class Checker:
    """The program that opens logbooks and looks at file and chains."""

    def __init__(self) -> None:
        self.process = subprocess.Popen([str(build("appender")), "check"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        text=True)

    def all_ids(self, logbooks: list[Path]) -> list[list[str] | str]:
        """Of each logbook the ids of its entries, or what is wrong."""
        assert self.process.stdin is not None and self.process.stdout is not None
        self.process.stdin.write("".join(f"{logbook}\n" for logbook in logbooks))
        self.process.stdin.flush()
        answers = [self.process.stdout.readline().strip() for _ in logbooks]
        return [answer if answer.startswith("bad") or not answer else answer.split()[2:] for answer in answers]

    def ids(self, logbook: Path) -> list[str] | str:
        return self.all_ids([logbook])[0]

    def close(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait()


@dataclass
class Result:
    cuts: int = 0
    syncs: int = 0
    acknowledged: int = 0
    lost: int = 0       # cuts after which an acknowledged entry was gone
    broken: int = 0     # cuts after which file or chains were not clean
    first: str = ""

    def __str__(self) -> str:
        return (f"{self.cuts} cuts, {self.syncs} syncs, {self.acknowledged} entries acknowledged; lost in {self.lost}, "
                f"broken in {self.broken} {self.first}")


def record(folder: Path, count: int, *options: str) -> list[tuple[str, int, int, bytes]]:
    """Let the program write, from before there is a logbook; what it did to the disk."""
    log = folder / "events"
    done = subprocess.run([str(build("appender")), "write", str(folder / "logbook.db"), str(folder / "state"), "1", str(count),
                           *options], env=preload(TW_RECORD=str(log)), capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"the writing program failed: {done.stderr}")
    return events(log)


@dataclass
class Cut:
    logbook: Path
    acknowledged: list[str]
    where: str


def power_cuts(count: int, seed: int, torn_each: int, *options: str) -> Result:
    """Cut the power after every event, several times each."""
    rng = random.Random(seed)
    result = Result()
    checker = Checker()
    waiting: list[Cut] = []
    with scratch() as name:
        folder = Path(name)
        disk = Disk()
        for index, event in enumerate(record(folder, count, *options)):
            disk.feed(*event)
            result.syncs += event[0] == "s"
            for how in ["none", "all", *["torn"] * torn_each]:
                place = folder / f"cut-{index}-{len(waiting)}"
                place.mkdir()
                disk.cut(place, how, rng)
                waiting.append(Cut(place / "logbook.db", list(disk.acknowledged), f"{how} at event {index}"))
            if len(waiting) >= 64:
                judge(checker, waiting, result)
        judge(checker, waiting, result)
        result.acknowledged = len(disk.acknowledged)
    checker.close()
    return result


def judge(checker: Checker, cuts: list[Cut], result: Result) -> None:
    """Look at what the cuts left, and clear it away. No logbook at all is right until something was acknowledged."""
    there = [cut for cut in cuts if cut.logbook.exists()]
    found = dict(zip((cut.logbook for cut in there), checker.all_ids([cut.logbook for cut in there])))
    for cut in cuts:
        result.cuts += 1
        ids = found.get(cut.logbook, [])
        if isinstance(ids, str):
            result.broken += 1
            result.first = result.first or f"({cut.where}: {ids})"
        elif not set(cut.acknowledged) <= set(ids):
            result.lost += 1
            result.first = result.first or f"({cut.where}: {len(cut.acknowledged)} acknowledged, {len(ids)} found)"
        shutil.rmtree(cut.logbook.parent)
    cuts.clear()


def kill_on_one(checker: Checker, times: int, rng: random.Random) -> tuple[int, int, str]:
    """Kill the writing program again and again, on one logbook, until it has grown long: kills,
    acknowledged entries, and what was wrong."""
    acknowledged: list[str] = []
    struck = 0
    with scratch() as name:
        logbook = Path(name) / "logbook.db"
        for turn in range(times):
            process = subprocess.Popen(
                [str(build("appender")), "write", str(logbook), name + "/state", str(1 + 5000 * turn), "5000",
                 f"checkpoint={rng.choice([4, 20, 1000])}"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
            # Half of the kills fall while it starts, half once it has written: also on a slow machine.
            assert process.stdout is not None
            first = process.stdout.readline() if turn % 2 else ""
            time.sleep(rng.uniform(0.005, 0.06))
            process.kill()
            said = first + process.communicate()[0]
            struck += process.returncode == -signal.SIGKILL
            # What was cut off in the middle of a line was not acknowledged.
            acknowledged += [line.split()[1] for line in said.split("\n")[:-1]]
            found = checker.ids(logbook) if logbook.exists() else []
            if isinstance(found, str):
                return struck, len(acknowledged), found
            if not set(acknowledged) <= set(found):
                return struck, len(acknowledged), f"{len(acknowledged)} acknowledged, {len(found)} found"
            if len(acknowledged) > 1000:  # the checker holds 2000
                break
    return struck, len(acknowledged), ""


def kills(tap: Tap, times: int, seed: int) -> None:
    """Kill the writing program; nothing acknowledged may be gone, and each logbook goes on through several kills."""
    rng = random.Random(seed)
    checker = Checker()
    struck = acknowledged = logbooks = 0
    wrong = ""
    while struck < times and not wrong and logbooks < times:
        more, entries, wrong = kill_on_one(checker, times - struck, rng)
        struck, acknowledged, logbooks = struck + more, acknowledged + entries, logbooks + 1
    checker.close()
    print(f"# {struck} kills on {logbooks} logbooks, {acknowledged} entries acknowledged")
    tap.check(struck >= times, f"the program was killed {times} times", struck)
    tap.check(acknowledged > times // 4, "it got to write between", acknowledged)
    tap.check(not wrong, "after each kill every acknowledged entry is there and the chains are whole", wrong)


def at_once(tap: Tap, processes: int, count: int) -> None:
    """Several programs write into one logbook at once, from before it is there."""
    checker = Checker()
    with scratch() as name:
        logbook = Path(name) / "logbook.db"
        running = [subprocess.Popen(
            [str(build("appender")), "write", str(logbook), name + "/state", str(1 + 5000 * turn), str(count), "wait"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for turn in range(processes)]
        for process in running:
            assert process.stdin is not None
            process.stdin.write("go\n")
            process.stdin.flush()
        said = [process.communicate()[0].splitlines() for process in running]
        codes = [process.returncode for process in running]
        found = checker.ids(logbook)
    checker.close()
    tap.check(codes == [0] * processes, f"{processes} programs write at once and none fails", codes)
    wanted = {line.split()[1] for lines in said for line in lines}
    tap.check(not isinstance(found, str) and wanted == set(found) and len(wanted) == processes * count,
              "every entry of each is there once, the chains are whole", found if isinstance(found, str) else len(found))
