"""Which of several cells is being played? The decision, from what speaks for each of them
(``core/candidate.py``).

A cell must have gained enough, and lead every other one by enough. How much is enough falls with
what has been played: a slot in which two cells differ is worth 5 to 10 nats, once a repetition, and
a fault in it says the opposite; after two and a half repetitions waiting longer is worse than being
wrong at times. What is done with it is ``core/several.py``'s.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from .candidate import Candidate, Music, Sum
from .cell import Cell
from .events import Note

Table = tuple[tuple[float, float], ...]

FOUND = 11.0
"""Nats of gain that make a cell believed: six or seven notes in order and in time. Unrelated notes
rarely gain 10."""

LEAD = ((1.0, 9.0), (1.7, 6.0), (2.2, 3.0), (inf, 1.0))
"""Until so many repetitions have been played of two cells, the one must lead the other by so many
nats."""

CHANGED = ((1.0, 14.0), (1.7, 9.0), (inf, 7.0))
"""Until so many repetitions of another cell, it must have gained so many nats over the one in
force."""

_CHANGED_AT_LAST = CHANGED[-1][1]

LEAD_CHANGED = ((1.0, 11.0), (1.6, 7.0), (2.0, 3.0), (inf, 1.0))
"""The same after a change, where it is not known when it was."""

DOUBT = 4.0
"""From so much on it is open which of two cells a note belongs to."""

FAMILIAR = 5.0
"""The cell played before a pause is more likely than another after it: odds of 150 to 1. Less than
a beginning at the first slot is worth, or rotations of one cell could not follow each other."""

IDLE_NOTES = 12
"""So many notes without gain: the cell is not played any more."""

BEFORE = 8
"""Notes that a cell may have had before it began to gain: it takes two or three in order to
begin."""


class Recogniser:
    """Which cell is played? ``force`` names the one in force: the others' lead over it is then
    kept."""

    def __init__(self, cells: Sequence[Cell]) -> None:
        self._candidates = [Candidate(cell) for cell in cells]
        self._force: Candidate | None = None
        # of cells that give the same music, the one last in force
        self._latest: dict[Music, Cell] = {}

    def hear(self, note: Note) -> None:
        """Take the next note, in the order struck."""
        if note.gated:
            return
        force = self._force
        leader = force or max(self._candidates, key=_gained)
        turn = force.turn if force is not None else None
        for one in self._candidates:
            one.same_hands(leader)
            if turn is not None and one is not force:
                one.expect(note, *turn)
            one.hear(note)
        if force is not None:
            for one in self._candidates:
                if one.music != force.music:
                    one.compare(force)

    def begin(self, familiar: Cell | None) -> None:
        """A stretch of play begins: what was played before is the likeliest, as far as it was
        known.

        familiar: the cell told last, None where none was.
        """
        known = [self._known(one, familiar) for one in self._candidates]
        most = max(known)
        least = FAMILIAR if familiar is not None else min(0.5 * most, FAMILIAR)
        self._force = None
        for one, nats in zip(self._candidates, known):
            one.begin(max(0.0, least - (most - nats)))

    def _known(self, one: Candidate, familiar: Cell | None) -> float:
        """What speaks for a cell at the end of a stretch, beside the others."""
        if self._force is None:
            return max(one.gained.nats, FAMILIAR if one.cell is familiar else 0.0)
        return 0.0 if one is self._force else one.ahead.nats - _CHANGED_AT_LAST

    def force(self, cell: Cell) -> None:
        """The cell is in force from here on."""
        for one in self._candidates:
            one.ahead.clear()
            one.idle = 0
            if one.cell is cell:
                self._force = one
                one.best = one.gained.nats
                self._latest[one.music] = cell

    def found(self, least: float = FOUND) -> Cell | None:
        """The cell that has gained enough, and so much more than all others. Of cells that nobody
        could tell apart the first one counts, or the one entered where it begins."""
        best = max(self._candidates, key=_gained)
        if best.gained.nats < least:
            return None
        leads = (_leads(best, best.gained, one, one.gained, LEAD) for one in self._candidates)
        return best.cell if all(leads) else None

    def overtaking(self) -> Cell | None:
        """The cell that has gained enough over the one in force, and so much more than all others.
        Of cells that nobody could tell apart it is the one that was in force before."""
        best = max(self._candidates, key=_ahead)
        force = self._force
        if force is None or best.ahead.nats < enough(CHANGED, best.ahead.repetitions):
            return None
        leads = (_leads(best, best.ahead, one, one.ahead, LEAD_CHANGED) for one in self._candidates)
        return self._latest.get(best.music, best.cell) if all(leads) else None

    @property
    def doubtful(self) -> bool:
        """Does another cell explain the last notes better than the one in force?"""
        return any(one.ahead.nats >= DOUBT for one in self._candidates)

    @property
    def open_notes(self) -> int:
        """How many of the last notes may be a cell's that is not believed yet."""
        return BEFORE + max(one.gained.notes for one in self._candidates)

    @property
    def idle(self) -> int:
        """Notes since the cell in force last gained."""
        return self._force.idle if self._force is not None else 0


def enough(table: Table, repetitions: float) -> float:
    """Nats that are enough once so much has been played."""
    return next(nats for until, nats in table if repetitions < until)


def _leads(best: Candidate, most: Sum, other: Candidate, less: Sum, table: Table) -> bool:
    """Does the best cell lead an other one by enough for what both have been followed? One that
    does not fit at all has not been followed."""
    if other.music == best.music:
        return True
    played = most.repetitions
    if less.nats >= DOUBT:
        played = min(played, less.repetitions * len(other.cell.slots) / len(best.cell.slots))
    return most.nats - less.nats >= enough(table, played)


def _gained(one: Candidate) -> float:
    return one.gained.nats


def _ahead(one: Candidate) -> float:
    return one.ahead.nats
