"""How long a left string rings on beyond what the converter's note-off adds as a rule (measures.md,
ring-over)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from ...core.events import Repetition
from .crossings import left_behind

LEAST_LEFT = 8
"""Crossings away from a string before its usual note-off delay is known."""


MATTERS_SHARE, MATTERS_MS = 0.5, 60.0
"""A string that sounds on for so much of the time that the next note has, and so long, is shown
while playing: less is mostly how the converter's note-offs scatter. No source."""


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


def rings_on(reps: Sequence[Repetition]) -> tuple[int, ...]:
    """The slots of the last repetition whose string sounds on into the next note where it matters.

    A string that has not ended yet sounds at least to the end of the repetition. Empty where it is
    not known how late note-offs usually come.
    """
    rules = note_off_rules(reps)
    found = []
    for rep, crossing, note, left_s in left_behind(reps[-1:]):
        rule_s = rules.get(note.string)
        if rule_s is None or rep.tempo_bpm is None:
            continue
        end_s = rep.end_s if note.end_s is None else note.end_s
        over_ms = 1000.0 * (end_s - left_s - rule_s)
        length_ms = 60_000.0 / rep.tempo_bpm / rep.cell.grid * _steps_of(rep, crossing.after)
        if over_ms >= max(MATTERS_MS, MATTERS_SHARE * length_ms):
            found.append(crossing.before)
    return tuple(found)


def _steps_of(rep: Repetition, slot: int) -> int:
    """Grid steps from a slot to the next one."""
    starts = [one.start for one in rep.cell.slots]
    after = starts[slot] if slot < len(starts) else rep.cell.steps + starts[0]
    return after - starts[slot - 1]
