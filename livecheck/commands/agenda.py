"""Where each cell stands on a day: what `today` and `week` are both made of."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TextIO

from ..core.cell import Cell
from ..errors import BadInput
from ..measures.agenda.blocks import Standing
from ..measures.agenda.now import loose_of, move_since, present
from ..measures.review.answers import make_review
from ..measures.review.course import Course, course
from ..measures.review.table import Tries
from .choice import Choice, cell_of, practice_folder
from .played import Way, most_played, table_of, ways_of


@dataclass(frozen=True, slots=True)
class Practised:
    """One cell as it was practised: the way most played of it, its table, and its course."""

    name: str
    beats: float  # of a repetition
    tries: Tries
    ways: tuple[Way, ...]
    course: Course | None
    start_bpm: float | None

    def until(self, day: int) -> Practised | None:
        """As it was at the end of a day; None where nothing had been played."""
        ways = tuple(way for way in self.ways if way.day <= day)
        if not ways:
            return None
        tries = table_of(ways)
        return replace(self, ways=ways, tries=tries, course=course(tries, tries.clean, tries.n))

    def standing(self, today: int) -> Standing:
        """Where it stands on a day (number)."""
        played = self.ways[0].played
        review = make_review(self.tries, self.name, played.grid, played.variant)
        move = move_since(self.tries, self.course, today)
        loose = loose_of(self.course)
        secure, broken = (present(one, move, loose) for one in (review.secure, review.broken))
        last = int(self.tries.day.max())
        return Standing(
            name=self.name,
            beats=self.beats,
            days_since=today - last if last else None,
            review=review,
            secure=secure,
            broken=broken,
            move=move,
            start_bpm=self.start_bpm,
        )


def today_number() -> int:
    """The day number of today, by the computer's own calendar."""
    return datetime.now().astimezone().date().toordinal()


def practised(choice: Choice, err: TextIO) -> list[Practised]:
    """Every cell that was practised, by name; none where nothing was recorded yet."""
    if not practice_folder(choice).own_paths():
        return []
    return list(_cells(choice, ways_of(choice, err)))


def _cells(choice: Choice, ways: Sequence[Way]) -> Iterator[Practised]:
    for name in sorted({way.played.cell for way in ways}):
        own = [way for way in ways if way.played.cell == name]
        own = most_played(own, lambda way: way.played.figure)
        own = most_played(own, lambda way: way.variant)
        tries = table_of(own)
        if tries.reps:
            cell = _file_of(choice, name)
            played = own[0].played
            yield Practised(
                name=name,
                beats=cell.steps / cell.grid if cell is not None else played.slots / played.grid,
                tries=tries,
                ways=tuple(own),
                course=course(tries, tries.clean, tries.n),
                start_bpm=None if cell is None else cell.tempo_bpm,
            )


def _file_of(choice: Choice, name: str) -> Cell | None:
    """The cell's file, where there still is one of that name."""
    with contextlib.suppress(BadInput):
        return cell_of(Choice(home=choice.home), name)
    return None
