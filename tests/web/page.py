"""A server on a logbook of its own, and a script of the browser against it."""
from __future__ import annotations

import hashlib
import os
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from typing import IO

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def missing() -> str:
    """Why the page cannot be tried here; empty: it can."""
    if not shutil.which("chromium"):
        return "no chromium"
    if not (ROOT / "web/node_modules/playwright-core").is_dir():
        return "no browser driver: npm ci in web/"
    if not Path(os.environ.get("WASM", "")).is_file():
        return "no WebAssembly in this build"
    version = Path(os.environ["WASM"]).parent / "site/version.txt"
    if not version.is_file() or version.read_bytes().strip() not in Path(os.environ["TUBWRIGHT"]).read_bytes():
        return "the program was built without the page"
    return ""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def write(logbook: Path, env: dict[str, str], story: list[tuple[str, str]]) -> None:
    """A logbook as the terminal writes it."""
    for at, words in story:
        done = subprocess.run([os.environ["TUBWRIGHT"], "-l", str(logbook), "--at", at, "--yes", *words.split()], env=env, capture_output=True, text=True, check=False)
        if done.returncode not in (0, 4):
            raise SystemExit(f"{words}: {done.returncode} {done.stderr}")


def logbook_of(story: list[tuple[str, str]], logbook: Path, env: dict[str, str]) -> None:
    """The same, once for all tests that tell one story to one program."""
    program = Path(os.environ["TUBWRIGHT"])
    stories = program.parent / "web-stories"
    told = stories / hashlib.sha256(program.read_bytes()).hexdigest()[:16] / (hashlib.sha256(repr(story).encode()).hexdigest()[:16] + ".db")
    if not told.parent.is_dir():
        shutil.rmtree(stories, ignore_errors=True)  # told to another program
        told.parent.mkdir(parents=True, exist_ok=True)
    if not told.is_file():
        write(logbook, env, story)
        subprocess.run([str(program), "-l", str(logbook), "backup", str(logbook.with_suffix(".told"))], env=env, capture_output=True, check=True)
        os.replace(shutil.copy(logbook.with_suffix(".told"), told.with_suffix(f".{os.getpid()}")), told)
    shutil.copy(told, logbook)


def run(script: str, *more: str, story: list[tuple[str, str]] | None = None, out: IO[str] | None = None, signing_in: bool = False) -> int:
    if missing():
        print(f"1..0 # SKIP {missing()}")
        return 0
    with tempfile.TemporaryDirectory() as folder:
        logbook, port = Path(folder) / "logbook.db", free_port()
        env = {**os.environ, "HOME": folder, "XDG_DATA_HOME": folder, "TZ": "Europe/Berlin"}
        if story:
            logbook_of(story, logbook, env)
        if signing_in:
            subprocess.run([os.environ["TUBWRIGHT"], "-l", str(logbook), "serve", "person", "add", "ann", "owner"], env=env, input="a fixed passphrase\n", text=True, check=True, stdout=subprocess.DEVNULL)
        with (Path(folder) / "serve.log").open("wb") as log:
            server = subprocess.Popen([os.environ["TUBWRIGHT"], "-l", str(logbook), "serve", "--port", str(port), *(["--sign-in"] if signing_in else [])], env=env, stdout=log, stderr=log)
        try:
            for _ in range(100):
                with socket.socket() as probe:
                    if probe.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.1)
            return subprocess.run(["node", str(HERE / script), f"http://127.0.0.1:{port}/", os.environ["TUBWRIGHT"], str(logbook), *more], env=env, stdout=out, check=False).returncode
        finally:
            server.terminate()
            server.wait(10)
