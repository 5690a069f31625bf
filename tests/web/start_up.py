"""The start-up of tests/scenarios/s1.txt on the page: start_up.mjs, with what it needs."""
from __future__ import annotations

import gzip
import hashlib
import math
import os
import shlex
import shutil
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
sys.path.insert(0, str(HERE.parent / "scenarios"))
from page import missing, run  # noqa: E402
from play import Program  # noqa: E402
from test_trouble import authority  # noqa: E402

# The story says these two at the beginning, the page when the card asks for them: hour by reply.
ASKED = {"reply circulation=yes": 0.52, "reply electrician=yes": 6.82}


def story(until: float = math.inf) -> str:
    """What the terminal writes of the story up to this hour, as lines."""
    program = Program("page")
    text = (HERE.parent / "scenarios/s1.txt").read_text(encoding="utf-8")
    for words in ASKED:
        text = text.replace(f" {words}", "")
    steps = [shlex.split(line, comments=True) for line in text.splitlines() + [f"{hour} log {words}" for words, hour in ASKED.items()]]
    for words in sorted((step for step in steps if step and step[1] not in ("expect", "water")), key=lambda step: float(step[0])):
        if float(words[0]) <= until:
            program.run(float(words[0]), words[1:])
    lines = subprocess.run([os.environ["TUBWRIGHT"], "export"], env=program.env, capture_output=True, text=True, check=True).stdout
    program.close()
    return lines


def newer(site: Path, out: Path) -> None:
    """The program with another version of its page: the service worker names another cache. Plain and packed text and the tag keep
    their lengths, so that they are written over where they lie."""
    data, old = Path(os.environ["TUBWRIGHT"]).read_bytes(), (site / "sw.js").read_bytes()
    packed, version = gzip.compress(old, 9, mtime=0), (site / "version.txt").read_text(encoding="ascii").strip().encode()
    others = (old.replace(version, hashlib.sha256(str(n).encode()).hexdigest()[:16].encode()) for n in range(10_000))
    fresh = next(text for text in others if len(gzip.compress(text, 9, mtime=0)) == len(packed))
    for was, now in ((old, fresh), (packed, gzip.compress(fresh, 9, mtime=0)),
                     (hashlib.sha256(old).hexdigest()[:32].encode(), hashlib.sha256(fresh).hexdigest()[:32].encode())):
        if data.count(was) != 1:
            raise SystemExit(f"the page lies {data.count(was)} times in the program")
        data = data.replace(was, now)
    out.write_bytes(data)
    out.chmod(out.stat().st_mode | stat.S_IXUSR)


def play(size: str, hours: float) -> int:
    """At this size, so far into the story."""
    if not (shutil.which("openssl") and shutil.which("certutil")):
        print("1..0 # SKIP no openssl or certutil")
        return 0
    if missing():
        print(f"1..0 # SKIP {missing()}")
        return 0
    with tempfile.TemporaryDirectory() as home:
        authority(home)
        os.environ["BROWSER_HOME"] = home
        (Path(home) / "story.jsonl").write_text(story(hours), encoding="utf-8")
        newer(Path(os.environ["WASM"]).parent / "site", Path(home) / "newer")
        return run("start_up.mjs", f"{home}/story.jsonl", f"{home}/newer", f"{home}/cert.pem", f"{home}/key.pem", size, str(hours))
