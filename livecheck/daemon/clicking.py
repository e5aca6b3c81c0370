"""The click's part of the service: start and end the process that clicks, and hand on what it
tells.

That process is run as the one that listens is (``source.py``): ended when it hangs, started again
when it is gone, with the same beats, since they are counted from one moment of a clock that all
processes share.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from queue import SimpleQueue
from typing import Any, NamedTuple

from ..errors import BadInput
from .click import HIGHEST_BPM, LOWEST_BPM, Click
from .clicker import clicker_command
from .frames import Down, Frame
from .ports import matcher
from .source import Ended, Heard, Source

LEAD_NS = 1_000_000_000  # from the command to the first beat: the process has to start


class OfClick(NamedTuple):
    """Something in the service's queue that comes from a process that clicks."""

    source: Source
    bpm: float
    item: Heard | Ended


class _Door:
    """The service's queue as the click's source sees it."""

    def __init__(self, queue: SimpleQueue[Any], bpm: float) -> None:
        self._queue = queue
        self._bpm = bpm
        self.source: Source | None = None

    def put(self, item: Any) -> None:
        assert self.source is not None
        self._queue.put(OfClick(self.source, self._bpm, item))

    def qsize(self) -> int:
        return self._queue.qsize()


class Clicking:
    """The click of a recorder: none at first. ``tell(frame, bpm)`` is called with what is to be
    written down."""

    def __init__(self, queue: SimpleQueue[Any], tell: Callable[[Frame, float], None]) -> None:
        self._queue = queue
        self._tell = tell
        self._source: Source | None = None

    def command(self, fields: Mapping[str, Any], driver: str | None, now_ns: int) -> dict[str, Any]:
        """Click at ``bpm`` on ``port``, or with ``bpm`` null no longer. Raises BadInput."""
        bpm, port = fields.get("bpm"), fields.get("port")
        if bpm is None:
            self.stop()
            return {}
        if (
            isinstance(bpm, bool)
            or not isinstance(bpm, (int, float))
            or not LOWEST_BPM <= bpm <= HIGHEST_BPM
        ):
            raise BadInput(
                f"click: {bpm!r} is no tempo; {LOWEST_BPM:g} to {HIGHEST_BPM:g} beats a minute "
                "can be had"
            )
        if not isinstance(port, str):
            raise BadInput("click: the name of a port is needed")
        matcher(port)
        self.stop()
        click = Click(now_ns + LEAD_NS, float(bpm))
        door = _Door(self._queue, click.bpm)
        self._source = door.source = Source(clicker_command(click, driver, port), door)
        self._source.start(now_ns)
        return {}

    def take(self, told: OfClick, now_ns: int) -> None:
        """Something of the click came out of the queue."""
        source, bpm, item = told
        if isinstance(item, Heard):
            source.seen(now_ns)
            self._tell(item.frame, bpm)
        elif source is self._source:
            self._tell(Down(now_ns, "the process that clicks has ended"), bpm)
            source.ended(now_ns)

    def check(self, now_ns: int) -> None:
        """Time passed."""
        if self._source is not None:
            self._source.check(now_ns)

    def kill(self) -> None:
        """No click any more, at once."""
        if self._source is not None:
            self._source.kill()

    def stop(self) -> None:
        """No click any more. What was told of it is in the queue after this."""
        source, self._source = self._source, None
        if source is not None:
            source.stop()
