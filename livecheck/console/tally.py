"""What a session's repetitions of a cell came to."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from ..core.cell import Cell
from ..core.events import MISSED, WRONG, Repetition
from .words import slots_with, sounded


@dataclass(slots=True)
class Tally:
    """Totals of one cell played in one way."""

    cell: Cell
    reps: int = 0
    clean: int = 0
    broken: int = 0
    missed: Counter[int] = field(default_factory=Counter)  # by slot
    wrong: Counter[int] = field(default_factory=Counter)  # by slot
    # repetitions in which a string sounded, by string
    noisy: Counter[int] = field(default_factory=Counter)
    slowest_bpm: float | None = None
    fastest_bpm: float | None = None

    def add(self, rep: Repetition) -> None:
        self.reps += 1
        self.clean += rep.clean
        self.broken += not rep.complete
        self.missed.update(slots_with(rep, MISSED))
        self.wrong.update(slots_with(rep, WRONG))
        self.noisy.update(sounded(rep).keys())
        if rep.tempo_bpm is not None:
            self.slowest_bpm = (
                rep.tempo_bpm if self.slowest_bpm is None else min(self.slowest_bpm, rep.tempo_bpm)
            )
            self.fastest_bpm = (
                rep.tempo_bpm if self.fastest_bpm is None else max(self.fastest_bpm, rep.tempo_bpm)
            )
