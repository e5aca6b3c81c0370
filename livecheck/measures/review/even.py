"""Evenness: up to which tempo the cell is even, and which notes are off their place.

A note's place is its mean deviation from the repetition's own even line. It is off where the whole
interval of that mean, which counts takes, lies beyond what can be heard. Where the conversion delay
of the rig was never measured, notes of different strings arrive at different times without anybody
having played so: then nothing is said across strings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from ..stats import student_t
from ..timing import just_noticeable_ms
from .changes import Change, weight_of
from .rungs import Rungs, rungs
from .table import Tries

FEWEST_TAKES, FEWEST_NOTES = 3, 12
"""What a note's place needs; of fewer takes each one's part at a tempo counts (common practice, no
source)."""

FEWEST_REPS = 5
"""Repetitions at a tempo before their unevenness counts."""


@dataclass(frozen=True, slots=True)
class OffNote:
    """A note that surely is off its place: plus is late. ``from_bpm`` None: at all tempos."""

    slot: int
    ms: float
    low: float
    high: float
    from_bpm: float | None


@dataclass(frozen=True, slots=True)
class Even:
    """``up_to_bpm``: the fastest tempo up to which the mean unevenness stays under what can be
    heard, from the slowest on; None where the slowest is uneven already. ``why``: why nothing can
    be said, else None."""

    up_to_bpm: float | None
    slots: tuple[OffNote, ...]
    why: str | None


def even(tries: Tries, grid: int, changes: Sequence[Change] = ()) -> Even | None:
    """How even a table of tries is; None where no repetition had a line."""
    if not tries.timing_n.sum() or not tries.cv_n.sum():
        return None
    across = len(set(tries.slot_strings)) > 1
    if across and not tries.delay_known.all():
        return Even(None, (), "the delay of this rig was never measured")
    steps = rungs(tries.bpm, tries.n)
    off = [_off(tries, slot, grid, changes) for slot in range(len(tries.slot_strings))]
    return Even(_up_to(tries, steps, grid), tuple(one for one in off if one is not None), None)


def noticeable_cv_pct(bpm: float, grid: int) -> float:
    """The evenness at which scattered onsets become just noticeable.

    Intervals lie between two onsets, so independent deviations of d ms make intervals scatter by d
    times root two.
    """
    interval_s = 60.0 / (bpm * grid)
    return 100.0 * sqrt(2.0) * just_noticeable_ms(interval_s) / (1000.0 * interval_s)


def _up_to(tries: Tries, steps: Rungs, grid: int) -> float | None:
    n, cv = steps.sums(tries.cv_n), steps.sums(tries.cv_sum)
    reached = None
    for bpm, of, total in zip(steps.bpm, n, cv):
        if of < FEWEST_REPS:
            continue
        if total / of > noticeable_cv_pct(float(bpm), grid):
            break
        reached = float(bpm)
    return reached


def _off(tries: Tries, slot: int, grid: int, changes: Sequence[Change]) -> OffNote | None:
    """One note's place, or its place from the tempo on at which it shifts."""
    shift = next((one for one in changes if one.what == "timing" and one.slot == slot + 1), None)
    whole = _place(tries, slot, np.ones(len(tries.bpm), bool), grid)
    if shift is not None:
        above = _place(tries, slot, tries.bpm >= shift.from_bpm, grid)
        below = _place(tries, slot, tries.bpm < shift.from_bpm, grid)
        if above is not None and below is None:
            return OffNote(slot + 1, *above, shift.from_bpm)
    return None if whole is None else OffNote(slot + 1, *whole, None)


def _place(
    tries: Tries, slot: int, where: np.ndarray, grid: int
) -> tuple[float, float, float] | None:
    """Mean deviation in ms with its interval, where that lies beyond what can be heard."""
    n = tries.timing_n[:, slot] * where
    told = n > 0
    if n.sum() < FEWEST_NOTES:
        return None
    unit = tries.take
    if len(np.unique(unit[told])) < FEWEST_TAKES:
        unit = np.arange(len(n))  # each row
    of_row = np.unique(unit[told], return_inverse=True)[1]
    count = int(of_row.max()) + 1
    if count < FEWEST_TAKES:
        return None
    notes = np.bincount(of_row, n[told])
    mean = np.bincount(of_row, tries.timing_sum[told, slot]) / notes
    weight = weight_of(notes)
    weight = weight / weight.sum()
    middle = float(weight @ mean)
    free = max(1.0 / float(np.sum(weight**2)) - 1.0, 1.0)
    spread = float(np.sum(weight**2 * (mean - middle) ** 2)) * (free + 1.0) / free
    reach = student_t(max(free, 2.0)) * sqrt(spread)
    bpm = float(np.average(tries.bpm[told], weights=n[told]))
    heard = just_noticeable_ms(60.0 / (bpm * grid))
    low, high = middle - reach, middle + reach
    return (middle, low, high) if min(abs(low), abs(high)) > heard and low * high > 0 else None
