"""Judged repetitions as tables for spreadsheets and statistics programs: comma-separated, UTF-8, a
header line.

Three tables: a row a repetition, a row a slot, a row an extra. Units stand at the end of the
columns' names; an empty field is what cannot be said. The columns are listed in formats.md.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from ..core.events import HIT, Extra, ExtraTold, Outcome, RepDone, Repetition
from ..core.picking import strokes_of

Value = str | int | float | None

REPETITIONS = (
    "rep", "take", "cell", "variant", "start_s", "end_s", "complete", "pause_s", "tempo_bpm", "notes_per_s", "slots",
    "hits", "accuracy", "clean", "cv_pct", "npvi", "worst_ms", "audible",
)  # fmt: skip
SLOTS = (
    "rep", "take", "slot", "planned_string", "planned_fret", "planned_note", "planned_stroke", "verdict", "expected_s",
    "onset_s", "end_s", "by", "string", "note", "velocity", "deviation_ms",
)  # fmt: skip
EXTRAS = ("rep", "take", "onset_s", "end_s", "string", "note", "velocity", "kind")


def tables(outcomes: Iterable[Outcome]) -> dict[str, str]:
    """The text of each table by its name: ``repetitions``, ``slots``, ``extras``."""
    reps: list[Sequence[Value]] = []
    slots: list[Sequence[Value]] = []
    extras: list[tuple[float, Sequence[Value]]] = []
    for outcome in outcomes:
        if isinstance(outcome, RepDone):
            rep = outcome.repetition
            reps.append(_repetition(rep))
            slots += _slots(rep)
            extras += [
                (extra.note.onset_s, _extra(rep.rep, rep.take, extra)) for extra in rep.extras
            ]
        elif isinstance(outcome, ExtraTold) and outcome.rep is None:
            extras.append((outcome.extra.note.onset_s, _extra(None, None, outcome.extra)))
    sounded = [row for _, row in sorted(extras, key=lambda extra: extra[0])]
    return {
        "repetitions": _text(REPETITIONS, reps),
        "slots": _text(SLOTS, slots),
        "extras": _text(EXTRAS, sounded),
    }


def _repetition(rep: Repetition) -> Sequence[Value]:
    even = rep.evenness
    return (
        rep.rep, rep.take, rep.cell.name, rep.cell.variant, _to(rep.start_s, 6), _to(rep.end_s, 6), _yes(rep.complete),
        _to(rep.pause_s, 4), _to(rep.tempo_bpm, 3), _to(rep.notes_per_s, 4), len(rep.slots),
        sum(slot.verdict == HIT for slot in rep.slots), _to(rep.accuracy, 4), _yes(rep.clean), _to(even.cv_pct, 3),
        _to(even.npvi, 3), _to(even.worst_ms, 2), None if even.audible is None else _yes(even.audible),
    )  # fmt: skip


def _slots(rep: Repetition) -> Iterable[Sequence[Value]]:
    strokes = strokes_of(rep.cell, rep.since_start)
    for result in rep.slots:
        plan, note = rep.cell.slots[result.slot - 1], result.note
        yield (
            rep.rep, rep.take, result.slot, plan.string, plan.fret, plan.pitch, strokes[result.slot - 1],
            result.verdict,
            _to(result.expected_s, 6),
            *((None,) * 6 if note is None else
              (_to(note.onset_s, 6), _to(note.end_s, 6), note.by, note.string, note.key, note.velocity)),
            _to(result.deviation_ms, 2),
        )  # fmt: skip


def _extra(rep: int | None, take: int | None, extra: Extra) -> Sequence[Value]:
    note = extra.note
    return (
        rep,
        take,
        _to(note.onset_s, 6),
        _to(note.end_s, 6),
        note.string,
        note.key,
        note.velocity,
        extra.kind,
    )


def _text(head: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return text.getvalue()


def _yes(value: bool) -> int:
    return int(value)


def _to(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
