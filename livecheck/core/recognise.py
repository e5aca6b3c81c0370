"""Which of several cells is being played? Evidence for each of them, note by note.

Every cell is followed by a matcher of its own, whose ``gain`` says how much better the cell explains a note than
unrelated playing does. Two sums are kept of each cell: what it has gained since a stretch of play began (``found``),
and what it has gained over the cell in force since it was last behind (``rival``). Neither falls below nought, so that
a change is seen however long something else was played before. What is done with that is ``core/several.py``'s.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from .cell import Cell
from .events import Note
from .match import Matcher

FOUND = 11.0
"""Nats of gain that make a cell believed: six or seven notes in order and in time. Unrelated notes rarely gain 10."""

AHEAD, AHEAD_SOON = 4.0, 9.0
"""Nats by which it must lead all others: once the whole of both has been played, and before that. A slot in which two
cells differ is worth 5 to 10, once a repetition."""

CHANGED, CHANGED_SOON = 8.0, 16.0
"""Nats that another cell must gain over the one in force: once its whole length has been played, and before that. Of
cells that differ in rhythm now the one leads, now the other, within each repetition."""

DOUBT = 4.0
"""From so much on it is open which of two cells a note belongs to."""

FAMILIAR = 5.0
"""The cell played before a pause is more likely than another after it: odds of 150 to 1."""

IDLE_NOTES = 12
"""So many notes without gain: the cell is not played any more."""

FADES = 0.5
"""Nats that a note which speaks for no cell takes from what was gained: a short likeness is forgotten."""

BEFORE = 8
"""Notes that a cell may have had before it began to gain: it takes two or three in order to begin."""

_REMEMBERED = 256  # notes


class Candidate:
    """One cell and what speaks for it."""

    __slots__ = ("ahead", "ahead_notes", "best", "cell", "gained", "idle", "matcher", "music", "notes", "totals")

    def __init__(self, cell: Cell) -> None:
        self.cell = cell
        self.matcher = Matcher(cell, most_habit=0.0)  # or it would get used to another rhythm than its own
        self.music = music(cell)
        self.gained = 0.0  # nats since it began to be played, at least 0
        self.ahead = 0.0  # nats over the cell in force since it was last behind it, at least 0
        self.ahead_notes = 0  # notes since then
        self.best = 0.0  # the highest ``gained`` since then
        self.idle = 0  # notes since it was reached
        self.notes = 0  # notes since there was none gained
        self.totals = deque([0.0], maxlen=_REMEMBERED + 1)  # all that it ever gained, after each of the last notes

    def hear(self, note: Note) -> None:
        matcher = self.matcher
        if not matcher.pass_by(note):
            matcher.note(note)
        gain = matcher.gain
        self.totals.append(self.totals[-1] + gain)
        self.gained = max(0.0, self.gained + (gain if gain > 0.0 else gain - FADES))
        self.notes = self.notes + 1 if self.gained > 0.0 else 0
        if self.gained > self.best:
            self.best, self.idle = self.gained, 0
        else:
            self.idle += 1

    def lately(self, notes: int) -> float:
        """What it gained by the last so many notes."""
        return self.totals[-1] - self.totals[max(-len(self.totals), -1 - notes)]

    def compare(self, gain: float) -> None:
        """What it gains over the cell in force, which gained so much by the last note."""
        own = self.matcher.gain
        fades = FADES if own <= 0.0 and gain <= 0.0 else 0.0
        self.ahead = max(0.0, self.ahead + own - gain - fades)
        self.ahead_notes = self.ahead_notes + 1 if self.ahead > 0.0 else 0


class Recogniser:
    """Evidence for each of several cells. ``force`` names the one in force: the others' lead over it is then kept."""

    def __init__(self, cells: Sequence[Cell]) -> None:
        self._candidates = [Candidate(cell) for cell in cells]
        self._force: Candidate | None = None

    def hear(self, note: Note) -> None:
        """Take the next note, in the order struck."""
        if note.gated:
            return
        leader = self._force or max(self._candidates, key=_gained)
        for one in self._candidates:
            one.matcher.same_hands(leader.matcher)  # else the one that has learned them looks better than it is
            one.hear(note)
        force = self._force
        if force is not None:
            for one in self._candidates:
                if one.music != force.music:
                    one.compare(force.matcher.gain)

    def begin(self, familiar: Cell | None) -> None:
        """A stretch of play begins: nothing is known but what was played before."""
        self._force = None
        for one in self._candidates:
            if familiar is None:
                one.gained = min(0.5 * one.gained, FAMILIAR)
            else:
                one.gained = FAMILIAR if one.cell is familiar else 0.0
            one.best = one.gained
            one.ahead = 0.0
            one.ahead_notes = one.idle = one.notes = 0

    def force(self, cell: Cell) -> None:
        """The cell is in force from here on."""
        for one in self._candidates:
            one.ahead = 0.0
            one.ahead_notes = one.idle = 0
            if one.cell is cell:
                self._force = one
                one.best = one.gained

    def found(self, least: float = FOUND) -> Cell | None:
        """The cell that has gained enough, and so much more than all others. Of cells that nobody could tell apart the
        first one counts, or the one entered where it begins."""
        best = max(self._candidates, key=_gained)
        if best.gained < least:
            return None
        return best.cell if self._leads(best, best.notes) else None

    def overtaking(self) -> Cell | None:
        """The cell that has gained enough over the one in force, and so much more than all others."""
        best = max(self._candidates, key=_ahead)
        force = self._force
        if force is None or best.ahead < CHANGED:
            return None
        if best.ahead < CHANGED_SOON and best.ahead_notes < max(len(best.cell.slots), len(force.cell.slots)):
            return None
        return best.cell if self._leads(best, best.ahead_notes) else None

    def _leads(self, best: Candidate, notes: int) -> bool:
        """Did a cell gain enough more than each other one by the last so many notes?"""
        gained = best.lately(notes)
        for one in self._candidates:
            if one.music == best.music:
                continue
            whole = notes > max(len(one.cell.slots), len(best.cell.slots))
            if gained - one.lately(notes) < (AHEAD if whole else AHEAD_SOON):
                return False
        return True

    @property
    def doubtful(self) -> bool:
        """Does another cell explain the last notes better than the one in force?"""
        return any(one.ahead >= DOUBT for one in self._candidates)

    @property
    def open_notes(self) -> int:
        """How many of the last notes may be a cell's that is not believed yet."""
        return BEFORE + max(one.notes for one in self._candidates)

    @property
    def idle(self) -> int:
        """Notes since the cell in force last gained."""
        return self._force.idle if self._force is not None else 0


def _gained(one: Candidate) -> float:
    return one.gained


def _ahead(one: Candidate) -> float:
    return one.ahead


def music(cell: Cell) -> tuple[tuple[int, int, int], ...]:
    """What is heard of a looped cell, wherever it is begun: (string, pitch, grid steps to the next) in turn.

    Cells that give the same can be told apart only by where they begin. The grid is taken as it is written.
    """
    count = len(cell.slots)
    turn = [
        (slot.string, slot.pitch, (cell.slots[(at + 1) % count].start - slot.start) % cell.steps or cell.steps)
        for at, slot in enumerate(cell.slots)
    ]
    return min(tuple(turn[by:] + turn[:by]) for by in range(count))
