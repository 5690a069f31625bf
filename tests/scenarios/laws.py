"""What must hold over many variations, with the error of a sample said beside each rate."""
from __future__ import annotations

import math
from collections import Counter

from variations import Told

SHARE = 0.05    # of plays that may cross a hard limit, or be called held too early
STRAY = 0.01    # chance that a program at that very share fails by the luck of the draw


def most_by_chance(n: int, share: float) -> int:
    """The fewest such that more happen with less than STRAY when each of n happens with this share."""
    total = 0.0
    for count in range(n + 1):
        total += math.comb(n, count) * share ** count * (1.0 - share) ** (n - count)
        if 1.0 - total < STRAY:
            return count
    return n


def rate(count: int, n: int) -> str:
    """With the standard error of a share (one added to both sides, so that none is not 'never')."""
    p = (count + 1.0) / (n + 2.0)
    return f"{count} of {n} ({100.0 * count / max(n, 1):.1f} +- {100.0 * math.sqrt(p * (1.0 - p) / (n + 2.0)):.1f} %)"


def judge(told: list[Told]) -> list[tuple[bool, str]]:
    n = len(told)
    capped, broken = [t for t in told if t.capped], [t for t in told if t.problem]
    over, early = [t for t in told if t.over], [t for t in told if t.early]
    endless = [t for t in told if t.ended.startswith("no end")]
    s4 = [t for t in told if t.story == "s4"]
    others = [t for t in told if t.story != "s4"]
    right = sum(t.verdict == t.cause for t in s4)
    wrong = sum(t.verdict not in ("neither", t.cause) for t in s4)
    blamed = sum(t.verdict != "neither" for t in others)
    most = most_by_chance(n, SHARE)
    results = [(not broken, f"every play ran: {n - len(broken)} of {n}"),
               (not capped, f"never over the hard cap: {len(capped)} of {n}"),
               (len(over) <= most, f"over a hard limit of the true water: {rate(len(over), n)}, at most {most} by chance at 5 %"),
               (len(early) <= most, f"held while the generator's true part is under the floor: {rate(len(early), n)}, at most {most}"),
               (2 * len(endless) < n, f"plays that did not end: {rate(len(endless), n)}")]
    shown = sum(t.shown > 0 for t in told)
    if others:
        results.append((shown > 0, f"held was shown in {shown}"))
    if s4:
        results.append((2 * right > len(s4) and wrong * 4 < len(s4), f"the verdict is the hidden cause: {rate(right, len(s4))}, the other one: {wrong}"))
    if others:
        results.append((4 * blamed < len(others), f"a healthy tub blamed: {rate(blamed, len(others))}"))
    return results


def notes(told: list[Told]) -> list[str]:
    """For people: how the plays ended, and what broke a law."""
    lines = []
    for story in sorted({t.story for t in told}):
        mine = [t for t in told if t.story == story]
        ends = ", ".join(f"{name} {count}" for name, count in Counter(t.ended or "broken" for t in mine).most_common())
        lines.append(f"{story}: {ends}; median {sorted(t.hours for t in mine)[len(mine) // 2]:.0f} h, {sum(t.cpu_s for t in mine) / len(mine):.1f} s each")
        week = [t.week for t in mine if t.week is not None]
        if week:
            lines.append(f"{story}: generator's true part under 3 mg/L within the week after held: {rate(sum(w < 3.0 for w in week), len(week))}")
    for t in told:
        if t.capped or t.over or t.early or t.problem or t.ended.startswith("no end") or (t.story == "s4" and t.verdict != t.cause):
            lines.append(f"{t.story} seed {t.seed}: ended {t.ended}, cause {t.cause}, verdict {t.verdict} {t.capped} {t.over} {t.early} {t.problem}")
    return lines
