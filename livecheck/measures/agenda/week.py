"""A week of practice: time by day and cell, what moved, what was answered, what is open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..review.course import Course
from ..review.limits import Limit
from ..stats import Z95
from .blocks import Item

DAYS = 7


@dataclass(frozen=True, slots=True)
class Day:
    """One day: minutes with rests, and by cell (name, minutes, repetitions)."""

    number: int
    minutes: float
    cells: tuple[tuple[str, float, int], ...]


@dataclass(frozen=True, slots=True)
class Moved:
    """How a cell's break moved within the week. by_bpm: value and its 95 % interval against the
    last day before the week; None where nothing was played before. sure: it surely moved."""

    name: str
    secure: Limit
    broken: Limit
    by_bpm: tuple[float, float, float] | None

    @property
    def sure(self) -> bool:
        return self.by_bpm is not None and (self.by_bpm[1] > 0.0 or self.by_bpm[2] < 0.0)


@dataclass(frozen=True, slots=True)
class Week:
    """From the first day to the last, as numbers. answered and open: (cell, question); marks:
    (session, seconds, text)."""

    first: int
    last: int
    days: tuple[Day, ...]
    moved: tuple[Moved, ...]
    answered: tuple[tuple[str, str], ...]
    open: tuple[tuple[str, str], ...]
    marks: tuple[tuple[str, float, str], ...]

    @property
    def minutes(self) -> float:
        return sum(day.minutes for day in self.days)


def days_of(
    first: int, sittings: Iterable[tuple[int, float, Sequence[tuple[str, int]]]]
) -> tuple[Day, ...]:
    """The week's days. sittings: (day number, minutes, repetitions by cell); a sitting's time is
    shared among its cells by their repetitions."""
    minutes = dict.fromkeys(range(first, first + DAYS), 0.0)
    cells: dict[int, dict[str, tuple[float, int]]] = {day: {} for day in minutes}
    for day, took, played in sittings:
        if day not in minutes:
            continue
        minutes[day] += took
        reps = sum(count for _, count in played)
        for name, count in played:
            had, before = cells[day].get(name, (0.0, 0))
            cells[day][name] = had + took * count / max(reps, 1), before + count
    return tuple(
        Day(day, minutes[day], tuple((name, *found) for name, found in sorted(cells[day].items())))
        for day in minutes
    )


def moved_by(name: str, secure: Limit, broken: Limit, course: Course | None, first: int) -> Moved:
    """What the course over days says of the move since the last day before the week."""
    by_bpm = None
    if course is not None and broken.bpm is not None:
        before = np.nonzero(course.day < first)[0]
        if len(before):
            at = int(before[-1])
            move, reach = float(course.move[at]), Z95 * float(course.sd[at])
            value, low, high = -move, -move - reach, -move + reach
            by_bpm = (value, low, high)
    return Moved(name, secure, broken, by_bpm)


def questions(
    before: Sequence[Item], after: Sequence[Item]
) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """Which questions of the week's beginning are answered at its end, and which are open."""
    now = {item.standing.name: item.question for item in after}
    answered = [
        (item.standing.name, item.question)
        for item in before
        if item.question is not None and now.get(item.standing.name, item.question) is None
    ]
    still = [(name, question) for name, question in now.items() if question is not None]
    return tuple(answered), tuple(still)
