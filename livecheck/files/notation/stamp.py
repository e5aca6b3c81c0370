"""The cell itself, kept beside the notes in a file that was exported.

Other kinds of file cannot say everything that a cell holds (quiet strings, variants, how strokes go
over the seam). The cell is put in as text where the kind of file has a place for such, and is taken
back only where the notes are still those.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction

from ...core.cell import Cell
from ...errors import BadInput
from ..config import cell_from_dict, cell_to_dict
from .figure import Figure

KEY = "livecheck-cell/1"
LONGEST_BYTES = 64 * 1024
CHANGED = (
    "notes were changed since livecheck wrote the file: quiet strings and variants are not read"
)


def stamp(cell: Cell) -> str:
    """The text that is put into a file."""
    return json.dumps(cell_to_dict(cell), ensure_ascii=True, separators=(",", ":"))


def stamped(text: str) -> Cell | None:
    """The cell in such a text; None where it is none."""
    if len(text) > LONGEST_BYTES:
        return None
    try:
        return cell_from_dict(json.loads(text), "cell")
    except (BadInput, ValueError, RecursionError):
        return None


def agrees(
    cell: Cell, figure: Figure, from_first: bool = False, pitches_only: bool = False
) -> bool:
    """Whether a figure's notes are the cell's: times, pitches and, but for ``pitches_only``, capo,
    places and strokes.

    from_first: times are told only in proportion, from the first note to the last.
    """
    sounds = sorted(figure.sounds, key=lambda sound: sound.start)
    if len(sounds) != len(cell.slots) or not (pitches_only or figure.capo == cell.capo):
        return False
    if not from_first and abs(figure.length - Fraction(cell.steps, cell.grid)) > figure.slack:
        return False
    starts = [Fraction(slot.start, cell.grid) for slot in cell.slots]
    found = [sound.start for sound in sounds]
    if from_first:
        starts, found = _in_proportion(starts), _in_proportion(found)
    return all(abs(one - other) <= figure.slack for one, other in zip(starts, found)) and all(
        sound.pitch == slot.pitch
        and (pitches_only or (sound.place, sound.stroke) == ((slot.string, slot.fret), written))
        for sound, slot, written in zip(sounds, cell.slots, cell.written)
    )


def _in_proportion(starts: list[Fraction]) -> list[Fraction]:
    """Times from the first, in parts of the last."""
    whole = (starts[-1] - starts[0]) or Fraction(1)
    return [(start - starts[0]) / whole for start in starts]


def find(text: str) -> tuple[str, Cell | None]:
    """A text without the line that holds a cell, and the cell.

    >>> find("one\\ntwo")
    ('one\\ntwo', None)
    """
    found = re.search(rf"^[ \t]*{re.escape(KEY)} (.*)$\n?", text, re.MULTILINE)
    if not found:
        return text, None
    return text[: found.start()] + text[found.end() :], stamped(found[1])
