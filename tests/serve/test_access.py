#!/usr/bin/env python3
"""Who may come in: signing in, roles, lid links, cookies and their tokens, guessing; over plain HTTP and TLS; secrets stay secret."""
import json
import os
import time
from http import cookies

from _server import SRC, Claims, Server, Writer, canonical, place

claims = Claims()
keep, here = place()
barn = Writer(1).story(2)
deck = Writer(2)
DECK = "01890000-0000-7000-8000-00000000000b"
deck.write(kind="tub", name="Deck", volume="900", volume_unit="L", tub=DECK)
assert here.take(barn.lines + deck.lines).code == 0
BARN = json.loads(barn.lines[0])["tub"]
WORD = "four corners of the deck"
TLS = ["--cert", str(SRC / "tests/serve/cert.pem"), "--key", str(SRC / "tests/serve/key.pem")]


def sign_in(server, **body):
    answer = server.ask("POST", "/api/session", body, signed=False)
    if answer.status == 200:
        jar = cookies.SimpleCookie(answer.headers["set-cookie"])
        name, morsel = next(iter(jar.items()))
        server.cookie, server.token = f"{name}={morsel.value}", answer.json["token"]
    return answer


def statuses(server, wanted):
    return {path: (server.ask(method, path, body) if body is None or isinstance(body, dict)
                   else server.ask(method, path, body, Content_Type="application/jsonl")).status for method, path, body in wanted}


refused = here.run("serve", "--sign-in", "--port", "0")
claims.add(refused.code == 3 and "person add" in refused.problem["detail"], "without_an_owner_nothing_is_opened", refused)
claims.add(here.run("serve", "person", "add", "ann", "owner", stdin="short\n").code == 3, "a_short_passphrase_is_refused")
added = here.run("serve", "person", "add", "ann", "owner", stdin=WORD + "\n")
claims.add(added.code == 0 and WORD not in added.out + added.err, "an_owner_is_named_at_the_terminal", added)
claims.add(here.run("serve", "person", "remove", "ann").type == "last-owner", "the_last_owner_stays")
claims.add((here.home / "logbook.db-access").stat().st_mode & 0o777 == 0o600, "secrets_are_for_their_owners_eyes")
claims.add(here.run("serve", "--listen", "0.0.0.0").code == 2 and here.run("serve", "--listen", "0.0.0.0", "--network").code == 2,
           "a_network_needs_to_be_said_and_TLS")

with Server(here, "--sign-in", "--log", "--rate", "0") as server:
    shut = statuses(server, [("GET", path, None) for path in ("/api/tubs", "/api/entries", "/api/events", "/api/export", "/api/have", "/api/people", "/api/lids",
                                                              f"/api/tubs/{BARN}/now")] + [("POST", "/api/entries", "x")])
    claims.add(set(shut.values()) == {401}, "nobody_may_do_anything_before_signing_in", shut)
    open_ones = statuses(server, [("GET", path, None) for path in ("/", "/lid", "/api/openapi.json", "/api/session")])
    claims.add(set(open_ones.values()) == {200}, "but_read_what_is_here", open_ones)
    wrong = sign_in(server, name="ann", passphrase="not this one at all")
    nobody = sign_in(server, name="bob", passphrase=WORD)
    claims.add(wrong.type == nobody.type == "passphrase" and wrong.body == nobody.body, "a_wrong_name_and_a_wrong_passphrase_are_told_alike", wrong)
    good = sign_in(server, name="ann", passphrase=WORD)
    flags = good.headers["set-cookie"]
    claims.add(good.json["role"] == "owner" and "HttpOnly" in flags and "SameSite=Strict" in flags and "Path=/" in flags, "the_right_one_signs_in", good)
    claims.add(server.ask("GET", "/api/session").json["token"] == server.token, "the_page_can_ask_for_the_token_again")
    claims.add(server.ask("GET", "/api/tubs").status == 200 and server.ask("GET", "/api/people").json["people"] == [{"name": "ann", "role": "owner"}], "then_all_is_open")
    owner = server.cookie, server.token
    reading = canonical({**json.loads(Writer(5).write(kind="reading", analyte="ph", form="value", value="7.2")), "tub": BARN})
    sign_in(server, name="ann", passphrase=WORD)
    claims.add(server.cookie != owner[0] and server.token != owner[1], "signing_in_again_is_another_session")
    server.cookie, server.token = owner
    no_token = server.ask("POST", "/api/entries", reading, Content_Type="application/jsonl", Tubwright_Token="")
    bad_token = server.ask("POST", "/api/entries", reading, Content_Type="application/jsonl", Tubwright_Token="0" * 32)
    claims.add(no_token.type == bad_token.type == "token", "writing_needs_the_token_beside_the_cookie", bad_token)
    name = server.cookie.split("=")[0]
    forged = [server.ask("GET", "/api/tubs", Cookie=value).status for value in
              (f"{name}={'0' * 64}", f"{name}=", f"{name}={server.cookie[-64:]}0", f"{name}={server.cookie[-64:]}; {name}={server.cookie[-64:]}",
               f"{name}={server.cookie[-64:][::-1]}", f"x{server.cookie}", f"{name}=' or 1=1 --")]
    claims.add(set(forged) == {401}, "forged_cookies_open_nothing", forged)

    for who, role in (("tess", "tester"), ("rita", "reader"), ("theo", "technician")):
        answer = server.ask("POST", "/api/people", {"name": who, "role": role, "passphrase": WORD + who})
        assert answer.status == 200, answer
    claims.add(server.ask("POST", "/api/people", {"name": "tess", "role": "owner", "passphrase": WORD}).type == "known", "a_name_is_there_once")
    addition = Writer(6)
    addition.write(kind="addition", substance="sodium-bicarbonate", amount="90", amount_unit="g")
    tester_line = Writer(8)
    tester_line.write(kind="reading", analyte="ph", form="value", value="7.3", role="tester")
    tester_line.write(kind="reading", analyte="ph", form="value", value="7.3", role="owner")
    may = {}
    for who in ("rita", "tess", "theo"):
        assert sign_in(server, name=who, passphrase=WORD + who).status == 200
        posted = server.ask("POST", "/api/entries", "\n".join(tester_line.lines + addition.lines), Content_Type="application/jsonl")
        may[who] = (server.ask("GET", "/api/tubs").status, posted.status, [result["taken"] for result in posted.json.get("results", [])],
                    [result.get("reason", "") for result in posted.json.get("results", [])], server.ask("GET", "/api/people").status,
                    server.ask("POST", "/api/lids", {"tub": BARN, "role": "reader"}).status)
    claims.add(may["rita"] == (200, 403, [], [], 403, 403), "a_reader_reads", may["rita"])
    claims.add(may["tess"] == (200, 200, ["stored", "refused", "refused"], ["", "other-role", "not-of-role"], 403, 403), "a_tester_writes_readings_in_that_role", may["tess"])
    claims.add(may["theo"] == (200, 200, ["had", "stored", "stored"], ["", "", ""], 403, 403), "a_technician_writes_everything", may["theo"])

    theo = server.cookie, server.token
    gone = server.ask("DELETE", "/api/session")
    claims.add(gone.status == 204 and server.ask("GET", "/api/tubs").status == 401, "a_cookie_replayed_after_signing_out_opens_nothing", gone)
    server.cookie, server.token = owner
    sign_in_again = sign_in(server, name="theo", passphrase=WORD + "theo")
    theo = server.cookie, server.token
    server.cookie, server.token = owner
    taken_back = server.ask("DELETE", "/api/people/theo")
    server.cookie, server.token = theo
    claims.add(taken_back.status == 204 and server.ask("GET", "/api/tubs").status == 401, "who_is_removed_is_out_at_once", taken_back)

    server.cookie, server.token = owner
    made = server.ask("POST", "/api/lids", {"tub": BARN, "role": "tester", "hours": 2})
    link = made.json["link"]
    claims.add(made.status == 201 and link.startswith(f"http://{server.host}/lid#") and "secret" not in str(server.ask("GET", "/api/lids").json), "a_lid_link_is_made", made)
    page = server.ask("GET", "/lid", signed=False)
    claims.add("sha256-" in page.headers["content-security-policy"] and "unsafe" not in page.headers["content-security-policy"], "its_page_runs_its_own_script_alone", page)
    claims.add(sign_in(server, lid=link.split("#")[1]).json["tub"] == BARN, "it_opens_its_tub")
    beyond = statuses(server, [("GET", "/api/tubs", None), ("GET", f"/api/tubs/{DECK}/now", None), ("GET", "/api/tubs/Deck/logbook", None), ("GET", "/api/have", None),
                               ("GET", "/api/people", None), ("GET", "/api/lids", None), ("POST", "/api/lids", {"tub": BARN, "role": "tester"})])
    claims.add(set(beyond.values()) == {403} and server.ask("GET", f"/api/tubs/{BARN}/now").status == 200 and server.ask("GET", "/api/tubs/Barn/now").status == 200,
               "and_nothing_beyond_it", beyond)
    lines = server.ask("GET", "/api/export").body.decode() + "".join(entry["line"] for entry in server.ask("GET", "/api/entries").json["entries"])
    claims.add("Barn" in lines and "Deck" not in lines, "it_reads_entries_of_its_tub_alone", lines[:300])
    other = Writer(9)
    other.write(kind="reading", analyte="ph", form="value", value="7.9", tub=DECK, role="tester")
    posted = server.ask("POST", "/api/entries", other.lines[0], Content_Type="application/jsonl")
    claims.add(posted.json["results"][0]["reason"] == "other-tub", "and_writes_about_it_alone", posted)
    lid = server.cookie, server.token
    stream = server.connect()
    stream.request("GET", "/api/events", headers={"Cookie": server.cookie})
    events = stream.getresponse()
    events.readline()
    server.cookie, server.token = owner
    listed = [here.run("serve", "lids", json_form=form) for form in (False, True)]
    claims.add("Barn" in listed[0].out and BARN not in listed[0].out and json.loads(listed[1].out)["lids"][0]["name"] == "Barn", "the_terminal_names_its_tub", listed)
    claims.add(server.ask("DELETE", f"/api/lids/{made.json['id']}").status == 204, "it_can_be_revoked")
    server.cookie, server.token = lid
    claims.add(server.ask("GET", f"/api/tubs/{BARN}/now").status == 401 and sign_in(server, lid=link.split("#")[1]).type == "lid", "then_it_opens_nothing")
    assert here.take([Writer(11).write(kind="tub", name="Yard", volume="1420", volume_unit="L", tub="01890000-0000-7000-8000-00000000000c")]).code == 0
    left = events.read()
    claims.add(b"Yard" not in left, "a_stream_ends_with_its_session", left)
    stream.close()
    # The terminal closes the file of links behind each of its words; what the server has open of it must not be lost by that.
    found = []
    for name in ("first", "second"):
        shown = here.run("serve", "lid", "add", "tester", "--tub", "Barn", json_form=False).out
        found.append(sign_in(server, lid=shown.split("/lid#")[1][:64]).status)
        told = here.run("serve", "lid", "revoke", shown.split("Lid link ")[1].split(".")[0])
        found.append((told.code, server.ask("GET", f"/api/tubs/{BARN}/now").status))
    claims.add(found == [200, (0, 401)] * 2, "links_that_the_terminal_makes_and_revokes_while_it_runs_hold_at_once", found)
    bodies = [server.ask("POST", "/api/session", body, signed=False, Content_Type="application/json").type for body in
              ("[" * 5000, "{}", "[]", '{"name":"ann"}', '{"name":"ann","passphrase":7}', '{"name":"ann\\u0000","passphrase":"x"}', '{"lid":"x","name":"y"}', "\xff")]
    claims.add(set(bodies) == {"body"}, "bodies_that_are_none_are_refused", bodies)
    guesses = [sign_in(server, name="ann", passphrase=f"guess number {i} of many") for i in range(8)]
    claims.add([guess.type for guess in guesses].count("wait") >= 3 and int(guesses[-1].headers["retry-after"]) > 1, "guessing_has_to_wait", [guess.type for guess in guesses])
    server.cookie, server.token = owner
    claims.add(server.ask("GET", "/api/tubs").status == 200, "who_is_in_stays_in")
    said = server.said()
    secrets = [WORD, link.split("#")[1], owner[0][-64:], owner[1], server.cookie]
    claims.add(not any(secret in said for secret in secrets) and "/api/session" in said, "no_secret_stands_in_the_log", said[-300:])
    claims.add(not server.odd, "every_response_is_as_described", "\n".join(server.odd))
    bad = server.ends_well()
    claims.add(not bad, "and_it_ends_cleanly", bad)
held = b"".join(path.read_bytes() for path in here.home.glob("logbook.db*"))
claims.add(not any(secret.encode() in held for secret in secrets), "nor_on_the_disk")
claims.add(b"argon2id" not in (here.home / "logbook.db").read_bytes() and b"argon2id" in held, "the_logbook_itself_holds_nobody")

with Server(here, "--sign-in", *TLS) as server:
    good = sign_in(server, name="ann", passphrase=WORD)
    claims.add(server.cookie.startswith("__Host-tubwright=") and "; Secure" in good.headers["set-cookie"], "under_TLS_the_cookie_is_for_this_host_and_secure", good)
    claims.add(server.ask("GET", "/api/tubs").status == 200 and server.ask("GET", "/api/tubs", Origin=f"https://{server.host}").status == 200, "TLS_serves")
    claims.add(server.ask("GET", "/api/tubs", Origin=f"http://{server.host}").type == "origin" and not server.raw(b"GET / HTTP/1.1\r\n\r\n", 1.0).startswith(b"HTTP/1.1 200"),
               "and_plain_HTTP_gets_nothing_there")
    server.cookie, server.token = owner[0].replace("tubwright=", "__Host-tubwright="), owner[1]
    claims.add(server.ask("GET", "/api/tubs").status == 200, "a_session_outlives_the_server")

with Server(here, "--proxy", "--hosts", "tub.example") as server:
    seen = [server.ask("GET", "/api/session", Host="tub.example", Origin="https://tub.example").status, server.ask("GET", "/", Host="other.example").status]
    claims.add(seen == [200, 421], "behind_a_proxy_it_answers_to_the_names_given", seen)
claims.report()
