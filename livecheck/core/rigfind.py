"""From what was heard of each open string to a rig: channels, direction, tuning, capo, bend range,
and what is odd."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from .rig import Rig
from .tunings import explain, usual_tuning
from .wire import CENTRE

_TOP = 16300
_SNAP = 0.04  # share by which a bend range may be off a whole number of semitones
USUAL_RANGES = (12, 24, 48)


class Slur(NamedTuple):
    """How a slur of an octave was reported; ``wheel``: 14 bits, where it came to rest; None: as a
    new note."""

    wheel: int | None


@dataclass(frozen=True, slots=True)
class Found:
    """The rig that was found. ``notes`` say in plain words how it was found, ``troubles`` what is
    wrong with it."""

    rig: Rig
    capo: int
    notes: tuple[str, ...]
    troubles: tuple[str, ...]
    heard: tuple[int, ...]  # strings with a channel of their own

    @property
    def whole(self) -> bool:
        """Every string has a channel of its own."""
        return len(self.heard) == len(self.rig.channels)


def conclude(
    base: Rig,
    strings: int,
    taken: Mapping[int, tuple[int, int]],
    doubled: Mapping[int, int],
    ranges: Mapping[int, float],
    slur: Slur | None,
) -> Found:
    """The rig that follows. Delay, gate and port stay those of ``base``: they are not measured
    here.

    taken: channel (from 1) and open pitch by string. doubled: strings that send on another one's
    channel. ranges: bend range by channel where the stream said it (RPN 0).
    """
    notes: list[str] = []
    troubles: list[str] = []
    own = dict(taken)
    if _upside_down(own):
        own = {strings + 1 - string: value for string, value in own.items()}
        doubled = {strings + 1 - string: channel for string, channel in doubled.items()}
        troubles.append(
            "the strings were played from high to low; they are taken the other way round"
        )
    for string, channel in sorted(doubled.items()):
        troubles.append(
            f"string {string} sends on channel {channel}, another string's: "
            "set the converter to one channel for each string (Mode 4)"
        )
    silent = [
        string for string in range(1, strings + 1) if string not in own and string not in doubled
    ]
    if silent:
        troubles.append(
            f"no signal from string {', '.join(map(str, silent))}: channel and tuning there are "
            "guessed"
        )
    channels = _channels(own, strings)
    notes.append(_direction(channels))
    tuning, capo = _tuning(own, strings, notes)
    bend_range = _bend_range(
        base, [channels[string - 1] for string in own], ranges, slur, notes, troubles
    )
    delay = base.delay
    if delay.per_string_ms is not None and len(delay.per_string_ms) != strings:
        constants = delay.per_string_ms
        delay = replace(delay, per_string_ms=(*constants, *[constants[-1]] * strings)[:strings])
    rig = replace(base, channels=channels, tuning=tuning, bend_range=bend_range, delay=delay)
    return Found(rig, capo, tuple(notes), tuple(troubles), tuple(sorted(own)))


def _upside_down(own: Mapping[int, tuple[int, int]]) -> bool:
    """Each string lower than the one before it, though asked for from low to high."""
    pitches = [own[string][1] for string in sorted(own, reverse=True)]
    return len(pitches) > 2 and all(later < pitch for pitch, later in zip(pitches, pitches[1:]))


def _channels(own: Mapping[int, tuple[int, int]], strings: int) -> tuple[int, ...]:
    """A channel for each string; where none was heard, the one that the row suggests, else the
    lowest free one."""
    used = {channel for channel, _ in own.values()}
    rows = Counter(
        (channel - way * string, way) for string, (channel, _) in own.items() for way in (1, -1)
    )
    start, way = max(rows, key=lambda row: (rows[row], row[1]), default=(0, 1))
    found = []
    for string in range(1, strings + 1):
        if string in own:
            found.append(own[string][0])
            continue
        fitting = start + way * string
        if fitting in used or not 1 <= fitting <= 16:
            fitting = next(channel for channel in range(1, 17) if channel not in used)
        used.add(fitting)
        found.append(fitting)
    return tuple(found)


def _direction(channels: tuple[int, ...]) -> str:
    first, last = channels[0], channels[-1]
    steps = {later - channel for channel, later in zip(channels, channels[1:])}
    if steps == {1}:
        return f"channels {first} to {last}, string 1 on channel {first}"
    if steps == {-1}:
        return f"channels {last} to {first}, string 1 on channel {first}"
    return f"channels {', '.join(map(str, channels))} for string 1, 2, …"


def _tuning(
    own: Mapping[int, tuple[int, int]], strings: int, notes: list[str]
) -> tuple[tuple[int, ...], int]:
    """(tuning behind the capo, capo). Strings without a signal are filled in as the others
    suggest."""
    usual = usual_tuning(strings)
    shifts = Counter(own[string][1] - usual[string - 1] for string in own)
    shift = shifts.most_common(1)[0][0] if shifts else 0
    pitches = [
        own[string][1] if string in own else usual[string - 1] + shift
        for string in range(1, strings + 1)
    ]
    tuned = explain(pitches)
    if tuned.name is None:
        notes.append("a tuning without a name here")
    elif tuned.capo:
        notes.append(
            f"{tuned.name} with a capo at fret {tuned.capo} (or tuned up): `capo: {tuned.capo}` "
            "in the cells"
        )
    else:
        notes.append(tuned.name)
    return tuned.tuning, tuned.capo


def _bend_range(
    base: Rig,
    channels: list[int],
    ranges: Mapping[int, float],
    slur: Slur | None,
    notes: list[str],
    troubles: list[str],
) -> float:
    told = Counter(ranges[channel] for channel in channels if channel in ranges)
    if told:
        value = told.most_common(1)[0][0]
        notes.append(f"bend range {value:g} semitones, as the converter says itself (RPN 0)")
        if len(told) > 1:
            all_of_them = ", ".join(f"{one:g}" for one in sorted(told))
            troubles.append(
                f"the strings have different bend ranges ({all_of_them}): set one for all"
            )
        return value
    if slur is not None and slur.wheel is not None:
        value = range_of_octave(slur.wheel)
        notes.append(f"bend range {value:g} semitones, from the slur over an octave")
        return value
    why = "slurs come as new notes" if slur is not None else "no slur was heard"
    notes.append(f"bend range left at {base.bend_range:g} semitones ({why})")
    return base.bend_range


def range_of_octave(wheel: int) -> float:
    """Bend range in semitones at which a wheel position stands for an octave up.

    A wheel at its end means 12: a smaller range could not show an octave. Source: sources.md M-20
    (range 24: 12288).

    >>> range_of_octave(12288), range_of_octave(16383), range_of_octave(10240)
    (24.0, 12.0, 48.0)
    """
    if wheel >= _TOP:
        return 12.0
    exact = 12.0 * CENTRE / (wheel - CENTRE)
    near = min(USUAL_RANGES, key=lambda usual: abs(exact / usual - 1.0))
    return float(near) if abs(exact / near - 1.0) <= _SNAP else float(min(round(exact), 96))
