"""Where each cell stands on a day: what `today` and `week` are both made of."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TextIO

from ..core.cell import AS_WRITTEN, Cell
from ..errors import BadInput
from ..files.waynames import learned, names_of
from ..measures.agenda.now import stands_on
from ..measures.agenda.questions import Standing, Two
from ..measures.review.answers import make_review
from ..measures.review.by_start import FEWEST, paired, start_difference
from ..measures.review.table import Tries, fewer_rows
from ..measures.ways.find import find_ways
from .choice import Choice, cell_of, practice_folder
from .played import Way, most_played, table_of, ways_of
from .review_parts import parts_of
from .ways import heard_together, names_path


@dataclass(frozen=True, slots=True)
class Practised:
    """One cell as it was practised. ways: in the way most played, as ``review`` looks at it;
    others: the same figure in other variants; every: all that was played of any cell; named:
    whether the player has named ways of it."""

    name: str
    choice: Choice
    file: Cell | None  # as it is now
    ways: tuple[Way, ...]
    others: tuple[Way, ...]
    every: tuple[Way, ...]
    named: bool

    def until(self, day: int) -> Practised | None:
        """As it was at the end of a day; None where nothing had been played."""
        ways, others, every = (
            tuple(way for way in some if way.day <= day)
            for some in (self.ways, self.others, self.every)
        )
        return replace(self, ways=ways, others=others, every=every) if ways else None

    @property
    def last(self) -> int:
        """The number of the last day it was played; 0 where no day is known."""
        return max(way.day for way in self.ways)

    def standing(self, today: int) -> Standing:
        """Where it stands on a day (number)."""
        played, tries = self.ways[0].played, table_of(self.ways)
        review = make_review(tries, self.name, played.grid, played.variant, agenda=True)
        secure, broken, state = stands_on(review, tries, today)
        return Standing(
            name=self.name,
            beats=self._beats(),
            days_since=max(today - self.last, 0) if self.last else None,
            review=review,
            secure=secure,
            broken=broken,
            state=state,
            start_bpm=None if self.file is None else self.file.tempo_bpm,
            parts=tuple(parts_of(self.ways, self.every)),
            twos=(*self._variants(tries), *self._starts(tries), *self._found_ways()),
            untried=self._untried(),
        )

    def _beats(self) -> float:
        played = self.ways[0].played
        cell = self.file
        return cell.steps / cell.grid if cell is not None else played.slots / played.grid

    def _variants(self, tries: Tries) -> Iterator[Two]:
        """The way most played against each other variant that was played as well."""
        name = self.ways[0].variant
        for other in dict.fromkeys(way.variant for way in self.others):
            own = table_of([way for way in self.others if way.variant == other])
            found = paired(tries, own)
            points = (0.0, -100.0, 100.0)  # at no common tempo
            if found is not None:
                points = (100.0 * found.share, 100.0 * found.low, 100.0 * found.high)
            told = tuple("" if one == AS_WRITTEN else one for one in (name, other))
            yield Two("variants", (name, other), *points, tries.reps + own.reps, told)

    def _starts(self, tries: Tries) -> Iterator[Two]:
        found = start_difference(fewer_rows(tries))
        if found is not None and min(found[1]) >= FEWEST:
            one, reps = found
            names = ("a down stroke", "an up stroke")
            points = (100.0 * one.share, 100.0 * one.low, 100.0 * one.high)
            yield Two("starts", names, *points, sum(reps))

    def _found_ways(self) -> Iterator[Two]:
        """Of a cell whose ways the player has named: to look for ways in every cell takes long."""
        if not self.named:
            return
        found = find_ways(heard_together(self.choice, self.ways)[0])
        names = names_of(found, names_path(self.choice, self.name))
        for name, way in zip(names[1:], found.ways[1:]):
            if way.clean is not None:
                points = -way.clean.points, -way.clean.high, -way.clean.low
                reps = way.reps + found.ways[0].reps
                yield Two("ways", (names[0], name), *points, reps)

    def _untried(self) -> tuple[str, ...]:
        played = {way.variant for way in (*self.ways, *self.others)}
        return tuple(
            name for name in (self.file.variants if self.file else ()) if name not in played
        )


def today_number() -> int:
    """The day number of today, by the computer's own calendar."""
    return datetime.now().astimezone().date().toordinal()


def practised(choice: Choice, err: TextIO) -> list[Practised]:
    """Every cell that was practised, by name; none where nothing was recorded that can be
    judged."""
    if not practice_folder(choice).own_paths():
        return []
    try:
        return list(_cells(choice, ways_of(choice, err), err))
    except BadInput as error:
        print(f"livecheck: {error}", file=err)
        return []


def _cells(choice: Choice, every: Sequence[Way], err: TextIO) -> Iterator[Practised]:
    whole = [way for way in every if way.played.parent is None]
    for name in sorted({way.played.cell for way in whole}):
        own = [way for way in whole if way.played.cell == name]
        own = most_played(own, lambda way: way.played.figure)
        ways = most_played(own, lambda way: way.variant)
        if sum(way.played.reps for way in ways):
            others = tuple(way for way in own if way.variant != ways[0].variant)
            named = _has_names(choice, name, err)
            file = _file_of(choice, name)
            yield Practised(name, choice, file, tuple(ways), others, tuple(every), named)


def _has_names(choice: Choice, name: str, err: TextIO) -> bool:
    """Whether the player has named ways of a cell; a file of names that cannot be read stops
    nothing, and is told."""
    path = names_path(choice, name)
    if not path.exists():
        return False
    try:
        learned(path)
    except BadInput as error:
        print(f"livecheck: {error}", file=err)
        return False
    return True


def _file_of(choice: Choice, name: str) -> Cell | None:
    """The cell's file, where there still is one of that name."""
    with contextlib.suppress(BadInput):
        return cell_of(Choice(home=choice.home), name)
    return None
