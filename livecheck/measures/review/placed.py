"""The tempo that each repetition stands at.

A repetition's own tempo is as uneven as its notes, and one that went wrong has few of them. So a
take is cut into stretches of one tempo, no more of them than the scatter of its repetitions bears
out, and all of a stretch stand at its middle; stretches at nearly one tempo share it. No repetition
stands at a tempo that nobody played. The cuts are those of the least squares with a price for each
(B. Jackson et al., IEEE Signal Processing Letters 12 (2005) 105-108).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ...core.events import HIT, Repetition

APART, ALONE = 0.022, 0.06
"""A tempo that differs by more is another one in its take; a single repetition that was wholly
played and differs by more than the second stands by itself (log tempo; common practice, no
source)."""

USUAL_SCATTER, WORTH = 0.012, 8
"""How the tempos of repetitions scatter as a rule (log tempo), and how many repetitions that
counts as (common practice, no source)."""

SCATTERS = np.geomspace(0.004, 0.032, 7)
"""Sizes of the scatter that are tried."""

FLAWED = 1.6
"""By how much more the tempo of a flawed repetition scatters."""

PRICE = 8.5
"""What a further stretch has to save, in squares of the scatter; chosen on drawn takes."""


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
    known = [i for i, rep in enumerate(take) if rep.tempo_bpm]
    if not known:
        return []
    own = np.array([math.log(take[i].tempo_bpm or 1.0) for i in known])
    whole = np.array([_whole(take[i]) for i in known])
    starts = _starts(own, whole)
    at = np.empty(len(known))
    for begin, end in zip(starts, [*starts[1:], len(known)]):
        part = slice(begin, end)
        at[part] = _middle(own[part], np.where(whole[part], 1.0, FLAWED**-2.0))
    alone = whole & (np.abs(own - at) > ALONE)
    at = np.where(alone, own, at)
    levels: list[tuple[float, int]] = []  # sum and count
    level_of: list[int] = []
    last = 0
    for tempo, by_itself in zip(at.tolist(), alone.tolist()):
        level = _level(levels, last, tempo)
        if level == len(levels):
            levels.append((0.0, 0))
        levels[level] = (levels[level][0] + tempo, levels[level][1] + 1)
        level_of.append(level)
        last = last if by_itself else level
    means = [math.exp(total / count) for total, count in levels]
    nearest = np.searchsorted(known, np.arange(len(take)), side="right") - 1
    return [means[level_of[max(int(i), 0)]] for i in nearest]


def _whole(rep: Repetition) -> bool:
    return rep.complete and all(slot.verdict == HIT for slot in rep.slots)


def _starts(own: np.ndarray, whole: np.ndarray) -> list[int]:
    """Where each stretch of one tempo begins. The scatter is not known: every size of it gives its
    own cuts, and those count that explain the tempos best for their number."""
    count = len(own)
    scatter = _scatter(own[whole] if whole.sum() >= 4 else own)
    padded = np.pad(own, 2, mode="reflect" if count > 2 else "edge")
    about = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    y = np.clip(own, about - 2.5 * scatter, about + 2.5 * scatter)  # a slip is no stretch
    y = np.where(whole & (np.abs(own - about) > ALONE), own, y)
    weight = np.where(whole, 1.0, FLAWED**-2.0)
    sums = [np.concatenate([[0.0], np.cumsum(weight * (y - y.mean()) ** p)]) for p in range(3)]
    beforehand = WORTH * USUAL_SCATTER**2
    found: list[tuple[float, list[int]]] = []
    for size in SCATTERS:
        starts, squares = _cuts(sums, PRICE * size**2)
        fits = (weight.sum() + WORTH) * math.log(squares + beforehand) + PRICE * len(starts)
        found.append((fits, starts))
    return min(found)[1]


def _cuts(sums: list[np.ndarray], price: float) -> tuple[list[int], float]:
    """The starts of the stretches that cost least, and the squares left within them. sums: running
    sums of the weights, of the values and of their squares."""
    run_w, run_y, run_yy = sums
    count = len(run_w) - 1
    best, came = np.zeros(count + 1), np.zeros(count + 1, int)
    for end in range(1, count + 1):
        w, s = run_w[end] - run_w[:end], run_y[end] - run_y[:end]
        cost = best[:end] + price + run_yy[end] - run_yy[:end] - s * s / w
        came[end] = int(cost.argmin())
        best[end] = cost[came[end]]
    starts, end = [], count
    while end > 0:
        end = int(came[end])
        starts.append(end)
    return starts[::-1], max(float(best[-1]) - price * len(starts), 0.0)


def _middle(own: np.ndarray, weight: np.ndarray) -> float:
    """The weighted median."""
    order = np.argsort(own, kind="stable")
    run = np.cumsum(weight[order])
    low, high = (np.searchsorted(run, 0.5 * run[-1] + shift) for shift in (-1e-9, 1e-9))
    return float(own[order[low]] + own[order[min(int(high), len(own) - 1)]]) / 2.0


def _scatter(own: np.ndarray) -> float:
    """How repetitions scatter from one to the next, whatever tempos they are at: by the lower
    quartile of the steps between them, since many may be steps of the ladder."""
    seen = [
        float(np.quantile(np.abs(np.diff(own, order)), 0.25)) / (0.3186 * math.sqrt(squares))
        for order, squares in ((1, 2.0), (2, 6.0))  # the second: from a steady climb
        if len(own) > order
    ]
    count = max(len(own) - 1, 0)
    squares = (WORTH * USUAL_SCATTER**2 + count * min(seen, default=0.0) ** 2) / (WORTH + count)
    return float(np.clip(math.sqrt(squares), SCATTERS[0], SCATTERS[-1]))


def _level(levels: Sequence[tuple[float, int]], last: int, at: float) -> int:
    """The tempo already met in the take that this one is, the last one first; else a new one."""
    for level in (last, *range(len(levels))):
        if level < len(levels) and abs(levels[level][0] / levels[level][1] - at) < APART:
            return level
    return len(levels)
