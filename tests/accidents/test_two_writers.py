#!/usr/bin/env python3
"""The same dose from two writers.

Two people at one tub, each with a logbook of their own, write down the acid that one of them poured. When the logbooks meet there
are two entries. Nobody can know whether it was one dose or two: it is asked, on both sides, nothing is advised, and what is known
of the water covers both answers. The order in which the logbooks meet makes no difference."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from _story import Story, crash, is_dose  # noqa: E402

tap = crash.Tap()
one = Story().begin()
two = one.copy()
one.must("10:05", "added 60 g dry acid")
single = one.copy()
two.must("10:09", "added 60 g dry acid")
one.merge(two)
two.merge(one)
tap.check(one.here.give() == two.here.give() and one.here.seal() == two.here.seal(), "both logbooks are the same, to the byte")
tap.check(one.here.run("verify").code == 0, "two writers, two whole chains", one.here.run("verify"))
cards = [story.answer("11:30", "now") for story in (one, two)]
tap.check(all(card["act"]["act_id"] == "same-dose" and not is_dose(card) for card in cards), "both are asked: one dose or two?", cards[0])
tap.check(cards[0] == cards[1], "with the same words and digests", cards)
said = one.answer("11:30", "logbook")
tap.check([doubt["doubt"]["id"] for doubt in said["doubts"]] == ["doubt-same-dose"], "the logbook shows the doubt and both entries", said["doubts"])

both = one.copy()
both.must("11:31", "reply same-dose=no")
voided = one.copy()
entry = [item["entry"] for item in said["entries"] if item["kind"] == "addition"][-1]
voided.must("11:31", f"void {entry}")
twice, once, open_ = both.ph("11:31"), voided.ph("11:31"), one.ph("11:31")
print(f"# pH if two {twice}, if one {once}, open {open_}; one alone {single.ph('11:31')}")
tap.check(abs(once[1] - single.ph("11:31")[1]) < 0.1, "taken back, it is as if it had been written once")
tap.check(twice[1] < once[1] - 0.1, "two doses are not one", twice, once)
# The ends lie a little inside, as each answer has only a share of the chance.
tap.check(open_[0] <= twice[0] + 0.2 and open_[2] >= once[2] - 0.2 and open_[2] - open_[0] > 1.2 * (once[2] - once[0]), "until it is answered what is known covers both answers", once, open_, twice)
tap.check(both.act("11:32") != "same-dose" and voided.act("11:32") != "same-dose", "answered, it is not asked again")

# At the terminal the second person is asked at once, when the logbook already has the first.
three = single.copy()
asked = three.log("10:09", "added 60 g dry acid")
tap.check(asked.code == 1 and three.here.give() == single.here.give(), "typed into one logbook it is asked before it is written", asked)
tap.end()
