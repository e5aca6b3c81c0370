"""A cell as text tablature, stroke letters under the staff."""

from __future__ import annotations

from ...core.cell import Cell
from ...core.pitch import STANDARD_TUNING, name_of
from .stamp import KEY, stamp

STEP = 4  # columns of a grid step
_MARGIN = 2
_PLAIN = ("e", "B", "G", "D", "A", "E")
_LETTERS = {"down": "D", "up": "U"}
_MARKS = {"hammer": "h", "pull": "p", "tap": "t"}


def to_tab(cell: Cell) -> str:
    """The text, every line ended. A slur's letter stands before its note, the strokes of the pick
    below; what is left out is left out."""
    width = STEP * cell.steps
    rows = [["-"] * (_MARGIN + width) for _ in cell.tuning]
    strokes = [" "] * (_MARGIN + width)
    frets: dict[int, int] = {}  # the last one of each string
    for slot, stroke in zip(cell.slots, cell.written):
        at = _MARGIN + STEP * slot.start
        row = rows[slot.string - 1]
        row[at : at + len(str(slot.fret))] = str(slot.fret)
        if stroke in _LETTERS:
            strokes[at] = _LETTERS[stroke]
        elif stroke == "slide":
            row[at - 1] = "\\" if slot.fret < frets.get(slot.string, 0) else "/"
        elif stroke is not None:
            row[at - 1] = _MARKS[stroke]
        frets[slot.string] = slot.fret
    names = [name_of(pitch) for pitch in cell.tuning]
    labels = list(_PLAIN) if cell.tuning == STANDARD_TUNING else names
    margin = max(map(len, labels))
    lines = [f"Title: {cell.name}"]
    if cell.tuning != STANDARD_TUNING:
        lines.append(f"Tuning: {' '.join(labels)}")
    if cell.capo:
        lines.append(f"Capo {cell.capo}")
    if cell.tempo_bpm is not None:
        lines.append(f"Tempo: {cell.tempo_bpm:g}")
    lines += ["", *(f"{label:<{margin}}|{''.join(row)}|" for label, row in zip(labels, rows))]
    if "".join(strokes).strip():
        lines.append(f"{' ' * (margin + 1)}{''.join(strokes)}".rstrip())
    return "\n".join([*lines, "", f"{KEY} {stamp(cell)}", ""])
