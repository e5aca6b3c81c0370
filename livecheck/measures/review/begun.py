"""What the strokes, as they were played, say of each repetition of the table: how it began, how it
came over the seam, and the direction of its notes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ...core.events import Repetition
from ..strokes.direction import DOWN, Directions, by_way, read_directions

UNTOLD, BEGUN_DOWN, BEGUN_UP = 0, 1, 2
"""How a repetition began, as the table keeps it."""


@dataclass(frozen=True, slots=True)
class Begun:
    """One repetition. ``went_on``, ``took_up``: it came over the seam in this way and not in the
    other; neither where both are the same, nothing is told, or it began anew."""

    begun: int = UNTOLD
    went_on: bool = False
    took_up: bool = False
    strokes: Mapping[int, int] = field(default_factory=dict)  # by slot, BEGUN_DOWN or BEGUN_UP
    # by slot, what its direction makes of a note's log velocity, and of its deviation in ms
    owed: Mapping[int, tuple[float, float]] = field(default_factory=dict)


NOTHING = Begun()


def directions_of(reps: Sequence[Repetition]) -> list[Directions]:
    """The directions told of repetitions, each way to play it by itself."""
    return [read_directions(own) for own in by_way(reps)]


def begun(told: Sequence[Directions]) -> dict[int, Begun]:
    """By number of the repetition; without those of which nothing is told."""
    found: dict[int, Begun] = {}
    for one in told:
        found.update(_of(one))
    return found


def _of(told: Directions) -> dict[int, Begun]:
    strokes: dict[int, dict[int, int]] = {}
    for one in told.strokes:
        if one.played is not None:
            strokes.setdefault(one.rep, {})[one.slot] = _code(one.played)
    owed: dict[int, dict[int, tuple[float, float]]] = {}
    for (rep, slot), parts in told.owed.items():
        owed.setdefault(rep, {})[slot] = parts
    seams = {one.rep: one.goes_on for one in told.seams}
    return {
        rep: Begun(
            _code(told.begun[rep]) if rep in told.begun else UNTOLD,
            seams.get(rep) is True,
            seams.get(rep) is False,
            strokes.get(rep, {}),
            owed.get(rep, {}),
        )
        for rep in {*strokes, *told.begun, *owed}
    }


def _code(stroke: str) -> int:
    return BEGUN_DOWN if stroke == DOWN else BEGUN_UP
