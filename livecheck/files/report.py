"""The score of a take as one JSON object, ``livecheck-score/1`` (formats.md), rounded once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..core.cell import Cell
from ..core.events import Extra, ExtraTold, Outcome, RepDone, Repetition, SlotResult
from ..measures.columns import COLUMNS
from ..measures.strokes.direction import Played, strokes_played
from ..session import COUNTED
from .values import rounded

FORMAT = "livecheck-score/1"


def score(cell: Cell | None, outcomes: Sequence[Outcome], counts: dict[str, int]) -> dict[str, Any]:
    """All of a take's outcomes as the score object. ``counts`` are the session's."""
    reps = [outcome.repetition for outcome in outcomes if isinstance(outcome, RepDone)]
    outside = [
        outcome.extra
        for outcome in outcomes
        if isinstance(outcome, ExtraTold) and outcome.rep is None
    ]
    strokes = strokes_played(reps)
    named: dict[str, Any] | None = None
    if cell is not None:
        named = {"name": cell.name, "slots": len(cell.slots)}
        if cell.variant is not None:
            named["variant"] = cell.variant
    return {
        "format": FORMAT,
        "cell": named,
        "reps": [_repetition(repetition, strokes) for repetition in reps],
        "outside": [_extra(extra) for extra in outside],
        "totals": {name: counts[name] for name in COUNTED},
    }


def _repetition(
    repetition: Repetition, strokes: Mapping[tuple[int, int], Played]
) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for column in COLUMNS:
        if column.json:
            place = found if column.group is None else found.setdefault(column.group, {})
            place[column.key] = column.value(repetition)
        elif column.key == "slots":  # whole here, counted in tables
            found["slots"] = [
                _slot(result, strokes[repetition.rep, result.slot]) for result in repetition.slots
            ]
            found["extras"] = [_extra(extra) for extra in repetition.extras]
    return found


def _slot(result: SlotResult, stroke: Played) -> dict[str, Any]:
    note = result.note
    return {
        "slot": result.slot,
        "verdict": result.verdict,
        "expected_s": rounded(result.expected_s, 6),
        "onset_s": None if note is None else rounded(note.onset_s, 6),
        "by": None if note is None else note.by,
        "string": None if note is None else note.string,
        "note": None if note is None else note.key,
        "velocity": None if note is None else note.velocity,
        "deviation_ms": rounded(result.deviation_ms, 2),
        "played": stroke.played,
        "played_chance": rounded(stroke.chance, 3),
    }


def _extra(extra: Extra) -> dict[str, Any]:
    note = extra.note
    return {
        "onset_s": rounded(note.onset_s, 6),
        "string": note.string,
        "note": note.key,
        "velocity": note.velocity,
        "kind": extra.kind,
    }
