"""The score of a take as one JSON object, ``livecheck-score/1`` (formats.md), rounded once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..core.cell import Cell
from ..core.events import Extra, ExtraTold, Outcome, RepDone, Repetition, SlotResult
from ..measures.strokes.direction import Played, strokes_played
from ..session import COUNTED

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
    evenness = repetition.evenness
    return {
        "rep": repetition.rep,
        "start_s": _seconds(repetition.start_s),
        "end_s": _seconds(repetition.end_s),
        "complete": repetition.complete,
        "pause_s": _rounded(repetition.pause_s, 4),
        "tempo_bpm": _rounded(repetition.tempo_bpm, 3),
        "notes_per_s": _rounded(repetition.notes_per_s, 4),
        "slots": [
            _slot(result, strokes[repetition.rep, result.slot]) for result in repetition.slots
        ],
        "extras": [_extra(extra) for extra in repetition.extras],
        "accuracy": _rounded(repetition.accuracy, 4),
        "clean": repetition.clean,
        "evenness": {
            "cv_pct": _rounded(evenness.cv_pct, 3),
            "npvi": _rounded(evenness.npvi, 3),
            "worst_ms": _rounded(evenness.worst_ms, 2),
            "audible": evenness.audible,
        },
    }


def _slot(result: SlotResult, stroke: Played) -> dict[str, Any]:
    note = result.note
    return {
        "slot": result.slot,
        "verdict": result.verdict,
        "expected_s": _seconds(result.expected_s),
        "onset_s": None if note is None else _seconds(note.onset_s),
        "by": None if note is None else note.by,
        "string": None if note is None else note.string,
        "note": None if note is None else note.key,
        "velocity": None if note is None else note.velocity,
        "deviation_ms": _rounded(result.deviation_ms, 2),
        "played": stroke.played,
        "played_chance": _rounded(stroke.chance, 3),
    }


def _extra(extra: Extra) -> dict[str, Any]:
    note = extra.note
    return {
        "onset_s": _seconds(note.onset_s),
        "string": note.string,
        "note": note.key,
        "velocity": note.velocity,
        "kind": extra.kind,
    }


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)


def _seconds(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
