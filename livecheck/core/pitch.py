"""Note numbers, names and frequencies in equal temperament.

MIDI note 69 is A4 = 440 Hz (ISO 16), middle C is C4 = 60. Written names have one capital letter, an
optional ``#`` or ``b``, and the octave: ``E4``, ``F#1``, ``Bb3``.
"""

from __future__ import annotations

import re

A4_HZ = 440.0
STANDARD_TUNING = (64, 59, 55, 50, 45, 40)
"""Open strings, string 1 (highest-sounding) first."""

_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_WRITTEN = re.compile(r"([A-G])(#|b)?(-?\d)")


def frequency_hz(pitch: float) -> float:
    """Frequency of a (possibly bent) MIDI note number.

    Source: MIDI 1.0 tuning table; sources.md T-02, T-03.

    >>> round(frequency_hz(60), 4)
    261.6256
    """
    return float(A4_HZ * 2.0 ** ((pitch - 69.0) / 12.0))


def period_s(pitch: float) -> float:
    """Seconds that one vibration of the pitch takes.

    >>> round(period_s(40) * 1000, 3)
    12.135
    """
    return 1.0 / frequency_hz(pitch)


def pitch_of(name: str) -> int:
    """MIDI note number of a written note name.

    Raises ValueError where the text is no note name or lies outside MIDI's 0 to 127.

    >>> pitch_of("E4"), pitch_of("Bb1"), pitch_of("F#1")
    (64, 34, 30)
    """
    found = _WRITTEN.fullmatch(name.strip())
    if not found:
        raise ValueError(f"{name!r} is no note name")
    letter, sign, octave = found.groups()
    pitch = _LETTERS[letter] + {"#": 1, "b": -1, None: 0}[sign] + 12 * (int(octave) + 1)
    if not 0 <= pitch <= 127:
        raise ValueError(f"{name!r} lies outside MIDI's range")
    return pitch


def name_of(pitch: int) -> str:
    """Written name of a MIDI note number, sharps only.

    >>> name_of(60), name_of(46)
    ('C4', 'A#2')
    """
    return f"{_NAMES[pitch % 12]}{pitch // 12 - 1}"
