#!/usr/bin/env python3
"""Answers over HTTP: the bytes of the command line, tags, methods, what is refused; and all of it as described."""
import re
import time
from concurrent.futures import ThreadPoolExecutor

from _server import Claims, Server, place

STORY = [
    ("2026-03-23T08:00:00+01:00", ["tub", "new", "Barn two", "volume=1300L", "use=lodging"]),
    ("2026-03-23T08:05:00+01:00", ["tub", "plate", "output=0.16g/h", "salt=2000mg/L", "acids=any"]),
    ("2026-03-23T09:00:00+01:00", ["log", "filled", "1180", "L", "of", "hose"]),
    ("2026-03-24T12:40:00+01:00", ["log", "ph=7.4", "ta=180", "th=60..120", "fc=0", "by", "strips", "lot=B"]),
]
OPTIONS = {"forecast": [("hours=12&step=4&duty=30", ["--hours", "12", "--step", "4", "--duty", "30%"]),
                        ("plan=2h:duty=30;5h:bathers=4x90", ["2h:duty=30%", "5h:bathers=4x90"])],
           "logbook": [("last=2", ["--last", "2"])], "ahead": [("bathers=8x30", ["--bathers", "8x30"])]}
WORDS = ["now", "why", "water", "forecast", "plan", "worth", "ahead", "logbook", "bathing", "sheet"]

claims = Claims()
keep, here = place()
for at, words in STORY:
    done = here.run(*words, env={"TUBWRIGHT_NOW": at}, json_form=False)
    assert done.code in (0, 4), done

with Server(here) as server:
    same = []
    for word in WORDS:
        for query, options in [("", []), *OPTIONS.get(word, [])]:
            answer = server.ask("GET", f"/api/tubs/Barn%20two/{word}{'?' if query else ''}{query}")
            if answer.status != 200 or answer.body.decode() != here.run(word, *options).out:
                same.append(f"{word} {query}: {answer}")
    claims.add(not same, "every_answer_has_the_bytes_of_the_command_line", "\n".join(same))
    tubs = server.ask("GET", "/api/tubs")
    claims.add(tubs.body.decode() == here.run("tub").out, "so_has_the_list_of_tubs", tubs)
    tub = tubs.json["tubs"][0]
    by_id = server.ask("GET", f"/api/tubs/{tub['tub_id']}")
    claims.add(by_id.body.decode() == here.run("tub", "Barn two").out, "a_tub_is_found_by_its_id", by_id)
    text = server.ask("GET", "/api/tubs/Barn%20two/now", Accept="text/plain")
    claims.add(text.body.decode() == here.run("now", json_form=False).out, "text_plain_is_the_card", text)
    later = server.ask("GET", "/api/tubs/Barn%20two/now?at=2026-03-26T10:00:00+01:00")
    claims.add(later.body.decode() == here.run("now", "--at", "2026-03-26T10:00:00+01:00").out, "the_clock_may_be_given", later)

    now = server.ask("GET", "/api/tubs/Barn%20two/now")
    held = server.ask("GET", "/api/tubs/Barn%20two/now", If_None_Match=f'"x", W/{now.headers["etag"]}')
    claims.add(held.status == 304 and held.body == b"" and held.headers["etag"] == now.headers["etag"], "what_still_holds_is_not_sent_again", held)
    claims.add(server.ask("GET", "/api/tubs/Barn%20two/now", If_None_Match='"other"').status == 200, "another_tag_brings_the_answer")
    head = server.ask("HEAD", "/api/tubs/Barn%20two/now")
    claims.add(head.status == 200 and head.body == b"" and head.headers["content-length"] == now.headers["content-length"], "HEAD_is_GET_without_its_body", head)
    before = now.headers["etag"]
    here.run("log", "ph=7.5", "by", "strips", env={"TUBWRIGHT_NOW": "2026-03-25T09:50:00+01:00"})
    after = server.ask("GET", "/api/tubs/Barn%20two/logbook")
    for _ in range(40):
        if b"7.5" in after.body:
            break
        time.sleep(0.1)
        after = server.ask("GET", "/api/tubs/Barn%20two/logbook")
    claims.add(b"7.5" in after.body, "what_another_program_writes_shows", after)
    claims.add(server.ask("GET", "/api/tubs/Barn%20two/now").headers["etag"] != before, "and_changes_the_tag")

    with ThreadPoolExecutor(16) as pool:
        at_once = list(pool.map(lambda i: server.ask("GET", f"/api/tubs/Barn%20two/{'now' if i % 3 else 'water'}?at=2026-03-27T10:0{i % 4}:00+01:00"), range(96)))
    claims.add(all(answer.status == 200 for answer in at_once) and len({answer.body for answer in at_once}) == 8, "many_at_once_get_the_same_answer",
               [answer.status for answer in at_once])

    refused = [
        ("GET", "/api/tubs/Deck/now", {}, 404, "which-tub"), ("GET", "/api/tubs/Barn%20two/nothing", {}, 404, "path"),
        ("GET", "/api/tubs/Barn%20two/now?hours=3", {}, 400, "parameter"), ("GET", "/api/tubs/Barn%20two/forecast?hours=9999", {}, 400, "parameter"),
        ("GET", "/api/tubs/Barn%20two/forecast?hours=x", {}, 400, "parameter"), ("GET", "/api/tubs/Barn%20two/forecast?hours=3&hours=3", {}, 400, "parameter"),
        ("GET", "/api/tubs/Barn%20two/now?at=yesterday", {}, 400, "parameter"), ("GET", "/api/tubs/Barn%20two/now?as=text", {}, 400, "parameter"),
        ("GET", "/api/tubs/Barn%20two/bathing?profile=public%0Anow", {}, 400, "parameter"),
        ("GET", "/api/tubs/Barn%20two/bathing?profile=a%20as=text", {}, 400, "parameter"),
        ("GET", "/api/tubs/Barn%20two/now", {"Accept": "image/png"}, 406, "accept"),
        ("GET", "/api/tubs/Barn%20two/now", {"Accept": "application/json;q=0, image/*"}, 406, "accept"),
        ("POST", "/api/tubs/Barn%20two/now", {}, 405, "method"), ("PUT", "/api/tubs", {}, 405, "method"), ("TRACE", "/", {}, 405, "method"),
        ("OPTIONS", "/api/tubs", {}, 405, "method"), ("GET", "/" + "x" * 3000, {}, 414, "address-long"),
    ]
    wrong = []
    for method, path, headers, status, kind in refused:
        answer = server.ask(method, path, **headers)
        if answer.status != status or answer.type != kind:
            wrong.append(f"{method} {path[:80]} {headers}: {answer}")
    claims.add(not wrong, "what_is_not_in_order_is_refused_by_name", "\n".join(wrong))
    claims.add(server.ask("PUT", "/api/tubs").headers.get("allow") == "GET, HEAD", "a_wrong_method_is_told_the_right_ones")
    claims.add(not server.odd, "every_response_is_as_described", "\n".join(server.odd))
    bad = server.ends_well()
    claims.add(not bad, "SIGTERM_ends_it_cleanly", bad)

with Server(here, now=None) as server:
    first = server.ask("GET", "/api/tubs/Barn%20two/now").json["at"]
    claims.add(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", first), "without_a_clock_it_is_now", first)
    claims.add(server.end(2) == 0, "so_does_CtrlC")

# Many slow questions about one tub, then one about another: at a single desk that would be answered last.
assert here.run("tub", "new", "Deck", "volume=900L").code == 0
with Server(here, "--rate", "0") as server:
    ended = []

    def ask(path):
        answer = server.ask("GET", path)
        ended.append(path)
        return answer.status

    with ThreadPoolExecutor(32) as pool:
        slow = [pool.submit(ask, f"/api/tubs/Barn%20two/plan?at=2026-03-25T10:{minute}:00%2B01:00") for minute in range(10, 28)]
        time.sleep(0.05)
        other = pool.submit(ask, "/api/tubs/Deck/now")
        statuses = {one.result() for one in [*slow, other]}
    claims.add(statuses == {200} and ended.index("/api/tubs/Deck/now") < len(ended) - 4, "a_tub_does_not_wait_for_all_questions_about_another",
               (statuses, ended.index("/api/tubs/Deck/now"), len(ended)))
claims.report()
