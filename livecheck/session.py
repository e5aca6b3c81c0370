"""Judge a stream of records: the only path, for live play, saved sessions and files alike.

``Session`` is a pure fold: it is fed records in order, each with its time, and hands back the outcomes that became
certain. It knows no clock, port, file or terminal.
"""

from __future__ import annotations

from .core.cell import Cell
from .core.events import Outcome, Record
from .core.rig import Rig


class Session:
    """A sitting as it is judged.

    Public state for views: ``cell``, ``rig``, ``take`` (number of the take under way), ``counts`` (hit, missed, wrong,
    noise, stray, artefact, outside, reps, complete, clean so far), ``foreign`` (messages on channels that are no
    string), ``damaged`` (messages that could not be decoded), and ``current()``.
    """

    def __init__(self, cell: Cell | None = None, rig: Rig | None = None) -> None:
        raise NotImplementedError

    def feed(self, record: Record) -> list[Outcome]:
        """Take one record; its time may not lie before the last one's. Returns what became certain, oldest first."""
        raise NotImplementedError

    def tick(self, now_s: float) -> list[Outcome]:
        """Time passed without a record. Extra ticks never change an outcome, only when it is told."""
        raise NotImplementedError

    def finish(self) -> list[Outcome]:
        """Nothing more will come: everything pending is decided."""
        raise NotImplementedError

    def current(self) -> tuple[int, tuple[str | None, ...]] | None:
        """The repetition under way: its number and a verdict for each slot, None where it is pending; None: no play."""
        raise NotImplementedError
