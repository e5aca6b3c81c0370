"""The parts of a cell that were practised by themselves, for its review."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..measures.climb.parts import PartTold, tell_part
from .played import Way, table_of


def parts_of(ways: Sequence[Way], every: Sequence[Way]) -> list[PartTold]:
    """What is told of each part of the reviewed cell. ways: the cell's own, every: all that was
    chosen."""
    cell = ways[0].played.cell
    parts: dict[tuple[int, ...], list[Way]] = {}
    for way in every:
        if way.played.parent == cell and way.played.notes:
            parts.setdefault(tuple(way.played.notes), []).append(way)
    inside = table_of(ways)
    found = []
    for notes, own in parts.items():
        if max(notes) <= len(inside.slot_strings) and len(notes) < len(inside.slot_strings):
            told = tell_part(table_of(own), inside, notes)
            if told is not None:
                found.append(told)
    return found


def part_to_dict(part: PartTold) -> dict[str, Any]:
    """As JSON (formats.md), rounded once."""

    def limit(bpm: float, low: float, high: float, fastest: float) -> dict[str, Any]:
        if bpm > fastest:
            return {
                "status": "above_range",
                "bpm": None,
                "low_bpm": round(fastest, 1),
                "high_bpm": None,
            }
        ends = {"low_bpm": round(low, 1), "high_bpm": round(min(high, fastest), 1)}
        return {"status": "found", "bpm": round(bpm, 1), **ends}

    alone, inside = part.alone, part.inside
    return {
        "notes": list(part.notes),
        "why": part.why,
        "chance": round(part.chance, 3),
        "alone": limit(alone.bpm, alone.low, alone.high, part.fastest[0]),
        "inside": limit(inside.bpm, inside.low, inside.high, part.fastest[1]),
        "reps": {"alone": part.reps[0], "inside": part.reps[1]},
    }
