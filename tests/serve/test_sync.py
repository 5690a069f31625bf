#!/usr/bin/env python3
"""tubwright sync: two installations and a server over TLS become one; secrets, broken lines, lid links, odd chains, and servers that mean harm."""
import hashlib
import http.server
import json
import socket
import tempfile
import threading
from pathlib import Path

from _server import NOW, SRC, Claims, Place, Server, Writer, canonical, faults, place

claims = Claims()
keep, here = place()
scratch = tempfile.TemporaryDirectory()
PEM = str(SRC / "tests/serve/cert.pem")
TLS = ["--cert", PEM, "--key", str(SRC / "tests/serve/key.pem")]
WORD, DECK = "four corners of the deck", "01890000-0000-7000-8000-00000000000b"
FORM = json.loads((SRC / "docs/schemas/sync.schema.json").read_text())


def installation(name, *lines):
    home = Path(scratch.name) / name
    home.mkdir()
    made = Place(home)
    if lines:
        assert made.take(list(lines)).code == 0
    return made


def sync(who, address, *options, stdin=""):
    done = who.run("sync", address, *options, stdin=stdin)
    if done.out:
        claims.add(not faults(json.loads(done.out), FORM, FORM), "what_it_says_is_as_described", done)
    return done


def say(done):
    return json.loads(done.out or "{}")


class Relay:
    """Between a client and a server, until so many bytes have come back; then nobody answers any more."""

    def __init__(self, port):
        self.most, self.far = 0, port
        self.line = socket.create_server(("127.0.0.1", 0))
        self.port = self.line.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                near = self.line.accept()[0]
            except OSError:
                return
            far = socket.create_connection(("127.0.0.1", self.far))
            threading.Thread(target=self.carry, args=(near, far, False), daemon=True).start()
            threading.Thread(target=self.carry, args=(far, near, True), daemon=True).start()

    def carry(self, of, to, back):
        try:
            while self.most > 0 and (piece := of.recv(4096)):
                if back:
                    to.sendall(piece[:self.most])
                    self.most -= len(piece[:self.most])
                else:   # the server knows its own port alone
                    to.sendall(piece.replace(b"127.0.0.1:%d" % self.port, b"127.0.0.1:%d" % self.far))
        except OSError:
            pass
        for end in (of, to):
            try:
                end.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass


class Odd(http.server.BaseHTTPRequestHandler):
    """A server that is none: each path is answered as the class says."""
    answers: dict[str, tuple[int, dict[str, str], bytes]] = {}
    heard: list[str] = []

    def do_GET(self):
        length = int(self.headers.get("content-length") or 0)
        self.heard.append(self.path + " " + self.rfile.read(length).decode())
        status, headers, body = self.answers.get(self.path.split("?")[0], (404, {}, b"nothing"))
        self.send_response(status)
        for name, value in {"Content-Length": str(len(body)), **headers}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    do_POST = do_DELETE = do_GET

    def log_message(self, *_):
        pass


# Two installations have met a server over TLS: one truth.
barn, deck = Writer(1).story(4), Writer(2)
deck.write(kind="tub", name="Deck", volume="900", volume_unit="L", tub=DECK)
for i in range(3):
    deck.write(kind="reading", analyte="ph", form="value", value=f"7.{i}", tub=DECK)
phone, office = installation("phone", *barn.lines), installation("office", *deck.lines)
third = Writer(3).story(2)
assert here.take(third.lines).code == 0
# Of a name from one address five tries go at once, of an address twenty: so there are several names, and two runs of the server.
for name, role in (("ann", "owner"), ("tom", "technician"), ("tim", "technician"), ("tia", "technician"), ("rea", "reader")):
    assert here.run("serve", "person", "add", name, role, stdin=WORD + "\n").code == 0
lid = json.loads(here.run("serve", "lid", "add", "tester", "--tub", json.loads(barn.lines[0])["tub"]).out)["path"]

with Server(here, "--sign-in", "--log", *TLS) as server:
    at = server.address
    bad = sync(phone, at, "--as", "tom", stdin=WORD + "\n")
    claims.add((bad.code, bad.type) == (7, "certificate") and "--ca" in bad.problem["detail"], "a_certificate_that_nobody_vouches_for_is_refused", bad)
    bad = sync(phone, at.replace("https", "http"), "--as", "tom", stdin=WORD + "\n")
    claims.add((bad.code, bad.type) == (7, "unreached"), "http_where_tls_is_spoken_is_no_answer", bad)
    bad = sync(phone, at, "--ca", PEM)
    claims.add((bad.code, bad.type) == (7, "sign-in") and "--as" in bad.problem["detail"], "without_a_name_it_says_what_to_do", bad)
    bad = sync(phone, at, "--ca", PEM, "--as", "tom", stdin="another word of theirs\n")
    claims.add((bad.code, bad.type) == (7, "passphrase"), "a_wrong_passphrase_is_told", bad)
    bad = sync(phone, at, "--ca", PEM, "--as", "tom")
    claims.add(bad.code == 3, "a_passphrase_that_is_missing_too", bad)
    claims.add(len(phone.give().splitlines()) == len(barn.lines), "none_of_these_has_moved_an_entry")

    first = sync(phone, at, "--ca", PEM, "--as", "tom", stdin=WORD + "\n")
    claims.add(first.code == 0 and (say(first)["taken"], say(first)["given"], say(first)["same"]) == (3, 5, True), "entries_go_both_ways", first)
    second = sync(office, at, "--ca", PEM, "--as", "tom", stdin=WORD + "\n")
    claims.add(second.code == 0 and (say(second)["taken"], say(second)["given"]) == (8, 4), "and_on_to_the_next_installation", second)
    again = sync(phone, at, "--ca", PEM, "--as", "tia", stdin=WORD + "\n")
    claims.add(say(again)["taken"] == 4 and say(again)["given"] == 0, "what_came_meanwhile_is_taken", again)
    idle = sync(phone, at, "--ca", PEM, "--as", "tia", stdin=WORD + "\n")
    claims.add((say(idle)["taken"], say(idle)["given"], say(idle)["same"]) == (0, 0, True), "done_again_nothing_is_doubled", idle)
    exports = {who.give() for who in (phone, office, here)}
    claims.add(len(exports) == 1 and sorted(exports.pop().splitlines()) == sorted(barn.lines + deck.lines + third.lines), "all_three_hold_the_same_bytes")
    claims.add(len({who.run("now", "--tub", "Deck").out for who in (phone, office, here)}) == 1 and len({who.seal() for who in (phone, office, here)}) == 1,
               "and_give_the_same_answer")
    plain = phone.run("sync", at, "--ca", PEM, "--as", "tia", stdin=WORD + "\n", json_form=False)
    claims.add("0 taken, 0 given" in plain.out and "both sides hold the same entries" in plain.out, "in_words_too", plain)

    # A reader takes and gives nothing; what is refused stays visible.
    seen = installation("seen", *Writer(4).story(1).lines)
    read = sync(seen, at, "--ca", PEM, "--as", "rea", stdin=WORD + "\n")
    claims.add(read.code == 1 and say(read)["taken"] == 12 and say(read)["given"] == 0 and {odd["reason"] for odd in say(read)["odd"]} == {"right"},
               "a_reader_takes_and_gives_nothing", read)
    claims.add(len(json.loads(seen.run("verify").out)["refused"]) == 2, "what_was_refused_stays_visible_here")

    # A lid link: one tub, in one role.
    near = installation("near", *barn.lines[:2])
    assert near.run("log", "ph=7.3", "by", "strips", "--role", "tester", "--tub", "Barn").code == 0
    assert near.take(Writer(5).story(1).lines[:1] + [deck.lines[0]]).code == 0
    assert near.run("log", "ph=7.9", "by", "strips", "--role", "tester", "--tub", "Deck").code == 0
    by_lid = sync(near, at, "--ca", PEM, "--lid", stdin=f"{at}{lid}\n")
    odd = say(by_lid).get("odd", [])
    claims.add(say(by_lid)["given"] == 1 and say(by_lid)["taken"] == len(barn.lines) - 2 + len(third.lines) and not any('"7.9"' in line for line in here.give().splitlines()),
               "a_lid_link_exchanges_its_tub_alone", by_lid)
    claims.add(by_lid.code == 1 and [one["reason"] for one in odd if one["kind"] == "refused-there"] == ["not-of-role"], "and_gives_what_its_role_may", by_lid)
    claims.add(sync(near, at, "--ca", PEM, "--lid", stdin="no link\n").code == 3, "what_is_no_link_is_told")
    revoked = sync(near, at, "--ca", PEM, "--lid", stdin="0" * 64 + "\n")
    claims.add((revoked.code, revoked.type) == (7, "lid"), "a_link_that_opens_nothing_is_told", revoked)

    said = server.said()
    ended = server.ends_well()
    claims.add(not ended, "the_server_ends_well", ended)

with Server(here, "--sign-in", "--log", *TLS) as server:
    at = server.address
    # Lines of the greatest length: no message is longer than a server takes.
    wide = Writer(7).story(1)
    for i in range(240):
        wide.write(kind="note", words='"\\' * 1000)
    big = installation("big", *wide.lines)
    sent = sync(big, at, "--ca", PEM, "--as", "tom", stdin=WORD + "\n")
    claims.add(sent.code == 0 and say(sent)["given"] == 242 and sum(map(len, wide.lines)) > 900000, "long_lines_go_in_several_messages", sent)

    # Forks and gaps are named with their place.
    fork = canonical({**json.loads(barn.lines[2]), "value": "6.9", "id": "01890000-0000-7000-8001-000000000999"})
    torn = Writer(8).story(4)
    assert here.take([fork, *torn.lines[:2], torn.lines[4]]).code == 0
    named = say(sync(phone, at, "--ca", PEM, "--as", "tia", stdin=WORD + "\n"))
    forks = [one for one in named["odd"] if one["kind"] == "forked"]
    gaps = [one for one in named["odd"] if one["kind"] == "gap"]
    both = {hashlib.sha256(line.encode()).hexdigest() for line in (fork, barn.lines[2])}
    claims.add(forks and forks[0]["n"] == 3 and {forks[0]["hash"], forks[0]["other"]} == both, "a_fork_is_named_by_both_hashes", named)
    claims.add(gaps and (gaps[0]["writer"], gaps[0]["n"], gaps[0]["last"]) == (torn.id, 3, 4) and named["same"], "a_gap_by_its_numbers", named)
    words = phone.run("sync", at, "--ca", PEM, "--as", "tia", stdin=WORD + "\n", json_form=False).out
    claims.add("forked: two entries have number 3" in words and f"missing: entries 3 to 4 of writer {torn.id}" in words, "in_words_as_well", words)

    secret = lid.split("#")[1]
    spoken = said + server.said() + first.out + first.err + by_lid.out + by_lid.err + revoked.err
    kept = b"".join(path.read_bytes() for who in (phone, near) for path in who.home.rglob("*") if path.is_file())
    claims.add(WORD not in spoken and secret not in spoken and WORD.encode() not in kept and secret.encode() not in kept, "no_secret_is_said_or_kept")
    for url in (f"{at}{lid}", at.replace("//", "//tom:verysecret@"), f"{at}?lid={secret}"):
        bad = sync(phone, url)
        claims.add(bad.code == 2 and bad.type == "url" and secret not in bad.err and "verysecret" not in bad.err, "a_secret_in_the_address_is_refused", bad)
    claims.add(sync(phone, "http://192.0.2.1:8433", "--as", "tom", stdin=WORD).code == 2, "without_TLS_nothing_is_sent_to_another_machine")
    claims.add(sync(phone, "ftp://tub.example").type == sync(phone, "tub.example").type == sync(phone, at + "/api").type == "url", "what_is_no_address_is_told")
    ended = server.ends_well()
    claims.add(not ended, "the_server_ends_well", ended)

gone = sync(phone, at, "--ca", PEM, "--as", "tom", stdin=WORD + "\n")
claims.add((gone.code, gone.type) == (7, "unreached") and "Nobody answers there" in gone.problem["detail"], "a_server_that_is_off_is_told_in_plain_words", gone)
nowhere = sync(phone, "https://nowhere.invalid:1", "--as", "tom", stdin=WORD + "\n")
claims.add((nowhere.code, nowhere.type) == (7, "unreached"), "and_a_name_that_is_not_known", nowhere)
claims.add(sync(phone, at, "--ca", "/nowhere.pem", "--as", "tom", stdin=WORD).type == "input", "and_a_file_of_authorities_that_is_not_there")

with Server(here, "--rate", "1", now=NOW) as server:
    slow = sync(installation("slow"), server.address)
    claims.add(slow.code == 0 and say(slow)["same"], "a_server_that_asks_to_wait_is_waited_for", slow)

# A broken line: whatever was exchanged stays, and the next time brings the rest.
long = installation("long", *Writer(6).story(900).lines)
far = installation("far", *Writer(9).story(1200).lines)
with Server(far) as server:
    broken, have, relay = [], [], Relay(server.port)
    for relay.most in (300, 300000, 300000):
        done = sync(long, f"http://127.0.0.1:{relay.port}")
        broken.append((done.code, done.type))
        have.append(len(long.give().splitlines()))
    relay.line.close()
    whole = sync(long, server.address)
    claims.add(broken[0] == (7, "unreached") and have[0] < have[1] < have[2], "a_line_that_breaks_keeps_what_came_until_then", (broken, have))
    claims.add(say(whole)["same"] and long.give() == far.give() and len(set(long.give().splitlines())) == len(long.give().splitlines()),
               "and_the_next_time_brings_the_rest_once", whole)

# Servers that mean harm: nothing is taken, nothing hangs, nothing secret goes on to another one.
before = phone.give()
seal, line = "0" * 64, third.lines[0]
HAVE = {"writer": "", "now_ms": 1, "lines": 1, "cursor": "1.0", "seal": seal, "runs": []}


def as_json(value):
    return 200, {"Content-Type": "application/json"}, json.dumps(value).encode()


HARM = {
    "html": {"/api/have": (200, {}, b"<html>welcome to the hotel</html>")},
    "nothing": {},
    "deep": {"/api/have": (200, {}, b"[" * 100000)},
    "types": {"/api/have": as_json({**HAVE, "seal": 7})},
    "runs": {"/api/have": as_json({**HAVE, "runs": [{"writer": "x\x1b[2J", "from": -1, "n": 5, "hash": seal}]})},
    "endless": {"/api/have": as_json(HAVE), "/api/entries": as_json({"next": "1.0", "more": True, "entries": []})},
    "cursor": {"/api/have": as_json(HAVE), "/api/entries": as_json({"next": "../x?y= z", "more": False, "entries": []})},
    "too-many": {"/api/have": as_json(HAVE), "/api/entries": as_json({"next": "1.0", "more": False, "entries": [{"line": line, "hash": seal}] * 501})},
    "few-results": {"/api/have": as_json(HAVE), "/api/entries": as_json({"next": "1.0", "more": False, "entries": [], "results": []})},
    "sentence": {"/api/have": (500, {"Content-Type": "application/problem+json"},
                               json.dumps({"type": "urn:tubwright:problem:internal", "title": "x\x1b]0;y\x07\u009b2J"}).encode())},
    "redirect": {"/api/session": (307, {"Location": "http://127.0.0.1:9/steal"}, b"")},
    "later": {"/api/have": (503, {"Retry-After": "86400"}, b"{}")},
    "coded": {"/api/have": (200, {"Content-Encoding": "gzip"}, b"\x1f\x8b\x08garbage")},
}
harmed = []
with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Odd) as false_one:
    threading.Thread(target=false_one.serve_forever, daemon=True).start()
    for name, answers in HARM.items():
        Odd.answers = answers
        options = ("--as", "tom") if name == "redirect" else ()
        done = phone.run("sync", f"http://127.0.0.1:{false_one.server_port}", *options, stdin=WORD + "\n", json_form=False)
        if done.code not in (5, 7) or "\x1b" in done.err or "\u009b" in done.err or done.out:
            harmed.append(f"{name}: {done}")
    false_one.shutdown()
claims.add(not harmed and phone.give() == before, "servers_that_are_none_do_no_harm", "\n".join(harmed))
claims.add(not any("steal" in one for one in Odd.heard), "no_redirect_is_followed", Odd.heard)
scratch.cleanup()
claims.report()
