"""The course over days: how far each day's tempos lie from the last day's.

The fall of the clean share moves along the tempo, by so many beats per minute, as the player gets
faster, and each day has its own luck besides. A day's move is a trend, a wandering about it and a
luck of that day, whose sizes are weighed by what the counts say of them; a bad day stands out from
its neighbours and is allowed to (Student's t). What a day says is taken to first order from its own
repetitions, so a day that never came near the break says next to nothing (a Gaussian process with
binomial counts; C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning,
2006, section 3.4).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stats import sigmoid
from .curve import fit_curve
from .rungs import rungs
from .table import Tries

MOST_DAYS = 40
"""More days are put together by neighbours."""

TAKE_LUCK = 0.45
"""How much takes differ (SD of their log odds), for the weight of a day (common practice, no
source)."""

TREND = 0.04  # a week, in parts of the usual tempo
WANDER = (0.002, 0.015, 0.04)  # in a week
DAY_LUCK = (0.004, 0.012, 0.03)
"""What a week or a day may bring, in parts of the tempo (common practice, no source)."""

HEAVY = 4.0
"""Degrees of freedom of a day's luck: a bad day now and then is expected."""

SURE = 2.0
LEAST_MOVED = 0.015


@dataclass(frozen=True, slots=True)
class Course:
    """Each day's move. Arrays (days,) in beats per minute, against the last day."""

    day: np.ndarray
    week: np.ndarray  # from the last day
    move: np.ndarray
    sd: np.ndarray
    own_sd: np.ndarray  # what each day's own repetitions leave open
    of_row: np.ndarray  # (R,) index of each row's day
    first_sd: float  # sd of the first day against the last
    usual_bpm: float

    @property
    def moved(self) -> bool:
        """Whether the first day surely differs from the last."""
        first = abs(float(self.move[0]))
        return first > SURE * self.first_sd and first > LEAST_MOVED * self.usual_bpm

    def in_frame(self, tries: Tries) -> np.ndarray:
        """(R,) each row's tempo as it would count on the last day."""
        return np.maximum(tries.bpm - self.move[self.of_row], 1.0)


def course(tries: Tries, hits: np.ndarray, of: np.ndarray) -> Course | None:
    """The course of hits out of tries; None where there are no two known days."""
    numbers, of_row = np.unique(tries.day, return_inverse=True)
    if len(numbers) < 2 or numbers[0] <= 0:
        return None
    if len(numbers) > MOST_DAYS:
        blocks = np.array_split(np.arange(len(numbers)), MOST_DAYS)
        block = np.repeat(np.arange(len(blocks)), [len(some) for some in blocks])
        of_row, numbers = block[of_row], np.array([numbers[some[-1]] for some in blocks])
    usual = float(np.average(tries.bpm, weights=tries.n))
    x = tries.bpm / usual
    if np.ptp(x) < 0.02:
        return None
    week = (numbers - numbers[-1]) / 7.0
    told = of > 0
    move, cov = np.zeros(len(numbers)), np.eye(len(numbers))
    weight = np.ones(len(numbers))
    shape: tuple[float, float, float] | None = None
    for turn in range(6):
        if turn in (0, 1, 3, 5):
            shape = _shape(x - move[of_row], hits, of)
        if shape is None:
            return None
        score, weight = _days(x, hits, of, told, of_row, move, shape, len(numbers))
        move, cov = _smoothed(move, score, weight, week)
        move = move - float(np.average(move, weights=weight + 1e-9))
    at_last = np.zeros(len(numbers))
    at_last[-1] = 1.0
    change = np.zeros(len(numbers))
    change[0], change[-1] = 1.0, -1.0
    against = np.eye(len(numbers)) - at_last[None, :]
    return Course(
        day=numbers,
        week=week,
        move=(move - move[-1]) * usual,
        sd=np.sqrt(np.maximum(np.diag(against @ cov @ against.T), 0.0)) * usual,
        own_sd=usual / np.sqrt(np.maximum(weight, 1e-3)),
        of_row=of_row,
        first_sd=max(float(change @ cov @ change), 0.0) ** 0.5 * usual,
        usual_bpm=usual,
    )


def _shape(x: np.ndarray, hits: np.ndarray, of: np.ndarray) -> tuple[float, float, float] | None:
    """Middle, width and lapse of one fall for all days, in parts of the usual tempo."""
    told = of > 0
    steps = rungs(100.0 * np.maximum(x[told], 0.01), of[told], most=50, near=0.012, widest=0.02)
    n, k = steps.sums(of[told]), steps.sums(hits[told])
    at = steps.bpm / 100.0
    if len(at) < 2:
        return None
    curve, _ = fit_curve(at, k, n, floor=0.0, most_lapse=0.3)
    middle = float(np.clip(curve.middle, at[0] - 0.3, at[-1] + 0.3))
    return middle, float(np.clip(curve.width, 0.012, 0.1)), curve.lapse


def _days(
    x: np.ndarray,
    hits: np.ndarray,
    of: np.ndarray,
    told: np.ndarray,
    of_row: np.ndarray,
    move: np.ndarray,
    shape: tuple[float, float, float],
    count: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Score and information of each day's move, luck of takes allowed for."""
    middle, width, lapse = shape
    f = sigmoid((middle + move[of_row] - x) / width)
    p = np.clip((1.0 - lapse) * f, 1e-4, 1.0 - 1e-4)
    slope = (1.0 - lapse) * f * (1.0 - f) / width
    n = np.maximum(of, 1e-9)
    spread = p * (1.0 - p) / n + (TAKE_LUCK * p * (1.0 - p)) ** 2
    weight = np.where(told, slope**2 / spread, 0.0)
    score = np.where(told, slope * (hits / n - p) / spread, 0.0)
    return np.bincount(of_row, score, count), np.bincount(of_row, weight, count)


def smooth_prior(week: np.ndarray, wander: float) -> np.ndarray:
    """Covariance of the days' moves without their luck: a level that may be any, a trend, and a
    wandering. week: weeks, counted from the last day."""
    ago = week - week[0]
    base = 1.0 + TREND**2 * np.outer(week, week)
    return np.asarray(base + wander**2 * np.minimum.outer(ago, ago))


def _smoothed(
    move: np.ndarray, score: np.ndarray, weight: np.ndarray, week: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of the moves, over all sizes of wandering and luck."""
    information = np.maximum(weight, 1e-3)
    seen = move + np.clip(score / information, -0.15, 0.15)
    noise = 1.0 / information
    logs: list[float] = []
    means: list[np.ndarray] = []
    covs: list[np.ndarray] = []
    for wander in WANDER:
        smooth_part = smooth_prior(week, wander)
        for luck in DAY_LUCK:
            own = np.full(len(week), luck**2)
            for _ in range(3):
                prior = smooth_part + np.diag(own)
                total = prior + np.diag(noise)
                gain = np.linalg.solve(total, prior).T
                mean = gain @ seen
                smooth = smooth_part @ np.linalg.solve(total, seen)
                off = (seen - smooth) ** 2 / (luck**2 + noise)
                own = luck**2 * (HEAVY + np.maximum(off, 1.0)) / (HEAVY + 1.0)
                own = own * np.where(off > 4.0, off, 1.0)
            _, size = np.linalg.slogdet(total)
            logs.append(-0.5 * float(size + seen @ np.linalg.solve(total, seen)))
            means.append(mean)
            covs.append(prior - gain @ prior)
    weights = np.array(logs)
    share = np.exp(weights - weights.max())
    share /= share.sum()
    mean = share @ np.array(means)
    apart = np.array(means) - mean
    cov = np.einsum("k,kij->ij", share, np.array(covs)) + np.einsum(
        "k,ki,kj->ij", share, apart, apart
    )
    return mean, cov
