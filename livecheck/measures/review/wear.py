"""Wear within a sitting: what playing on does to the same tempo, with an interval.

A climb gets faster as the sitting goes on, so only takes of one sitting at nearly the same tempo
are set against each other, two by two, earlier against later; what little their tempos differ is
taken off as well. The slope is that of least squares over the pairs, for evenness with wild takes
held back; its interval counts takes, not repetitions, since neighbouring ones share their fate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..stats import robust_sd, student_t
from .table import Tries

FEWEST_PAIRS, FEWEST_TAKES, APART_MIN = 10, 8, 2.0
"""What wear needs: pairs of rows at one tempo, takes (or as many of equal weight), and minutes
between the two of a pair (common practice)."""

ALIKE = 0.015
"""Tempos that differ by no more than this share are set against each other (common practice)."""

LEAST_OWN = 0.5
"""Where the later of two is as a rule also the faster, time and tempo cannot be told apart: this
share of the time between them has to be left when the difference in tempo is taken off (common
practice)."""

MOST_ROWS = 2000
"""More rows are not needed; of very many sittings the latest are taken."""

_MOST_PAIRS = 200_000
_WILD = 2.5  # standard deviations at which an evenness is held back


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope with its 95 % interval."""

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


def wear(tries: Tries) -> Wear | None:
    """The trend within a sitting; None where no tempo was played early and late, often enough."""
    if len(tries.bpm) > MOST_ROWS:
        sittings, rows = np.unique(tries.sitting, return_counts=True)
        late = np.cumsum(rows[::-1])[::-1] <= MOST_ROWS
        tries = tries.where(np.isin(tries.sitting, sittings[late | (sittings == sittings[-1])]))
    clean = _slope(tries, 100.0 * tries.clean / np.maximum(tries.n, 1.0), tries.n, wild=math.inf)
    cv = _slope(tries, tries.cv_sum / np.maximum(tries.cv_n, 1.0), tries.cv_n, wild=_WILD)
    return Wear(clean, cv) if clean is not None or cv is not None else None


def _slope(tries: Tries, value: np.ndarray, heavy: np.ndarray, wild: float) -> Slope | None:
    """Slope per ten minutes over pairs of rows of one sitting at nearly one tempo."""
    left, right = _pairs(tries, heavy > 0)
    of_row = np.unique(tries.take, return_inverse=True)[1]
    own, other = of_row[left], of_row[right]
    if len(left) < FEWEST_PAIRS or len(np.union1d(own, other)) < FEWEST_TAKES:
        return None
    time = (tries.minute[right] - tries.minute[left]) / 10.0
    rise = value[right] - value[left]
    partners = np.bincount(np.concatenate([left, right]), minlength=len(value))
    weight = heavy[left] * heavy[right] / (heavy[left] + heavy[right])
    weight = weight / np.sqrt(partners[left] * partners[right])
    faster = np.log(tries.bpm[right] / tries.bpm[left])
    apart = time - faster * float(weight @ (time * faster)) / max(float(weight @ faster**2), 1e-12)
    if float(weight @ apart**2) < LEAST_OWN * float(weight @ time**2):
        return None
    rise = rise - faster * float(weight @ (rise * faster)) / max(float(weight @ faster**2), 1e-12)
    start = 0.0
    if math.isfinite(wild):
        start = _middle(rise / np.where(apart == 0.0, 1e-12, apart), weight * np.abs(apart))
    left_over = rise - start * apart
    bound = wild * robust_sd(left_over) if math.isfinite(wild) else math.inf
    up = weight * apart * np.clip(left_over, -bound, bound)
    down = weight * apart**2 * (np.abs(left_over) <= bound)
    # what is held back is not shared out evenly
    partners = np.where(math.isfinite(wild), np.inf, partners)
    return _told(start, up, down, (own, other), partners[left], partners[right])


def _pairs(tries: Tries, told: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows of one sitting at nearly one tempo, two by two, the earlier first; every so many where
    there are many."""
    where = np.flatnonzero(told)
    where = where[np.lexsort((tries.bpm[where], tries.sitting[where]))]
    # sittings are laid out one behind the other, farther apart than tempos are
    place = (
        np.log(tries.bpm[where]) + 100.0 * np.unique(tries.sitting[where], return_inverse=True)[1]
    )
    count = np.searchsorted(place, place + ALIKE, side="right") - np.arange(len(where)) - 1
    left = np.repeat(np.arange(len(where)), count)
    right = left + 1 + np.arange(len(left)) - np.repeat(np.cumsum(count) - count, count)
    left, right = where[left], where[right]
    swap = tries.minute[left] > tries.minute[right]
    left, right = np.where(swap, right, left), np.where(swap, left, right)
    far = (tries.minute[right] - tries.minute[left] >= APART_MIN) & (
        tries.take[left] != tries.take[right]
    )
    left, right = left[far], right[far]
    thin = len(left) // _MOST_PAIRS + 1
    return left[::thin], right[::thin]


def _told(
    start: float,
    up: np.ndarray,
    down: np.ndarray,
    own: tuple[np.ndarray, np.ndarray],
    *partners: np.ndarray,
) -> Slope | None:
    """start + sum(up) / sum(down) over pairs, with an interval whose units are takes; partners: of
    each side's row.

    A take's part in the sum holds the luck of its partners too: among m takes that are all
    partners, its squares are too large by 2 / m. Half of that is left, since takes are few.
    """
    whole = float(down.sum())
    if whole <= 0.0:
        return None
    value = float(up.sum()) / whole
    scores, share, fair = np.zeros((3, max(int(own[0].max()), int(own[1].max())) + 1))
    for side, of in zip(own, partners):
        np.add.at(scores, side, up - value * down)
        np.add.at(share, side, down)
        np.add.at(fair, side, down * (1.0 - 1.0 / (of + 2.0)))
    told = share > 0.0
    count = float(share.sum() ** 2 / np.sum(share**2))  # as many takes of equal weight
    if count < FEWEST_TAKES:
        return None
    error = (
        math.sqrt(
            float(np.sum(scores[told] ** 2 * fair[told] / share[told])) * count / (count - 3.0)
        )
        / whole
    )
    reach = student_t(count - 2.0) * error
    return Slope(start + value, start + value - reach, start + value + reach)


def _middle(values: np.ndarray, weights: np.ndarray) -> float:
    """Weighted median."""
    order = np.argsort(values, kind="stable")
    run = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(run, run[-1] / 2.0)])
