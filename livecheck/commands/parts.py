"""Which part of a cell is practised, where only one is."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass

from ..core.cell import Cell
from ..core.parts import begun_at, part_of, run_of, seam_of
from ..errors import BadInput


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAsked:
    """A run of notes, the seam, or the whole begun at another note; nothing of these: the cell."""

    notes: tuple[int, int] | None = None
    seam: bool = False
    from_note: int | None = None

    @classmethod
    def of(cls, options: Namespace) -> PartAsked:
        """What was typed."""
        return cls(notes=options.notes, seam=options.seam, from_note=options.from_note)


def part_asked(asked: PartAsked, cells: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """The part of the one cell, or the cells as they are. Raises BadInput."""
    if asked.notes is None and not asked.seam and asked.from_note is None:
        return cells
    if len(cells) != 1:
        raise BadInput("a part is of one cell: name only one")
    cell = cells[0]
    count = len(cell.slots)
    wrong = next((n for n in (*(asked.notes or ()), asked.from_note or 1) if n > count), None)
    if wrong is not None:
        raise BadInput(f"cell {cell.name!r} has notes 1 to {count}; there is no note {wrong}")
    if asked.notes is not None:
        notes = run_of(cell, *asked.notes)
    elif asked.seam:
        notes = seam_of(cell)
    else:
        notes = begun_at(cell, asked.from_note or 1)
    try:
        return (part_of(cell, notes),)
    except ValueError as error:
        raise BadInput(f"cell {cell.name!r}: {error}") from error
