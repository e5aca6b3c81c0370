"""Which way each repetition was played in, for the screen and the plain lines: names where a cell's
ways have been named, marks where they are sure."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ..core.cell import Cell
from ..core.events import Repetition

if TYPE_CHECKING:  # what weighs them is heavy, and mostly not needed
    from ..files.waynames import Learned
    from ..measures.ways.marks import Marks

KEPT = 200
Mark = tuple[str, str]
"""A way's letter and its name."""


class WayMarks:
    """Hears repetitions in order. learned_of: what is known of a cell's ways."""

    def __init__(self, learned_of: Callable[[Cell], Learned | None] | None = None) -> None:
        self._learned_of = learned_of
        self._cell: Cell | None = None
        self._learned: Learned | None = None
        self._marks: Marks | None = None
        self._told: dict[int, Mark] = {}

    @property
    def widest(self) -> int:
        """Columns of the longest name; 0 where there is none."""
        names = self._learned.names if self._learned is not None else ()
        return max(map(len, names), default=0)

    def begin_anew(self) -> None:
        """Another rig: its levels are not those of the one before."""
        self._cell = None

    def hear(self, rep: Repetition) -> None:
        """A repetition that is over."""
        if self._learned_of is None:
            return
        now = self._cell
        if now is None or (now.name, now.variant) != (rep.cell.name, rep.cell.variant):
            self._learned, self._marks = self._learned_of(rep.cell), None
            if self._learned is not None:
                from ..measures.ways.marks import Marks

                self._marks = Marks(self._learned.known)
        self._cell = rep.cell
        if self._marks is None or self._learned is None:
            return
        told = self._marks.hear(rep)
        if told is not None and told.sure:
            self._told[rep.rep] = "ABC"[told.way], self._learned.names[told.way]
            if len(self._told) > KEPT:
                del self._told[next(iter(self._told))]

    def of(self, rep: int) -> Mark | None:
        """The way of a repetition by its number; None where it is not sure."""
        return self._told.get(rep)
