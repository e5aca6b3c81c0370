"""Where each slot sits against the tempo line, over the last repetitions.

Placeholder for the figures of measures/timing.py; see there for the definitions.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..core.events import Repetition

FEWEST = 5
"""Hits of a slot below which no interval is told."""


@dataclass(frozen=True, slots=True)
class SlotMean:
    slot: int
    count: int
    mean_ms: float | None
    low_ms: float | None
    high_ms: float | None
    noticeable_ms: float
    lean: str | None  # "early" or "late" where that can be heard


def slot_means(reps: Iterable[Repetition]) -> tuple[SlotMean, ...]:
    return ()
