"""Whether two ways explain what was heard better than one: by takes that were held out.

The ways are learned from some of the takes, which are asked how likely the others are; what one way
has as well (courses, days, drift) is fitted to all takes, for both alike. The gain is summed over
all takes, each held out once; its doubt is that of a sum over draws of takes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .learned import one_way, refined
from .model import Data, Fit, copied, started
from .taken import grown

FOLDS = 4


@dataclass(frozen=True, slots=True)
class Gain:
    """Nats by take (T,) by which more ways explain it better, though it was not learned from:
    against fewer ways, and against the same ways without runs."""

    ways: np.ndarray
    runs: np.ndarray

    @property
    def total(self) -> float:
        return float(self.ways.sum())

    @property
    def sure(self) -> float:
        """The gain in standard errors over draws of takes."""
        return _sure(self.ways)


def _sure(by_take: np.ndarray) -> float:
    error = float(by_take.std(ddof=1)) * np.sqrt(len(by_take)) if len(by_take) > 1 else 1e9
    return float(by_take.sum()) / max(error, 1e-9)


def held_out(data: Data, bpm: np.ndarray, fewer: Fit, more: Fit) -> Gain:
    """Each take's gain when it is held out. fewer, more: the fits to all takes; bpm: (N,)."""
    numbers, count = data.takes.of_row, data.takes.count
    fold_of = np.empty(count, int)
    rng = np.random.default_rng(count)
    tempo = np.bincount(numbers, bpm) / np.bincount(numbers)
    # neighbours in tempo lie in different folds
    order = np.argsort(tempo + 1e-6 * rng.random(count), kind="stable")
    fold_of[order] = np.arange(count) % min(FOLDS, count)
    ways, runs = np.zeros(count), np.zeros(count)
    for fold in range(min(FOLDS, count)):
        rows = (fold_of[numbers] != fold).astype(float)
        part = replace(data, rows=rows)
        one = one_way(part)
        few = one if fewer.ways == 1 else _again(part, one, fewer)
        many = _again(part, one, more)
        own = fold_of == fold
        ways[own] = (many.fit - few.fit)[own]
        still = copied(many)
        still.runs = False
        still.stay = 0.0
        refined(part, still, 6)
        runs[own] = (many.fit - still.fit)[own]
    return Gain(ways, runs)


def _again(data: Data, one: Fit, fit: Fit) -> Fit:
    """The same ways learned anew from the takes that are left."""
    again = started(data, one, fit.way)
    grown(data, again, 3)
    if not (again.coef.any() or again.odds.any()):
        return again
    return refined(data, again, 8)
