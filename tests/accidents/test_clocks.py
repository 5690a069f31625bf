#!/usr/bin/env python3
"""The two nights in which the clock is changed, and a flight over nine zones.

One story of a start-up stands in four logbooks at the same instants: with clocks in UTC, with clocks that are put forward in
the middle of it, with clocks that are put back, and of somebody who flies over nine zones between a pour and a reading. The plan is the
same: the same act, the same amount, due at the same instants. A clock typed without its offset means what the clock on the wall
showed then; the hour that came twice is asked about, the one that never came is refused."""
import datetime
import hashlib
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import READY, Story, canonical, crash  # noqa: E402

tap = crash.Tap()
UTC = datetime.timezone.utc
ZONE = "CET-1CEST,M3.5.0,M10.5.0/3"  # forward on the last Sunday of March at 1:00 UTC, back on that of October
MORE = [("10:00", "log added 80 mL hydrochloric-acid-31.45"), ("10:20", "log care aerate started"), ("12:30", "log care aerate done"),
        ("12:31", "log ph=8.3 by meter"), ("12:35", "log ta=195 by drops step=10")]


def hours(minutes: int) -> datetime.timezone:
    return datetime.timezone(datetime.timedelta(minutes=minutes))


def forward(at: datetime.datetime) -> datetime.timezone:
    return hours(120 if at >= datetime.datetime(2026, 3, 29, 1, tzinfo=UTC) else 60)


def back(at: datetime.datetime) -> datetime.timezone:
    return hours(60 if at >= datetime.datetime(2026, 10, 25, 1, tzinfo=UTC) else 120)


def flight(at: datetime.datetime) -> datetime.timezone:
    """Nine zones to the west between the pour and the reading."""
    return hours(60 if at < BEGIN[3] + datetime.timedelta(hours=2) else -480)


BEGIN = {3: datetime.datetime(2026, 3, 28, 22, 50, tzinfo=UTC), 10: datetime.datetime(2026, 10, 24, 22, 50, tzinfo=UTC)}


def told() -> Story:
    """The story with its clocks in UTC, over the hour of the change in March."""
    story = Story()
    for hour, words in READY + MORE:
        at = BEGIN[3] + datetime.timedelta(hours=int(hour[:2]) - 8, minutes=int(hour[3:]))
        done = story.at(at.isoformat(), *words.split())
        assert done.code in (0, 4), done
    return story


def elsewhere(story: Story, zone_of: object, later: datetime.timedelta = datetime.timedelta()) -> Story:
    """The same entries as they would have been written with other clocks: same instants (or all so much later), chained anew."""
    lines: "list[str]" = []
    for line in story.here.give().splitlines():
        entry = json.loads(line)
        for field in {"at", "entered", "until", "good_until"} & set(entry):
            at = instant(entry[field]) + later
            entry[field] = at.astimezone(zone_of(at)).isoformat()  # type: ignore[operator]
        if "prev" in entry:
            entry["prev"] = hashlib.sha256(lines[-1].encode()).hexdigest()
        lines.append(canonical(entry))
    other = Story()
    assert other.take(lines).code == 0 and other.here.run("verify").code == 0
    return other


def cards_of(story: Story, month: int, zone_of: object) -> "list[dict[str, object]]":
    """The cards in the wait, in the air, at the next dose, a day later."""
    found = []
    for hours_on in (2.1, 3.0, 4.75, 29.0):
        at = BEGIN[month] + datetime.timedelta(hours=hours_on)
        found.append(story.answer(at.astimezone(zone_of(at)).isoformat(), "now"))  # type: ignore[operator]
    return found


def instant(text: object) -> datetime.datetime:
    return datetime.datetime.fromisoformat(str(text))


def plan(card: "dict[str, object]") -> "dict[str, object]":
    """The act with its times as instants, without the digest of the lines as they were written."""
    act = {key: value for key, value in card["act"].items() if key not in ("advice", "response")}  # type: ignore[union-attr]
    for key in ("next_at", "until", "good_until"):
        act[key] = instant(act[key])
    return {**act, "stage": card["stage"]["id"], "forecast": card.get("forecast")}  # type: ignore[index]


in_utc = {3: told()}
in_utc[10] = elsewhere(in_utc[3], lambda at: UTC, BEGIN[10] - BEGIN[3])
plans = {month: cards_of(story, month, lambda at: UTC) for month, story in in_utc.items()}
for month, name, zone_of in ((3, "clocks put forward in the night", forward), (10, "clocks put back in the night", back), (3, "a flight over nine zones", flight)):
    story = elsewhere(in_utc[month], zone_of)
    offsets = {json.loads(line)["at"][-6:] for line in story.here.give().splitlines()}
    tap.check(len(offsets) == 2, f"{name}: the entries have two offsets", offsets)
    for number, (card, plain) in enumerate(zip(cards_of(story, month, zone_of), plans[month])):
        tap.check(plan(card) == plan(plain), f"{name}: card {number}, {card['act']['act_id']}: the plan of UTC", plan(card), plan(plain))
amounts = [card["act"].get("amount") for card in plans[3] + plans[10]]
tap.check(amounts.count(None) < len(amounts) - 1, "there were doses among the acts", amounts)

# ---- clocks typed without their offset, on a machine whose zone changes ----
base = Story()
base.at("2026-03-20T09:00:00+01:00", "tub", "new", "Barn", "volume=1300L")


def typed(now: str, at: str) -> "tuple[int, str, str]":
    """Exit code, the instant that a reading was dated, what was said."""
    done = base.at(now, "log", "ph=7.4", "at", at, "--dry-run", json_form=False, env={"TZ": ZONE})
    return done.code, json.loads(done.out.splitlines()[0])["at"] if done.code == 0 else "", done.err


for now, at, wanted in [("2026-03-29T10:00:00+02:00", "00:30", "2026-03-29T00:30:00+01:00"), ("2026-03-29T10:00:00+02:00", "09:30", "2026-03-29T09:30:00+02:00"),
                        ("2026-03-30T10:00:00+02:00", "Sat 22:00", "2026-03-28T22:00:00+01:00"), ("2026-10-25T10:00:00+01:00", "00:30", "2026-10-25T00:30:00+02:00"),
                        ("2026-10-26T10:00:00+01:00", "2026-10-24 22:00", "2026-10-24T22:00:00+02:00"), ("2026-10-25T10:00:00+01:00", "2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+02:00"),
                        ("2026-03-29T10:00:00-07:00", "00:30", "2026-03-29T00:30:00-07:00")]:
    code, got, said = typed(now, at)
    tap.check((code, got) == (0, wanted), f"{at} seen from {now} is {wanted}", code, got, said)
code, got, said = typed("2026-03-29T10:00:00+02:00", "02:30")
tap.check(code == 2 and "put forward over that hour" in said, "the hour that never came is refused", code, got, said)
code, got, said = typed("2026-10-25T10:00:00+01:00", "02:30")
tap.check(code == 2 and "came twice" in said, "the hour that came twice is asked about", code, got, said)
done = base.at("2026-10-25T10:00:00+01:00", "log", "ph=7.4", "9", "h", "ago", "--dry-run", json_form=False, env={"TZ": ZONE})
tap.check(instant(json.loads(done.out.splitlines()[0])["at"]) == instant("2026-10-25T01:00:00+01:00"), "nine hours ago are nine hours, whatever the clock did", done)
tap.end()
