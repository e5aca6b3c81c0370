"""``livecheck ways --json``: the ways of playing as an object (formats.md)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..measures.ways.describe import Differs
from ..measures.ways.find import WayFound, Ways
from .values import rounded

FORMAT = "livecheck-ways/1"

Place = tuple[str, int]  # session and repetition


def ways_to_dict(
    ways: Ways,
    cell: str,
    names: Sequence[str],
    places: Sequence[Place],
    every: Sequence[Place],
) -> dict[str, Any]:
    """names: by way; places: where each row of the features was played; every: all repetitions,
    those that stand at no tempo as well."""
    told = {
        place: (names[way] if way >= 0 else None, float(chance))
        for place, way, chance in zip(places, ways.way, ways.chances)
    }
    return {
        "format": FORMAT,
        "cell": cell,
        "ways": [_way(way, name, places) for way, name in zip(ways.ways, names)],
        "from_bpm": rounded(ways.from_bpm, 1),
        "chance": rounded(ways.chance, 4),
        "reps": [
            {
                "session": place[0],
                "rep": place[1],
                "way": told[place][0] if place in told else None,
                "chance": round(told[place][1], 4) if place in told else None,
            }
            for place in every
        ],
        "why": ways.why,
    }


def _way(way: WayFound, name: str, places: Sequence[Place]) -> dict[str, Any]:
    clean = way.clean
    return {
        "name": name,
        "reps": way.reps,
        "by_tempo": [
            {"bpm": round(bpm, 1), "share": round(share, 4)} for bpm, share in way.by_tempo
        ],
        "differs": [_differs(one) for one in way.differs],
        "clean": None
        if clean is None
        else {
            "points": round(clean.points, 2),
            "low": round(clean.low, 2),
            "high": round(clean.high, 2),
        },
        "examples": [{"session": places[row][0], "rep": places[row][1]} for row in way.rows],
    }


def _differs(one: Differs) -> dict[str, Any]:
    return {
        "what": one.what,
        "slot": one.slot,
        "string": one.string,
        "this": round(one.this, 4),
        "other": round(one.other, 4),
        "low": round(one.low, 4),
        "high": round(one.high, 4),
    }
