"""Progress over days: the trend of the secure tempo, with an interval.

One curve of one shape is fitted to all days, which moves by so many beats per minute a week. So a
day on which all was still clean, or nothing, says as much as it knows: that its tempo lies beyond
those tried. Days have their own luck, so the interval comes from leaving out each day in turn (the
jackknife).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..stats import sigmoid, student_t
from .curve import fit_curve
from .limits import FEWEST_TRIES, SECURE
from .rungs import rungs
from .table import Tries
from .wear import Slope

FEWEST_DAYS, MOST_DAYS = 4, 40
"""Fewer days are no trend; more are put together by neighbours."""

FEWEST_TELLING = 3.0
"""Of the days as many as of equal weight have to come near the tempo where it breaks (common
practice, no source)."""

LAPSES = (0.0, 0.02, 0.05, 0.08)
"""What goes wrong however slow; with a tenth there would be no secure tempo."""


@dataclass(frozen=True, slots=True)
class Day:
    """A day's own secure tempo. ``status`` as of a Limit: where it is ``above_range`` (or below),
    bpm is the fastest (slowest) tempo tried; None where it is ``too_few``.
    """

    number: int
    status: str
    bpm: float | None


@dataclass(frozen=True, slots=True)
class Progress:
    """The secure tempo of each day and its trend in bpm a week."""

    days: tuple[Day, ...]
    bpm_a_week: Slope


def progress(tries: Tries, leave_out: tuple[float, float] | None = None) -> Progress | None:
    """The trend of the secure tempo over days; None with fewer than four days, or where they do not
    tell.

    leave_out: an awkward range, whose tries say nothing about what a rising tempo does. Tries of no
    known day are left out as well.
    """
    told = tries.day > 0
    if leave_out is not None:
        told &= (tries.bpm < leave_out[0]) | (tries.bpm > leave_out[1])
    every_bpm, every_clean, every_n = (column[told] for column in (tries.bpm, tries.clean, tries.n))
    numbers, of_row = np.unique(tries.day[told], return_inverse=True)
    if len(numbers) < FEWEST_DAYS:
        return None
    blocks = np.array_split(np.arange(len(numbers)), min(len(numbers), MOST_DAYS))
    block = np.repeat(np.arange(len(blocks)), [len(some) for some in blocks])[of_row]
    middle = np.array([numbers[some[len(some) // 2]] for some in blocks], float)
    steps = rungs(every_bpm, every_n, most=60, near=0.005)
    if len(steps.bpm) < 2:
        return None
    counts = [np.zeros((len(blocks), len(steps.bpm))) for _ in range(2)]
    for table, column in zip(counts, (every_clean, every_n)):
        np.add.at(table, (block, steps.of_row), column)
    clean, n = counts
    week = (middle - middle.mean()) / 7.0
    curve = _moving_curve(steps.bpm, week, clean, n)
    if curve is None or (curve.slope.high - curve.slope.low) * float(np.ptp(week)) > 4.0 * float(
        np.ptp(steps.bpm)
    ):
        return None  # anything would be as likely
    own = _own_middles(curve, steps.bpm, clean, n)
    lower = curve.secure_below_middle
    days = tuple(
        _day(int(number), steps.bpm[n[i] > 0], own[i] - lower, n[i])
        for i, number in enumerate(middle)
    )
    return Progress(days, curve.slope)


def _day(number: int, tried: np.ndarray, secure: float, n: np.ndarray) -> Day:
    """One day's own secure tempo, where it lies within the tempos tried."""
    if n.sum() < FEWEST_TRIES:
        return Day(number, "too_few", None)
    if secure > tried[-1]:
        return Day(number, "above_range", float(tried[-1]))
    return (
        Day(number, "below_range", float(tried[0]))
        if secure < tried[0]
        else Day(number, "found", float(secure))
    )


@dataclass(frozen=True, slots=True)
class _Moving:
    """chance = (1 - lapse) / (1 + exp((bpm - middle - slope * weeks) / width))"""

    middle: float
    width: float
    lapse: float
    slope: Slope

    @property
    def secure_below_middle(self) -> float:
        inner = SECURE / (1.0 - self.lapse)
        return self.width * math.log(inner / (1.0 - inner))


def _own_middles(curve: _Moving, bpm: np.ndarray, clean: np.ndarray, n: np.ndarray) -> np.ndarray:
    """Each day's likeliest middle, the shape being that of all days."""
    span = float(np.ptp(bpm))
    middles = np.linspace(bpm[0] - 0.5 * span, bpm[-1] + 0.5 * span, 1201)
    p = np.clip(
        (1.0 - curve.lapse) * sigmoid((middles[None, :] - bpm[:, None]) / curve.width),
        1e-9,
        1.0 - 1e-9,
    )
    return middles[np.argmax(clean @ np.log(p) + (n - clean) @ np.log1p(-p), axis=1)]


def _moving_curve(
    bpm: np.ndarray, week: np.ndarray, clean: np.ndarray, n: np.ndarray
) -> _Moving | None:
    """The likeliest moving curve; clean and n by day and tempo. None where fewer than three days
    come near its fall."""
    total = n.sum(axis=0)
    curve, _ = fit_curve(bpm[total > 0], clean.sum(axis=0)[total > 0], total[total > 0], floor=0.0)
    span, weeks = float(np.ptp(bpm)), float(np.ptp(week))
    start = np.array(
        [
            np.clip(curve.middle, bpm[0], bpm[-1]),
            math.log(np.clip(curve.width, span / 60, span)),
            0.0,
        ]
    )
    starts = [start + [0.0, 0.0, 0.5 * part * span / weeks] for part in (-1.0, 0.0, 1.0)]
    fits = [
        (*_climb(bpm, week, clean, n[None], np.array(starts), lapse), lapse) for lapse in LAPSES
    ]
    thetas, values, lapse = max(fits, key=lambda fit: float(fit[1].max()))
    theta = thetas[int(values.argmax())]
    days = len(week)
    kept = np.repeat(n[None], days, axis=0)
    kept[np.arange(days), np.arange(days)] = 0.0
    without = _climb(bpm, week, clean, kept, np.repeat(theta[None], days, axis=0), lapse)[0][:, 2]
    error = math.sqrt((days - 1) / days * float(np.sum((without - theta[2]) ** 2)))
    f = sigmoid((theta[0] + theta[2] * week[:, None] - bpm) / math.exp(theta[1]))
    telling = np.sum(n * f * (1.0 - f), axis=1)  # a day far from the break says next to nothing
    count = float(telling.sum() ** 2 / max(float(np.sum(telling**2)), 1e-300))
    if count < FEWEST_TELLING or telling.sum() < FEWEST_TELLING:
        return None
    value, reach = float(theta[2]), student_t(max(count - 3.0, 1.5)) * error
    return _Moving(
        float(theta[0]), math.exp(theta[1]), lapse, Slope(value, value - reach, value + reach)
    )


def _climb(
    bpm: np.ndarray,
    week: np.ndarray,
    clean: np.ndarray,
    n: np.ndarray,
    theta: np.ndarray,
    lapse: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Middle, log width and bpm a week (K, 3) of the likeliest curves, and their log-likelihoods
    (K,).

    n: tries (K or 1, days, tempos); where a day is left out they are nought. Fisher scoring with
    growing damping, each of the K by itself.
    """
    share = clean / np.maximum(n.max(axis=0), 1e-9)

    def model(theta: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        width = np.exp(theta[:, 1])[:, None, None]
        z = (bpm - theta[:, 0, None, None] - theta[:, 2, None, None] * week[:, None]) / width
        f = sigmoid(-z)
        p = np.clip((1.0 - lapse) * f, 1e-9, 1.0 - 1e-9)
        slope = (1.0 - lapse) * f * (1.0 - f)
        jacobian = np.stack([slope / width, slope * z, slope / width * week[:, None]], axis=-1)
        value = np.sum(n * (share * np.log(p) + (1.0 - share) * np.log1p(-p)), axis=(1, 2))
        return p, jacobian, value

    narrow, wide = math.log(float(np.ptp(bpm)) / 200.0), math.log(2.0 * float(np.ptp(bpm)))
    p, jacobian, value = model(theta)
    damping = np.full(len(theta), 1e-3)
    for _ in range(60):
        weight = n / (p * (1.0 - p))
        score = np.einsum("kdr,kdri->ki", weight * (share - p), jacobian)
        information = np.einsum("kdr,kdri,kdrj->kij", weight, jacobian, jacobian)
        diagonal = np.einsum("kii->ki", information) * damping[:, None] + 1e-9
        trial = (
            theta
            + np.linalg.solve(information + diagonal[:, :, None] * np.eye(3), score[:, :, None])[
                :, :, 0
            ]
        )
        trial[:, 1] = np.clip(trial[:, 1], narrow, wide)
        trial_p, trial_jacobian, trial_value = model(trial)
        better = trial_value > value
        done = ~better | (trial_value - value < 1e-8)
        theta = np.where(better[:, None], trial, theta)
        p = np.where(better[:, None, None], trial_p, p)
        jacobian = np.where(better[:, None, None, None], trial_jacobian, jacobian)
        value = np.where(better, trial_value, value)
        damping = np.where(better, np.maximum(damping / 5.0, 1e-9), damping * 8.0)
        if np.all(done & (better | (damping > 1e3))):
            break
    return theta, value
