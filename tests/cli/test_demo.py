"""The demo's decisions, by their data: what the card says at each, not how it says it. Nothing of the replay
may reach the person's own folder."""
from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(os.environ["SRC"]) / "tests/support"))
from claims import Claims  # noqa: E402

NARROW = 60


def run(home: str, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "HOME": home, "XDG_DATA_HOME": f"{home}/data", "XDG_STATE_HOME": f"{home}/state", "TZ": "UTC"}
    env.pop("TUBWRIGHT_LOGBOOK", None)
    return subprocess.run([os.environ["TUBWRIGHT"], "demo", *words], env=env, capture_output=True, text=True, check=False)


def within(act: dict[str, Any], low: float, high: float) -> bool:
    return act["verb"] == "add" and low <= act["amount"] <= high


def acid(claims: Claims, act: dict[str, dict[str, Any]]) -> None:
    steps = [act[f"barn-acid-{n}"] for n in (1, 2, 3, 4)]
    claims.add(all(s["act_id"] == "acid-step" and s["amount_unit"] == "g" for s in steps), "barn: four steps of acid", steps)
    grams = [s.get("amount", 0.0) for s in steps]
    claims.add(all(0.0 < b <= a * 1.1 for a, b in zip(grams, grams[1:])) and grams[3] < 0.7 * grams[0], "barn: the steps shrink", grams)
    claims.add(grams[0] < 330.0 / 2.0, "barn: the first is less than half of the label's 330 g", grams)
    claims.add(all(s["predicted_ph"]["low"] >= 6.79 for s in steps), "barn: no step is foreseen under pH 6.8", [s["predicted_ph"] for s in steps])
    claims.add(act["barn-air"]["verb"] == "air", "barn: air between the steps", act["barn-air"])


def salt(claims: Claims, act: dict[str, dict[str, Any]]) -> None:
    first = act["barn-salt-1"]
    claims.add(first["act_id"] == "salt-step" and within(first, 1.9, 2.3), "barn: the first salt is under the plate's 2.6 kg", first)
    claims.add(act["barn-salt-heap"]["act_id"] == "stir-salt", "barn: no salt before it is dissolved and read again", act["barn-salt-heap"])


def deck(claims: Claims, act: dict[str, dict[str, Any]], item: dict[str, dict[str, Any]]) -> None:
    claims.add(act["deck-air"]["verb"] == "air", "deck: low pH with carbon dioxide gets air, nothing is added", act["deck-air"])
    claims.add(item["deck-ten-times"]["exit"] == 1, "deck: ten times too large is asked back", item["deck-ten-times"])
    bicarbonate = act["deck-bicarbonate"]
    claims.add(bicarbonate.get("substance") == "sodium-bicarbonate" and within(bicarbonate, 30, 60),
               "deck: the plan after it is as if it had never been typed", bicarbonate)
    claims.add(act["deck-open-dose"]["act_id"] == "answer-intent", "deck: an announced dose is asked about, none is added", act["deck-open-dose"])
    for name in ("deck-dip", "deck-after-dip"):
        claims.add(act[name]["verb"] in ("wait", "test") and act[name]["act_id"] == "prove-hold", f"{name}: waits", act[name])


def residual(claims: Claims, act: dict[str, dict[str, Any]], item: dict[str, dict[str, Any]]) -> None:
    early = act["barn-not-held"]
    claims.add(early["act_id"] == "prove-hold" and early["chance"] < 0.95 and item["barn-not-held"]["answer"]["not_proven_because"], "barn: not held on Thursday", early)
    claims.add(item["barn-odd"]["exit"] == 1, "barn: 7.4 is asked back", item["barn-odd"])
    unwritten = item["barn-unwritten"]["answer"]
    claims.add([u["unwritten_act"] for u in unwritten["unwritten"] if u["unwritten_p"] > 0.9] == ["chlorine-poured"] and unwritten["not_proven_because"]
               and act["barn-unwritten"]["verb"] == "wait", "barn: read twice, so somebody poured, and it is said since when", unwritten["unwritten"])
    claims.add(act["barn-spoon"]["verb"] != "add" and item["barn-spoon"]["answer"]["not_proven_because"], "barn: the spoon does not count as held", act["barn-spoon"])
    duty = act["barn-duty"]
    claims.add(duty["act_id"] == "hand-duty" and 0.72 <= duty["setting_value"] <= 0.90, "barn: a duty under the full one", duty)
    held = act["barn-held"]
    claims.add(held["act_id"] == "fit-monitor", "barn: held at that duty, so the monitor may go in", held)
    yard = act["yard-cell"]
    claims.add(yard["act_id"] == "check-cell", "yard: production, not salt", yard)
    claims.add(item["yard-bathing"]["exit"] == 4, "yard: closed under the floor", item["yard-bathing"])


def main() -> None:
    if "-san" in os.environ.get("BUILD", ""):
        print("1..0 # SKIP a hundred folds; the stories go through the same code with sanitizers")
        return
    claims = Claims()
    with tempfile.TemporaryDirectory() as home:
        told = run(home, "--json")
        claims.add(told.returncode == 0 and told.stderr == "", "--json: exit 0", f"{told.returncode} {told.stderr}")
        items = json.loads(told.stdout)
        item = {i["decision"]: i for i in items if "decision" in i}
        act = {name: i["answer"].get("act", {}) for name, i in item.items()}
        quiet = [i for i in items if "said_quietly" in i and i["exit"] not in (0, 4)]
        claims.add(not quiet, "every quiet word was written", "\n".join(i["said_quietly"] for i in quiet))
        acid(claims, act)
        salt(claims, act)
        deck(claims, act, item)
        residual(claims, act, item)
        plain = run(home, "--no-pause")
        claims.add(plain.returncode == 0 and plain.stderr == "", "--no-pause: exit 0, nothing on standard error", f"{plain.returncode} {plain.stderr}")
        wide = [line for line in plain.stdout.splitlines() if len(line) > NARROW]
        claims.add(not wide, "at most 60 columns", "\n".join(wide))
        claims.add("\033" not in plain.stdout, "plain when it is not a terminal")
        shown = sum(1 for i in items if "said" in i)
        claims.add(plain.stdout.count("\n$ tubwright ") == shown, "each command that is listed is shown", shown)
        left = [str(p) for p in Path(home).rglob("*")]
        claims.add(not left, "nothing is written to the person's folders", "\n".join(left))
    claims.report()


if __name__ == "__main__":
    main()
