"""The values that pass from guitarist to converter to truth: labels, sounds, and repetitions as
they were played."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from ..core.cell import Cell
from ..core.events import NOISE, STRAY


class Label(NamedTuple):
    """What one sounded note is.

    A slot's note: ``rep`` and ``slot`` from 1, ``verdict`` hit or wrong. An extra: ``slot`` None,
    ``verdict`` its kind, ``rep`` None where it lies outside all repetitions.
    """

    rep: int | None
    slot: int | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Sound:
    """One thing that the strings did, as it was played, before any conversion."""

    t_s: float
    end_s: float  # when the finger or the next note damps it
    string: int
    pitch: int
    velocity: int
    stroke: str  # a stroke of the cell, or "clip", "brush", "ring", "pick", "noodle"
    label: Label
    long: bool = False  # long enough for vibrato


@dataclass(slots=True)
class Pass:
    """One repetition as the hands meant it."""

    rep: int  # from 1
    entry: int  # first slot played
    # slot: planned onset, gallop and motor left out
    times_s: dict[int, float] = field(default_factory=dict)
    # slot: played onset, of the slots that sounded
    onsets_s: dict[int, float] = field(default_factory=dict)
    steps_s: dict[int, float] = field(default_factory=dict)  # slot: length of a grid step there
    start_s: float = 0.0  # where slot 1 lies on the grid of its entry
    due_s: float = 0.0  # where the next repetition would come round
    broken: bool = False  # the hands stopped inside
    pause_s: float = 0.0
    pause_after: int | None = None  # slot
    follows: bool = False  # begun where the repetition before it came round
    mended: bool = False  # begun anew after a break, a pause or silence

    @property
    def step_s(self) -> float:
        return sum(self.steps_s.values()) / len(self.steps_s)


def extra_kind(cell: Cell, string: int, before: int | None, after: int | None) -> str:
    """Noise where the string is quiet or the hand passes over it between two others; else stray
    (formats.md)."""
    if string in cell.quiet:
        return NOISE
    if (
        before is not None
        and after is not None
        and min(before, after) < string < max(before, after)
    ):
        return NOISE
    return STRAY
