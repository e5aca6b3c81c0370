"""How long somebody has actually played: from the notes alone, with or without a cell."""

from __future__ import annotations

PAUSE_S = 5.0
"""A longer silence between two notes is a pause, not play (common practice, no source)."""
BUILT_IN = "built-in player"
"""The port that the demo's player says it is: what comes from it is nobody's practice."""
REST_S = 5 * 60.0
"""A silence as long as this is a rest (sources.md H-03: about five minutes)."""


class PlayingTime:
    """Counts play while notes come, in order.

    seconds: played in all. since_rest_s: played since the last rest.

    >>> playing = PlayingTime()
    >>> for t_s in (0.0, 1.0, 2.5, 60.0, 61.0):
    ...     playing.note(t_s)
    >>> playing.seconds
    3.5
    """

    __slots__ = ("_last_s", "seconds", "since_rest_s")

    def __init__(self) -> None:
        self.seconds = 0.0
        self.since_rest_s = 0.0
        self._last_s: float | None = None

    def note(self, t_s: float) -> None:
        """A note sounded."""
        self.pass_time(t_s)
        if self._last_s is not None and t_s - self._last_s <= PAUSE_S:
            self.seconds += t_s - self._last_s
            self.since_rest_s += t_s - self._last_s
        self._last_s = t_s

    def pass_time(self, now_s: float) -> None:
        """Time went by; a rest may have been taken."""
        if self._last_s is not None and now_s - self._last_s >= REST_S:
            self.since_rest_s = 0.0


def is_note(data: bytes) -> bool:
    """Whether a message says that a note sounds, on whatever channel."""
    return len(data) == 3 and data[0] & 0xF0 == 0x90 and data[2] > 0
