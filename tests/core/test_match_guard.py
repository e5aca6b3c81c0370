"""The matcher as a whole on a fixed set of takes: shares that a change of its numbers would lower.

The takes are the built-in player's, of every mix, from the wide ranges; the floors lie just under
what the matcher reaches, so that a lower share is a change for somebody to look at.
``tests/benchmarks/bench_matcher_guard.py`` lists which changes are noticed. ``bench_matcher.py`` is
the real measure.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "benchmarks"))

from judge import Tally, judge, listen

from livecheck.player.takes import MIXES, make_take
from livecheck.session import Session

SEEDS = range(500, 503)
HARD = ("stumbles", "around", "everything", "wild", "fast", "dropped", "wrong")
MORE = range(503, 507)

FLOORS = {
    "right %": 99.82,
    "missed F1": 0.9745,
    "clean or flawed %": 99.85,
    "told within 2 slots %": 96.3,
}
LATEST_S = 0.12
"""No note of the takes is told later than this after it came, but for one in a hundred."""


def figures() -> dict[str, float]:
    """The shares on all takes, and the delay that 99 % of the verdicts keep to."""
    tally = Tally()
    for mix in MIXES:
        for seed in [*SEEDS, *(MORE if mix in HARD else ())]:
            take = make_take(seed, mix, wide=True)
            tally.add(judge(take, listen(take, Session))[0])
    waits = sorted(tally.wait_s)
    ends = tally.missed_true + tally.missed_told
    return {
        "right %": 100.0 * tally.right / tally.notes,
        "missed F1": 2.0 * tally.missed_both / ends,
        "clean or flawed %": 100.0 * tally.clean_right / tally.clean_judged,
        "told within 2 slots %": 100.0
        * sum(each <= 2 for each in tally.further)
        / len(tally.further),
        "wait s": waits[int(0.99 * len(waits))],
    }


def test_the_matcher_is_as_right_as_it_was():
    """On a fixed set of takes no share falls below its floor, and nothing is told later."""
    found = figures()
    assert {name: found[name] for name, floor in FLOORS.items() if found[name] < floor} == {}
    assert found["wait s"] <= LATEST_S


if __name__ == "__main__":
    found = figures()
    low = [name for name, floor in FLOORS.items() if found[name] < floor]
    low += ["wait s"] if found["wait s"] > LATEST_S else []
    shown = " | ".join(f"{value:.3f}" for value in found.values())
    print(f"{shown} | {', '.join(low) or 'passes'}")
