"""The ways of playing in what is reviewed: found by themselves, told where there are several."""

from __future__ import annotations

from collections.abc import Sequence
from shlex import quote
from typing import Any, TextIO

from ..errors import BadInput
from ..files.ways_report import ways_to_dict
from ..report.page_ways import ways_part
from ..report.ways_text import headline
from .choice import Choice
from .played import Way
from .ways import Found, found_of

MOST_REPS = 1500
"""Older sessions than make so many repetitions are left to `livecheck ways`: a review is to be
there in a moment."""
FEWEST_REPS = 100
"""Of fewer nothing could be told of two ways that have their thirty and more."""


def ways_in(choice: Choice, chosen: Sequence[Way], err: TextIO) -> Found | None:
    """Several ways of playing in the latest of what is reviewed; None where one explains all, or
    where they cannot be looked for, which is told on ``err``."""
    latest: set[int] = set()
    reps = 0
    order = sorted(range(len(chosen)), key=lambda at: (chosen[at].day, at), reverse=True)
    for at in order:
        reps += chosen[at].played.reps
        if latest and reps > MOST_REPS:
            break
        latest.add(at)
    if reps < FEWEST_REPS:
        return None
    try:
        found = found_of(choice, [way for at, way in enumerate(chosen) if at in latest])
    except BadInput as error:
        print(f"livecheck: {error}", file=err)
        return None
    return found if len(found.ways.ways) > 1 else None


def told(found: Found, cell: str) -> str:
    """The finding in a sentence or two, and where more of it stands."""
    return f"{headline(found.ways, found.names)} More: livecheck ways {quote(cell)}"


def part_of_page(found: Found | None) -> str:
    """The pictures of the ways; nothing where there are none."""
    if found is None or found.features is None:
        return ""
    return ways_part(found.ways, found.names, found.features.figure)


def to_dict(found: Found | None, cell: str) -> dict[str, Any] | None:
    """The review's key ``ways``: as `livecheck ways --json`, without each repetition."""
    if found is None:
        return None
    every = ways_to_dict(found.ways, cell, found.names, found.places, found.every)
    return {
        "sentence": headline(found.ways, found.names),
        **{key: every[key] for key in ("ways", "from_bpm", "chance")},
    }
