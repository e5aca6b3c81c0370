"""The awkward range: a span of tempos that is worse than faster ones.

A movement may be clumsy slow and smooth fast, so nothing here takes it that faster is worse. The share of clean
repetitions at each rung of the ladder is compared with the best falling fit: a falling fit with one span set free is
tried for every span, and the best of them is held against what takes with their own good and bad luck would give if
the chance only ever fell. The span must be worse than some faster tempos and, unless it begins at the slowest one,
worse than some slower ones as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .resample import DRAWS, LEAST_FATE, draw_hits, seeded, shared_fate
from .stats import falling_rows
from .tries import Rungs, Tries, rungs

ALPHA = 0.05

FEWEST_RUNGS, FEWEST_TRIES = 4, 6
"""Rungs that a ladder needs before a valley can be told from luck, and tries on each of them."""


@dataclass(frozen=True, slots=True)
class Valley:
    """An awkward range. ``from_slowest``: it begins at the slowest tempo tried, so nothing slower is known."""

    low_bpm: float
    high_bpm: float
    p: float
    from_slowest: bool
    share: float  # clean inside
    share_above: float  # clean at the faster tempos that it is worse than


def find_valley(tries: Tries, alpha: float = ALPHA, draws: int = DRAWS) -> Valley | None:
    """The awkward range of a table of tries; None where there is no sign of one, or too little to tell."""
    steps = rungs(tries.bpm, tries.n, least=FEWEST_TRIES)
    if len(steps.bpm) < FEWEST_RUNGS:
        return None
    take, rung, hits, of = _by_take(tries, steps)
    k, n = _sum_rungs(hits[None, :], rung, len(steps.bpm)), _sum_rungs(of[None, :], rung, len(steps.bpm))[0]
    score, first, last, end = _scan(k, n)
    if score[0] < 1.6:  # not worth drawing for: no span is even singly worse
        return None
    model = _with_span_free(k[0], n, int(first[0]), int(last[0]))
    levels = 1 + int(np.sum(np.abs(np.diff(model)) > 1e-9))
    spent = levels + 2  # the span's two ends were chosen as well
    sd = max(LEAST_FATE, shared_fate(hits, of, np.clip(model[rung], 0.02, 0.98), spent))
    falling = (falling_rows(k, n)[0] * n + 0.5) / (n + 1.0)
    drawn = draw_hits(of, falling[rung], take, sd, seeded(tries.bpm, tries.n, tries.clean, take), draws)
    by_luck = _scan(_sum_rungs(drawn, rung, len(n)), n)[0]
    p = (1.0 + float(np.sum(by_luck >= score[0]))) / (1.0 + draws)
    if p > alpha:
        return None
    i, j, above = int(first[0]), int(last[0]), slice(int(last[0]) + 1, int(end[0]) + 1)
    inside = slice(i, j + 1)
    return Valley(
        low_bpm=float(steps.bpm[i]),
        high_bpm=float(steps.bpm[j]),
        p=p,
        from_slowest=i == 0,
        share=float(k[0, inside].sum() / n[inside].sum()),
        share_above=float(k[0, above].sum() / n[above].sum()),
    )


def _by_take(tries: Tries, steps: Rungs) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Take, rung, hits and tries of each take at each rung."""
    pairs, at = np.unique(np.stack([tries.take, steps.of_row]), axis=1, return_inverse=True)
    at = at.ravel()
    return pairs[0], pairs[1], np.bincount(at, tries.clean), np.bincount(at, tries.n)


def _sum_rungs(rows: np.ndarray, rung: np.ndarray, count: int) -> np.ndarray:
    """(draws, rows) added up to (draws, rungs)."""
    member = np.zeros((len(rung), count))
    member[np.arange(len(rung)), rung] = 1.0
    return rows @ member


def _scan(k: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """For each draw the span that most clearly is a valley: its score, first and last rung, and the last rung of the
    faster ones that it was compared with. The score tells how unlikely the difference to those is, or to the slower
    ones where that is likelier.
    """
    draws, count = k.shape
    sum_k = np.concatenate([np.zeros((draws, 1)), np.cumsum(k, axis=1)], axis=1)
    sum_n = np.concatenate([[0.0], np.cumsum(n)])
    best = np.full(draws, -np.inf)
    first, last, end = (np.zeros(draws, int) for _ in range(3))
    for i in range(count - 1):
        for j in range(i, count - 1):
            inside, tries = sum_k[:, [j + 1]] - sum_k[:, [i]], sum_n[j + 1] - sum_n[i]
            faster = _deviate(sum_k[:, j + 2 :] - sum_k[:, [j + 1]], sum_n[j + 2 :] - sum_n[j + 1], inside, tries)
            at = faster.argmax(axis=1)
            score = faster[np.arange(draws), at]
            if i > 0:
                slower = _deviate(sum_k[:, [i]] - sum_k[:, :i], sum_n[i] - sum_n[:i], inside, tries)
                score = np.minimum(score, slower.max(axis=1))
            better = score > best
            best[better], first[better], last[better] = score[better], i, j
            end[better] = j + 1 + at[better]
    return best, first, last, end


def _deviate(k_a: np.ndarray, n_a: np.ndarray, k_b: np.ndarray, n_b: float) -> np.ndarray:
    """Signed root of the likelihood ratio of two shares: about a normal deviate, positive where a's is larger."""
    apart = _fit(k_a, n_a) + _fit(k_b, n_b) - _fit(k_a + k_b, n_a + n_b)
    return np.sign(k_a / n_a - k_b / n_b) * np.sqrt(np.maximum(2.0 * apart, 0.0))


def _fit(k: np.ndarray, n: np.ndarray | float) -> np.ndarray:
    """Log-likelihood of hits out of tries at their own share."""
    p = np.clip(k / n, 1e-12, 1.0 - 1e-12)
    return k * np.log(p) + (n - k) * np.log1p(-p)


def _with_span_free(k: np.ndarray, n: np.ndarray, first: int, last: int) -> np.ndarray:
    """The best falling shares by rung when one span has a level of its own."""
    weight = np.ones(len(n))
    weight[first : last + 1] = 1e-6
    model = falling_rows(k * weight, n * weight)[0]
    model[first : last + 1] = k[first : last + 1].sum() / n[first : last + 1].sum()
    return model


def depth(valley: Valley) -> int:
    """How much worse it is inside, in points of a hundred."""
    return math.floor(100.0 * (valley.share_above - valley.share) + 0.5)
