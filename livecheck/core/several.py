"""Several cells in force: each stretch of notes is handed to the cell that is being played in it.

Notes are held back while it is open what they belong to: until a cell is recognised, and when
another one begins to explain them better than the one in force. Then they go, in order, to one
cell's matcher and repetitions (a *lane*), or are told as lying outside. What is held is bounded,
and so is the time it is held once play stops. Numbers of repetitions and takes go on over all
cells.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from math import inf

from .cell import Cell
from .decode import Decoder, is_double
from .events import ARTEFACT, STRAY, CellTold, Extra, ExtraTold, Note
from .lane import Lane
from .played import Certain
from .recognise import IDLE_NOTES, Recogniser

REST_S = 2.0
"""After such a silence it is asked anew what is played; notes held then are decided. As NEW_TAKE_S
in core/reps.py."""

_MOST_HELD = 96  # three repetitions of a long cell, and more


class Several:
    """Judge with several cells. ``soon_s`` is when ``advance`` has something to do at the
    earliest."""

    def __init__(
        self, cells: Sequence[Cell], decoder: Decoder, first_rep: int = 1, first_take: int = 1
    ) -> None:
        self.lane: Lane | None = None
        self.next_rep, self._first_take = first_rep, first_take
        self._decoder = decoder
        self._recogniser = Recogniser(cells)
        self._told: Cell | None = None
        self._sure = False
        self._held: deque[tuple[float, Note]] = deque()  # with the time at which each was handed on
        self._last_s = -inf  # when the last note was handed on
        self._heard: dict[int, Note] = {}  # the last note outside of each string

    @property
    def take(self) -> int:
        return self.lane.reps.take if self.lane is not None else self._first_take - 1

    # ----------------------------------------------------------------------------------------- time

    @property
    def soon_s(self) -> float:
        due_s = self._decoder.due_s
        at_s = inf if due_s is None else due_s
        if self._held:
            return min(at_s, self._last_s + REST_S)
        return at_s if self.lane is None else min(at_s, self.lane.deadline_s(due_s is not None))

    def advance(self, now_s: float) -> list[Certain | CellTold]:
        """Everything that becomes certain up to a time."""
        certain: list[Certain | CellTold] = []
        while True:
            at_s = self.soon_s
            if at_s > now_s or at_s == inf:
                return certain
            if at_s == self._decoder.due_s:
                _, note = self._decoder.release()
                if note is not None:
                    certain += self._note(at_s, note)
            elif self._held:
                certain += self._rest()
            else:
                assert self.lane is not None
                certain += self.lane.passed()
                certain += self._close()

    def finish(self) -> list[Certain | CellTold]:
        """Nothing more will come: all is decided."""
        certain = self.advance(inf)
        return certain + self._leave()

    # ---------------------------------------------------------------------------------------- notes

    def _note(self, due_s: float, note: Note) -> list[Certain | CellTold]:
        recogniser = self._recogniser
        certain: list[Certain | CellTold] = []
        if due_s - self._last_s > REST_S:
            self._sure = False
            recogniser.begin(self._told)
        self._last_s = due_s
        recogniser.hear(note)
        self._held.append((due_s, note))
        if not self._sure:
            cell = recogniser.found()
            if cell is not None:
                certain += self._change(cell)
            else:
                most = min(recogniser.open_notes, _MOST_HELD)
                if len(self._held) > most:
                    certain += self._give_up(len(self._held) - most)
            return certain
        other = recogniser.overtaking()
        if other is not None:
            return self._change(other)
        if not recogniser.doubtful:
            certain += self._hand_on()
        elif len(self._held) > _MOST_HELD:
            certain += self._hand_on(1)
        if recogniser.idle >= IDLE_NOTES and not self._held:
            certain += self._lose()
        return certain

    def _change(self, cell: Cell) -> list[Certain | CellTold]:
        """A cell is recognised: what was held is its own."""
        certain: list[Certain | CellTold] = []
        if self.lane is None or self.lane.cell is not cell:
            certain += self._leave()
            self.lane = Lane(cell, self.next_rep, self._first_take, self._decoder)
        certain += self._say(cell)
        self._sure = True
        self._recogniser.force(cell)
        return certain + self._hand_on()

    def _rest(self) -> list[Certain | CellTold]:
        """Playing has stopped: the notes held are decided."""
        if not self._sure and (self.lane is None or len(self._held) >= IDLE_NOTES):
            return self._give_up(len(self._held))
        return self._hand_on()

    def _give_up(self, count: int) -> list[Certain | CellTold]:
        """None of the cells is being played: so many notes held lie outside."""
        return [*self._leave(), *self._say(None), *self._outside(count)]

    def _lose(self) -> list[Certain | CellTold]:
        """The cell in force is not played any more."""
        self._sure = False
        self._recogniser.begin(None)
        return [*self._leave(), *self._say(None)]

    def _leave(self) -> list[Certain | CellTold]:
        """The lane ends, numbers go on."""
        lane, self.lane = self.lane, None
        if lane is None:
            return []
        certain: list[Certain | CellTold] = [*lane.finish()]
        self.next_rep, self._first_take = lane.reps.next_rep, lane.reps.take + 1
        return certain

    def _say(self, cell: Cell | None) -> list[Certain | CellTold]:
        if cell is self._told:
            return []
        self._told = cell
        return [CellTold(self._last_s, cell)]

    # -------------------------------------------------------------------------------- where they go

    def _hand_on(self, most: int = _MOST_HELD + 1) -> list[Certain | CellTold]:
        """The oldest notes held go to the lane, with the time that passed between them."""
        lane = self.lane
        assert lane is not None
        certain: list[Certain | CellTold] = []
        for _ in range(min(most, len(self._held))):
            due_s, note = self._held[0]
            while True:
                waiting = lane.reps.deadline_s is not None and lane.reps.deadline_s > note.onset_s
                if lane.deadline_s(waiting) >= due_s:
                    break
                certain += lane.passed()
                certain += self._close()
            self._held.popleft()
            certain += lane.note(note)
            certain += self._close()
        return certain

    def _close(self) -> list[Certain]:
        assert self.lane is not None
        return self.lane.close(self._on_its_way)

    def _on_its_way(self, time_s: float) -> bool:
        """Is there a note, held or not decoded yet, that arrived before a time?"""
        return self._decoder.arrived_before(time_s) or any(
            note.onset_s < time_s for _, note in self._held
        )

    def _outside(self, count: int) -> list[Certain | CellTold]:
        certain: list[Certain | CellTold] = []
        for _ in range(count):
            _, note = self._held.popleft()
            if note.by != "note":
                continue
            double = is_double(self._heard.get(note.string), note)
            self._heard[note.string] = note
            certain.append(
                ExtraTold(None, Extra(note, ARTEFACT if note.gated or double else STRAY))
            )
        return certain
