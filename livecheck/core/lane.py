"""One cell being followed: its matcher and its repetitions, at the time of the notes they are
given.

A ``Lane`` owns the order in which a note, a silence and the end of play are decided. ``One`` drives
a lane straight from the decoder, where it is known which cell is played; ``several.py`` holds notes
back first. Both give back what became certain, oldest first, and say when they have something to
do next.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from .cell import Cell
from .decode import Decoder
from .events import Note
from .match import Matcher
from .played import Certain
from .reps import Repetitions


class Lane:
    """One cell's matcher and repetitions."""

    __slots__ = ("cell", "matcher", "reps")

    def __init__(self, cell: Cell, first_rep: int, first_take: int, decoder: Decoder) -> None:
        self.cell = cell
        self.matcher = Matcher(cell)
        opening = cell.slots[0]
        delay_s = decoder.delay_s(opening.string, opening.pitch)
        self.reps = Repetitions(cell, first_rep, first_take, delay_s)

    def deadline_s(self, waiting: bool) -> float:
        """When ``passed`` must be called. waiting: is there a note on its way to this lane?"""
        silence_s = self.matcher.deadline_s
        if silence_s is not None:
            return silence_s
        over_s = self.reps.deadline_s
        return inf if waiting or over_s is None else over_s

    def passed(self) -> list[Certain]:
        """The deadline is over."""
        if self.matcher.deadline_s is None:
            return self.reps.passed()
        return [certain for told in self.matcher.overdue() for certain in self.reps.told(told)]

    def note(self, note: Note) -> list[Certain]:
        """Take the next note in the order of strokes."""
        return [certain for told in self.matcher.note(note) for certain in self.reps.told(told)]

    def close(self, on_its_way: Callable[[float], bool]) -> list[Certain]:
        """End the repetition before, once nothing that arrived before the next one is untold.

        on_its_way: is there a note, not given to this lane yet, that arrived before a time?
        """
        closing_s = self.reps.closing_s
        if closing_s is None or self.matcher.arrived_before(closing_s) or on_its_way(closing_s):
            return []
        return self.reps.close()

    def finish(self) -> list[Certain]:
        """Nothing more will come here."""
        certain: list[Certain] = []
        while self.matcher.deadline_s is not None:
            certain += self.passed()
        return certain + self.reps.finish()


class One:
    """Judge with one cell, or with none: then notes only pass by.

    ``soon_s`` is when ``advance`` has something to do at the earliest.
    """

    def __init__(
        self, cell: Cell | None, decoder: Decoder, first_rep: int = 1, first_take: int = 1
    ) -> None:
        self.lane = Lane(cell, first_rep, first_take, decoder) if cell is not None else None
        self.soon_s = inf
        self._next = first_rep, first_take - 1
        self._decoder = decoder

    @property
    def next_rep(self) -> int:
        return self.lane.reps.next_rep if self.lane is not None else self._next[0]

    @property
    def take(self) -> int:
        return self.lane.reps.take if self.lane is not None else self._next[1]

    def advance(self, now_s: float) -> list[Certain]:
        """Everything that becomes certain up to a time."""
        certain: list[Certain] = []
        decoder, lane = self._decoder, self.lane
        while True:
            due_s = decoder.due_s
            at_s = inf if due_s is None else due_s
            passed = False
            if lane is not None and (over_s := lane.deadline_s(due_s is not None)) < at_s:
                at_s, passed = over_s, True
            if at_s > now_s or at_s == inf:
                self.soon_s = at_s
                return certain
            if passed:
                assert lane is not None
                certain += lane.passed()
            else:
                _, note = decoder.release()
                if lane is None or note is None:
                    continue
                certain += lane.note(note)
            assert lane is not None
            if lane.reps.closing_s is not None:
                certain += lane.close(decoder.arrived_before)

    def finish(self) -> list[Certain]:
        """Nothing more will come: all is decided."""
        certain = self.advance(inf)
        return certain + self.lane.finish() if self.lane is not None else certain
