"""The planned strokes of each repetition, counted from where play began.

Owns what an odd number of picked notes does to the plan: strokes that are left out go on over the
seam by the cell's ``picking``. Knows nothing of what was played.
"""

from __future__ import annotations

from .cell import PICKED, REPEAT, Cell, alternate, other_way
from .plain_text import a_or_an


def strokes_of(cell: Cell, repetition: int) -> tuple[str, ...]:
    """The strokes that the plan has in a repetition, one a slot.

    repetition: from 1, counted from where play last began (``Repetition.since_start``). A stroke
    that is written is the same in all of them. Source: formats.md, cell file; sources.md L-01.

    >>> from livecheck.core.cell import make_cell
    >>> odd = make_cell("odd", [(1, 5), (1, 7), (1, 8)])
    >>> strokes_of(odd, 1), strokes_of(odd, 2)
    (('down', 'up', 'down'), ('up', 'down', 'up'))
    """
    written = cell.written_in(cell.variant)
    first = tuple(alternate(written, cell.begins_with(cell.variant)))
    if repetition <= 1 or cell.picking == REPEAT or None not in written:
        return first
    second = _after(written, first)
    if repetition % 2 == 0:
        return second
    return _after(written, second)  # two states: from here on it goes to and fro, or stays


def _after(written: list[str | None], before: tuple[str, ...]) -> tuple[str, ...]:
    picked = [stroke for stroke in before if stroke in PICKED]
    return tuple(alternate(written, other_way(picked[-1]))) if picked else before


def round_of(cell: Cell) -> range:
    """The repetitions after which the planned strokes come round: one, or two.

    It begins at 2 where the first repetition's strokes never return (strokes written in part).
    """
    first, second, third = (strokes_of(cell, repetition) for repetition in (1, 2, 3))
    if first == second:
        return range(1, 2)
    return range(2, 3) if second == third else range(1, 3)


def turns_round(cell: Cell) -> bool:
    """Whether each repetition begins on the other stroke than the one before. Source: sources.md
    L-01."""
    return len(round_of(cell)) == 2


def first_stroke(cell: Cell, repetition: int) -> str | None:
    """The stroke of a repetition's first picked note; None where none is picked."""
    return next((stroke for stroke in strokes_of(cell, repetition) if stroke in PICKED), None)


def begun_with(cell: Cell, repetition: int, first: str) -> tuple[str, ...]:
    """The strokes of a repetition whose first picked note is played with this stroke: as planned,
    or every picked note turned."""
    strokes = strokes_of(cell, repetition)
    if first_stroke(cell, repetition) == first:
        return strokes
    return tuple(other_way(stroke) if stroke in PICKED else stroke for stroke in strokes)


def second_repetition(cell: Cell) -> str:
    """What the plan means for the second repetition, in one sentence.

    >>> from livecheck.core.cell import make_cell
    >>> print(second_repetition(make_cell("odd", [(1, 5), (1, 7), (1, 8)])).replace(": ", ":\\n"))
    the second repetition begins with an up stroke:
    3 notes are picked, an odd number, and the picking turns round
    """
    first, second = strokes_of(cell, 1), strokes_of(cell, 2)
    picked = [stroke for stroke in first if stroke in PICKED]
    if not picked:
        return "no note is picked, so every repetition is alike"
    start = first_stroke(cell, 2)
    begins = f"the second repetition begins with {a_or_an(start)} stroke"
    odd = f"{len(picked)} {'note is' if len(picked) == 1 else 'notes are'} picked"
    if turns_round(cell):
        return f"{begins}: {odd}, an odd number, and the picking turns round"
    again = " again" if start == picked[0] else ""
    if first != second:
        changed = [number for number, two in enumerate(zip(first, second), 1) if two[0] != two[1]]
        notes = "note" if len(changed) == 1 else "notes"
        return (
            f"{begins}{again}; from then on the other way: {notes} {', '.join(map(str, changed))}"
        )
    if picked[-1] == start:
        return f"{begins}{again}: two {start} strokes in a row over the seam"
    return f"{begins}{again}, as all do"
