"""Wear within a sitting, and progress over days: robust slopes with intervals.

A climb gets faster as the sitting goes on, so wear only compares playing at the same tempo, earlier and later. Progress
is the trend of each day's own secure tempo.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .logistic import fit_curve
from .resample import expanded_tails, seeded, take_weights
from .stats import theil_sen
from .tempo_limits import FEWEST_TRIES, SECURE
from .tries import Tries, rungs

FEWEST_PAIRS, FEWEST_TAKES, APART_MIN = 10, 4, 2.0
"""What wear needs: pairs of rows at one tempo, takes, and minutes between the two of a pair (common practice)."""

MOST_ROWS, MOST_DAYS = 2000, 40
"""More rows are not needed for wear; more days are put together by neighbours for progress."""

_MOST_PAIRS = 20_000
_DRAWS = 400


@dataclass(frozen=True, slots=True)
class Slope:
    """A robust slope with its 95 % interval."""

    value: float
    low: float
    high: float

    @property
    def sure(self) -> bool:
        """True when the interval leaves zero out."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True, slots=True)
class Wear:
    """Change in ten minutes of playing on, at equal tempo; None where too few rows tell."""

    clean_points: Slope | None  # clean share, in points of a hundred
    cv_points: Slope | None  # evenness cv_pct: rising is less even


@dataclass(frozen=True, slots=True)
class Progress:
    """The secure tempo of each day (day number, beats per minute) and its trend in bpm a week."""

    days: tuple[tuple[int, float], ...]
    bpm_a_week: Slope


def wear(tries: Tries) -> Wear | None:
    """The trend within a sitting; None where no tempo was played early and late, often enough.

    Of very many sittings the latest are taken.
    """
    if len(tries.bpm) > MOST_ROWS:
        sittings, rows = np.unique(tries.sitting, return_counts=True)
        late = np.cumsum(rows[::-1])[::-1] <= MOST_ROWS
        tries = tries.where(np.isin(tries.sitting, sittings[late | (sittings == sittings[-1])]))
    clean = _slope(tries, 100.0 * tries.clean / tries.n, tries.n > 0)
    cv = _slope(tries, tries.cv_sum / np.maximum(tries.cv_n, 1.0), tries.cv_n > 0)
    return Wear(clean, cv) if clean is not None or cv is not None else None


def _slope(tries: Tries, value: np.ndarray, told: np.ndarray) -> Slope | None:
    """Median slope per ten minutes over pairs of rows of one sitting at one tempo."""
    if told.sum() < 2:
        return None
    tempo = rungs(tries.bpm[told], tries.n[told], near=0.01)
    sitting, minute, y, take = tries.sitting[told], tries.minute[told], value[told], tries.take[told]
    rng = seeded(minute, y)
    left, right = _pairs(sitting, tempo.of_row, rng)
    far = np.abs(minute[right] - minute[left]) >= APART_MIN
    left, right = left[far], right[far]
    takes = len(np.unique(take[np.concatenate([left, right])]))
    if len(left) < FEWEST_PAIRS or takes < FEWEST_TAKES:
        return None
    slopes = 10.0 * (y[right] - y[left]) / (minute[right] - minute[left])
    heavy = np.sqrt(tries.n[told][left] * tries.n[told][right]) * np.abs(minute[right] - minute[left])
    order = np.argsort(slopes)
    weights = take_weights(take, rng, _DRAWS)
    drawn = [_middle(slopes[order], (heavy * w[left] * w[right])[order]) for w in weights]
    seen = _middle(slopes[order], heavy[order])
    low, high = np.quantile([value for value in drawn if value is not None], expanded_tails(takes))
    assert seen is not None  # there are pairs, and none weighs nothing
    return Slope(seen, min(float(low), seen), max(float(high), seen))


def _pairs(sitting: np.ndarray, tempo: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Indices of the rows of one sitting at one tempo, two by two; a random part of them where there are very many."""
    order = np.lexsort((tempo, sitting))
    ends = np.flatnonzero(np.diff(sitting[order]) | np.diff(tempo[order])) + 1
    lefts, rights = [], []
    for group in np.split(order, ends):
        i, j = np.triu_indices(min(len(group), 200), 1)
        lefts.append(group[i])
        rights.append(group[j])
    left, right = np.concatenate(lefts), np.concatenate(rights)
    if len(left) > _MOST_PAIRS:
        some = rng.choice(len(left), _MOST_PAIRS, replace=False)
        left, right = left[some], right[some]
    return left, right


def _middle(values: np.ndarray, weights: np.ndarray) -> float | None:
    """Weighted median of sorted values; None where nothing weighs anything."""
    run = np.cumsum(weights)
    return float(values[np.searchsorted(run, run[-1] / 2.0)]) if len(run) and run[-1] > 0 else None


def progress(tries: Tries, leave_out: tuple[float, float] | None = None) -> Progress | None:
    """The trend of the secure tempo over days; None with fewer than four days on which it can be told.

    leave_out: an awkward range, whose tries say nothing about what a rising tempo does.
    """
    days = []
    numbers, of_row = np.unique(tries.day, return_inverse=True)
    if leave_out is not None:
        of_row[(tries.bpm >= leave_out[0]) & (tries.bpm <= leave_out[1])] = -1
    blocks = np.array_split(np.arange(len(numbers)), min(len(numbers), MOST_DAYS))
    for some in blocks:
        rows = (of_row >= some[0]) & (of_row <= some[-1])
        bpm = _secure_bpm(tries.bpm[rows], tries.n[rows], tries.clean[rows])
        if bpm is not None:
            days.append((int(numbers[some[len(some) // 2]]), bpm))
    line = theil_sen([day for day, _ in days], [bpm for _, bpm in days]) if len(days) >= 4 else None
    if line is None:
        return None
    return Progress(tuple(days), Slope(7.0 * line.slope, 7.0 * line.low, 7.0 * line.high))


def _secure_bpm(bpm: np.ndarray, n: np.ndarray, clean: np.ndarray) -> float | None:
    """One day's secure tempo where the fitted curve falls through it within the tempos tried."""
    if n.sum() < FEWEST_TRIES:
        return None
    steps = rungs(bpm, n, near=0.005)
    if len(steps.bpm) < 3:
        return None
    curve, _ = fit_curve(steps.bpm, steps.sums(clean), steps.sums(n))
    at = curve.x_at(SECURE)
    return at if at is not None and steps.bpm[0] <= at <= steps.bpm[-1] else None
