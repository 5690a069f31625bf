#!/usr/bin/env python3
"""Clients that mean harm: slow, many, oversized, malformed, of another site, off the path. After each the server answers as before."""
import socket
import time

from _server import Claims, Server, Writer, place

claims = Claims()
keep, here = place()
assert here.take(Writer(1).story(3).lines).code == 0
OFF_THE_PATH = ["/../../etc/passwd", "/api/../api/tubs", "/api/%2e%2e/tubs", "/api/tubs/..%2f..%2fetc/now", "/api/tubs/%2fetc%2fpasswd/now",
                "//api/tubs", "/api//tubs", "/api/tubs/", "/api\\tubs", "/api/tubs/Barn/now%00", "/api/tubs/%zz/now", "/api/tubs/%c0%ae%c0%ae/now",
                "/api/tubs/Barn/now#x", "http://127.0.0.1/api/tubs", "api/tubs", "*", "/api/tubs/a/b/c/d/e/f/g", "/API/TUBS"]
MALFORMED = [b"\x00" * 400 + b"\r\n\r\n", b"GET\r\n\r\n", b"GET /\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"x" * 200,
             b"GET / HTTP/1.1\r\nHost HOST\r\n\r\n", b"GET / HTTP/1.1\r\n: x\r\n\r\n", b"GET / HTTP/1.1\r\nHost: HOST\r\nA: " + b"x" * 40000 + b"\r\n\r\n",
             b"POST /api/entries HTTP/1.1\r\nHost: HOST\r\nContent-Length: -5\r\n\r\n",
             b"POST /api/entries HTTP/1.1\r\nHost: HOST\r\nContent-Length: 99999999999999999999\r\n\r\n",
             b"POST /api/entries HTTP/1.1\r\nHost: HOST\r\nContent-Type: application/jsonl\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n",
             b"GET / HTTP/1.1\r\nHost: HOST\r\nHost: evil.example\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n"]


def drip(server, head, piece, every_s, most_s):
    """Seconds until the server ends a connection on which a little is said now and then; most_s when it does not."""
    began = time.monotonic()
    with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
        line.sendall(head)
        line.settimeout(every_s)
        while time.monotonic() - began < most_s:
            try:
                line.sendall(piece)
                if not line.recv(4096):
                    break
            except TimeoutError:
                continue
            except ConnectionError:
                break
    return time.monotonic() - began


def alive(server):
    return server.ask("GET", "/api/tubs").status == 200


with Server(here, "--patience", "1", "--connections", "40", "--rate", "0", "--log") as server:
    host = server.host.encode()
    took = drip(server, b"GET / HTTP/1.1\r\n", b"A", 0.2, 8)
    claims.add(took < 5 and alive(server), "a_dripping_head_is_ended", took)
    took = drip(server, b"POST /api/entries HTTP/1.1\r\nHost: " + host + b"\r\nContent-Type: application/jsonl\r\nContent-Length: 9000\r\n\r\n", b"x", 0.2, 9)
    claims.add(2 < took < 7 and alive(server), "a_dripping_body_is_ended", took)

    held = []
    for _ in range(150):
        try:
            held.append(socket.create_connection(("127.0.0.1", server.port), timeout=1))
        except OSError:
            break
    began = time.monotonic()
    refused = 0
    while time.monotonic() - began < 15:   # what is one too many is refused at once, until the silent ones are let go
        try:
            if alive(server):
                break
        except ConnectionError:
            pass
        refused += 1
        time.sleep(0.1)
    claims.add(refused and alive(server) and time.monotonic() - began < 15, "many_silent_connections_are_let_go", time.monotonic() - began)
    for line in held:
        line.close()
    streams = []
    for _ in range(36):
        line = socket.create_connection(("127.0.0.1", server.port), timeout=5)
        line.sendall(b"GET /api/events HTTP/1.1\r\nHost: " + host + b"\r\n\r\n")
        streams.append(line)
    heads = [line.recv(4096)[:12] for line in streams[:32]]
    claims.add(heads.count(b"HTTP/1.1 200") == 30 and heads.count(b"HTTP/1.1 503") == 2 and alive(server), "streams_leave_a_share_to_others", heads)
    for line in streams:
        line.close()

    answers = [server.raw(piece.replace(b"HOST", host), 3.0)[:12] for piece in MALFORMED]
    claims.add(all(answer == b"" or answer[9:10] in b"45" for answer in answers) and alive(server), "what_is_no_request_is_refused", answers)
    off = [server.ask("GET", path) if path.startswith("/") and " " not in path else None for path in OFF_THE_PATH]
    off_raw = [server.raw(b"GET " + path.encode() + b" HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n", 2.0)[:12] for path in OFF_THE_PATH]
    claims.add(all(answer[9:10] == b"4" for answer in off_raw) and all(answer is None or answer.type for answer in off), "no_path_leads_out",
               list(zip(OFF_THE_PATH, off_raw)))
    two = server.raw(b"POST /api/entries HTTP/1.1\r\nHost: " + host + b"\r\nContent-Type: application/jsonl\r\nContent-Length: 4\r\n"
                     b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /api/export HTTP/1.1\r\nHost: " + host + b"\r\n\r\n", 2.0)
    claims.add(two.count(b"HTTP/1.1 ") <= 1 or b"Barn" not in two, "two_lengths_smuggle_nothing", two[:300])
    big = server.ask("POST", "/api/entries", b"x" * 3_000_000, Content_Type="application/jsonl")
    claims.add(big.type == "size", "too_large_a_body_is_told_so", big)
    huge = b"POST /api/entries HTTP/1.1\r\nHost: " + host + b"\r\nContent-Type: application/jsonl\r\nContent-Length: 60000000\r\n\r\n"
    got = server.raw(huge + b"x" * 12_000_000, 3.0)
    claims.add(got == b"" and alive(server), "and_a_huge_one_ends_the_connection", got[:200])

    foreign = []
    for headers, kind in [({"Host": "evil.example"}, "host"), ({"Host": f"evil.example:{server.port}"}, "host"), ({"Host": "127.0.0.1:1"}, "host"),
                          ({"Host": f"127.0.0.1.evil.example:{server.port}"}, "host"), ({"Origin": "http://evil.example"}, "origin"),
                          ({"Origin": "null"}, "origin"), ({"Origin": f"https://{server.host}"}, "origin"), ({"Sec_Fetch_Site": "cross-site"}, "origin"),
                          ({"Sec_Fetch_Site": "same-site"}, "origin"), ({"Origin": f"http://{server.host}"}, ""), ({"Sec_Fetch_Site": "same-origin"}, "")]:
        answer = server.ask("GET", "/api/tubs", **headers)
        if answer.type != kind:
            foreign.append(f"{headers}: {answer}")
    claims.add(not foreign, "foreign_names_and_sites_are_refused", "\n".join(foreign))
    line = Writer(7).story(1).lines[0]
    posts = [server.ask("POST", "/api/entries", line, Content_Type=media, Origin="http://evil.example")
             for media in ("text/plain", "application/x-www-form-urlencoded", "application/jsonl")]
    posts.append(server.ask("POST", "/api/entries", line, Content_Type="text/plain"))
    claims.add([post.status for post in posts] == [403, 403, 403, 415] and line not in server.ask("GET", "/api/export").body.decode(),
               "a_page_of_another_site_writes_nothing", posts)
    header = server.ask("GET", "/api/tubs").headers
    claims.add(header["x-content-type-options"] == "nosniff" and "default-src 'none'" in header["content-security-policy"] and header["referrer-policy"] == "no-referrer"
               and header["cross-origin-resource-policy"] == "same-origin" and "access-control-allow-origin" not in header, "answers_carry_their_guards", header)
    server.ask("GET", "/api/tubs/Barn/bathing?profile=secretword")
    for _ in range(50):   # a line is written when its answer has gone out
        if "/api/tubs/{tub}/bathing" in server.said():
            break
        time.sleep(0.1)
    claims.add("secretword" not in server.said() and "/api/tubs/{tub}/bathing" in server.said(), "the_log_holds_no_query", server.said()[-300:])
    claims.add(not server.odd, "every_response_is_as_described", "\n".join(server.odd))
    bad = server.ends_well()
    claims.add(not bad, "and_it_ends_cleanly", bad)

with Server(here, "--rate", "5") as server:
    answers = [server.ask("GET", "/") for _ in range(30)]
    waits = [answer for answer in answers if answer.type == "wait"]
    claims.add(waits and all(int(answer.headers["retry-after"]) >= 1 for answer in waits) and answers[0].status == 200, "too_many_requests_have_to_wait", answers[-1])
claims.report()
