"""What a plan of strokes asks of the hand: the string changes of one whole round, stroke by stroke.

Owns the words of the trade for a change: direction of travel, inside or outside, the strings in the
way, the stroke after which the hand leaves. Knows nothing of pick angle or of how high a hand hops.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import gcd, lcm

from .cell import PICKED, Cell
from .picking import round_of, strokes_of

HIGHER, LOWER = "higher", "lower"
INSIDE, OUTSIDE = "inside", "outside"


@dataclass(frozen=True, slots=True)
class StringChange:
    """The way from one slot to the next where that is on another string."""

    rep: int  # of the slot it leaves, in the round, from 1
    from_slot: int
    to_slot: int
    before: str  # strokes of the two slots
    after: str
    toward: str  # HIGHER or LOWER sounding, by the open strings
    side: (
        str | None
    )  # INSIDE or OUTSIDE; None where one is not picked, or both with the same stroke
    skipped: tuple[int, ...]  # strings in the way, ascending
    leaves: str | None  # the last stroke of the pick before it; None where nothing is picked


def string_changes(cell: Cell) -> tuple[StringChange, ...]:
    """The string changes of the repetitions after which the strokes come round, in order played.

    A beginning that never returns is left out; the last repetition's way leads back to the first.
    """
    reps = [strokes_of(cell, repetition) for repetition in round_of(cell)]
    played = [(at, stroke) for strokes in reps for at, stroke in enumerate(strokes)]
    last = next((stroke for _, stroke in reversed(played) if stroke in PICKED), None)
    found, count = [], len(cell.slots)
    for index, (at, stroke) in enumerate(played):
        last = stroke if stroke in PICKED else last
        to, after = played[(index + 1) % len(played)]
        here, there = cell.slots[at], cell.slots[to]
        if here.string != there.string:
            toward = direction(cell, here.string, there.string)
            found.append(
                StringChange(
                    index // count + 1,
                    at + 1,
                    to + 1,
                    stroke,
                    after,
                    toward,
                    side_of(stroke, after, toward),
                    strings_between(here.string, there.string),
                    last,
                )
            )
    return tuple(found)


def direction(cell: Cell, here: int, there: int) -> str:
    """HIGHER or LOWER: the way from one string to another by the open strings; at equal pitch the
    lower string number is the higher."""
    order = [(cell.tuning[string - 1], -string) for string in (here, there)]
    return HIGHER if order[1] > order[0] else LOWER


def side_of(before: str, after: str, toward: str) -> str | None:
    """Round the pair of strings (OUTSIDE) or between them (INSIDE).

    Source: sources.md section 7 (common practice): to a higher sounding string down then up, to a
    lower sounding one up then down, is outside.

    >>> side_of("down", "up", "higher"), side_of("down", "up", "lower")
    ('outside', 'inside')
    >>> side_of("up", "up", "lower") is None
    True
    """
    if {before, after} != set(PICKED):
        return None
    return OUTSIDE if (before == "down") == (toward == HIGHER) else INSIDE


def strings_between(here: int, there: int) -> tuple[int, ...]:
    """The strings in the way from one string to another, ascending."""
    return tuple(range(min(here, there) + 1, max(here, there)))


def reps_to_beat(cell: Cell) -> int:
    """Repetitions after which the figure begins on a beat again: g / gcd(s, g). Source: sources.md
    L-04."""
    return cell.grid // gcd(cell.steps, cell.grid)


def reps_to_all(cell: Cell) -> int:
    """Repetitions after which it begins on a beat with its first stroke again. Source: sources.md
    L-05."""
    return lcm(reps_to_beat(cell), len(round_of(cell)))


def starts(cell: Cell) -> Iterator[tuple[int, str | None, int, int]]:
    """How each repetition begins until beat and stroke agree again: its number, its first picked
    stroke, the beat (from 1) and the steps after that beat."""
    first = round_of(cell).start
    for repetition in range(reps_to_all(cell)):
        strokes = strokes_of(cell, first + repetition)
        stroke = next((one for one in strokes if one in PICKED), None)
        beat, step = divmod(repetition * cell.steps, cell.grid)
        yield repetition + 1, stroke, beat + 1, step
