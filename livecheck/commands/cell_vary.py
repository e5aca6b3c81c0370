"""`livecheck cell vary`: other cells made of a cell, and kept as its family."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from ..core.cell import Cell
from ..core.vary import (
    begun_at,
    doubled,
    family_of,
    in_rhythm,
    moved_frets,
    moved_strings,
    reversed_order,
)
from ..errors import BadInput
from ..files.cellfile import MOST_SLOTS
from ..files.config import cell_from_dict, cell_to_dict, dump_cell
from ..files.paths import path_of
from ..files.textfile import put_text
from ..report.tablature import tab_lines
from .choice import Choice, cell_of, practice_folder
from .common import near_path, only_ascii, print_json, width_of

Steps = tuple[int, ...]
ALL: Steps = ()
"""Instead of numbers: all that make sense."""
MOST_PICTURES = 4  # of more cells only the names are shown


@dataclass(frozen=True, slots=True)
class Ways:
    """What was asked for; None and False: not this."""

    frets: Steps | None = None
    strings: Steps | None = None
    start: Steps | None = None
    reverse: bool = False
    double: bool = False
    rhythm: Steps | None = None

    def or_all(self) -> Ways:
        """Those that always make sense where nothing was asked for."""
        if self == Ways():
            return Ways(strings=ALL, start=ALL, reverse=True, double=True)
        return self


def run_vary(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    cell = cell_of(choice, choice.cells[0])
    ways = Ways(
        options.frets,
        options.strings,
        options.start,
        options.reverse,
        options.double,
        options.rhythm,
    )
    cells, notes = varied(cell, ways.or_all())
    folder = path_of(options.out) if options.out else None
    if options.write and folder is None:
        folder = practice_folder(choice).cells
    written = [] if folder is None else write_all(folder, cells, options.force)
    if options.json:
        told = {"family": family_of(cell), "cells": [cell_to_dict(one) for one in cells]}
        print_json({**told, "notes": notes, "written": [str(path) for path in written]}, out)
        return 0
    for number, one in enumerate(cells):
        if written:
            print(f"{near_path(written[number])}: {one.name}", file=out)
        elif len(cells) > MOST_PICTURES:
            print(one.name, file=out)
        else:
            picture = tab_lines(one, width_of(out), only_ascii(out))
            print(*picture[: picture.index("", 3) + 1], sep="\n", file=out)
    for note in notes:
        print(f"remark: {note}", file=out)
    if not written:
        count = "1 cell" if len(cells) == 1 else f"{len(cells)} cells"
        print(f"{count}; --write keeps them, --out DIR in a folder of their own", file=out)
    return 0


def varied(cell: Cell, ways: Ways) -> tuple[list[Cell], list[str]]:
    """The cells asked for, none twice and none that is the cell itself, and what could not be.

    Raises BadInput where nothing is left.
    """
    found: list[Cell] = []
    notes: list[str] = []
    seen = [_music(cell)]
    for how, one in _each(cell, ways):
        if one is None:
            notes.append(f"{how}: leaves the neck")
        elif len(one.slots) > MOST_SLOTS or _refused(one):
            notes.append(f"{how}: becomes too long")
        elif _music(one) in seen:
            notes.append(f"{how}: is the same as another")
        else:
            found.append(one)
            seen.append(_music(one))
    if not found:
        raise BadInput("nothing to make of it: " + "; ".join(notes or ["no way was asked for"]))
    return found, notes


def _each(cell: Cell, ways: Ways) -> Iterator[tuple[str, Cell | None]]:
    for by in ways.frets or ():
        yield f"{by:+d} frets", moved_frets(cell, by)
    if ways.strings == ALL:
        for by in range(1 - len(cell.tuning), len(cell.tuning)):
            if by and (moved := moved_strings(cell, by)) is not None:
                yield f"{by:+d} strings", moved
    elif ways.strings is not None:
        for by in ways.strings:
            yield f"{by:+d} strings", moved_strings(cell, by)
    count = len(cell.slots)
    starts = tuple(range(2, count + 1)) if ways.start == ALL else ways.start or ()
    for number in starts:
        if not 1 <= number <= count:
            raise BadInput(f"there is no note {number}; the cell has {count}")
        yield f"from note {number}", begun_at(cell, number)
    if ways.reverse and count > 1:
        yield "reversed", reversed_order(cell)
    if ways.double:
        yield "doubled", doubled(cell)
    if ways.rhythm is not None:
        if not all(0 < length <= MOST_SLOTS for length in ways.rhythm):
            raise BadInput("a rhythm is made of lengths in grid steps, from 1 on, as in 3,1")
        yield "in that rhythm", in_rhythm(cell, ways.rhythm)


def _refused(cell: Cell) -> bool:
    try:
        return cell_from_dict(cell_to_dict(cell), "cell") != cell
    except BadInput:
        return True


def _music(cell: Cell) -> object:
    slots = [(slot.string, slot.fret, slot.start, slot.length) for slot in cell.slots]
    return slots, cell.written, cell.steps


def write_all(folder: Path, cells: list[Cell], force: bool) -> list[Path]:
    """A file for each cell, all or none of them; returns their paths. Raises BadInput where one is
    there already."""
    paths = [folder / f"{file_stem(cell.name)}.yaml" for cell in cells]
    there = [path for path in paths if path.exists()]
    if there and not force:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        raise BadInput(f"{near_path(there[0])}{more} there already; --force writes over them")
    for path, cell in zip(paths, cells):
        put_text(path, f"# Of the family {family_of(cell)!r}.\n{dump_cell(cell)}")
    return paths


def file_stem(name: str) -> str:
    """A cell's name as the name of a file.

    >>> file_stem("Six across, a skip")
    'six-across-a-skip'
    """
    return "-".join(re.findall(r"[^\W_]+", name.lower()))[:100] or "cell"
