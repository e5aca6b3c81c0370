"""What a note may be late by: the converter's delay, and the player's habits, told apart as far as
they can be.

The converter: ``periods`` × period of the sounding pitch with small constants of the strings' own;
or constants of the strings alone, whatever the fret, which follow the open strings' periods (a
window set once for each string) or nothing.
The player: a habit for each string, for the direction of a crossing, for each single crossing, for
open strings, and for the first note after the hand has moved. A habit of one string and a constant
of its own look alike in the notes at one fret; at several frets the delay changes with the pitch
and the habit does not. What remains in doubt stands in the intervals. How likely each is beforehand
has no source beyond C-01 to C-05 for the converter; it is said at each value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from ...core.pitch import period_s
from .model_average import Assumption, Interval, Seen, blend

if TYPE_CHECKING:
    import numpy as np

    from .pulse import Struck

_PERIODS = (1.6, 0.8)  # mean and SD: one to two periods, and some converters more (C-01 to C-05)
_OWN_MS = ((0.05, 0.4), (0.4, 0.2), (0.9, 0.4))  # SD of the strings' own constants, and how likely
_CONSTANTS = 0.17  # chance that the delay goes by the string and not by the fret
_ANY_CONSTANTS = (0.03, 8.0)  # chance that it follows nothing, and SD in ms
# SD of habits of the strings
_STRING_MS = ((0.1, 0.3), (0.5, 0.2), (1.0, 0.15), (2.0, 0.2), (4.0, 0.15))
# SD of habits of single crossings
_CROSSING_MS = ((0.1, 0.5), (0.5, 0.2), (1.5, 0.18), (4.0, 0.12))
_HABIT_MS = 5.0  # SD of the habit of a direction, and of open strings
_MOVED_MS = 20.0  # SD of what a move of the hand costs
_COMMON_MS = 10_000.0
_NONE = 1e-3
_MOVED_FRETS = 3
_LEAST_REACH_MS = 0.5  # between the longest and the shortest period
_WIDEST_PERIODS = 1.4  # half an interval beyond which nothing is said of the periods


class Late(NamedTuple):
    """How late one string is, in ms. ``beyond``: beyond what its pitches tell, the player's and its
    own together."""

    relative: Interval  # against the mean of all strings: the converter's part
    beyond: Interval


@dataclass(frozen=True, slots=True)
class Lateness:
    """What the notes tell. constant: chance that the delay goes by the string, whatever the
    fret."""

    strings: dict[int, Late]
    periods: Interval | None
    constant: float
    common_ms: Interval | None  # mean of all notes against the click


@dataclass(frozen=True, slots=True)
class Columns:
    """What each note may be late by, a column each. One block of columns for the strings stands for
    two."""

    strings: tuple[int, ...]
    counts: tuple[int, ...]
    period_ms: tuple[float, ...]  # mean of each string's notes
    open_ms: tuple[float, ...]  # of each open string
    values: np.ndarray  # (n, 2 + strings + habits)
    # prior SD of each column beyond the strings; 0 for a single crossing
    habit_ms: tuple[float, ...]
    to_click: bool


def columns(
    notes: Sequence[Struck],
    before: Sequence[Struck | None],
    tuning: Sequence[int],
    *,
    to_click: bool = False,
    crossings: bool = True,
) -> Columns:
    """Columns for notes, each with the one before it where that is known; tuning as sounding,
    string 1 first."""
    import numpy as np

    strings = tuple(sorted({note.string for note in notes}))
    lowest = {
        string: min(note.pitch for note in notes if note.string == string) for string in strings
    }
    opened = {
        string: tuning[string - 1] if string <= len(tuning) else lowest[string]
        for string in strings
    }
    open_ms = tuple(1000.0 * period_s(opened[string]) for string in strings)
    period_ms = np.array([1000.0 * period_s(note.pitch) for note in notes])
    each = np.array([[float(note.string == string) for string in strings] for note in notes])
    habits: dict[object, list[int]] = {}  # what it is, and the notes that it touches
    spread: dict[object, float] = {}

    def add(habit: object, at: int, spread_ms: float) -> None:
        habits.setdefault(habit, []).append(at)
        spread[habit] = spread_ms

    for at, (note, last) in enumerate(zip(notes, before)):
        if note.pitch <= opened[note.string]:
            add("open", at, _HABIT_MS)
        if last is None:
            continue
        add(("way", (note.string > last.string) - (note.string < last.string)), at, _HABIT_MS)
        if crossings:
            add((last.string, note.string), at, 0.0)
        if abs(note.pitch - opened[note.string] - last.pitch + opened[last.string]) >= _MOVED_FRETS:
            add("moved", at, _MOVED_MS)
    if len(habits.get("moved", ())) > 0.2 * len(notes):
        del habits["moved"]  # no moves of the hand but the figure itself
    if to_click:
        habits["common"], spread["common"] = list(range(len(notes))), _COMMON_MS
    touched = np.zeros((len(notes), len(habits)))
    for column, rows in enumerate(habits.values()):
        touched[rows, column] = 1.0
    return Columns(
        strings,
        tuple(int(count) for count in each.sum(axis=0)),
        tuple(float(period_ms[each[:, at] > 0].mean()) for at in range(len(strings))),
        open_ms,
        np.concatenate(
            [period_ms[:, None], (each @ np.array(open_ms))[:, None], each, touched], axis=1
        ),
        tuple(spread[habit] for habit in habits),
        to_click,
    )


def lateness(
    given: Columns, white: np.ndarray, away: np.ndarray, variances: Sequence[float], least: int = 1
) -> Lateness:
    """What is told by independent rows.

    white: the columns' rows (n, k) made independent; away: how late each is, likewise; variances:
    of a row, as far as known, each as likely beforehand; least: notes of a string below which
    nothing is said of it.
    """
    import numpy as np

    count = len(given.strings)
    # the strings' own constants, then their habits
    twice = [*range(2 + count), *range(2, white.shape[1])]
    own = white[:, twice]
    assumed, by_pitch = _assumptions(given, variances)
    found = blend(Seen(own.T @ own, own.T @ away, float(away @ away), len(away)), assumed)
    against_mean = np.eye(count) - 1.0 / count
    strings: dict[int, Late] = {}
    for at, (string, notes) in enumerate(zip(given.strings, given.counts)):
        if notes >= least and count > 1:
            relative, beyond = np.zeros((2, len(twice)))
            relative[0], relative[1] = (
                against_mean[at] @ given.period_ms,
                against_mean[at] @ given.open_ms,
            )
            relative[2 : 2 + count] = beyond[2 : 2 + count] = beyond[2 + count : 2 + 2 * count] = (
                against_mean[at]
            )
            strings[string] = Late(found.told(relative), found.told(beyond, by_pitch))
    periods = None
    if float(np.ptp(given.values[:, 0])) > _LEAST_REACH_MS:
        told = found.told(np.eye(len(twice))[0], by_pitch)
        periods = told if told.high - told.low < 2.0 * _WIDEST_PERIODS else None
    common = found.told(given.values.mean(axis=0)[twice]) if given.to_click else None
    return Lateness(strings, periods, float(found.weights @ (1.0 - by_pitch)), common)


def _assumptions(given: Columns, variances: Sequence[float]) -> tuple[list[Assumption], np.ndarray]:
    """All that may be so, and for each whether the delay goes by the pitch, as 0 or 1."""
    import numpy as np

    count = len(given.strings)
    by_pitch = 1.0 - _CONSTANTS - _ANY_CONSTANTS[0]
    mean, spread = _PERIODS
    kinds = [
        ((mean, spread), (0.0, _NONE), own_ms, by_pitch * weight) for own_ms, weight in _OWN_MS
    ]
    kinds.append(((0.0, _NONE), (mean, 1.0), 1.0, _CONSTANTS))
    kinds.append(((0.0, _NONE), (0.0, _NONE), _ANY_CONSTANTS[1], _ANY_CONSTANTS[0]))
    crossings = _CROSSING_MS if 0.0 in given.habit_ms else ((0.0, 1.0),)
    found: list[Assumption] = []
    for kind, (string_ms, likely), (crossing_ms, chance), variance in product(
        kinds, _STRING_MS, crossings, variances
    ):
        pitch, opened, own_ms, weight = kind
        means = np.zeros(2 + 2 * count + len(given.habit_ms))
        means[0], means[1] = pitch[0], opened[0]
        habits = [habit_ms or crossing_ms for habit_ms in given.habit_ms]
        spreads = np.array([pitch[1], opened[1], *[own_ms] * count, *[string_ms] * count, *habits])
        found.append(
            Assumption(means, spreads, variance, weight * likely * chance / len(variances))
        )
    return found, np.array([float(one.spreads[0] > _NONE) for one in found])
