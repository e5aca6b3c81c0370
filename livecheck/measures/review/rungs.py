"""The ladder that was played: tempos sorted into the steps on which tries are counted.

Owns which tempos count as one. Knows nothing of what is counted there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

STEP = math.log(1.01)
"""Tempos within about one per cent share a row."""


def added_up(column: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    """Rows of a column (R,) or (R, anything) added up by group, a column at a time."""
    if column.ndim == 1:
        return np.bincount(group, column, groups)
    each = [np.bincount(group, column[:, i], groups) for i in range(column.shape[1])]
    return np.stack(each, axis=1)


@dataclass(frozen=True, slots=True)
class Rungs:
    """Tempos sorted into the steps of the ladder that was played."""

    of_row: np.ndarray  # (R,) rung of each row, from 0
    bpm: np.ndarray  # (rungs,) mean tempo, rising

    def sums(self, column: np.ndarray) -> np.ndarray:
        """A column (R,) or (R, anything) added up by rung."""
        return added_up(column, self.of_row, len(self.bpm))


WIDEST = 0.055
"""No step of the ladder is wider than this (in log tempo), so that nothing stands more than 3 %
from where it was played."""


def rungs(
    bpm: np.ndarray,
    n: np.ndarray,
    most: int = 24,
    least: int = 1,
    near: float = 0.018,
    widest: float = WIDEST,
) -> Rungs:
    """Sort rows by tempo into rungs: neighbours closer than ``near`` (a share of the tempo) come
    together, then the closest until there are no more than ``most`` and none has fewer than
    ``least`` tries; but none wider than ``widest``, so there may be more, and poorer ones.
    """
    bins, at = np.unique(np.round(np.log(bpm) / STEP).astype(int), return_inverse=True)
    tries = np.bincount(at, weights=n)
    total = np.bincount(at, weights=n * bpm)
    low, high = np.full(len(bins), np.inf), np.zeros(len(bins))
    np.minimum.at(low, at, bpm)
    np.maximum.at(high, at, bpm)
    group = list(range(len(bins)))  # first bin of each group
    tries_of, total_of = list(tries), list(total)
    lows, highs = list(low), list(high)
    while len(group) > 1:
        mean = [t / max(k, 1e-9) for t, k in zip(total_of, tries_of)]
        gaps = [
            mean[i + 1] / mean[i] - 1.0 if highs[i + 1] <= lows[i] * (1.0 + widest) else math.inf
            for i in range(len(group) - 1)
        ]
        closest = min(range(len(gaps)), key=gaps.__getitem__)
        poor = [
            i
            for i in range(len(group))
            if tries_of[i] < least and min(gaps[max(i - 1, 0) : i + 1], default=0.0) < math.inf
        ]
        if gaps[closest] == math.inf:
            break
        if len(group) > most or gaps[closest] < near:
            join = closest
        elif poor:
            poorest = min(poor, key=tries_of.__getitem__)
            sides = [i for i in (poorest - 1, poorest) if 0 <= i < len(gaps)]
            join = min(sides, key=gaps.__getitem__)
        else:
            break
        tries_of[join] += tries_of.pop(join + 1)
        total_of[join] += total_of.pop(join + 1)
        highs[join] = highs.pop(join + 1)
        lows.pop(join + 1)
        group.pop(join + 1)
    of_bin = np.searchsorted(np.array(group), np.arange(len(bins)), side="right") - 1
    return Rungs(of_bin[at], np.array([t / max(k, 1e-9) for t, k in zip(total_of, tries_of)]))
