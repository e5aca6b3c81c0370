"""Tunings by name, and what open strings say about tuning and capo (sources.md T-05, T-06)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from .pitch import STANDARD_TUNING

TUNINGS: dict[str, tuple[int, ...]] = {
    "standard tuning": STANDARD_TUNING,
    "drop D": (64, 59, 55, 50, 45, 38),
    "double drop D": (62, 59, 55, 50, 45, 38),
    "D A D G A D": (62, 57, 55, 50, 45, 38),
    "open G": (62, 59, 55, 50, 43, 38),
    "open D": (62, 57, 54, 50, 45, 38),
    "all fourths": (65, 60, 55, 50, 45, 40),
    "strings 3 to 6 an octave up": (64, 59, 67, 62, 57, 52),
}
"""Six strings, string 1 first. More strings go on in fourths: B1, F#1."""

_LOWER = (35, 30)
HIGHEST_CAPO = 9
LOWEST = -5  # semitones that a whole guitar may be tuned down


class Tuned(NamedTuple):
    """Open strings explained: the tuning behind the capo, string 1 first."""

    tuning: tuple[int, ...]
    capo: int
    name: str | None  # None for a tuning without a name here


def usual_tuning(strings: int) -> tuple[int, ...]:
    """Standard tuning for so many strings, from string 1.

    >>> usual_tuning(7)[-1], usual_tuning(4)
    (35, (64, 59, 55, 50))
    """
    return (*STANDARD_TUNING, *_LOWER)[:strings]


def tuning_named(name: str) -> tuple[int, ...] | None:
    """The tuning that is called so, however the name is spelt; None where none is.

    >>> tuning_named("Drop  d"), tuning_named("drop")
    ((64, 59, 55, 50, 45, 38), None)
    """
    spelt = {known.lower(): tuning for known, tuning in TUNINGS.items()}
    return spelt.get(" ".join(name.lower().split()))


def deep_enough(lowest: int, strings: int = 6) -> tuple[int, ...]:
    """The first of standard tuning, drop D, seven and eight strings that reaches down to a pitch
    and has so many strings; standard tuning where none does.

    >>> deep_enough(38)[-1], len(deep_enough(35)), deep_enough(20) == STANDARD_TUNING
    (38, 7, True)
    """
    for tuning in (usual_tuning(6), TUNINGS["drop D"], usual_tuning(7), usual_tuning(8)):
        if tuning[-1] <= lowest and len(tuning) >= strings:
            return tuning
    return usual_tuning(max(6, strings))


def explain(pitches: Sequence[int]) -> Tuned:
    """What open pitches most likely mean: a tuning as it is, else one tuned down, else one with a
    capo.

    A capo cannot be told from a guitar tuned up; it is far more usual.

    >>> explain((66, 61, 57, 52, 47, 42))
    Tuned(tuning=(64, 59, 55, 50, 45, 40), capo=2, name='standard tuning')
    """
    strings = len(pitches)
    named = {name: (*tuning, *_LOWER)[:strings] for name, tuning in TUNINGS.items()}
    for shift in (0, *range(-1, LOWEST - 1, -1), *range(1, HIGHEST_CAPO + 1)):
        for name, tuning in named.items():
            if all(pitch == own + shift for pitch, own in zip(pitches, tuning)):
                if shift >= 0:
                    return Tuned(tuning, shift, name)
                down = f"{-shift} semitone{'s' if shift < -1 else ''}"
                return Tuned(tuple(pitches), 0, f"{name}, {down} down")
    return Tuned(tuple(pitches), 0, None)
