"""From heard intervals to whole steps: how long each slot is, with what it costs to believe it.

The unit cannot be heard, so lengths have no common factor. What a rhythm costs is a description:
most slots are of one length, others a small multiple of it (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from math import exp, gcd, log
from statistics import median

LONGEST = 12
"""Steps from one slot to the next."""
_BASE = {1: 0.1, 2: 2.5, 3: 4.0, 4: 8.0}
"""The usual length is one step, seldom more (then some other slot is no multiple of it)."""
_SAME, _OTHER = 0.25, 2.0
_KEPT = 4  # rhythms that fit, the likeliest
HABIT = 0.05
"""A player's own lengths differ from the written ones by so much (logarithm), in every repetition
alike: a gallop, or strings that a converter reads later than others. No source."""


def lowest(steps: Sequence[int]) -> tuple[int, ...]:
    """The same ratios without a common factor.

    >>> lowest([2, 4, 2])
    (1, 2, 1)
    """
    common = reduce(gcd, steps)
    return tuple(one // common for one in steps)


def steps_cost(steps: Sequence[int]) -> list[float]:
    """What each slot's length costs, the choice of the usual length shared among them."""
    best: list[float] | None = None
    for base, price in _BASE.items():
        costs = [_SAME if one == base else _OTHER + 0.7 * _apart(one, base) for one in steps]
        costs = [one + price / len(steps) for one in costs]
        if best is None or sum(costs) < sum(best):
            best = costs
    assert best is not None
    return best


def _apart(steps: int, base: int) -> float:
    """How odd a length is beside the usual one: the next multiple 0, others more."""
    if steps % base == 0:
        return min(steps // base - 2, 3) + max(0, steps // base - 5) * 0.4
    return 1.5 if base % steps == 0 else 2.0


def whole_steps(
    heard: Sequence[float | None], counts: Sequence[int], spread: float
) -> list[tuple[int, ...]]:
    """Rhythms in whole steps that fit what was heard, the likeliest first.

    heard: logarithm of each slot's length in any unit, None where it was never heard whole.
    counts: how often it was. spread: of one interval's logarithm.
    """
    known = [one for one in heard if one is not None]
    if not known:
        return [(1,) * len(heard)]
    found: dict[tuple[int, ...], float] = {}
    anchors = sorted({round(one, 2) for one in (min(known), median(known), *known)})
    for anchor in anchors:
        for base in (1, 2, 3, 4):
            unit = anchor - log(base)
            steps: list[int] = []
            for _ in range(3):
                steps = [_nearest(one, unit) for one in heard]
                pairs = [
                    (one - log(step), count)
                    for one, step, count in zip(heard, steps, counts)
                    if one is not None
                ]
                total = sum(count for _, count in pairs)
                unit = sum(off * count for off, count in pairs) / max(total, 1)
            if max(steps) > LONGEST:
                continue
            cost = sum(steps_cost(lowest(steps)))
            for one, step, count in zip(heard, steps, counts):
                if one is not None:
                    off = one - log(step) - unit
                    cost += 0.5 * off * off / (spread * spread / count + HABIT * HABIT)
            key = lowest(steps)
            found[key] = min(cost, found.get(key, cost))
    return sorted(found, key=found.__getitem__)[:_KEPT] or [(1,) * len(heard)]


def _nearest(heard: float | None, unit: float) -> int:
    return 1 if heard is None else max(1, round(exp(min(heard - unit, 4.0))))
