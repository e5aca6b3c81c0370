"""Figures from text tablature as guitarists type it.

Time is proportional to columns. The dashes before the first note are margin and taken off at every
bar, a bar line takes no time, a step is the greatest common divisor of the distances. ``h p / \\
t`` belong to the note after them. A note lasts until the next one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from math import gcd

from ...core.cell import Cell
from ..cellfile import HIGHEST_CAPO, HIGHEST_FRET
from .figure import MOST_NOTES, Asked, Figure, Sound, Unreadable, chosen
from .stamp import agrees, find
from .tab_lines import Staff, bars_of, staves, tuning_of_labels, tuning_said

GRID = 4
_MARKS = {
    **dict.fromkeys("hH", "hammer"),
    **dict.fromkeys("pP", "pull"),
    **dict.fromkeys("sS/\\", "slide"),
    **dict.fromkeys("tT", "tap"),
}
_TOKEN = re.compile(r"(?P<bend>[br]+\(?\d*)|(?P<fret>\d+)|(?P<mark>[hHpPsStT/\\])|(?P<muted>[xX])")


@dataclass(frozen=True, slots=True)
class _Note:
    column: int  # of the whole, margins and bar lines taken off
    string: int
    fret: int
    stroke: str | None
    bar: int
    where: str


@dataclass(slots=True)
class _Left:
    """What stands in the staves and no cell can hold."""

    bends: int = 0
    muted: int = 0


def read_tab_figure(text: str, name: str, asked: Asked) -> tuple[list[Figure], Cell | None]:
    """The figure of a text, further readings of it, and the cell that was exported to it, where
    that is still the same.

    Raises Unreadable with the line.
    """
    text, kept = find(text)
    found, said = staves(text)
    if not found:
        raise Unreadable("there is no tablature in it: no lines like e|--5-8--|, one a string")
    strings = len(found[0].labels)
    for staff in found:
        if len(staff.labels) != strings:
            if odd := [remark for one in found for remark in one.remarks]:
                raise Unreadable(odd[0])
            raise Unreadable(
                f"line {staff.first_line}: this staff has {len(staff.labels)} strings, the first "
                f"one {strings}"
            )
    remarks = list(dict.fromkeys(remark for staff in found for remark in staff.remarks))
    tuning = asked.tuning or (said.tuning and tuning_said(said.tuning, strings)) or None
    if tuning is None:
        tuning = tuning_of_labels(found[0])
        if said.tuning is not None:
            remarks.append(f"the line about tuning is passed over: it names no {strings} strings")
    if len(tuning) < strings:
        raise Unreadable(f"--tuning names {len(tuning)} strings; the tablature has {strings}")
    capo = asked.capo if asked.capo is not None else said.capo or 0
    if capo > HIGHEST_CAPO:
        raise Unreadable(f"capo {capo} is out of range; a capo goes up to fret {HIGHEST_CAPO}")
    left = _Left()
    notes, width = _notes(found, asked, left)
    if left.bends:
        remarks.append(f"bends are passed over ({left.bends}); the fret stands for the note")
    stray = sum(staff.letters - len(staff.strokes) for staff in found if staff.strokes)
    if stray:
        letters = "stroke letter stands" if stray == 1 else "stroke letters stand"
        remarks.append(f"{stray} {letters} under no note")
    if left.muted:
        remarks.append(f"muted notes (x) are left out ({left.muted})")
    starts, total = _steps(notes, width)
    grid = asked.grid or GRID
    figures = [
        _figure(notes, one, length, grid, (said.title or name, tuple(tuning), capo, said.tempo_bpm))
        for one, length in [(starts, total), (list(range(len(notes))), len(notes))]
    ]
    figures[0] = replace(figures[0], notes=tuple(remarks))
    if kept is not None and not asked.anything and agrees(kept, figures[0], from_first=True):
        return figures, kept
    distances = {b - a for a, b in zip(starts, starts[1:])}
    return figures if len(distances) > 1 else figures[:1], None


def _notes(found: list[Staff], asked: Asked, left: _Left) -> tuple[list[_Note], int]:
    """The notes of the bars asked for, by column from the first, and the columns of the whole."""
    bars = [(staff, begin, end) for staff in found for begin, end in bars_of(staff)]
    first, last = chosen(asked.bars, len(bars))
    read: list[tuple[int, list[_Note]]] = []  # columns of a bar, notes by column in it
    for number, (staff, begin, end) in enumerate(bars[first - 1 : last], first):
        read.append((end - begin, _in_bar(staff, begin, end, number, left)))
    margin = next((notes[0].column for _, notes in read if notes), None)
    if margin is None:
        raise Unreadable("there are no notes in it")
    placed: list[_Note] = []
    at = 0
    for columns, notes in read:
        off = min([margin, columns, *(note.column for note in notes)])
        for note in notes:
            column = at + note.column - off
            placed.append(_Note(column, note.string, note.fret, note.stroke, note.bar, note.where))
        at += columns - off
        if len(placed) > MOST_NOTES:
            raise Unreadable(f"holds more than {MOST_NOTES} notes; choose some with --bars 1-4")
    return placed, at


def _in_bar(staff: Staff, begin: int, end: int, bar: int, left: _Left) -> list[_Note]:
    """One bar's notes in order of time, by column in it."""
    notes: list[_Note] = []
    for string, body in enumerate(staff.bodies, 1):
        mark: str | None = None
        line = staff.first_line + string - 1
        for token in _TOKEN.finditer(body, begin, end):
            if token["bend"]:
                left.bends += 1
            elif token["muted"]:
                left.muted += 1
            elif token["mark"]:
                mark = _MARKS[token["mark"]]
            else:
                where = f"line {line}, column {staff.columns[string - 1] + token.start() + 1}"
                if len(token["fret"]) > 2 or int(token["fret"]) > HIGHEST_FRET:
                    raise Unreadable(
                        f"{where}: {token['fret'][:20]} is no fret; put a dash between two notes"
                    )
                stroke = mark or staff.strokes.get(token.start())
                notes.append(
                    _Note(token.start() - begin, string, int(token["fret"]), stroke, bar, where)
                )
                mark = None
    notes.sort(key=lambda note: note.column)
    for one, other in zip(notes, notes[1:]):
        if one.column == other.column:
            raise Unreadable(
                f"bar {bar}, {other.where}: strings {one.string} and {other.string} sound "
                "together; a cell has one note at a time"
            )
    return notes


def _steps(notes: list[_Note], width: int) -> tuple[list[int], int]:
    """The grid step of every note, and of the end."""
    columns = [note.column - notes[0].column for note in notes]
    step = gcd(*columns) or max(width - notes[0].column, 1)
    starts = [column // step for column in columns]
    return starts, max(starts[-1] + 1, (width - notes[0].column) // step)


def _figure(
    notes: list[_Note],
    starts: list[int],
    total: int,
    grid: int,
    heading: tuple[str, tuple[int, ...], int, float | None],
) -> Figure:
    name, tuning, capo, tempo_bpm = heading
    sounds = tuple(
        Sound(
            Fraction(start, grid),
            Fraction(ahead - start, grid),
            f"bar {note.bar}, {note.where}",
            tuning[note.string - 1] + capo + note.fret,
            (note.string, note.fret),
            note.stroke,
        )
        for note, start, ahead in zip(notes, starts, [*starts[1:], total])
    )
    return Figure(name, sounds, Fraction(total, grid), tuning, capo, tempo_bpm, grid)
