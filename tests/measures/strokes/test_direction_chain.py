"""Every way through a sitting, weighed at once and one by one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from livecheck.measures.strokes.direction_chain import SLIP, Heard, Ways, ways

REPS, SLOTS = 3, 2


def by_hand(heard: Heard) -> Ways:
    """The same sums over every way there is, each written out: no messages, no scaling."""
    stroke, slur = np.zeros((REPS, SLOTS, 2)), np.zeros((REPS, SLOTS))
    turned, begin = np.zeros((REPS, SLOTS)), np.zeros((REPS, 2))
    goes_on, takes_up, total = np.zeros(REPS), np.zeros(REPS), 0.0
    for begins in product((0, 1), repeat=REPS):
        for flat in product((0, 1, None), repeat=REPS * SLOTS):
            chance, events = 1.0, []
            begun = last = 0
            for rep, first in enumerate(begins):
                if heard.afresh[rep]:
                    chance *= heard.begin[rep] if first == 0 else 1 - heard.begin[rep]
                else:
                    on = heard.alternate[rep]
                    kept = on * (first == last) + (1 - on) * (first == begun)
                    chance *= SLIP / 2 + (1 - SLIP) * kept
                    if begun != last:
                        events.append((goes_on if first == last else takes_up, rep))
                begun = now = first
                for slot in range(SLOTS):
                    way = flat[rep * SLOTS + slot]
                    if way is None:
                        chance *= heard.slurred[rep, slot] * heard.slur[rep, slot]
                        events.append((slur, (rep, slot)))
                        continue
                    turn = heard.turning[rep, slot]
                    chance *= (1 - heard.slurred[rep, slot]) * heard.stroke[rep, slot, way]
                    chance *= turn if way != now else 1 - turn
                    events.append((stroke, (rep, slot, way)))
                    events += [(turned, (rep, slot))] if way != now else []
                    now = way
                events.append((begin, (rep, first)))
                last = now
            total += chance
            for table, at in events:
                table[at] += chance
    parts = [table / total for table in (stroke, slur, turned, begin, goes_on, takes_up)]
    return Ways(*parts, np.log(total))


@pytest.mark.parametrize("seed", range(3))
def test_the_sums_are_those_over_every_way_there_is(seed: int) -> None:
    """Chances of strokes, turns, beginnings and seams, and the likelihood, as by enumeration."""
    rng = np.random.default_rng(seed)
    shape = REPS, SLOTS
    heard = Heard(
        rng.random((*shape, 2)),
        rng.random(shape),
        rng.random(shape),
        rng.random(shape),
        rng.random(REPS),
        np.array([True, False, seed == 1]),
        rng.random(REPS),
    )
    found = ways(heard)
    for told, right in zip((*found[:-1], found.fit.sum()), by_hand(heard)):
        assert told == pytest.approx(right, abs=1e-12)
