"""How long a left string rings on beyond what the converter's note-off adds as a rule (measures.md,
ring-over)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from ...core.events import Repetition
from .crossings import left_behind

LEAST_LEFT = 8
"""Crossings away from a string before its usual note-off delay is known."""


class RingOver(NamedTuple):
    """How long the string of slot ``before`` sounded on beyond its usual note-off after slot
    ``after`` began."""

    rep: int
    before: int
    after: int
    string: int
    ring_over_ms: float


def note_off_rules(reps: Sequence[Repetition]) -> dict[int, float | None]:
    """By string, seconds that its note-off comes after the next string began, as a rule.

    The lower quarter of what is seen: longer ones are the finger's, not the converter's. 0 where
    strings are mostly damped before; None below ``LEAST_LEFT`` crossings.
    """
    return {
        string: max(0.0, sorted(values)[len(values) // 4]) if len(values) >= LEAST_LEFT else None
        for string, values in overhangs(reps).items()
    }


def ring_overs(reps: Sequence[Repetition]) -> tuple[RingOver, ...]:
    """Ring-over of each crossing from a string whose usual note-off delay is known; 0 where it
    stopped by then.

    A string that has not ended yet is left out. Source: measures.md, ring-over.
    """
    rules = note_off_rules(reps)
    found = []
    for rep, crossing, note, left_s in left_behind(reps):
        rule_s = rules.get(note.string)
        if rule_s is not None and note.end_s is not None:
            over_ms = 1000.0 * max(0.0, note.end_s - left_s - rule_s)
            found.append(RingOver(rep.rep, crossing.before, crossing.after, note.string, over_ms))
    return tuple(found)


def overhangs(reps: Sequence[Repetition]) -> dict[int, list[float]]:
    """By string, how long after the next string began each note-off came; negative where it was
    damped before."""
    seen: dict[int, list[float]] = {}
    for _, _, note, left_s in left_behind(reps):
        if note.end_s is not None:
            seen.setdefault(note.string, []).append(note.end_s - left_s)
    return seen
