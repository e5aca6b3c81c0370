"""A week of practice: time by day and cell, what moved, what was answered, what is open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..climb.parts import LOCAL
from ..review.limits import Limit
from ..review.moves import Moves
from ..stats import Z95
from .day import Item
from .questions import AWKWARD, MATTERS, NOTE, PART, RIG, UNTRIED, WHERE, Standing

DAYS = 7


@dataclass(frozen=True, slots=True)
class Day:
    """One day: minutes with rests, and by cell (name, minutes, repetitions)."""

    number: int
    minutes: float
    cells: tuple[tuple[str, float, int], ...]


@dataclass(frozen=True, slots=True)
class Moved:
    """How a cell's break moved within the week. by_bpm: value and its 95 % interval against
    ``since``, the last day before the week (a number); both None where nothing can be compared.
    sure: it surely moved."""

    name: str
    secure: Limit
    broken: Limit
    by_bpm: tuple[float, float, float] | None
    since: int | None = None

    @property
    def sure(self) -> bool:
        return self.by_bpm is not None and (self.by_bpm[1] > 0.0 or self.by_bpm[2] < 0.0)


@dataclass(frozen=True, slots=True)
class Answered:
    """A question of the week's beginning that is no longer open."""

    name: str
    question: str
    answer: str


@dataclass(frozen=True, slots=True)
class Week:
    """From the first day to the last, as numbers. open: (cell, question); marks: (session, seconds,
    text)."""

    first: int
    last: int
    days: tuple[Day, ...]
    moved: tuple[Moved, ...]
    answered: tuple[Answered, ...]
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


def moved_by(name: str, secure: Limit, broken: Limit, moves: Moves | None, first: int) -> Moved:
    """How far the break has moved since the last day before the week."""
    if moves is None or broken.bpm is None:
        return Moved(name, secure, broken, None)
    before = np.nonzero(moves.day < first)[0]
    if not len(before):
        return Moved(name, secure, broken, None)
    at = int(before[-1])
    move, reach = float(moves.by[at, 1]), Z95 * float(moves.sd[at, 1])
    by_bpm = (-move, -move - reach, -move + reach)
    return Moved(name, secure, broken, by_bpm, int(moves.day[at]))


def answered(before: Sequence[Item], after: Sequence[Item]) -> Iterator[Answered]:
    """The questions of the week's beginning that are open no longer, with what answered them."""
    now = {item.standing.name: item for item in after}
    for item in before:
        name = item.standing.name
        if name not in now:
            continue
        still = {one.about for one in now[name].open}
        for one in item.open:
            if one.about not in still:
                answer = _answer(one.about, now[name].standing)
                if answer is not None:
                    yield Answered(name, one.text, answer)


def still_open(after: Sequence[Item]) -> Iterator[tuple[str, str]]:
    """Each cell's open question, the one worth most."""
    for item in after:
        if item.question is not None:
            yield item.standing.name, item.question


def _answer(about: str, now: Standing) -> str | None:
    """None where a question went without an answer: what it rested on is no longer so."""
    review, kind = now.review, about.split()[0]
    if review is None:
        return None
    if about == WHERE and now.state is not None:
        own = now.state.own
        return f"at {own.bpm:.0f} bpm ({own.low_bpm:.0f} to {own.high_bpm:.0f})"
    if about == AWKWARD:
        dip = review.awkward
        return "no" if dip is None else f"yes, {dip.low_bpm:.0f} to {dip.high_bpm:.0f} bpm"
    if kind in (PART, NOTE):
        for part in now.parts:
            span = f"{part.notes[0]}-{part.notes[-1]}"
            if part.why is not None and (
                about == f"{PART} {span}" or (kind == NOTE and int(about.split()[1]) in part.notes)
            ):
                return "the notes themselves" if part.why == LOCAL else "joining them"
        return None
    if about == RIG:
        return "the delay is measured"
    if kind == UNTRIED:
        return "it was played"
    for two in now.twos:
        if about == f"{two.kind}: {two.names[0]}, {two.names[1]}":
            better = two.names[0] if two.points > 0.0 else two.names[1]
            sure = two.low > 0.0 or two.high < 0.0
            low, high = (two.low, two.high) if two.points > 0.0 else (-two.high, -two.low)
            told = f"{abs(two.points):.0f} clean in a hundred ({low:+.0f} to {high:+.0f})"
            if not sure and two.high - two.low >= 2.0 * MATTERS:
                return None
            return f"{better}, by {told}" if sure else f"no difference that matters: {told}"
    return None
