"""The ways of the hand from string to string: which strings a cell's crossings pass over, and when
they were played."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from ...core.cell import Cell
from ...core.crossings import NEAR_S
from ...core.events import Note, Repetition, SlotResult
from ...core.plan import strings_between


class Crossing(NamedTuple):
    """The way between two slots of the plan, numbered from 1; ``over`` are the strings passed,
    lowest number first."""

    before: int
    after: int
    over: tuple[int, ...]


def crossings(cell: Cell) -> tuple[Crossing, ...]:
    """The string changes of a cell in order, the one from the last slot back to the first included.

    >>> from livecheck.core.cell import make_cell
    >>> crossings(make_cell("three", [(2, 13), (2, 10), (5, 12)]))
    (Crossing(before=2, after=3, over=(3, 4)), Crossing(before=3, after=1, over=(3, 4)))
    """
    slots = cell.slots
    found = []
    for at, slot in enumerate(slots):
        after = slots[(at + 1) % len(slots)]
        if after.string != slot.string:
            over = strings_between(slot.string, after.string)
            found.append(Crossing(slot.number, after.number, over))
    return tuple(found)


def left_behind(reps: Sequence[Repetition]) -> Iterable[tuple[Repetition, Crossing, Note, float]]:
    """Each crossing whose two slots sounded as planned: the note left behind and when the next one
    began."""
    for at, rep in enumerate(reps):
        following = reps[at + 1] if at + 1 < len(reps) else None
        for crossing in crossings(rep.cell):
            before, after = _slot(rep, crossing.before), _after(rep, following, crossing)
            if before is None or after is None or before.note is None or after.note is None:
                continue
            if before.note.string != after.note.string:
                yield rep, crossing, before.note, after.note.corrected_s


def _slot(rep: Repetition, number: int) -> SlotResult | None:
    return rep.slots[number - 1] if number <= len(rep.slots) else None


def _after(rep: Repetition, following: Repetition | None, crossing: Crossing) -> SlotResult | None:
    if crossing.after > crossing.before:
        return _slot(rep, crossing.after)
    follows = following is not None and rep.complete and following.take == rep.take
    return _slot(following, crossing.after) if follows and following is not None else None


def spans_of(rep: Repetition, following: Repetition | None) -> list[tuple[Crossing, float, float]]:
    """The crossings that were played, each with when it began and ended (delay taken off)."""
    spans = []
    for crossing in crossings(rep.cell):
        begin_s = time_of(_slot(rep, crossing.before))
        after = _after(rep, following, crossing)
        end_s = time_of(after)
        if after is None and rep.complete and crossing.after < crossing.before:
            end_s = rep.end_s
        if begin_s is not None and end_s is not None and begin_s < end_s < begin_s + 2.0:
            spans.append((crossing, begin_s, end_s))
    return spans


def time_of(result: SlotResult | None) -> float | None:
    """When a slot was played (delay taken off), or was due where it was missed."""
    if result is None:
        return None
    return result.note.corrected_s if result.note is not None else result.expected_s


def reaches(spans: Sequence[tuple[Crossing, float, float]]) -> list[tuple[float, float]]:
    """How far each crossing reaches for sounds: a little beyond its ends, but not into one that
    passes there too."""
    reaches = []
    for at, (crossing, begin_s, end_s) in enumerate(spans):
        before = spans[at - 1] if at else None
        after = spans[at + 1] if at + 1 < len(spans) else None
        over = set(crossing.over)
        shares_before = (
            before is not None and before[2] >= begin_s - NEAR_S and over & set(before[0].over)
        )
        shares_after = (
            after is not None and after[1] <= end_s + NEAR_S and over & set(after[0].over)
        )
        reaches.append(
            (
                begin_s - (0.0 if shares_before else NEAR_S),
                end_s + (0.0 if shares_after else NEAR_S),
            )
        )
    return reaches
