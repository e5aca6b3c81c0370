"""When a recorder that runs by itself calls for a rest: a pure count of play over all sessions.

The call is one cue, in a pause of a few seconds and never into play; it comes again after as much
play as makes a reminder, where no rest was taken.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..core.cues import REST, Tone, as_told
from ..core.playing import PlayingTime, is_note
from ..files.library import PracticeFolder
from ..files.unrested import unrested
from .frames import Frame, Message

log = logging.getLogger("livecheck.resting")

PAUSE_S = 2.0
AGAIN_S = 10 * 60.0
"""Play after a call that was not heeded, until the next (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class RestCall:
    """After how much play without a rest, on which MIDI output, by which sound."""

    after_s: float
    port: str
    tones: tuple[Tone, ...]


class Resting:
    """Fed with each note; ``due`` says when to call. Times are seconds of one clock.

    playing: play since the last rest, before the first note.

    >>> resting = Resting(PlayingTime())
    >>> for second in range(0, 120): resting.note(second)
    >>> resting.due(119.5, 100.0), resting.due(122.0, 100.0), resting.due(123.0, 100.0)
    (False, True, False)
    """

    def __init__(self, playing: PlayingTime) -> None:
        self._playing = playing
        self._heard_s: float | None = None
        self._called_at_s: float | None = None  # of play since the last rest

    def note(self, t_s: float) -> None:
        self._playing.note(t_s)
        self._heard_s = t_s

    def due(self, now_s: float, after_s: float) -> bool:
        """Whether to call now: once, until there has been a rest or more play."""
        self._playing.pass_time(now_s)
        played_s = self._playing.since_rest_s
        if self._called_at_s is not None and played_s < self._called_at_s:
            self._called_at_s = None  # there was a rest
        if self._heard_s is None or now_s - self._heard_s < PAUSE_S:
            return False
        due_s = after_s if self._called_at_s is None else self._called_at_s + AGAIN_S
        if played_s < due_s:
            return False
        self._called_at_s = played_s
        return True


class RestCalls:
    """The calls of one recorder: frames of the guitar and time in, cues out."""

    def __init__(self, folder: PracticeFolder) -> None:
        self._folder = folder
        self._resting: Resting | None = None  # from the first call that was asked for on
        self._begun_ns = 0

    def heard(self, frame: Frame) -> None:
        """One frame of the process that listens."""
        if self._resting is None or not isinstance(frame, Message) or not is_note(frame.data):
            return
        self._resting.note(max(0, frame.t_ns - self._begun_ns) / 1e9)

    def due(self, call: RestCall | None, now_ns: int) -> dict[str, Any] | None:
        """The command that sounds a call, where one is due."""
        if call is None:
            return None
        if self._resting is None:
            self._begun_ns = now_ns
            self._resting = Resting(unrested(self._folder, datetime.now().astimezone()))
        if not self._resting.due((now_ns - self._begun_ns) / 1e9, call.after_s):
            return None
        log.info("a rest is due")
        notes = as_told(call.tones)
        return {"command": "cue", "port": call.port, "word": REST, "notes": notes}
