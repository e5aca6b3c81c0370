"""How far both tempos lay, day by day, from where they are now.

Where nothing but a fall decides, both move with it (``course``). Where a string sounds from one
tempo on that stays where it is while the fall moves, each tempo lies at the lower of the two: it
may stand still for weeks, and then move. So each day's tempos are read off the drawn forms of that
day, as those of the last day are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .course import LEAST_MOVED, SURE, Course

_SPREAD = (0.159, 0.841)
"""Quantiles one standard deviation from the middle of a normal distribution."""


@dataclass(frozen=True, slots=True)
class Moves:
    """Each day against the last; (days, 2) for secure and break, in beats per minute."""

    day: np.ndarray  # (days,)
    by: np.ndarray
    sd: np.ndarray
    usual_bpm: float

    @property
    def moved(self) -> bool:
        """Whether one of the two surely lay elsewhere on the first day."""
        first = np.abs(self.by[0])
        return bool(np.any((first > SURE * self.sd[0]) & (first > LEAST_MOVED * self.usual_bpm)))


def with_fall(course: Course) -> Moves:
    """Both move with the fall."""
    by, sd = (np.repeat(one[:, None], 2, axis=1) for one in (course.move, course.sd))
    sd[0] = course.first_sd
    return Moves(course.day, by, sd, course.usual_bpm)


def read_off(
    course: Course, chance: Callable[[int], np.ndarray], x: np.ndarray, levels: Sequence[float]
) -> Moves:
    """chance: of a day's index, (draws, len(x)) clean share at the log tempos x."""
    days = len(course.day)
    at = np.array([[fallen_at(chance(day), x, level) for level in levels] for day in range(days)])
    at = np.maximum(at, np.exp(x[0]))
    away = at - at[-1:]
    low, middle, high = np.quantile(away, [_SPREAD[0], 0.5, _SPREAD[1]], axis=2)
    return Moves(course.day, middle, (high - low) / 2.0, course.usual_bpm)


def fallen_at(chance: np.ndarray, x: np.ndarray, level: float) -> np.ndarray:
    """(draws,) the tempo from which on each form lies below a level; 0 where it always does."""
    above = np.sum(chance >= level, axis=1)
    return np.where(above > 0, np.exp(x[np.maximum(above, 1) - 1]), 0.0)
