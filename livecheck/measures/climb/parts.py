"""A part of a cell alone against the same notes inside it, at equal notes a second.

Counted is the same both times: repetitions in which none of the part's notes is missed or wrong.
Where the notes alone hold clearly faster than inside, what fails is joining them to the rest; where
they break at the same tempo, it is the notes themselves. The breaks are estimated as in a climb
(``belief``), so that a tempo that was never reached is no evidence.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..review.table import Tries
from .belief import PLACES, STEP, Belief, Estimate, Tried

JOINING, LOCAL = "joining", "local"
SURE = 0.8
FASTER = (0.1, 0.6)
"""By how much faster, on the logarithm of tempo, a part holds alone where joining is what fails (no
source)."""
ALIKE = 0.03
"""How unlike two breaks of the same notes are by themselves: standard deviation of their ratio (no
source)."""
FEWEST = 12  # repetitions of each


@dataclass(frozen=True, slots=True)
class PartTold:
    """What is told of one part. ``why``: JOINING, LOCAL, or None where it cannot be told. ``alone``
    and ``inside`` are breaks; minus and plus infinity are told by ``status`` None."""

    notes: tuple[int, ...]
    why: str | None
    chance: float
    alone: Estimate
    inside: Estimate
    reps: tuple[int, int]
    fastest: tuple[float, float]  # tried alone, inside


def tell_part(alone: Tries, inside: Tries, notes: Sequence[int]) -> PartTold | None:
    """alone: tries of the part; inside: tries of its cell; notes: the part's, by the cell's
    numbers. None with too few of either."""
    part = _blocks(alone, range(len(alone.slot_strings)))
    whole = _blocks(inside, [number - 1 for number in notes])
    counts = sum(one.reps for one in part), sum(one.reps for one in whole)
    if min(counts) < FEWEST:
        return None
    start = min(one.bpm for one in (*part, *whole))
    beliefs = [Belief(blocks, start=start) for blocks in (part, whole)]
    fast = max(one.bpm for one in part), max(one.bpm for one in whole)
    local = _local_chance(beliefs[0], beliefs[1])
    why, chance = None, max(local, 1.0 - local)
    if float(beliefs[1].places[math.log(fast[1]) >= PLACES].sum()) >= SURE and chance >= SURE:
        why = LOCAL if local >= SURE else JOINING
    ends = beliefs[0].break_tempo(), beliefs[1].break_tempo()
    return PartTold(tuple(notes), why, chance, *ends, counts, fast)


def _blocks(tries: Tries, slots: Sequence[int]) -> list[Tried]:
    """Repetitions by take and tempo, and how many of them had all of some slots right."""
    blocks = []
    places = list(slots)
    heard = tries.heard[:, places].min(axis=1)
    failed = (tries.missed + tries.wrong)[:, places] / np.maximum(tries.heard[:, places], 1.0)
    right = np.prod(1.0 - np.clip(failed, 0.0, 1.0), axis=1)
    sums: dict[tuple[int, float], list[float]] = {}
    for take, bpm, n, share in zip(tries.take, tries.bpm, heard, right):
        bag = sums.setdefault((int(take), round(math.log(float(bpm)) / 0.03)), [0.0, 0.0, 0.0])
        bag[0] += float(n)
        bag[1] += float(n * share)
        bag[2] += float(n * bpm)
    for n, good, total in sums.values():
        reps = round(n)
        if reps:
            blocks.append(Tried(total / n, reps, min(round(good), reps)))
    return blocks


def _local_chance(alone: Belief, inside: Belief) -> float:
    """The chance that both break at the same tempo, against the part alone breaking faster by what
    matters; both as likely beforehand."""
    first, second = alone.places, inside.places
    steps = np.arange(-round(3 * ALIKE / STEP), round(FASTER[1] / STEP) + 1)
    shifts = steps * STEP
    likely = np.array([_overlap(first, second, int(step)) for step in steps])
    same = np.exp(-0.5 * (shifts / ALIKE) ** 2)
    faster = (shifts >= FASTER[0]).astype(float)
    both = float(likely @ same / same.sum()), float(likely @ faster / faster.sum())
    return both[0] / max(sum(both), 1e-300)


def _overlap(first: np.ndarray, second: np.ndarray, step: int) -> float:
    """How likely it is that the first lies so many steps above the second."""
    if step >= 0:
        return float(first[step:] @ second[: len(second) - step])
    return float(first[:step] @ second[-step:])
