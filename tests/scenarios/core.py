"""The core as a library (include/tubwright/tubwright.h), without a process a question: entries in as
canonical lines that are written here, apart from the program's own writer; answers out as JSON."""
from __future__ import annotations

import ctypes
import datetime
import hashlib
import json
import os
import random
import subprocess
from pathlib import Path
from typing import Any

START = datetime.datetime(2026, 3, 2, 8, 0, tzinfo=datetime.timezone.utc)
ENTRIES, TEXT, ANSWER = 512, 1 << 19, 1 << 18


def library(folder: str) -> str:
    """The core of this build as a shared object in folder. The sampler's rooms are compiled for this very
    processor: the bits are the same (tests/same, tests/estimate/test_lanes.py), the time a third less."""
    build, source = Path(os.environ["BUILD"]), Path(os.environ["SRC"]) / "src"
    compiler, objects = os.environ.get("CC", "cc"), []
    for path in sorted(source.glob("estimate/*.c")):
        objects.append(str(Path(folder) / f"{path.stem}.o"))
        subprocess.run([compiler, "-std=c17", "-O3", "-march=native", "-ffp-contract=off", "-fPIC", "-w", "-c", str(path), "-o", objects[-1],
                        f"-I{source}", f"-I{source.parent}/include", f"-I{build}/src"], check=True)
    names = [f"-u,tw_core_{name}" for name in ("bytes", "init", "add_line", "ask")]
    out = str(Path(folder) / "core.so")
    subprocess.run([compiler, "-shared", "-o", out, *objects, f"-Wl,{','.join(names)}", str(build / "libtubwright_core.a"), "-lm"], check=True)
    return out


def instant(hours: float) -> str:
    return (START + datetime.timedelta(seconds=round(hours * 3600))).isoformat()


def hours_of(text: str) -> float:
    return (datetime.datetime.fromisoformat(text) - START).total_seconds() / 3600.0


class Core:
    """One tub's logbook in memory. `lines` keeps what was written."""

    def __init__(self, path: str, seed: str) -> None:
        self.so = ctypes.CDLL(path)
        size = ctypes.c_size_t
        self.so.tw_core_bytes.restype = size
        self.so.tw_core_bytes.argtypes = [size, size]
        self.so.tw_core_add_line.argtypes = [ctypes.c_void_p, ctypes.c_char_p, size, ctypes.c_char_p, size]
        self.so.tw_core_ask.argtypes = [ctypes.c_void_p, ctypes.c_char_p, size, ctypes.c_char_p, size, ctypes.POINTER(size)]
        need = self.so.tw_core_bytes(ENTRIES, TEXT)
        self.memory = ctypes.create_string_buffer(need + 64)
        at = (ctypes.addressof(self.memory) + 63) // 64 * 64
        self.core = ctypes.c_void_p()
        if self.so.tw_core_init(ctypes.c_void_p(at), size(need), size(ENTRIES), size(TEXT), ctypes.byref(self.core)) != 0:
            raise RuntimeError("no core")
        self.answer = ctypes.create_string_buffer(ANSWER)
        self.rng = random.Random(f"ids {seed}")
        self.tub, self.writer = self.uuid(0, 4), self.uuid(0, 4)
        self.count, self.prev, self.lines = 0, "", []  # type: int, str, list[str]
        self.asked = 0

    def uuid(self, count: int, version: int) -> str:
        head = f"{0x019cad8fac00 + count:012x}"
        tail = f"{self.rng.getrandbits(72):018x}"
        return f"{head[:8]}-{head[8:]}-{version}{tail[:3]}-a{tail[3:6]}-{tail[6:]}"

    def entry(self, hours: float, kind: str, /, **fields: str) -> None:
        self.count += 1
        body = {"id": self.uuid(self.count, 7), "kind": kind, "tub": self.tub, "at": instant(hours), "entered": instant(hours),
                "writer": self.writer, "n": str(self.count), "role": "technician", **fields}
        if self.prev:
            body["prev"] = self.prev
        line = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        raw = line.encode()
        self.prev = hashlib.sha256(raw).hexdigest()
        fault = ctypes.create_string_buffer(512)
        if self.so.tw_core_add_line(self.core, raw, len(raw), fault, 512) != 0:
            raise RuntimeError(f"{line}: {fault.value.decode()}")
        self.lines.append(line)

    def ask(self, hours: float, word: str = "now") -> dict[str, Any]:
        question = f"{word} at={instant(hours)} as=json".encode()
        length = ctypes.c_size_t()
        status = self.so.tw_core_ask(self.core, question, len(question), self.answer, ANSWER, ctypes.byref(length))
        if status != 0:
            raise RuntimeError(f"{question.decode()}: status {status}")
        self.asked += 1
        return dict(json.loads(self.answer.raw[:length.value]))
