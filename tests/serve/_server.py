"""A server on a scratch logbook, asked over HTTP by the standard library alone; every response that it gives is held
against the description that it gives of itself."""
from __future__ import annotations

import http.client
import json
import os
import re
import socket
import ssl
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SRC = Path(os.environ["SRC"])
sys.path[:0] = [str(SRC / "tests/answer"), str(SRC / "tests/store"), str(SRC / "tests/support")]
from _logbook import Place, Writer, canonical, place  # noqa: E402,F401
from claims import Claims  # noqa: E402,F401
from schema import faults  # noqa: E402

NOW = "2026-03-25T10:00:00+01:00"


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def type(self) -> str:
        """The name of the problem, "" when it is none."""
        if self.headers.get("content-type") != "application/problem+json":
            return ""
        return str(self.json["type"]).removeprefix("urn:tubwright:problem:")

    def __str__(self) -> str:
        return f"{self.status} {self.headers}\n{self.body[:600].decode(errors='replace')}"


class Server:
    """tubwright serve, until end() or the end of the block."""

    def __init__(self, here: Place, *options: str, now: str | None = NOW, stdin: str = "") -> None:
        self.here = here
        keep = {name: os.environ[name] for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS") if name in os.environ}
        env = {**keep, "HOME": str(here.home), "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC",
               "TUBWRIGHT_LOGBOOK": str(here.logbook), **({"TUBWRIGHT_NOW": now} if now else {})}
        self.log = open(here.home / "server.log", "w+b")
        self.process = subprocess.Popen([os.environ["TUBWRIGHT"], "serve", "--json", "--port", "0", *options], env=env,
                                        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=self.log)
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line:
            self.process.wait(10)
            self.log.seek(0)
            raise AssertionError(f"the server did not begin: {self.log.read().decode()}")
        self.address = json.loads(line)["address"]
        self.tls = self.address.startswith("https:")
        self.port = int(self.address.rsplit(":", 1)[1])
        self.host = f"127.0.0.1:{self.port}"
        self.cookie = self.token = ""
        self.described: dict[str, Any] = {}
        self.odd: list[str] = []   # responses that the description does not allow
        self.seen: set[tuple[str, str]] = set()   # operations and statuses that were seen
        if not options or "--quiet-test" not in options:
            self.described = self.ask("GET", "/api/openapi.json").json

    def __enter__(self) -> "Server":
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def end(self, signal: int = 15) -> int:
        """Its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(signal)
        code = self.process.wait(20)
        if self.process.stdout:
            self.process.stdout.close()
        return code

    def said(self) -> str:
        """What stands on its standard error."""
        self.log.flush()
        return (self.here.home / "server.log").read_text(encoding="utf-8", errors="replace")

    def ends_well(self) -> str:
        """End it: "" when its exit code is 0 and standard error holds nothing but lines of its log; else what was seen."""
        code = self.end()
        odd = "\n".join(line for line in self.said().splitlines() if not line.endswith(" ms"))
        return f"exit {code}\n{odd}" if code != 0 or odd else ""

    def connect(self) -> http.client.HTTPConnection:
        if self.tls:
            trust = ssl.create_default_context()
            trust.check_hostname, trust.verify_mode = False, ssl.CERT_NONE
            return http.client.HTTPSConnection("127.0.0.1", self.port, timeout=30, context=trust)
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)

    def ask(self, method: str, path: str, body: bytes | str | dict[str, Any] | None = None, signed: bool = True,
            **headers: str) -> Answer:
        """One request of its own connection. Names of headers are written with underscores."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if isinstance(body, dict):
            body = json.dumps(body)
            sent.setdefault("Content-Type", "application/json")
        if signed and self.cookie:
            sent.setdefault("Cookie", self.cookie)
            if method not in ("GET", "HEAD"):
                sent.setdefault("Tubwright-Token", self.token)
        connection = self.connect()
        try:
            connection.request(method, path, body.encode() if isinstance(body, str) else body, sent)
            got = connection.getresponse()
            answer = Answer(got.status, {name.lower(): value for name, value in got.getheaders()}, got.read())
        finally:
            connection.close()
        self.hold(method, path, answer)
        return answer

    def raw(self, sent: bytes, wait_s: float = 5.0) -> bytes:
        """Bytes as they are, and what comes back until the server closes or nothing comes any more."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait_s) as line:
            got = b""
            try:
                line.sendall(sent)
                while piece := line.recv(65536):
                    got += piece
            except (TimeoutError, ConnectionError):
                pass
            return got

    # ---- the description --------------------------------------------------------------------------

    def operation(self, method: str, path: str) -> dict[str, Any] | None:
        for pattern, methods in self.described.get("paths", {}).items():
            if re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", pattern), path.split("?")[0]):
                return methods.get("get" if method == "HEAD" else method.lower())
        return None

    def hold(self, method: str, path: str, answer: Answer) -> None:
        """Does the description allow this response?"""
        if not self.described:
            return
        where = f"{method} {path}: {answer.status}"
        media = answer.headers.get("content-type", "").split(";")[0]
        operation = self.operation(method, path)
        if operation is None:
            allowed = {"404": "path", "405": "method", "400": "", "414": "address-long", "421": "host", "429": "wait"}
            if str(answer.status) not in allowed or media != "application/problem+json":
                self.odd.append(f"{where} of what is not described")
            return
        self.seen.add((operation["operationId"], str(answer.status)))
        described = operation["responses"].get(str(answer.status))
        if described is None:
            self.odd.append(f"{where} {answer.type} is not described")
        elif method != "HEAD" and media not in (described.get("content") or {"": {}}):
            self.odd.append(f"{where}: {media!r} is not described")
        elif method != "HEAD" and media.endswith("json"):
            found = faults(answer.json, described["content"][media]["schema"], self.described, where)
            self.odd.extend(found[:3])
