"""As many connections as a server takes, and more: it keeps answering those it has, tells the next ones that there are too many, and closes the rest."""
from __future__ import annotations

import resource
import socket
import time
from pathlib import Path

from _server import Claims, Place, Server

SPARE = 64   # TW_SERVE_SPARE in src/serve/inside.h
ASK = b"GET /api/tubs HTTP/1.1\r\nHost: %s\r\n\r\n"


def opened(server: Server) -> socket.socket:
    return socket.create_connection(("127.0.0.1", server.port), timeout=20)


def ask(line: socket.socket, server: Server) -> bytes:
    """One request on an open connection, and the whole answer; b"" where the server closes instead."""
    got = b""
    try:
        line.sendall(ASK % server.host.encode())
        while b"\r\n\r\n" not in got or len(got.split(b"\r\n\r\n", 1)[1]) < length(got):
            piece = line.recv(65536)
            if not piece:
                break
            got += piece
    except ConnectionError:
        pass
    return got


def length(got: bytes) -> int:
    for line in got.split(b"\r\n\r\n", 1)[0].lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return int(line.split(b":")[1])
    return 0


def used_s(pid: int) -> float:
    """Processor time of a process."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100.0


def try_many(here: Place, connections: int, claims: Claims, patience_s: int) -> list[str]:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    needed = connections + 4 * SPARE + 100
    if hard != resource.RLIM_INFINITY and hard < needed:
        connections = hard - 4 * SPARE - 100
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(needed, hard) if hard != resource.RLIM_INFINITY else needed, hard))
    notes = []
    with Server(here, "--connections", str(connections), "--patience", str(patience_s), "--rate", "0") as server:
        alone = sorted(timed(server, 100))
        began = time.monotonic()
        held = [opened(server) for _ in range(connections - 1)]
        notes.append(f"{len(held)} connections held after {time.monotonic() - began:.1f} s")
        last = opened(server)
        answers = []
        for _ in range(200):
            start = time.monotonic()
            answers.append(ask(last, server)[:12])
            alone.append(time.monotonic() - start)
        full = sorted(alone[100:])
        claims.add(set(answers) == {b"HTTP/1.1 200"}, "the_last_of_them_is_answered", set(answers))
        before = used_s(server.process.pid)
        time.sleep(1)
        idle = used_s(server.process.pid) - before
        notes.append(f"median of an answer {alone[50] * 1000:.2f} ms alone, {full[100] * 1000:.2f} ms with all of them; 99 of 100 within {full[198] * 1000:.2f} ms; "
                     f"all of them silent take {100 * idle:.1f} % of a core")
        sample = [ask(line, server)[:12] for line in held[::max(1, len(held) // 50)]]
        claims.add(set(sample) == {b"HTTP/1.1 200"}, "so_are_those_that_were_there_before", set(sample))

        more = [opened(server) for _ in range(SPARE)]
        told = ask(more[0], server)
        claims.add(told.startswith(b"HTTP/1.1 503") and b"retry-after: 5" in told.lower() and b"urn:tubwright:problem:busy" in told and more[0].recv(10) == b"",
                   "one_too_many_is_told_so_and_ends", told[:400])
        more[0].close()
        more[0] = opened(server)
        beyond = [opened(server) for _ in range(2 * SPARE)]
        ended = [ask(line, server) for line in beyond]
        claims.add(all(not answer or answer.startswith(b"HTTP/1.1 503") for answer in ended) and ended.count(b"") >= SPARE, "the_rest_is_closed", [answer[:12] for answer in ended])
        claims.add(ask(last, server).startswith(b"HTTP/1.1 200"), "and_the_server_goes_on_answering")
        for line in [*more, *beyond, *held[:20]]:
            line.close()
        time.sleep(0.3)
        with opened(server) as line:
            claims.add(ask(line, server).startswith(b"HTTP/1.1 200"), "where_some_leave_others_come_in")
        last.close()
        wait = time.monotonic() + 3 * patience_s + 10
        silent = held[30]
        silent.settimeout(3 * patience_s + 10)
        claims.add(silent.recv(10) == b"" and time.monotonic() < wait, "the_silent_ones_are_let_go")
        for line in held:
            line.close()
        time.sleep(0.3)
        claims.add(server.ask("GET", "/api/tubs").status == 200, "and_all_is_as_before")
        ended_badly = server.ends_well()
        claims.add(not ended_badly, "it_ends_well", ended_badly)
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    return notes


def timed(server: Server, times: int) -> list[float]:
    taken = []
    with opened(server) as line:
        for _ in range(times):
            start = time.monotonic()
            ask(line, server)
            taken.append(time.monotonic() - start)
    return taken
