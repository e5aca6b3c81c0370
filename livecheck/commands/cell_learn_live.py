"""`livecheck cell learn` at the guitar: a recorder keeps what is played, and its journal is
followed until the figure is known.

The notes go into a session like any other, so that the figure can be learned from it again.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from ..console.keys import Keys
from ..core.events import Link, Midi, Record, Stop
from ..core.gestures import Gesture, Gestures
from ..core.playing import is_note
from ..core.rig import Rig
from ..errors import LivecheckError
from ..files.journal_reader import Follower
from ..measures.learn.answer import Learned
from ..report.tablature import tab_lines
from .choice import Choice, practice_folder
from .common import only_ascii, width_of
from .learning import Learning
from .record import Input, one_session, recording

POLL_S = 0.05
LOOK_S = 1.5  # between two looks at what was played, which take some tenths of a second each
SILENT_S = 2.5
"""A figure that is sure is over when no note comes for so long."""
LEAST_NOTES = 6

_LATER, _EARLIER = "later", "earlier"
_KEYS = {">": _LATER, ".": _LATER, "<": _EARLIER, ",": _EARLIER, "n": "down", "v": "up"}
_GESTURES = (Gesture(None, 0, 3, "up"), Gesture(None, 0, 4, "down"))
_BY_GESTURE = {"up": _LATER, "down": _EARLIER}
"""The lowest string picked open three times begins a note later, four times a note earlier."""


def played(
    choice: Choice, heard: Input, seconds: float | None, learning: Learning, out: TextIO
) -> tuple[Learned, str | None]:
    """Let the figure be played until it is sure, or for so many seconds; also the first stroke,
    where a key said it. Raises NoDevice, BadInput."""
    home = practice_folder(choice).root
    told = recording(home, [], learning.rig, heard)
    listener = _Listener(learning, out)
    with one_session(told, out) as (process, session):
        listener.run(session, seconds, lambda: process.poll() is None)
    return listener.learned(), listener.begin


class _Listener:
    """What was heard so far, and the figure that was shown last. ``begin``: the first stroke, where
    a key said it."""

    def __init__(self, learning: Learning, out: TextIO) -> None:
        self.records: list[Record] = []
        self.begin: str | None = None
        self._learning = replace(learning, start=1)
        self._moved = learning.start - 1  # notes by which the beginning is moved
        lying = tuple(pitch + learning.capo for pitch in learning.tuning)
        rig = replace(learning.rig or Rig(), tuning=lying)
        self._gestures = Gestures(None, rig, _GESTURES)
        self._out = out
        self._shown: object = None
        self._notes = 0

    def run(self, session: Path, seconds: float | None, alive: Callable[[], bool]) -> None:
        """Until the figure is sure and play has stopped, the time is over, or the recorder ends."""
        self._line("Play the cell slowly, three times or more; then wait. Ctrl-C ends it.")
        self._line(
            "> and < begin it a note later or earlier, n v with a down or an up stroke, q: enough."
        )
        self._line("Stop if anything hurts.")
        follower = Follower(session)
        begun_s = looked_s = heard_s = time.monotonic()
        looked_at = 0
        sure = False
        with Keys() as keys:
            while seconds is None or time.monotonic() - begun_s < seconds:
                pressed = keys.wait(POLL_S)
                notes = self._notes
                ended, asked = self._hear(follower.poll())
                asked += [_KEYS[key.lower()] for key in pressed if key.lower() in _KEYS]
                if ended or "q" in pressed.lower():
                    return
                now_s = time.monotonic()
                if self._notes != notes or asked:
                    heard_s = now_s
                if not alive():
                    raise LivecheckError(
                        "the recorder has ended; its log is .livecheck/recorder.log"
                    )
                for one in asked:
                    self._ask(one)
                new = self._notes != looked_at and self._notes >= LEAST_NOTES
                if asked or (new and now_s - looked_s >= LOOK_S):
                    looked_s, looked_at = now_s, self._notes
                    sure = self._look()
                if sure and self._notes == looked_at and now_s - heard_s > SILENT_S:
                    return

    def learned(self) -> Learned:
        """The figure in what was heard, begun where it was asked for."""
        told = self._learning.learn(self.records)
        if told.cell is None or not self._moved % len(told.cell.slots):
            return told
        start = self._moved % len(told.cell.slots) + 1
        return replace(self._learning, start=start).learn(self.records)

    def _ask(self, what: str) -> None:
        if what in (_LATER, _EARLIER):
            self._moved += 1 if what == _LATER else -1
        else:
            self.begin = what
            self._line(f"It begins with {'an up' if what == 'up' else 'a down'} stroke.")

    def _hear(self, records: list[Record]) -> tuple[bool, list[str]]:
        """Whether the session has ended, and what gestures asked for: their notes are none of the
        figure's."""
        asked: list[str] = []
        for record in records:
            self.records.append(record)
            if isinstance(record, Midi):
                self._notes += is_note(record.data)
                self._gesture(self._gestures.message(record.t_s, record.data), asked)
            elif isinstance(record, Link):
                again = "" if record.up else ". It goes on when it is back"
                self._line(
                    f"Listening to {record.port}." if record.up else f"! {record.port}{again}."
                )
            elif isinstance(record, Stop):
                return True, asked
        return False, asked

    def _gesture(self, actions: list[str], asked: list[str]) -> None:
        since_s = self._gestures.begun_s
        for action in actions:
            if action in _BY_GESTURE and since_s is not None:
                asked.append(_BY_GESTURE[action])
                kept = [
                    one for one in self.records if one.t_s < since_s or not isinstance(one, Midi)
                ]
                self.records = kept
                self._notes = sum(isinstance(one, Midi) and is_note(one.data) for one in kept)

    def _look(self) -> bool:
        """Show the figure where it is another than before; whether it is sure."""
        told = self.learned()
        if told.cell is not None and told.repetitions > 0:
            seen = (told.cell.slots, told.sure)
            if seen != self._shown:
                self._shown = seen
                lines = tab_lines(told.cell, width_of(self._out), only_ascii(self._out))
                print(*lines, sep="\n", file=self._out)
                self._line(
                    "That is it? Stop playing, and it is kept."
                    if told.sure
                    else f"Go on: {told.why}."
                )
        return told.sure

    def _line(self, text: str) -> None:
        print(text, file=self._out, flush=True)
