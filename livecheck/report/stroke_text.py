"""The strokes of a take as they were played, in words and ready for JSON."""

from __future__ import annotations

from collections import Counter
from typing import Any

from ..measures.strokes.direction import DOWN, UP, Directions, Habit

FEWEST_SEAMS = 4
"""Fewer seams than this are not summed up (common practice, no source)."""

NEARLY = 0.8
"""What happened in at least this share is said as a rule (common practice, no source)."""


def stroke_sentences(told: Directions) -> list[str]:
    """What up strokes are like, how repetitions begin, and how one follows the other."""
    if told.why is not None:
        return [f"Down or up cannot be told: {told.why}."]
    played = Counter(one.played for one in told.strokes)
    found = [f"Told as played: {played[DOWN]} down strokes, {played[UP]} up strokes."]
    habits = [_softer(told.softer), _later(told.later)]
    said = [habit for habit in habits if habit]
    if said:
        found.append(f"Up strokes come {' and '.join(said)} than down strokes.")
    if told.not_picked:
        notes = ", ".join(map(str, told.not_picked))
        found.append(f"Not picked, though planned to be: note {notes}.")
    found += _seams(told)
    return found


def _softer(habit: Habit | None) -> str:
    if habit is None or habit.low <= 0.0 <= habit.high:
        return ""
    low, high = sorted((abs(habit.low), abs(habit.high)))
    word = "softer" if habit.value > 0 else "harder"
    return f"{100 * abs(habit.value):.0f} % {word} ({100 * low:.0f} to {100 * high:.0f})"


def _later(habit: Habit | None) -> str:
    if habit is None or habit.low <= 0.0 <= habit.high:
        return ""
    low, high = sorted((abs(habit.low), abs(habit.high)))
    word = "later" if habit.value > 0 else "earlier"
    return f"{abs(habit.value):.1f} ms {word} ({low:.1f} to {high:.1f})"


def _seams(told: Directions) -> list[str]:
    begun = Counter(told.begun.values())
    total = begun.total()
    if total < FEWEST_SEAMS:
        return []
    on = sum(one.goes_on is True for one in told.seams)
    up = sum(one.goes_on is False for one in told.seams)
    first, count = begun.most_common(1)[0]
    if on + up >= FEWEST_SEAMS and on >= NEARLY * (on + up):
        return [
            f"The picking turns round: {begun[DOWN]} repetitions begin down, {begun[UP]} begin up."
        ]
    if count < NEARLY * total:
        return [
            f"Repetitions begin now so, now so: {begun[DOWN]} with a down stroke, {begun[UP]} with "
            "an up stroke."
        ]
    rule = (
        f"Repetitions begin with {'an' if first == UP else 'a'} {first} stroke ({count} of {total})"
    )
    if on + up >= FEWEST_SEAMS:
        return [f"{rule}: two strokes of the same direction in a row over the seam."]
    return [f"{rule}."]


def direction_to_dict(told: Directions) -> dict[str, Any]:
    """The same as plain values; null where it cannot be told."""
    return {
        "why": told.why,
        "softer_pct": _habit(told.softer, 100.0),
        "later_ms": _habit(told.later, 1.0),
        "not_picked": list(told.not_picked),
        "begun": [{"rep": rep, "stroke": stroke} for rep, stroke in sorted(told.begun.items())],
    }


def _habit(habit: Habit | None, times: float) -> dict[str, float] | None:
    if habit is None:
        return None
    return {name: round(times * value, 2) for name, value in habit._asdict().items()}
