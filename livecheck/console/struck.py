"""Notes that were struck and of which nothing is certain yet: they stand on the screen at once.

Only a count for the eye. It is no verdict and takes part in none: each note leaves it when judgment
has told something of it or of a later one, at the latest after ``LONGEST_S``.
"""

from __future__ import annotations

from collections import deque

from ..core.events import ExtraTold, Midi, Outcome, SlotTold, UseRig
from ..core.rig import Rig

LONGEST_S = 1.0  # a verdict takes less, but for a note that is held while the player waits
LATE_S = 0.030  # a note's corrected onset lies so much before its message at the most
MOST = 64


class Struck:
    """Counts note-ons on the rig's channels, not softer than its gate."""

    def __init__(self) -> None:
        self._rig = Rig()
        self._times_s: deque[float] = deque(maxlen=MOST)

    def __len__(self) -> int:
        return len(self._times_s)

    def hear(self, record: Midi | UseRig) -> bool:
        """Take a record; returns whether a note was struck."""
        if isinstance(record, UseRig):
            self._rig = record.rig
            return False
        data = record.data
        if len(data) != 3 or data[0] & 0xF0 != 0x90 or data[2] < max(1, self._rig.gate.velocity):
            return False
        if self._rig.string_of((data[0] & 0x0F) + 1) is None:
            return False
        self._times_s.append(record.t_s)
        return True

    def tell(self, outcome: Outcome) -> None:
        """Judgment told something: the notes up to there are no longer open."""
        if isinstance(outcome, SlotTold):
            note = outcome.note
        elif isinstance(outcome, ExtraTold):
            note = outcome.extra.note
        else:
            return
        if note is not None:
            self._drop(note.onset_s + LATE_S)

    def pass_time(self, now_s: float) -> bool:
        """Time went by; returns whether a note was given up."""
        return self._drop(now_s - LONGEST_S)

    def _drop(self, until_s: float) -> bool:
        dropped = False
        while self._times_s and self._times_s[0] <= until_s:
            self._times_s.popleft()
            dropped = True
        return dropped
