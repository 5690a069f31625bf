#!/usr/bin/env python3
"""Hours that a monitor pushes: stored once by their names, each by itself; stale after their time; by a lid link of one tub, and nothing else."""
import hashlib
import json
import uuid
from http import cookies

from _server import NOW, Claims, Server, Writer, place

claims = Claims()
keep, here = place()
barn, deck = Writer(1).story(1), Writer(2)
BARN, DECK = json.loads(barn.lines[0])["tub"], "01890000-0000-7000-8000-00000000000b"
deck.write(kind="tub", name="Deck", volume="900", volume_unit="L", tub=DECK)
assert here.take(barn.lines + deck.lines).code == 0
WORD, DEVICE = "four corners of the deck", "AB-1207"
assert here.run("serve", "person", "add", "ann", "owner", stdin=WORD + "\n").code == 0
HOUR = {"quantity": "ph", "at": "2026-03-25T09:00:00+01:00", "median": "7.42", "low": "7.40", "high": "7.45", "count": "60"}


def name_of(device, quantity, seconds):
    """RFC 9562 B.2 by the standard library: the first 16 bytes of SHA-256, version and variant set."""
    space = uuid.UUID("d1281c2c-0e4b-4f32-87ca-f85da1501563").bytes
    made = bytearray(hashlib.sha256(space + f"{device}\n{quantity}\n{seconds}".encode()).digest()[:16])
    made[6], made[8] = made[6] & 0x0F | 0x80, made[8] & 0x3F | 0x80
    return str(uuid.UUID(bytes=bytes(made)))


def sign_in(server, **body):
    answer = server.ask("POST", "/api/session", body, signed=False)
    if answer.status == 200:
        jar = cookies.SimpleCookie(answer.headers["set-cookie"])
        name, morsel = next(iter(jar.items()))
        server.cookie, server.token = f"{name}={morsel.value}", answer.json["token"]
    return answer


def push(server, *hours, tub=BARN, device=DEVICE):
    return server.ask("POST", f"/api/tubs/{tub}/sensors", {"device": device, "hours": list(hours)})


def lines():
    return here.give().splitlines()


with Server(here, "--sign-in", "--rate", "0") as server:
    assert sign_in(server, name="ann", passphrase=WORD).status == 200
    owner = server.cookie, server.token
    link = server.ask("POST", "/api/lids", {"tub": BARN, "role": "device", "hours": 8760}).json["link"]
    claims.add(server.ask("POST", "/api/people", {"name": "mon", "role": "device", "passphrase": WORD}).status == 400, "a_device_is_no_person")
    claims.add(sign_in(server, lid=link.split("#")[1]).json["role"] == "device", "a_monitor_comes_in_by_a_lid_link")
    device = server.cookie, server.token

    before = len(lines())
    first = push(server, HOUR, {**HOUR, "quantity": "free-chlorine", "median": "1.20", "low": "1.1", "high": "1.3", "unit": "mg/L"})
    claims.add(first.status == 200 and first.json["stored"] == 2 and len(lines()) == before + 2, "hours_are_stored", first)
    claims.add(first.json["results"][0]["id"] == name_of(DEVICE, "ph", 1774425600), "their_names_are_made_of_device_quantity_and_time", first)
    again = push(server, HOUR, HOUR, {**HOUR, "at": "2026-03-25T08:00:00+00:00"})
    claims.add((again.json["stored"], again.json["had"]) == (0, 3), "sent_again_they_are_there", again)
    claims.add(len(lines()) == before + 2, "and_once", lines())
    twice = push(server, {**HOUR, "at": "2026-03-25T08:00:00+01:00"}, {**HOUR, "at": "2026-03-25T08:00:00+01:00"})
    claims.add([one["taken"] for one in twice.json["results"]] == ["stored", "had"], "twice_in_one_push_is_once", twice)
    other = push(server, {**HOUR, "median": "7.43"})
    claims.add(other.json["results"][0]["reason"] == "other-value" and len(lines()) == before + 3, "another_value_for_the_same_hour_is_refused", other)
    entry = json.loads(next(line for line in lines() if '"7.42"' in line))
    claims.add((entry["kind"], entry["role"], entry["serial"], entry["analyte"], entry["unit"], entry["tub"]) == ("monitor-hour", "device", DEVICE, "ph", "pH", BARN),
               "an_hour_is_an_entry_like_any_other", entry)

    bad = push(server, {**HOUR, "quantity": "sunshine"}, {**HOUR, "at": "2026-03-25T09:17:00+01:00"}, {**HOUR, "at": "yesterday"},
               {**HOUR, "at": "2026-03-25T11:00:00+01:00"}, {**HOUR, "median": "seven", "at": "2026-03-25T07:00:00+01:00"},
               {**HOUR, "median": 7.4}, {**HOUR, "mood": "good"}, {**HOUR, "median": "7.2", "high": "7.1", "low": "7.0", "at": "2026-03-25T07:00:00+01:00"},
               {**HOUR, "unit": "mg/L", "at": "2026-03-25T07:00:00+01:00"}, {"quantity": "ph"}, {**HOUR, "median": "99", "at": "2026-03-25T07:00:00+01:00"},
               {**HOUR, "at": "2026-03-25T10:00:00+01:00", "median": "7,5", "high": "7,6"})
    reasons = [one.get("reason", one["taken"]) for one in bad.json["results"]]
    claims.add(reasons[:4] == ["unknown-quantity", "not-an-hour", "time", "ahead"] and reasons[5:7] == ["form", "form"] and bad.json["refused"] == 11
               and reasons[11] == "stored" and all(one["sentence"] for one in bad.json["results"][:11]), "a_bad_hour_blocks_no_other", bad)

    wrong = []
    for body, media, status, kind in [("x", "application/json", 400, "body"), ("[]", "application/json", 400, "body"), ('{"device":"a"}', "application/json", 400, "body"),
                                      ('{"device":"a","hours":{}}', "application/json", 400, "body"), ('{"device":7,"hours":[]}', "application/json", 400, "body"),
                                      ('{"device":"","hours":[]}', "application/json", 400, "body"), (json.dumps({"device": "x" * 41, "hours": []}), "application/json", 400, "body"),
                                      ('{"device":"a\\nb","hours":[]}', "application/json", 400, "body"), (json.dumps({"device": "a", "hours": [HOUR] * 201}), "application/json", 400, "body"),
                                      ('{"device":"a","hours":[],"hours":[]}', "application/json", 400, "body"), ("[" * 100000, "application/json", 400, "body"),
                                      ("{}", "application/jsonl", 415, "media"), ("{}", "text/plain", 415, "media")]:
        answer = server.ask("POST", f"/api/tubs/{BARN}/sensors", body, Content_Type=media)
        if (answer.status, answer.type) != (status, kind):
            wrong.append(f"{body[:60]}: {answer}")
    odd = push(server, None, 7, [], "x", {**HOUR, "median": ""}, {**HOUR, "median": "7" * 3000})
    if odd.json["refused"] != 6:
        wrong.append(str(odd))
    claims.add(not wrong and len(lines()) == before + 4, "what_is_not_in_order_writes_nothing", "\n".join(wrong))

    closed = [server.ask("GET", path).status for path in (f"/api/tubs/{BARN}/now", f"/api/tubs/{BARN}/sensors", "/api/entries", "/api/events", "/api/export")]
    elsewhere = push(server, HOUR, tub=DECK)
    reading = Writer(5)
    reading.write(kind="reading", analyte="ph", form="value", value="7.9", role="device")
    posted = server.ask("POST", "/api/entries", reading.lines[0], Content_Type="application/jsonl")
    claims.add(set(closed) == {403} and elsewhere.type == "right" and posted.json["results"][0]["reason"] == "not-of-role", "a_monitor_can_nothing_else", (closed, elsewhere, posted))
    server.token = "0" * 32
    claims.add(push(server, {**HOUR, "at": "2026-03-25T06:00:00+01:00"}).type == "token", "a_push_needs_the_token_beside_the_cookie")
    server.cookie = server.token = ""
    claims.add(push(server, HOUR).status == 401, "and_signing_in")

    server.cookie, server.token = owner
    told = server.ask("GET", f"/api/tubs/{BARN}/sensors").json
    by = {one["quantity"]: one for one in told["sensors"]}
    claims.add(told["at"] == NOW, "it_says_by_which_clock", told)
    claims.add(by["ph"]["now"] == "7.5" and by["ph"]["age_s"] == 0 and not by["ph"]["stale"] and by["free-chlorine"]["now"] == "1.20", "the_last_hours_stand_for_now", told)
    claims.add(push(server, HOUR, tub="01890000-0000-7000-8000-0000000000ff").type == "which-tub" and push(server, HOUR, tub="Barn").type == "which-tub", "a_tub_is_named_by_its_id")
    ph_id = next(json.loads(line)["id"] for line in lines() if '"7.5"' in line and "monitor-hour" in line)
    back = Writer(6)
    back.write(kind="void", target=ph_id)
    assert server.ask("POST", "/api/entries", back.lines[0], Content_Type="application/jsonl").json["stored"] == 1
    told = {one["quantity"]: one for one in server.ask("GET", f"/api/tubs/{BARN}/sensors").json["sensors"]}
    claims.add(told["ph"]["median"] == "7.42", "what_was_taken_back_does_not_count", told)
    claims.add(not server.odd, "every_response_is_as_described", "\n".join(server.odd))
    ended = server.ends_well()
    claims.add(not ended, "it_ends_well", ended)

# Time goes by: each quantity expires by itself; what is pushed late is kept, and said to be stale.
for now, stale in (("2026-03-25T11:59:59+01:00", {"ph": False, "free-chlorine": False}), ("2026-03-25T12:00:00+01:00", {"ph": False, "free-chlorine": True}),
                   ("2026-03-26T09:00:00+01:00", {"ph": True, "free-chlorine": True})):
    with Server(here, now=now) as server:
        told = {one["quantity"]: one for one in server.ask("GET", f"/api/tubs/{BARN}/sensors").json["sensors"]}
        claims.add({name: one["stale"] for name, one in told.items()} == stale and all(("now" in one) != one["stale"] for one in told.values()), f"stale_at_{now[8:16]}", told)
        if now.startswith("2026-03-26"):
            late = push(server, {**HOUR, "quantity": "temperature", "median": "38.0", "low": "37.9", "high": "38.1", "at": "2026-03-25T23:00:00+01:00"})
            claims.add(late.json["stored"] == 1 and late.json["results"][0]["stale"], "a_late_hour_is_kept_and_said_to_be_stale", late)
            claims.add("38" in server.ask("GET", f"/api/tubs/{BARN}/logbook", Accept="text/plain").body.decode(), "and_stands_in_the_logbook")
claims.add(json.loads(here.run("verify").out)["whole"], "the_chain_is_whole")
claims.report()
