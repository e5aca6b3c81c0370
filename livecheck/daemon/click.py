"""When a click is due and what is sent for it. Pure: the clock's reading is an argument.

Each deadline is counted from the beginning, so that nothing adds up. A click that could only come
late (the process was stopped, the computer slept, the port was away) is left out: a burst of clicks
caught up with would mislead.
"""

from __future__ import annotations

from dataclasses import dataclass

LOWEST_BPM, HIGHEST_BPM = 20.0, 400.0
COUNT_IN = 4
LATE_NS = 20_000_000
"""A click later than this is left out: no source; an asynchrony of 20 ms is within what players do
(E-20)."""

LENGTH_NS = 30_000_000
_ON, _OFF = 0x99, 0x89  # channel 10 (sources.md M-34)
HIGH, LOW = 76, 77  # wood blocks of General MIDI (M-32)
_VELOCITY = 110


@dataclass(frozen=True, slots=True)
class Click:
    """A steady click: the moment of its first beat (nanoseconds of perf_counter) and its tempo."""

    begin_ns: int
    bpm: float

    def due_ns(self, beat: int) -> int:
        """When a beat is due.

        >>> Click(0, 90.0).due_ns(90)
        60000000000
        """
        return self.begin_ns + round(beat * 60e9 / self.bpm)

    def next_beat(self, last: int, now_ns: int) -> int:
        """The beat to be sent after ``last`` (-1 before the first): the next one that is not too
        late already.

        >>> Click(0, 60.0).next_beat(4, 5_010_000_000), Click(0, 60.0).next_beat(4, 9_500_000_000)
        (5, 10)
        """
        soonest = now_ns - LATE_NS
        beat = max(last + 1, int((soonest - self.begin_ns) * self.bpm / 60e9))
        while self.due_ns(beat) < soonest:
            beat += 1
        return beat


def on(beat: int) -> bytes:
    """The note-on of a beat: high in the count-in, low after it."""
    return bytes((_ON, HIGH if beat < COUNT_IN else LOW, _VELOCITY))


def off(beat: int) -> bytes:
    """The note-off of a beat."""
    return bytes((_OFF, HIGH if beat < COUNT_IN else LOW, 64))
