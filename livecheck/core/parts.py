"""Parts of a cell, looped by themselves: a run of its notes, its seam, the cell begun elsewhere.

A part keeps the strokes that its notes have in the cell's first repetition, written out, so that it
is picked as inside the cell; and it says which cell it is of, and which notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .cell import Cell, make_cell

SEAM = 2
"""Notes on each side of the seam."""


def part_of(cell: Cell, notes: Sequence[int]) -> Cell:
    """The cell whose slots are these of another, in this order, each lasting until the next one of
    the cell is due. notes: numbers from 1, running on, over the seam too.

    Raises ValueError for numbers that the cell does not have, that do not run on, or are too few.

    >>> six = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (5, 12), (5, 10)])
    >>> part = part_of(six, [5, 6, 1])
    >>> part.name, [(slot.string, slot.fret, slot.stroke) for slot in part.slots], part.steps
    ('six, notes 5-6-1', [(5, 12, 'down'), (5, 10, 'up'), (2, 10, 'down')], 3)
    """
    count = len(cell.slots)
    if len(notes) < 2:
        raise ValueError("a part has two notes or more")
    if any(not 1 <= number <= count for number in notes) or len(notes) > count:
        raise ValueError(f"the cell has notes 1 to {count}")
    if any(later != one % count + 1 for one, later in zip(notes, notes[1:])):
        raise ValueError("the notes of a part follow each other")
    places: list[tuple[int, int, str | None, int] | int] = []
    for number in notes:
        slot = cell.slots[number - 1]
        after = cell.slots[number % count]
        length = (after.start - slot.start) % cell.steps or cell.steps
        sounding = min(slot.length, length)
        places.append((slot.string, slot.fret, slot.stroke, sounding))
        if length > sounding:
            places.append(length - sounding)
    part = make_cell(
        f"{cell.name}, notes {told(notes)}",
        places,
        grid=cell.grid,
        tempo_bpm=cell.tempo_bpm,
        tuning=cell.tuning,
        capo=cell.capo,
    )
    used = {slot.string for slot in part.slots}
    quiet = tuple(sorted((set(cell.quiet) | set(cell.strings)) - used))
    return replace(part, quiet=quiet, parent=cell.name, notes=tuple(notes))


def told(notes: Sequence[int]) -> str:
    """Notes in short.

    >>> told([3, 4, 5]), told([5, 6, 1, 2])
    ('3-5', '5-6-1-2')
    """
    running = list(notes) == list(range(notes[0], notes[0] + len(notes)))
    return f"{notes[0]}-{notes[-1]}" if running else "-".join(map(str, notes))


def run_of(cell: Cell, first: int, last: int) -> list[int]:
    """Notes from one to another, over the seam where the last comes before the first."""
    count = len(cell.slots)
    length = (last - first) % count + 1
    return [(first - 1 + at) % count + 1 for at in range(length)]


def seam_of(cell: Cell) -> list[int]:
    """The last notes and the first ones."""
    count = len(cell.slots)
    if count < 2 * SEAM:
        return run_of(cell, 1, count)
    return run_of(cell, count - SEAM + 1, SEAM)


def begun_at(cell: Cell, first: int) -> list[int]:
    """All notes, beginning with another."""
    count = len(cell.slots)
    return [(first - 1 + at) % count + 1 for at in range(count)]
