"""Judge a stream of records: the only path, for live play, saved sessions and files alike.

``Session`` is a pure fold: it is fed records in order, each with its time, and hands back the
outcomes that became certain. It knows no clock, port, file or terminal.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from .core.cell import Cell
from .core.decode import Decoder
from .core.events import (
    CellTold,
    ExtraTold,
    Link,
    Midi,
    Outcome,
    Record,
    RepDone,
    SlotTold,
    UseCells,
    UseRig,
)
from .core.match import Matcher, Told
from .core.reps import Certain, Closed, Repetitions
from .core.rig import Rig
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
        self.counts = dict.fromkeys(COUNTED, 0)
        self._foreign = self._damaged = 0
        self._decoder = Decoder(self.rig, ())
        self._matcher: Matcher | None = None
        self._reps: Repetitions | None = None
        self.cells: tuple[Cell, ...] = ()  # in force, where there are several
        self._several: Several | None = None
        self._next_rep = self._next_take = 1
        self._step_s: float | None = None  # a grid step in the last repetition that has a tempo
        self._soon_s = inf  # nothing becomes certain before
        if cell is not None:
            self._use(cell)

    # ------------------------------------------------------------------------------------- the fold

    def feed(self, record: Record) -> list[Outcome]:
        """Take one record; its time may not lie before the last one's. Returns what became certain,
        oldest first."""
        t_s = record.t_s
        outcomes = self._advance(t_s) if t_s >= self._soon_s else []
        if type(record) is Midi:
            decoder = self._decoder
            decoder.feed(t_s, record.data)
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
        elif isinstance(record, Link) and not record.up:
            self._decoder.silence(t_s)
        return outcomes

    def tick(self, now_s: float) -> list[Outcome]:
        """Time passed without a record. Extra ticks never change an outcome, only when it is
        told."""
        return self._advance(now_s) if now_s >= self._soon_s else []

    def finish(self) -> list[Outcome]:
        """Nothing more will come: everything pending is decided."""
        outcomes = self._advance(inf)
        several, reps = self._several, self._reps
        if several is not None:
            outcomes += self._outcomes(several.finish())
            self._next_rep, self._next_take = several.next_rep, several.take + 1
            self._use_several()
        if reps is not None:
            outcomes += self._outcomes(reps.finish())
            self._next_rep, self._next_take = reps.next_rep, reps.take + 1
            self._use(self.cell)
        return outcomes

    def feed_all(self, records: Sequence[Record]) -> list[Outcome]:
        """A whole take at once, to its end."""
        outcomes: list[Outcome] = []
        for record in records:
            outcomes += self.feed(record)
        return outcomes + self.finish()

    def _use(self, cell: Cell | None) -> None:
        """Begin anew with a cell (or none), numbers going on."""
        self.cell = cell
        if self.cells:
            self._use_several()
            return
        self._foreign, self._damaged = self.foreign, self.damaged
        self._soon_s = inf
        self._several = None
        if cell is None:
            self._decoder = Decoder(self.rig, ())
            self._matcher = self._reps = None
            return
        lowest = [(string, pitch + cell.capo) for string, pitch in enumerate(cell.tuning, 1)]
        self._decoder = Decoder(
            self.rig, lowest, [(slot.string, slot.pitch) for slot in cell.slots]
        )
        self._matcher = Matcher(cell)
        self._reps = Repetitions(cell, self._next_rep, self._next_take)
        self._step_s = None

    def _use_several(self) -> None:
        """Begin anew with several cells, numbers going on. ``cell`` stays until another one is
        recognised."""
        self._foreign, self._damaged = self.foreign, self.damaged
        cells = self.cells
        lowest = {
            (string, pitch + cell.capo)
            for cell in cells
            for string, pitch in enumerate(cell.tuning, 1)
        }
        plan = {(slot.string, slot.pitch) for cell in cells for slot in cell.slots}
        self._decoder = Decoder(self.rig, lowest, plan)
        self._matcher = self._reps = None
        self._several = Several(cells, self._decoder, self._next_rep, self._next_take)
        self._step_s = None
        self._soon_s = inf

    def _advance(self, now_s: float) -> list[Outcome]:
        """Everything that becomes certain up to ``now_s``, in the order in which it does."""
        if self._several is not None:
            certain = self._several.advance(now_s)
            self._soon_s = self._several.soon_s
            return self._outcomes(certain) if certain else []
        outcomes: list[Outcome] = []
        decoder, matcher, reps = self._decoder, self._matcher, self._reps
        while True:
            due_s = decoder.due_s
            if matcher is None or reps is None:
                if due_s is None or due_s > now_s:
                    self._soon_s = inf if due_s is None else due_s
                    return outcomes
                decoder.release()
                continue
            at_s = inf if due_s is None else due_s
            silence_s = matcher.deadline_s
            if silence_s is not None and silence_s < at_s:
                at_s = silence_s
            if due_s is None and silence_s is None and reps.deadline_s is not None:
                at_s = reps.deadline_s
            if at_s > now_s or at_s == inf:
                self._soon_s = at_s
                return outcomes
            if at_s == due_s:
                _, note = decoder.release()
                if note is None:
                    continue
                told = matcher.note(note)
            elif at_s == silence_s:
                told = matcher.overdue()
            else:
                outcomes += self._outcomes(reps.passed())
                continue
            if told:
                outcomes += self._told(told, reps)
            if reps.closing_s is not None and not self._arrived_before(reps.closing_s):
                outcomes += self._outcomes(reps.close())

    def _told(self, told: Sequence[Told], reps: Repetitions) -> list[Outcome]:
        outcomes: list[Outcome] = []
        for one in told:
            certain = reps.told(one)
            if certain:
                outcomes += self._outcomes(certain)
        return outcomes

    def _arrived_before(self, time_s: float) -> bool:
        """Is there a note, not told yet, that arrived before?"""
        assert self._matcher is not None
        return self._matcher.arrived_before(time_s) or self._decoder.arrived_before(time_s)

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
                self.cell, self._step_s = one.cell, None
                outcomes.append(one)
            else:
                outcomes.append(self._done(one))
        return outcomes

    def _done(self, closed: Closed) -> RepDone:
        assert self.cell is not None
        repetition = figures(closed.played, self.cell, self.rig, self._step_s)
        if repetition.tempo_bpm is not None:
            self._step_s = 60.0 / (repetition.tempo_bpm * self.cell.grid)
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
        if self._several is not None:
            return self._several.take
        return self._reps.take if self._reps is not None else self._next_take - 1

    def current(self) -> tuple[int, tuple[str | None, ...]] | None:
        """The repetition under way: its number and a verdict for each slot, None where it is
        pending; None: no play."""
        reps = self._reps
        if self._several is not None:
            reps = self._several.lane.reps if self._several.lane is not None else None
        playing = reps.under_way if reps is not None else None
        if playing is None or self.cell is None:
            return None
        verdicts: list[str | None] = [None] * len(self.cell.slots)
        for index in range(playing.answers[-1].slot):
            verdicts[index] = "missed"
        for answer in playing.answers:
            verdicts[answer.slot] = answer.verdict
        return playing.rep, tuple(verdicts)
