"""Which note fails and which string sounds, tempo by tempo, under the tablature of the cell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from ..measures.review.answers import Review
from ..measures.review.sentence import first_words, noise_words
from . import chart
from .page_parts import numbers, section
from .review_text import FEW, share_text
from .tablature import SYMBOLS


@dataclass(frozen=True, slots=True)
class Head:
    """What the cell says of its notes: the fret of each, and the strokes of the repetitions, the
    second where it differs from the first."""

    frets: tuple[int, ...] = ()
    strokes: tuple[tuple[str, ...], ...] = ()


NO_HEAD = Head()


def which_note(review: Review, head: Head) -> str:
    """Missed, wrong and broken off by note and tempo."""
    columns = [f"{i + 1} · s{string}" for i, string in enumerate(review.slot_strings)]
    rows = []
    for rung in reversed(review.by_tempo):
        cells = []
        for slot in range(len(columns)):
            shares = [column[slot] for column in (rung.missed, rung.wrong, rung.broken)]
            told = ", ".join(
                f"{name} {100 * share:.0f} %"
                for name, share in zip(("missed", "wrong", "broken off"), shares)
                if share
            )
            known = [share for share in shares if share is not None]
            title = f"note {slot + 1} at {rung.bpm:.0f} bpm: {told or 'no fault'}"
            share = min(sum(known), 1.0) if known else None
            cells.append((share, share_text(share, rung.reps), title))
        rows.append((f"{rung.bpm:.0f}", cells, rung.reps < FEW))
    claim = first_words(review, of_note=True)
    worst = _worst(review)
    told = " ".join(filter(None, ("Faults by note and tempo.", claim, worst)))
    caption = " ".join(
        filter(
            None,
            (
                claim,
                worst,
                "Missed, wrong or broken off, in 100 repetitions; a note a column under its place "
                f"in the tablature, a tempo a row.{_few(rows)}",
            ),
        )
    )
    picture = chart.heat(rows, columns, told, _tablature(review, head, len(columns)))
    return section("Which note", picture, caption, _numbers(rows, columns, "note"))


def _tablature(review: Review, head: Head, columns: int) -> tuple[list[str], float]:
    """The cell's tablature over the columns, and how tall it is: its strings, the frets on them,
    and the strokes. Without frets the notes are dots."""
    strings = sorted(set(review.slot_strings))
    lowest, highest = strings[-1], strings[0]
    wide, left = chart.column_width(columns), chart.LEFT
    parts, top, gap = [], 10, 15
    for string in range(highest, lowest + 1):
        y = top + gap * (string - highest)
        parts.append(
            f'<path class="grid" d="M{left} {y}H{left + wide * columns:.1f}"/>'
            f'<text x="{left - 7}" y="{y + 4}" text-anchor="end">s{string}</text>'
        )
    for i, string in enumerate(review.slot_strings):
        x, y = left + (i + 0.5) * wide, top + gap * (string - highest)
        fret = str(head.frets[i]) if i < len(head.frets) else "●"
        parts.append(
            f'<rect class="paper" x="{x - 9:.1f}" y="{y - 7}" width="18" height="14"/>'
            f'<text class="under" x="{x:.1f}" y="{y + 4}" text-anchor="middle">{fret}</text>'
        )
    y = top + gap * (lowest - highest + 1) + 6
    for strokes in head.strokes:
        for i, stroke in enumerate(strokes[:columns]):
            x = left + (i + 0.5) * wide
            parts.append(
                f'<text x="{x:.1f}" y="{y}" text-anchor="middle">{escape(SYMBOLS[stroke])}'
                f"<title>{escape(stroke)}</title></text>"
            )
        y += 16
    return parts, y - 8


def _few(rows: Sequence[chart.HeatRow]) -> str:
    """What pale cells mean, where there are some."""
    pale = any(few and any(share for share, _, _ in cells) for _, cells, few in rows)
    return (
        f" Dashed and pale: fewer than {FEW} repetitions, shown as so many of so many."
        if pale
        else ""
    )


def _worst(review: Review) -> str:
    """Which note went wrong most often, in words; nothing where the review names another one that
    goes first, since what failed least below the break may lead beyond it."""
    counts = [
        sum(
            rung.reps
            * sum(column[slot] or 0.0 for column in (rung.missed, rung.wrong, rung.broken))
            for rung in review.by_tempo
        )
        for slot in range(len(review.slot_strings))
    ]
    if not any(counts):
        return "No note went wrong."
    slot, first = max(range(len(counts)), key=counts.__getitem__), review.first_to_go
    if first is not None and first.fault not in ("noise", "stray") and first.slot != slot + 1:
        return ""
    return (
        f"Over all tempos, note {slot + 1} went wrong most often: {counts[slot]:.0f} of "
        f"{review.reps}."
    )


def other_strings(review: Review) -> str:
    """Noise by string and tempo; nothing where no string sounded."""
    loud = [
        string
        for string in range(len(review.by_tempo[0].noise))
        if any((rung.noise[string] or 0.0) > 0 for rung in review.by_tempo)
    ]
    if not loud:
        return ""
    rows = [
        (
            f"{rung.bpm:.0f}",
            [
                (
                    rung.noise[s],
                    share_text(rung.noise[s], rung.reps),
                    f"string {s + 1} at {rung.bpm:.0f} bpm: in {100 * (rung.noise[s] or 0):.0f} % "
                    "of repetitions",
                )
                for s in loud
            ],
            rung.reps < FEW,
        )
        for rung in reversed(review.by_tempo)
    ]
    columns = [f"string {string + 1}" for string in loud]
    told = [noise_words(review), *(_touches(review, string) for string in loud)]
    what = f"Repetitions in 100 in which a string sounded that should be silent.{_few(rows)}"
    caption = " ".join(filter(None, (*told, what)))
    return section(
        "Other strings",
        chart.heat(rows, columns, caption),
        caption,
        _numbers(rows, columns, ""),
    )


def _touches(review: Review, string: int) -> str:
    """How often a string sounded full and how often it was brushed, in words; nothing where neither
    can be told."""
    struck, brushed = (
        sum(column[string] for column in columns if column)
        for columns in (
            [rung.struck for rung in review.by_tempo],
            [rung.brushed for rung in review.by_tempo],
        )
    )
    parts = [
        f"{word} {'once' if count == 1 else f'{count} times'}"
        for word, count in (("sounded full", struck), ("brushed", brushed))
        if count
    ]
    return f"String {string + 1}: {', '.join(parts)}." if parts else ""


def _numbers(rows: Sequence[chart.HeatRow], columns: Sequence[str], what: str) -> str:
    head = ["bpm", *(f"{what} {name}".strip() for name in columns)]
    return numbers(head, [[name, *(text for _, text, _ in cells)] for name, cells, _ in rows])
