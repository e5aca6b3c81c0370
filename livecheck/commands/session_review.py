"""What the review says of one session that has just ended, for its summary."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from ..console.plain import FEW, Told
from ..files.index import Played, judged_sessions
from ..measures.review.advice import advice
from ..measures.review.answers import Review, make_review
from ..measures.review.packed import joined
from ..measures.review.sentence import sentence

FEWEST_TOLD, MOSTLY = 8, 0.5
"""A planned stroke is called hammered where it was not picked in half of at least so many notes
that could be told (common practice, no source)."""


def told_of(folder: Path) -> Mapping[tuple[str, str | None], Told]:
    """By cell and variant what the review says of a session's repetitions, and what to play next;
    nothing of what has too few, or cannot be judged."""
    found: dict[tuple[str, str | None], Told] = {}
    for _, judged in judged_sessions([folder], helpers=1):
        ways: dict[tuple[str, str | None], list[Played]] = {}
        for one in judged.played:
            ways.setdefault((one.cell, one.variant), []).append(one)
        for key, played in ways.items():
            if len({one.figure for one in played}) == 1 and sum(one.reps for one in played) >= FEW:
                found[key] = _told(played, judged.day)
    return found


def _told(played: Sequence[Played], day: int) -> Told:
    table = joined([one.table for one in played], [0] * len(played), [day] * len(played))
    review = make_review(table, played[0].cell, played[0].grid, played[0].variant)
    planned = played[0].strokes[0] if played[0].strokes else ()
    return Told(sentence(review), advice(review), _hammered(review, planned))


def _hammered(review: Review, planned: Sequence[str]) -> dict[int, tuple[int, int]]:
    """Planned strokes of the pick that mostly were none: how many of how many, by note."""
    found = {}
    for slot, stroke in enumerate(planned, 1):
        if stroke not in ("down", "up"):
            continue
        of = sum(rung.stroked[slot - 1] for rung in review.by_tempo if rung.stroked)
        shares = (
            (rung.unpicked[slot - 1] or 0.0) * rung.stroked[slot - 1]
            for rung in review.by_tempo
            if rung.stroked and rung.unpicked
        )
        hammered = round(sum(shares))
        if of >= FEWEST_TOLD and hammered >= MOSTLY * of:
            found[slot] = hammered, of
    return found
