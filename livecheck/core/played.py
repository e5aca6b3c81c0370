"""One repetition as it was played, before its figures."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from .cell import Cell
from .events import HIT, Extra, ExtraTold, Note, SlotTold
from .line import Line


class Answer(NamedTuple):
    """A note that answers a slot."""

    slot: int  # index
    verdict: str
    note: Note


@dataclass(slots=True)
class Played:
    """One repetition as it was played, before its figures."""

    rep: int
    take: int
    entered: int  # index of the slot it was entered at: 0, or more where play began in the middle
    answers: list[Answer]
    extras: list[Extra] = field(default_factory=list)
    complete: bool = False
    pause_s: float = 0.0
    step_s: float | None = None  # seconds a grid step, roughly, when it ended
    # the next repetition's first slot, hit, where that follows on in time
    follower: Note | None = None
    since_start: int = 1  # from 1, counted anew where play begins again
    line: Line | None = None  # None also where play paused in it
    after_s: float = -inf  # it begins later than this: the one before, and extras placed before

    def points(self, cell: Cell) -> list[tuple[int, float]]:
        """(grid position, corrected onset) of what was hit, the next repetition's first slot too
        where that follows on."""
        slots = cell.slots
        found = [
            (slots[answer.slot].start, answer.note.corrected_s)
            for answer in self.answers
            if answer.verdict == HIT
        ]
        if self.follower is not None:
            found.append((cell.steps + slots[0].start, self.follower.corrected_s))
        return found


class Closed(NamedTuple):
    """A repetition will not change any more."""

    played: Played


Certain = SlotTold | ExtraTold | Closed
