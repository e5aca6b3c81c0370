"""Judge a stream of records: the only path, for live play, saved sessions and files alike.

``Session`` is a pure fold: it is fed records in order, each with its time, and hands back the
outcomes that became certain. It knows no clock, port, file or terminal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import inf

from .core.cell import Cell
from .core.decode import Decoder
from .core.events import (
    CellTold,
    ExtraTold,
    Link,
    Mark,
    Midi,
    Outcome,
    Record,
    RepDone,
    SlotTold,
    UseCells,
    UseGestures,
    UseRig,
)
from .core.gestures import Gesture, Gestures, Sieve
from .core.lane import One
from .core.played import Certain, Closed, Played
from .core.rig import Rig
from .core.said import Said
from .core.several import Several
from .measures.timing import figures

COUNTED = (
    "reps",
    "complete",
    "clean",
    "hit",
    "missed",
    "wrong",
    "noise",
    "stray",
    "artefact",
    "outside",
)


class Session:
    """A sitting as it is judged.

    Where several cells are in force they are ``cells``, and ``cell`` is the one that is being
    played, None while that is none of them.

    Public state for views: ``cell``, ``rig``, ``take`` (number of the take under way), ``counts``
    (see ``COUNTED``), ``foreign`` (messages on channels that are no string), ``damaged`` (messages
    that could not be read), ``current()``.
    """

    def __init__(self, cell: Cell | None = None, rig: Rig | None = None) -> None:
        self.rig = rig if rig is not None else Rig()
        self.cell: Cell | None = None
        self.cells: tuple[Cell, ...] = ()  # in force, where there are several
        self.counts = dict.fromkeys(COUNTED, 0)
        self._foreign = self._damaged = 0
        self._decoder = Decoder(self.rig, ())
        self._judge: One | Several = One(None, self._decoder)
        self._soon_s = inf  # nothing becomes certain before
        self._said = Said()  # first strokes by the player's word
        self._known: tuple[Gesture, ...] = ()  # gestures, which are not judged
        self._sieve: Sieve | None = None
        if cell is not None:
            self._use(cell)

    # ------------------------------------------------------------------------------------- the fold

    def feed(self, record: Record) -> list[Outcome]:
        """Take one record; its time may not lie before the last one's. Returns what became certain,
        oldest first."""
        if self._sieve is None:
            return self._feed(record)
        if type(record) is Midi:
            return [one for let in self._sieve.message(record) for one in self._feed(let)]
        outcomes = [one for let in self._sieve.tick(record.t_s) for one in self._feed(let)]
        if self._sieve.held_s is None:
            return outcomes + self._feed(record)
        if isinstance(record, Mark):
            self._said.mark(record)
            return outcomes
        if isinstance(record, (UseCells, UseRig, UseGestures, Link)):
            outcomes += self._let()
            outcomes += self._feed(record)
        return outcomes

    def tick(self, now_s: float) -> list[Outcome]:
        """Time passed without a record. Extra ticks never change an outcome, only when it is
        told."""
        outcomes: list[Outcome] = []
        if self._sieve is not None:
            outcomes = [one for let in self._sieve.tick(now_s) for one in self._feed(let)]
            if self._sieve.held_s is not None:  # nothing after it is certain
                return outcomes
        return outcomes + (self._advance(now_s) if now_s >= self._soon_s else [])

    def _let(self) -> list[Outcome]:
        """What is held back is judged after all."""
        held = self._sieve.release() if self._sieve is not None else []
        return [one for let in held for one in self._feed(let)]

    def _feed(self, record: Record) -> list[Outcome]:
        t_s = record.t_s
        outcomes = self._advance(t_s) if t_s >= self._soon_s else []
        if type(record) is Midi:
            decoder = self._decoder
            decoder.feed(t_s, record.data)
            self._said.message(t_s, record.data)
            due_s = decoder.due_s
            if due_s is not None and due_s < self._soon_s:
                self._soon_s = due_s
        elif isinstance(record, UseCells):
            outcomes += self.finish()
            self.cells = record.cells if len(record.cells) > 1 else ()
            self._use(record.cells[0] if len(record.cells) == 1 else None)
        elif isinstance(record, UseRig):
            outcomes += self.finish()
            self.rig = record.rig
            self._use(None if self.cells else self.cell)
        elif isinstance(record, UseGestures):
            self._known = tuple(Gesture(*one) for one in record.gestures)
            self._watch_for_gestures()
        elif isinstance(record, Link) and not record.up:
            self._decoder.silence(t_s)
        elif isinstance(record, Mark):
            self._said.mark(record)
        return outcomes

    def _watch_for_gestures(self) -> None:
        cell = self.cell or (self.cells[0] if self.cells else None)
        self._sieve = Sieve(Gestures(cell, self.rig, self._known)) if self._known else None

    def finish(self) -> list[Outcome]:
        """Nothing more will come: everything pending is decided."""
        outcomes = self._let() + self._outcomes(self._judge.finish())
        self._use(self.cell)
        return outcomes

    def feed_all(self, records: Iterable[Record]) -> list[Outcome]:
        """A whole take at once, to its end."""
        outcomes: list[Outcome] = []
        for record in records:
            outcomes += self.feed(record)
        return outcomes + self.finish()

    def _use(self, cell: Cell | None) -> None:
        """Begin anew with a cell, the several that are in force, or none, numbers going on.

        Of several ``cell`` stays until another one is recognised.
        """
        self.cell, self._soon_s = cell, inf
        self._foreign, self._damaged = self.foreign, self.damaged
        cells = self.cells or (() if cell is None else (cell,))
        lowest = {
            (string, pitch + one.capo)
            for one in cells
            for string, pitch in enumerate(one.tuning, 1)
        }
        plan = {(slot.string, slot.pitch) for one in cells for slot in one.slots}
        self._decoder = Decoder(self.rig, lowest, plan)
        self._said.use(self.rig, plan)
        self._watch_for_gestures()
        next_rep, next_take = self._judge.next_rep, self._judge.take + 1
        if self.cells:
            self._judge = Several(self.cells, self._decoder, next_rep, next_take)
        else:
            self._judge = One(cell, self._decoder, next_rep, next_take)

    def _advance(self, now_s: float) -> list[Outcome]:
        """Everything that becomes certain up to ``now_s``, in the order in which it does."""
        judge = self._judge
        certain = judge.advance(now_s)
        self._soon_s = judge.soon_s
        return self._outcomes(certain) if certain else []

    # -------------------------------------------------------------------------------- what it means

    def _outcomes(self, certain: Sequence[Certain | CellTold]) -> list[Outcome]:
        counts = self.counts
        outcomes: list[Outcome] = []
        for one in certain:
            if isinstance(one, SlotTold):
                counts[one.verdict] += 1
                outcomes.append(one)
            elif isinstance(one, ExtraTold):
                counts["outside" if one.rep is None else one.extra.kind] += 1
                outcomes.append(one)
            elif isinstance(one, CellTold):
                self.cell = one.cell
                outcomes.append(one)
            else:
                outcomes.append(self._done(one))
        return outcomes

    def _done(self, closed: Closed) -> RepDone:
        assert self.cell is not None
        repetition = figures(closed.played, self.cell, self.rig)
        if repetition.since_start == 1:
            said = self._said.word(repetition.start_s)
            repetition = repetition if said is None else replace(repetition, begins=said)
        self.counts["reps"] += 1
        self.counts["complete"] += repetition.complete
        self.counts["clean"] += repetition.clean
        return RepDone(repetition)

    # --------------------------------------------------------------------------------- for the view

    @property
    def foreign(self) -> int:
        return self._foreign + self._decoder.foreign

    @property
    def damaged(self) -> int:
        return self._damaged + self._decoder.damaged

    @property
    def take(self) -> int:
        return self._judge.take

    def current(self) -> tuple[int, tuple[str | None, ...]] | None:
        """The repetition under way: its number and a verdict for each slot, None where it is
        pending; None: no play."""
        playing = self._under_way()
        if playing is None or self.cell is None:
            return None
        verdicts: list[str | None] = [None] * len(self.cell.slots)
        for index in range(playing.answers[-1].slot):
            verdicts[index] = "missed"
        for answer in playing.answers:
            verdicts[answer.slot] = answer.verdict
        return playing.rep, tuple(verdicts)

    @property
    def since_start(self) -> int:
        """Of the repetition under way, the how-manieth since play began; 1 where there is none."""
        playing = self._under_way()
        return 1 if playing is None else playing.since_start

    def _under_way(self) -> Played | None:
        lane = self._judge.lane
        reps = lane.reps if lane is not None else None
        return reps.under_way if reps is not None else None
