"""Where the console's records come from: a journal that is being written, or a saved session told
again at a pace.

A source says what has come since it was last asked, and how far time has certainly gone on, so that
judgment can be told that time passed without a note.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from math import inf
from typing import Protocol

from ..core.events import Record

LATEST_S = 0.5
"""How far behind the clock live time is taken to be certain: the way from the driver to the journal
takes some 20 ms; the rest is for a busy machine. Only silence is told that much later, never a
note."""
AT_ONCE = 100
"""Most records handed over at a time: the screen stays alive meanwhile, and how each repetition in
them sounded is not forgotten yet (``measures.sound.KEPT``)."""

Clock = Callable[[], float]


class Source(Protocol):
    """What ``run_console`` follows."""

    def poll(self) -> list[Record]:
        """The records that came since the last call, in order; never waits."""

    def certain_s(self) -> float | None:
        """Session time before which nothing can come any more; None where that is not known."""

    @property
    def behind_s(self) -> float:
        """How much of the session has happened and is still to be handed over; 0 where it keeps
        pace."""

    @property
    def ended(self) -> bool:
        """True when nothing more will come."""


class Journal(Protocol):
    """A follower of a journal file (``files/journal.py``)."""

    @property
    def head(self) -> Head | None: ...

    def poll(self, limit: int = ...) -> list[Record]: ...


class Head(Protocol):
    @property
    def perf_ns(self) -> int: ...


class Following:
    """A journal while it is being written by another process of the same boot."""

    def __init__(self, journal: Journal, clock: Clock = time.perf_counter) -> None:
        self._journal = journal
        self._clock = clock
        self._waiting: deque[Record] = deque()
        self._written_s = inf  # of the clock: what came before is in the file
        self.ended = False  # the session's last record tells

    def poll(self) -> list[Record]:
        if len(self._waiting) < 2 * AT_ONCE:  # some are left over as long as there are more
            self._waiting += self._journal.poll()
        return [self._waiting.popleft() for _ in range(min(AT_ONCE, len(self._waiting)))]

    def written_until(self, clock_s: float) -> None:
        """All that had come by then is in the file. Told once, later time is not certain until it
        is told again."""
        self._written_s = clock_s

    @property
    def behind_s(self) -> float:
        head = self._journal.head
        if head is None or not self._waiting:
            return 0.0
        return max(0.0, self._clock() - head.perf_ns / 1e9 - self._waiting[0].t_s)

    def certain_s(self) -> float | None:
        head = self._journal.head
        if head is None or self._waiting:
            return None
        return min(self._clock(), self._written_s) - head.perf_ns / 1e9 - LATEST_S


class Paced:
    """A saved session told again: at its own pace, at a multiple of it, or (speed None) as fast as
    it can be judged. What came before ``from_s`` (session time) is told at once."""

    behind_s = 0.0

    def __init__(
        self,
        records: Iterable[Record],
        speed: float | None = 1.0,
        clock: Clock = time.perf_counter,
        from_s: float | None = None,
    ) -> None:
        if speed is not None and not speed > 0:
            raise ValueError("speed must be above 0")
        self._records: Iterator[Record] = iter(records)
        self._next = next(self._records, None)
        self._speed = speed
        self._clock = clock
        self._began = clock()
        first_s = 0.0 if self._next is None else self._next.t_s
        self._first_s = first_s if from_s is None else max(first_s, from_s)

    @property
    def ended(self) -> bool:
        return self._next is None

    def poll(self) -> list[Record]:
        if self._next is not None and self._next.t_s < self._first_s:
            self._began = self._clock()
        due_s = self._due_s()
        given: list[Record] = []
        while self._next is not None and self._next.t_s <= due_s and len(given) < AT_ONCE:
            given.append(self._next)
            self._next = next(self._records, None)
        return given

    def certain_s(self) -> float | None:
        """Time told so far; None while records up to it are still waiting."""
        due_s = self._due_s()
        if self._next is None or self._next.t_s <= due_s:
            return None
        return due_s

    def _due_s(self) -> float:
        if self._speed is None:
            return float("inf")
        return self._first_s + (self._clock() - self._began) * self._speed
