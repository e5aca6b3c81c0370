"""The awkward range: a span of tempos that is worse than faster ones.

A movement may be clumsy slow and smooth fast, so nothing here takes it that faster is worse. What
ladders with a valley and ladders that only fall make of the counts is weighed (``valley_odds``),
and the odds are held against those of drawn ladders that only fall, whose takes have good and bad
luck of their own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .draws import DRAWS, seeded, sigmoid
from .table import Rungs, Tries, rungs
from .valley_odds import capped, likelihoods, log_odds, read

ALPHA = 0.05

FEWEST_RUNGS, FEWEST_TRIES = 4, 6
"""Rungs that a ladder needs before a valley can be told from luck, and tries on each of them."""

LUCK = 1.0
"""How much the takes of drawn ladders differ (standard deviation in log odds): as much as takes are
likely to, since a few takes cannot show how much they do (common practice, no source)."""

WORTH_DRAWING = -1.0
"""Log odds below this are never rare among drawn ladders."""

MOST_DRAWN_ROWS = 40_000
"""Takes and tempos that are drawn, over all drawn ladders of a kind: more would hold a review of
years up."""


@dataclass(frozen=True, slots=True)
class Valley:
    """An awkward range. ``from_slowest``: it begins at the slowest tempo tried, so nothing slower
    is known."""

    low_bpm: float
    high_bpm: float
    p: float
    from_slowest: bool
    share: float  # clean inside
    share_above: float  # clean at the faster tempos that it is worse than


def find_valley(tries: Tries, alpha: float = ALPHA, draws: int = DRAWS) -> Valley | None:
    """The awkward range of a table of tries; None where there is no sign of one, or too little to
    tell."""
    steps = rungs(tries.bpm, tries.n, least=FEWEST_TRIES)
    if len(steps.bpm) < FEWEST_RUNGS:
        return None
    take, rung, hits, of = _by_take(tries, steps)
    count = len(steps.bpm)
    k, n = np.bincount(rung, hits, count), np.bincount(rung, of, count)
    if not _rises(k / n):
        return None
    hits, of = capped(hits, of)
    reading = read(likelihoods(hits[None, :], of, rung, count))
    if reading.log_odds < WORTH_DRAWING:
        return None
    rng = seeded(tries.bpm, tries.n, tries.clean, take)
    numbers, of_take = np.unique(take, return_inverse=True)
    drawn_of_each = int(np.clip(MOST_DRAWN_ROWS // len(of), 30, draws // 2))

    def rarity(path: np.ndarray) -> float:
        """How often a ladder that falls like this has such odds by luck."""
        luck = rng.normal(0.0, LUCK, size=(drawn_of_each, len(numbers)))[:, of_take]
        drawn = rng.binomial(of.astype(int), sigmoid(path[rung] + luck))
        by_luck = log_odds(likelihoods(drawn, of, rung, count))
        return (1.0 + float(np.sum(by_luck >= reading.log_odds))) / (1.0 + drawn_of_each)

    likely = float(sigmoid(np.array(reading.log_odds)))
    p = likely * rarity(reading.beside) + (1.0 - likely) * rarity(reading.plain)
    if p > alpha:
        return None
    i, j = _span(reading.inside[:-1])
    share = float(k[i : j + 1].sum() / n[i : j + 1].sum())
    above = np.cumsum(k[j + 1 :]) / np.cumsum(n[j + 1 :])
    end = j + 1 + int(np.argmax(_surely_above(above, np.cumsum(n[j + 1 :]), share)))
    return Valley(
        low_bpm=float(steps.bpm[i]),
        high_bpm=float(steps.bpm[j]),
        p=p,
        from_slowest=i == 0,
        share=share,
        share_above=float(k[j + 1 : end + 1].sum() / n[j + 1 : end + 1].sum()),
    )


def _by_take(tries: Tries, steps: Rungs) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Take, rung, hits and tries of each take at each rung."""
    pairs, at = np.unique(np.stack([tries.take, steps.of_row]), axis=1, return_inverse=True)
    at = at.ravel()
    return pairs[0], pairs[1], np.bincount(at, tries.clean), np.bincount(at, tries.n)


def _rises(share: np.ndarray) -> bool:
    """Whether any tempo is clean more often than a slower one, and by enough to speak of."""
    return bool(np.any(share - np.minimum.accumulate(share) > 0.15))


def _span(inside: np.ndarray) -> tuple[int, int]:
    """The rungs about the likeliest one that are likelier inside than not."""
    i = j = int(inside.argmax())
    while i > 0 and inside[i - 1] > 0.5:
        i -= 1
    while j + 1 < len(inside) and inside[j + 1] > 0.5:
        j += 1
    return i, j


def _surely_above(share: np.ndarray, n: np.ndarray, inside: float) -> np.ndarray:
    """How far shares lie above another one, in standard errors."""
    middle = (share + inside) / 2.0
    return (share - inside) * np.sqrt(n / np.maximum(middle * (1.0 - middle), 1e-9))


def depth(valley: Valley) -> int:
    """How much worse it is inside, in points of a hundred."""
    return math.floor(100.0 * (valley.share_above - valley.share) + 0.5)
