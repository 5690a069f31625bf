#!/usr/bin/env python3
"""Entries over HTTP: taken each by itself and once, given in order of arrival since a cursor, told as they arrive."""
import hashlib
import json
import socket
import time

from _server import Claims, Server, Writer, canonical, place

claims = Claims()
keep, here = place()
barn, deck = Writer(1).story(6), Writer(2)
deck.write(kind="tub", name="Deck", volume="900", volume_unit="L", tub="01890000-0000-7000-8000-00000000000b")
deck.write(kind="reading", analyte="ph", form="value", value="7.1", tub="01890000-0000-7000-8000-00000000000b")


def post(server, lines, media="application/jsonl"):
    return server.ask("POST", "/api/entries", "".join(line + "\n" for line in lines), Content_Type=media)


class Stream:
    """Events of an open stream."""

    def __init__(self, server, path="/api/events", **headers):
        self.line = socket.create_connection(("127.0.0.1", server.port), timeout=5)
        more = "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in headers.items())
        self.line.sendall(f"GET {path} HTTP/1.1\r\nHost: {server.host}\r\n{more}\r\n".encode())
        self.bytes = b""
        self.entries, self.last = [], ""

    def read(self, entries, wait_s=5.0):
        """Until so many entries and a cursor behind them are there."""
        end = time.monotonic() + wait_s
        while time.monotonic() < end:
            text = self.bytes.decode()
            events = [dict(line.split(": ", 1) for line in event.splitlines() if ": " in line) for event in text.replace("\r\n", "\n").split("\n\n")]
            self.entries = [event["data"] for event in events if event.get("event") == "entry"]
            self.last = ([event["id"] for event in events if "id" in event] or [""])[-1]
            kinds = [event["event"] for event in events if "event" in event]
            if len(self.entries) >= entries and (not entries or kinds[-1] == "cursor"):
                break
            self.line.settimeout(max(0.01, end - time.monotonic()))
            try:
                piece = self.line.recv(65536)
            except TimeoutError:
                break
            if not piece:
                break
            self.bytes += piece
        return self.entries

    def close(self):
        self.line.close()


with Server(here) as server:
    live = Stream(server)
    time.sleep(0.2)
    first = post(server, barn.lines[:4])
    claims.add(first.status == 200 and first.json["stored"] == 4, "entries_are_stored", first)
    claims.add(live.read(4) == barn.lines[:4], "and_told_to_who_listens", live.bytes)
    again = post(server, barn.lines[:5])
    claims.add((again.json["stored"], again.json["had"]) == (1, 4), "sent_again_they_are_there_once", again)
    bad = canonical({**json.loads(deck.lines[1]), "value": "seven"})
    cut = barn.lines[5][:-9]
    mixed = post(server, [deck.lines[0], bad, "no line at all", cut, barn.lines[5], deck.lines[0]])
    took = [result["taken"] for result in mixed.json["results"]]
    claims.add(took == ["stored", "refused", "refused", "refused", "stored", "had"], "a_bad_line_blocks_no_other", mixed)
    claims.add(all(result["sentence"] and result["reason"] for result in mixed.json["results"] if result["taken"] == "refused"), "and_is_told_why", mixed)
    fork = canonical({**json.loads(barn.lines[2]), "value": "6.9", "id": "01890000-0000-7000-8001-000000000999"})
    forked = post(server, [fork, barn.lines[6]])
    claims.add(forked.json["results"][0].get("forks") and forked.json["results"][0]["other"] == hashlib.sha256(barn.lines[2].encode()).hexdigest(),
               "a_fork_is_kept_and_named", forked)

    message = {"writer": deck.id, "now_ms": 1774428000000, "entries": [
        {"line": deck.lines[1], "hash": hashlib.sha256(deck.lines[1].encode()).hexdigest()},
        {"line": deck.lines[1], "hash": "0" * 64}]}
    said = server.ask("POST", "/api/entries", message)
    claims.add([result["taken"] for result in said.json["results"]] == ["stored", "refused"] and said.json["results"][1]["reason"] == "altered",
               "a_line_with_another_hash_than_said_is_altered", said)

    everything = barn.lines + [fork] + deck.lines
    got, cursor = [], ""
    for _ in range(20):
        page = server.ask("GET", f"/api/entries?limit=3{'&since=' + cursor if cursor else ''}")
        got += [entry["line"] for entry in page.json["entries"]]
        assert all(hashlib.sha256(entry["line"].encode()).hexdigest() == entry["hash"] for entry in page.json["entries"])
        cursor = page.json["next"]
        if not page.json["more"]:
            break
    claims.add(sorted(got) == sorted(everything) and len(got) == len(set(got)), "pages_hold_every_line_once", got)
    claims.add(server.ask("GET", f"/api/entries?since={cursor}").json["entries"] == [], "behind_the_last_is_nothing")
    plain = server.ask("GET", "/api/entries", Accept="application/jsonl")
    claims.add(plain.body.decode().splitlines() == got and plain.headers["tubwright-cursor"] == cursor, "plain_lines_are_the_same", plain)
    exported = server.ask("GET", "/api/export")
    claims.add(exported.body.decode() == here.run("export", json_form=False).out, "export_has_the_bytes_of_the_command", exported)
    have = server.ask("GET", "/api/have").json
    claims.add(have["seal"] == here.seal() and have["lines"] == len(everything) and have["cursor"] == cursor, "have_tells_seal_and_ends", have)

    told = live.read(len(everything))
    claims.add(told == got, "the_stream_told_all_in_order", told)
    live.close()
    late = Stream(server, Last_Event_ID=server.ask("GET", "/api/entries?limit=4").json["next"])
    claims.add(late.read(len(got) - 4) == got[4:], "a_broken_line_goes_on_where_it_was", late.bytes)
    here.run("log", "ph=7.3", "by", "strips", "--tub", "Barn")
    claims.add("7.3" in (late.read(len(got) - 3) or [""])[-1], "what_another_program_writes_is_told", late.bytes)
    late.close()

    wrong = []
    for answer, status, kind in [
            (server.ask("GET", "/api/entries?since=nonsense"), 400, "parameter"), (server.ask("GET", "/api/entries?since=ff.0123456789abcdef"), 410, "cursor"),
            (server.ask("GET", "/api/entries?limit=0"), 400, "parameter"), (server.ask("GET", "/api/entries?limit=5001"), 400, "parameter"),
            (server.ask("GET", "/api/events?since=nonsense"), 400, "parameter"), (server.ask("GET", "/api/events", Last_Event_ID="ff.0123456789abcdef"), 410, "cursor"),
            (server.ask("GET", "/api/entries", Accept="text/html"), 406, "accept"), (post(server, [], "text/plain"), 415, "media"),
            (post(server, [], "application/json; charset=latin1"), 415, "media"), (post(server, ["{"], "application/json"), 400, "body"),
            (post(server, ['{"entries":[],"entries":[]}'], "application/json"), 400, "body"), (post(server, ['{"entries":[{"line":7}]}'], "application/json"), 400, "body"),
            (post(server, ["[" * 100000], "application/json"), 400, "body"), (post(server, ["\n" * 10] * 3), 200, ""),
            (post(server, ["x" * 2000000]), 413, "size"), (post(server, ['{"entries":[{"line":"\\u0000"}]}'], "application/json"), 400, "body"),
            (post(server, ["{}"] * 5001), 400, "body"), (server.ask("GET", "/api/have", "x"), 400, "request")]:
        if answer.status != status or answer.type != kind:
            wrong.append(f"{status} {kind}: {answer}")
    claims.add(not wrong, "what_is_not_in_order_is_refused_by_name", "\n".join(wrong))
    claims.add(not server.odd, "every_response_is_as_described", "\n".join(server.odd))
    open_one = Stream(server)
    open_one.read(0, 0.3)
    bad = server.ends_well()
    claims.add(not bad, "it_ends_with_a_stream_open", bad)
    open_one.close()
claims.report()
