"""Chance drawn again, take by take.

Neighbouring repetitions share their fate, so what is drawn again is always a whole take. Draws are
seeded from the data: the same tries give the same intervals, today and next year.
"""

from __future__ import annotations

import math
import zlib

import numpy as np

from ..stats import FLATTENING, logit, normal_cdf, sigmoid, student_t

DRAWS = 400

LEAST_FATE = 0.5
"""Takes are taken to differ at least this much (log odds): few takes or a rare event show too
little of it to measure (common practice, no source)."""

_Z, _W = np.polynomial.hermite_e.hermegauss(15)
_W = _W / _W.sum()


def seeded(*columns: np.ndarray) -> np.random.Generator:
    """A generator whose seed is the data itself."""
    crc = 0
    for column in columns:
        crc = zlib.crc32(
            np.ascontiguousarray(np.round(np.asarray(column, float), 6)).tobytes(), crc
        )
    return np.random.default_rng(crc)


def take_weights(take: np.ndarray, rng: np.random.Generator, draws: int = DRAWS) -> np.ndarray:
    """How often each row stands in each of many draws of as many takes as there are: (draws,
    rows)."""
    numbers, of_row = np.unique(take, return_inverse=True)
    count = len(numbers)
    weights = rng.multinomial(count, np.full(count, 1.0 / count), size=draws)
    return weights[:, of_row].astype(float)


def expanded_tails(takes: int) -> tuple[float, float]:
    """The shares below and above which drawn values are cut off for a 95 % interval from this many
    takes.

    Few takes drawn from themselves vary too little, and their spread is itself uncertain; so the
    tails are cut later: T. Hesterberg's expanded percentile interval (The American Statistician 69
    (2015) 371-386).
    """
    free = max(takes - 1.0, 1.0)
    tail = normal_cdf(-student_t(free) * math.sqrt((free + 1.0) / free))
    return tail, 1.0 - tail


def shared_fate(hits: np.ndarray, of: np.ndarray, chance: np.ndarray, spent: int = 0) -> float:
    """How much takes differ beyond chance: SD of a take's good or bad day on the log-odds scale, 0
    to 2.

    hits, of, chance: per take (or per take and tempo), chance being the fitted share. ``spent`` is
    the number of parameters that the fit took from the same data. Moment estimate: the SD at which
    the expected sum of squared Pearson residuals equals the one seen.
    """
    told = (of > 0) & (chance > 0.01) & (chance < 0.99)
    if told.sum() <= spent + 1:
        return 0.0
    k, n, p = hits[told], of[told], chance[told]
    plain = n * p * (1.0 - p)
    seen = float(np.sum((k - n * p) ** 2 / plain)) * told.sum() / (told.sum() - spent)
    grid = np.linspace(0.0, 2.0, 21)
    expected = []
    for sd in grid:
        shifted = sigmoid(logit(p)[None, :] + sd * _Z[:, None])
        mean = _W @ shifted
        between = _W @ (shifted - mean) ** 2
        expected.append(float(np.sum((plain + n * (n - 1.0) * between) / plain)))
    return float(np.interp(seen, expected, grid))


def draw_hits(
    of: np.ndarray,
    chance: np.ndarray,
    take: np.ndarray,
    sd: float,
    rng: np.random.Generator,
    draws: int,
) -> np.ndarray:
    """Hits per row if nothing but the fitted chance and each take's own fate decided them: (draws,
    rows).

    The mean over takes stays the fitted chance: the middle of the log odds is moved out a little to
    make up for the flattening that a spread of takes brings.
    """
    numbers, of_row = np.unique(take, return_inverse=True)
    fate = (
        rng.normal(0.0, sd, size=(draws, len(numbers)))[:, of_row]
        if sd > 0
        else np.zeros((draws, len(take)))
    )
    stretched = logit(np.clip(chance, 1e-6, 1.0 - 1e-6)) * np.sqrt(1.0 + FLATTENING * sd * sd)
    return rng.binomial(
        np.round(of).astype(int)[None, :], sigmoid(stretched[None, :] + fate)
    ).astype(float)
