"""The tempo that each repetition stands at.

A repetition's own tempo is as uneven as its notes, and one that went wrong has few of them. So it
leans on its neighbours in the take, and the repetitions of a take at nearly one tempo share it: no
repetition stands at a tempo that nobody played.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median_low

from ...core.events import HIT, Repetition

WINDOW = 3
"""Repetitions on either side that a repetition's tempo leans on."""

APART, ALONE = 0.022, 0.06
"""A tempo that differs by more is another one in its take; a single repetition that was wholly
played and differs by more than the second stands by itself (log tempo; common practice, no
source)."""


def placed(reps: Sequence[Repetition]) -> list[tuple[Repetition, float]]:
    """Each repetition with the tempo (beats per minute) it stands at; without those of a take that
    tells no tempo."""
    takes: dict[int, list[Repetition]] = {}
    for rep in reps:
        takes.setdefault(rep.take, []).append(rep)
    found: list[tuple[Repetition, float]] = []
    for take in takes.values():
        found += zip(take, _tempos(take))
    return found


def _tempos(take: Sequence[Repetition]) -> list[float]:
    """The tempo of each repetition of a take; empty where none has one."""
    known = [(i, math.log(rep.tempo_bpm)) for i, rep in enumerate(take) if rep.tempo_bpm]
    if not known:
        return []
    own = dict(known)
    whole = {i for i in own if _whole(take[i])}
    levels: list[tuple[float, int]] = []  # sum and count
    level_of: list[int] = []
    last = 0
    for i in range(len(take)):
        at = _leaning(i, len(take), own, whole)
        alone = i in whole and abs(own[i] - at) > ALONE
        at = own[i] if alone else at
        level = _level(levels, last, at)
        if level == len(levels):
            levels.append((0.0, 0))
        levels[level] = (levels[level][0] + at, levels[level][1] + 1)
        level_of.append(level)
        last = last if alone else level
    return [math.exp(levels[level][0] / levels[level][1]) for level in level_of]


def _whole(rep: Repetition) -> bool:
    return rep.complete and all(slot.verdict == HIT for slot in rep.slots)


def _leaning(at: int, count: int, own: dict[int, float], whole: set[int]) -> float:
    """The middle tempo about a repetition, of those that were wholly played where there are some."""
    near = [i for i in range(max(at - WINDOW, 0), min(at + WINDOW + 1, count)) if i in own]
    good = [own[i] for i in near if i in whole]
    if len(good) >= 2:
        return median_low(good)
    if near:
        return median_low(own[i] for i in near)
    return own[min(own, key=lambda i: (abs(i - at), i))]


def _level(levels: Sequence[tuple[float, int]], last: int, at: float) -> int:
    """The tempo already met in the take that this one is, the last one first; else a new one."""
    for level in (last, *range(len(levels))):
        if level < len(levels) and abs(levels[level][0] / levels[level][1] - at) < APART:
            return level
    return len(levels)
