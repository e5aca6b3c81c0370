"""Cues: the one short sound after a block, and what its words sound like.

No note of a cue is one of the click's, so that neither is taken for the other; each is over within
a third of a second, and the first tone comes at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..errors import BadInput
from .click import NOTES

_ON, _OFF = 0x99, 0x89  # channel 10
MOST_TONES = 16
LONGEST_MS = 5000.0


@dataclass(frozen=True, slots=True)
class Tone:
    """One note of a cue, so many milliseconds after its beginning."""

    at_ms: float
    note: int
    velocity: int = 100
    length_ms: float = 80.0

    def on(self) -> bytes:
        return bytes((_ON, self.note, self.velocity))

    def off(self) -> bytes:
        return bytes((_OFF, self.note, 64))


UP, DOWN, AGAIN, STRING, REST, END, MARK, PAUSE, NEXT, CLEAN, FAILED = (
    "up", "down", "again", "string", "rest", "end", "mark", "pause", "next", "clean", "failed"
)  # fmt: skip

_HIGH, _LOW, _BELL, _MUTE, _TRIANGLE = 67, 68, 56, 80, 81
"""High and low agogo, cowbell, mute and open triangle of General MIDI 1 (keys 35 to 81)."""

USUAL: Mapping[str, tuple[Tone, ...]] = {
    UP: (Tone(0, _LOW), Tone(110, _HIGH)),
    DOWN: (Tone(0, _HIGH), Tone(110, _LOW)),
    AGAIN: (Tone(0, _LOW), Tone(110, _LOW)),
    STRING: (Tone(0, _BELL), Tone(110, _BELL)),
    REST: (Tone(0, _TRIANGLE, 100, 300),),
    END: (Tone(0, _LOW), Tone(100, _HIGH), Tone(200, _TRIANGLE, 100, 300)),
    MARK: (Tone(0, _HIGH, 80),),
    PAUSE: (Tone(0, _LOW, 80),),
    NEXT: (Tone(0, _HIGH), Tone(110, _HIGH)),
    CLEAN: (Tone(0, _MUTE),),
    FAILED: (Tone(0, _LOW, 80), Tone(110, _BELL, 80)),
}
"""Faster, slower, the same tempo once more, a string sounded that should not, a rest, the end; what
confirms a gesture or a pedal: a mark, a pause, another cell, variant or view; and of play without
blocks: all of it clean, something failed."""

CONFIRMS: Mapping[str, str] = {
    "again": AGAIN,
    "up": UP,
    "down": DOWN,
    "pause": PAUSE,
    "mark": MARK,
    "next-cell": NEXT,
    "previous-cell": NEXT,
    "next-variant": NEXT,
    "previous-variant": NEXT,
    "far": NEXT,
    "stop": END,
}
"""The cue that answers each action."""


def tones_from(told: Any) -> list[Tone]:
    """Tones out of ``[[ms, note, velocity], …]``. Raises BadInput."""
    if not isinstance(told, Sequence) or isinstance(told, (str, bytes)) or len(told) > MOST_TONES:
        raise BadInput(f"cue: a list of at most {MOST_TONES} notes is needed")
    tones = []
    for one in told:
        if not isinstance(one, Sequence) or len(one) not in (3, 4):
            raise BadInput(f"cue: {one!r} is no [milliseconds, note, velocity]")
        at_ms, note, velocity = one[0], one[1], one[2]
        length_ms = one[3] if len(one) == 4 else 80.0
        if type(note) is not int or not 0 <= note <= 127:
            raise BadInput(f"cue: {note!r} is no note number from 0 to 127")
        if note in NOTES:
            raise BadInput(f"cue: note {note} is one of the click's")
        if type(velocity) is not int or not 1 <= velocity <= 127:
            raise BadInput(f"cue: {velocity!r} is no velocity from 1 to 127")
        for value in (at_ms, length_ms):
            if type(value) not in (int, float) or not 0 <= value <= LONGEST_MS:
                raise BadInput(f"cue: {value!r} is no time from 0 to {LONGEST_MS:g} ms")
        tones.append(Tone(float(at_ms), note, velocity, float(length_ms)))
    return tones


def as_told(tones: Sequence[Tone]) -> list[list[float]]:
    """What ``tones_from`` takes.

    >>> tones_from(as_told(USUAL[UP])) == list(USUAL[UP])
    True
    """
    return [[tone.at_ms, tone.note, tone.velocity, tone.length_ms] for tone in tones]
