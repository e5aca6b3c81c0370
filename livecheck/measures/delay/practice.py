"""The picked slots of practised cells: where each lies against its repetitions' own tempo, by
arrival."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from ...core.cell import Cell, Slot
from ...core.events import HIT, Repetition
from ..strokes.direction import read_directions

if TYPE_CHECKING:
    import numpy as np

LEAST_REPS = 5
LEAST_SLOTS = 4
_LEAST_TURNED = 0.2  # share of the repetitions begun with the rarer stroke
_LEAST_HIT = 0.75  # share of the picked slots


class Practised(NamedTuple):
    """The picked slots of one cell. span (n, 2): what a tempo can make of them, which says nothing
    of the delay."""

    cell: Cell
    slots: tuple[Slot, ...]
    away_ms: np.ndarray
    span: np.ndarray
    step_ms: float  # between neighbours on the grid, as a rule
    reps: int


def practised(reps: Sequence[Repetition]) -> list[Practised]:
    """A piece for each cell with enough repetitions; ones with a pause or with many missed slots
    are left out."""
    groups: dict[tuple[object, ...], list[Repetition]] = {}
    for rep in reps:
        groups.setdefault((rep.cell.slots, rep.cell.steps, rep.cell.grid), []).append(rep)
    return [piece for piece in map(_piece, groups.values()) if piece is not None]


def _piece(reps: Sequence[Repetition]) -> Practised | None:
    import numpy as np

    cell = reps[0].cell
    slots = tuple(slot for slot in cell.slots if slot.picked)
    if len(slots) < LEAST_SLOTS:
        return None
    later_s = _later_s(reps)
    rows = [row for row in (_arrivals(rep, slots, later_s) for rep in reps) if row is not None]
    if len(rows) < LEAST_REPS:
        return None
    times = 1000.0 * np.array(rows)  # NaN where a slot was not hit
    if np.isnan(times).sum(axis=0).max() > len(times) - LEAST_REPS:
        return None
    span = np.stack([np.ones(len(slots)), [float(slot.start) for slot in slots]], axis=1)
    away_ms, steps = np.zeros(len(slots)), np.ones(len(times))
    # lines through what each slot is off by, then the slots' medians about the lines
    for _ in range(4):
        rest = np.empty_like(times)
        for at, row in enumerate(times):
            hit = ~np.isnan(row)
            line = np.linalg.lstsq(span[hit], (row - away_ms)[hit], rcond=None)[0]
            rest[at], steps[at] = row - span @ line, line[1]
        away_ms = np.nanmedian(rest, axis=0)
    return Practised(cell, slots, away_ms, span, float(np.median(steps)), len(times))


def _later_s(reps: Sequence[Repetition]) -> dict[tuple[int, int], float]:
    """Seconds by which notes come later for their direction: late up strokes are no delay of the
    rig. Empty where slots hardly ever change their direction: there the two cannot be told
    apart."""
    played = read_directions(reps)
    begun = list(played.begun.values())
    if min(begun.count("down"), begun.count("up")) < _LEAST_TURNED * len(reps):
        return {}
    return {at: late / 1000.0 for at, (_, late) in played.owed.items()}


def _arrivals(
    rep: Repetition, slots: Sequence[Slot], later_s: Mapping[tuple[int, int], float]
) -> list[float] | None:
    """When the notes of the slots arrived, less what their direction makes of it, NaN where none
    did; None for a repetition that is of no use."""
    if not rep.complete or rep.pause_s > 0.0:
        return None
    found = []
    for slot in slots:
        one = rep.slots[slot.number - 1]
        heard = one.verdict == HIT and one.note is not None and one.note.by == "note"
        own_s = later_s.get((rep.rep, slot.number), 0.0)
        found.append(one.note.onset_s - own_s if heard and one.note is not None else float("nan"))
    enough = sum(t_s == t_s for t_s in found) >= max(LEAST_SLOTS, _LEAST_HIT * len(slots))
    return [t_s - rep.start_s for t_s in found] if enough else None
