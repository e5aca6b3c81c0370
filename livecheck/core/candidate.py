"""One of several cells as it is followed: what speaks for it, note by note.

A matcher of the cell says by its ``gain`` how much better the cell explains a note than unrelated
playing does. Two sums are kept: what was gained since a stretch of play began, and what was gained
over the cell in force. Neither falls below nought, so that a change is seen however long something
else was played before.
"""

from __future__ import annotations

from math import gcd

from .cell import Cell
from .events import Note
from .match import Matcher
from .readings import Reading

FADES = 0.25
"""Nats that a note which speaks for no cell takes from what was gained: a short likeness is
forgotten."""

Music = tuple[tuple[int, int, int], ...]
"""(string, pitch, time to the next) in turn."""

_OUTSIDE = -1  # no slot
CHANGES = 1.5
"""Nats that a change costs where a repetition has come to its end, the next note being the other
cell's first one. At nothing, neighbours of the cell in force come to look better than it at each
turn; at 5 a change is told later."""

MOST_GONE = 3
"""Slots that one note goes on at most: two were missed. Further on it is rather a new beginning. No
source."""

_EXPECTED = 1.5  # factor on the spread of the first notes after a change
_NEAR = 0.5  # steps from where a repetition is due that a note may begin one


class Sum:
    """Nats gained since there were none, and repetitions of the cell played meanwhile."""

    __slots__ = ("nats", "notes", "repetitions")

    def __init__(self) -> None:
        self.clear()

    def clear(self, nats: float = 0.0) -> None:
        self.nats, self.notes, self.repetitions = nats, 0, 0.0

    def add(self, nats: float, repetitions: float) -> None:
        self.nats += nats
        if self.nats > 0.0:
            self.notes += 1
            self.repetitions += repetitions
        else:
            self.clear()


class Candidate(Matcher):
    """A cell that may be the one being played."""

    def __init__(self, cell: Cell) -> None:
        # or it would get used to another rhythm than its own
        super().__init__(cell, most_habit=0.0)
        self.cell = cell
        self.music = music(cell)
        self.gained = Sum()  # since a stretch of play began
        self.ahead = Sum()  # over the cell in force
        self.best = 0.0  # the highest ``gained`` since then
        self.idle = 0  # notes since it was reached
        self.played = 0.0  # repetitions by the last note
        self._first = (cell.slots[0].string, cell.slots[0].pitch)

    def begin(self, nats: float) -> None:
        """A stretch of play begins, and so much speaks for the cell."""
        self.gained.clear(nats)
        self.ahead.clear()
        self.best, self.idle = nats, 0

    def hear(self, note: Note) -> None:
        before = self._readings[0]
        if not self._pass_by(note):
            self.note(note)
        gain = self.gain
        self.played = self._gone_on(before)
        self.gained.add(gain if gain > 0.0 else gain - FADES, self.played)
        if self.gained.nats > self.best:
            self.best, self.idle = self.gained.nats, 0
        else:
            self.idle += 1

    def compare(self, force: Candidate) -> None:
        """What it gained over the cell in force by the last note."""
        fades = FADES if self.gain <= 0.0 and force.gain <= 0.0 else 0.0
        self.ahead.add(self.gain - force.gain - fades, self.played)

    def _gone_on(self, before: Reading) -> float:
        """Share of a repetition that lies between two slots. A note that answers none, such as one
        that sounded twice, goes no further; who begins anew has played one slot more."""
        best = self._readings[0]
        if best.slot < 0 or best.struck_s <= before.struck_s:
            return 0.0
        slots = 1
        if before.slot >= 0:
            slots = (best.slot - before.slot) % self._slots or self._slots
        return (slots if slots <= MOST_GONE else 1) / self._slots

    # ----------------------------------------------------------------------- among other candidates

    def same_hands(self, other: Candidate) -> None:
        """Take over how steady the player is, or the one that has learned it looks better than it
        is."""
        self._spread.factor = other._spread.factor

    @property
    def turn(self) -> tuple[float, float] | None:
        """When the next repetition is due by the best reading, and how long a beat is; None where
        that is open."""
        reading = self._readings[0]
        if reading.slot < 0 or reading.step_s == 0.0:
            return None
        slots = self.cell.slots
        steps = self.cell.steps - slots[reading.slot].start + slots[0].start
        return reading.phase_s + steps * reading.step_s, reading.step_s * self.cell.grid

    def expect(self, note: Note, due_s: float, beat_s: float) -> None:
        """A repetition of the cell in force was due then: this one may begin there instead."""
        step_s = beat_s / self.cell.grid
        if (note.string, note.pitch) != self._first or abs(note.struck_s - due_s) > _NEAR * step_s:
            return
        last = self._slots - 1
        before_s = due_s - self._window.steps_to_next(last) * step_s
        path = ((_OUTSIDE, None, None),) * len(self._pending)
        self._readings.append(Reading(CHANGES, last, before_s, before_s, step_s, _EXPECTED, path))

    def _pass_by(self, note: Note) -> bool:
        """Spare the search where it can only find what is so already: no play, and a note that
        cannot begin it."""
        if (
            self._pending
            or self._readings[0].slot >= 0
            or (note.by == "note" and self._window.entries(note))
        ):
            return False
        if note.by == "note":
            self._recent[note.string] = note
            self._last_s = note.struck_s
        self.gain = 0.0
        return True


def music(cell: Cell) -> Music:
    """What is heard of a looped cell, wherever it is begun: (string, pitch, time to the next) in
    turn, no unit named.

    Cells that give the same can be told apart only by where they begin, by their tempo, or by how
    often a figure that they repeat makes one repetition.

    >>> from livecheck.core.cell import make_cell
    >>> one = make_cell("one", [(2, 10), (3, 12)])
    >>> music(one) == music(make_cell("other", [(3, 12, None, 2), (2, 10, None, 2)]))
    True
    """
    count = len(cell.slots)
    gaps = [
        (cell.slots[(at + 1) % count].start - slot.start) % cell.steps or cell.steps
        for at, slot in enumerate(cell.slots)
    ]
    unit = gcd(*gaps)
    turn = [(slot.string, slot.pitch, gap // unit) for slot, gap in zip(cell.slots, gaps)]
    again = next(by for by in range(1, count + 1) if turn[by:] + turn[:by] == turn)
    return min(tuple(turn[by:again] + turn[:by]) for by in range(again))
