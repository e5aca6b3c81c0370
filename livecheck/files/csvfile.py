"""Judged repetitions as tables for spreadsheets and statistics programs: comma-separated, UTF-8, a
header line.

Three tables: a row a repetition, a row a slot, a row an extra. Units stand at the end of the
columns' names; an empty field is what cannot be said. The columns are listed in formats.md.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from ..core.events import Extra, ExtraTold, Outcome, RepDone, Repetition
from ..core.picking import strokes_of
from ..measures.columns import COLUMNS, Value
from .values import rounded

_FORMULA = ("=", "+", "-", "@", "\t", "\r")

REPETITIONS = tuple(column for column in COLUMNS if column.table)
SLOTS = (
    "rep", "take", "slot", "planned_string", "planned_fret", "planned_note", "planned_stroke",
    "verdict", "expected_s", "onset_s", "end_s", "by", "string", "note", "velocity", "deviation_ms",
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
        "repetitions": _text([column.key for column in REPETITIONS], reps),
        "slots": _text(SLOTS, slots),
        "extras": _text(EXTRAS, sounded),
    }


def _repetition(rep: Repetition) -> Sequence[Value]:
    return [_plain(column.value(rep)) for column in REPETITIONS]


def _slots(rep: Repetition) -> Iterable[Sequence[Value]]:
    strokes = strokes_of(rep.cell, rep.since_start)
    for result in rep.slots:
        plan, note = rep.cell.slots[result.slot - 1], result.note
        yield (
            rep.rep, rep.take, result.slot, plan.string, plan.fret, plan.pitch,
            strokes[result.slot - 1], result.verdict,
            rounded(result.expected_s, 6),
            *((None,) * 6 if note is None else
              (rounded(note.onset_s, 6), rounded(note.end_s, 6), note.by, note.string, note.key,
               note.velocity)),
            rounded(result.deviation_ms, 2),
        )  # fmt: skip


def _extra(rep: int | None, take: int | None, extra: Extra) -> Sequence[Value]:
    note = extra.note
    return (
        rep,
        take,
        rounded(note.onset_s, 6),
        rounded(note.end_s, 6),
        note.string,
        note.key,
        note.velocity,
        extra.kind,
    )


def _text(head: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([_plain(value) for value in row] for row in rows)
    return text.getvalue()


def _plain(value: Value) -> Value:
    """Yes and no are 1 and 0 in tables. A text that begins as a formula does gets an apostrophe, so
    that no spreadsheet takes it for one."""
    if isinstance(value, str) and value[:1] in _FORMULA:
        return f"'{value}"
    return int(value) if isinstance(value, bool) else value
