"""`livecheck cell import` and `cell export`: cells from and for other programs' files."""

from __future__ import annotations

import re
from argparse import Namespace
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TextIO

from ..core.cell import Cell
from ..errors import BadInput
from ..files.config import cell_to_dict, dump_cell
from ..files.notation.figure import Asked, renamed
from ..files.notation.midi_out import to_midi
from ..files.notation.read import read_notation
from ..files.notation.tab_out import to_tab
from ..files.notation.xml_out import to_musicxml, to_packed
from ..files.paths import path_of
from ..files.textfile import put_bytes, put_text
from ..report.outlet import print_text
from ..report.tablature import tab_lines
from .choice import Choice, cell_of, practice_folder
from .common import near_path, new_file, only_ascii, print_json, width_of

ENDINGS = {"midi": "mid", "musicxml": "musicxml", "tab": "txt"}


@dataclass(frozen=True, slots=True)
class Keeping:
    """How a cell that was read is kept."""

    name: str | None
    reading: int
    force: bool


def run_import(options: Namespace, out: TextIO, err: TextIO) -> int:
    asked = Asked(options.bars, options.track, options.grid, options.tuning, options.capo)
    cells, notes = read_notation(path_of(options.file), asked)
    keeping = Keeping(options.write, options.reading or 1, options.force)
    if not 1 <= keeping.reading <= len(cells):
        raise BadInput(f"there is no reading {keeping.reading}: {len(cells)} in {options.file}")
    kept = None
    if keeping.name is not None:
        kept = keep(Choice.of(options), cells[keeping.reading - 1], keeping)
    if options.json:
        told = {"cells": [cell_to_dict(cell) for cell in cells], "notes": notes}
        print_json({**told, "written": str(kept)} if kept is not None else told, out)
        return 0
    shown = cells if kept is None else [cells[keeping.reading - 1]]
    for number, cell in enumerate(shown, 1):
        if len(shown) > 1:
            print(f"Reading {number} of {len(cells)}", file=out)
        print(*tab_lines(cell, width_of(out), only_ascii(out)), "", sep="\n", file=out)
    for note in notes:
        print(f"remark: {note}", file=out)
    if kept is not None:
        print(f"written to {near_path(kept)}; livecheck listen {kept.stem}", file=out)
    else:
        which = " (--reading N: another than the first)" if len(cells) > 1 else ""
        print(f"nothing is written; --write NAME keeps it as a cell{which}", file=out)
    return 0


def keep(choice: Choice, cell: Cell, keeping: Keeping) -> Path:
    """Write a cell into the practice folder under a name; returns its file. Raises BadInput where
    the name cannot be or is taken."""
    assert keeping.name is not None
    stem = "-".join(keeping.name.lower().split())
    if not re.fullmatch(r"\w[\w.+-]{0,60}", stem):
        raise BadInput(f"{keeping.name!r} cannot name a file; use letters, digits, spaces, dashes")
    path = practice_folder(choice).cells / f"{stem}.yaml"
    if path.exists() and not keeping.force:
        raise BadInput(f"{near_path(path)} is there already; --force writes over it")
    put_text(path, dump_cell(renamed(cell, keeping.name)))
    return path


def run_export(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    cell = as_played(cell_of(choice, choice.cells[0]))
    path = new_file(options.out, f"cell.{ENDINGS[options.to]}") if options.out else None
    text: str | None = None
    if options.to == "midi":
        data = to_midi(cell)
    elif options.to == "musicxml" and path is not None and path.suffix == ".mxl":
        data = to_packed(cell)
    else:
        text = to_musicxml(cell) if options.to == "musicxml" else to_tab(cell)
        data = text.encode("utf-8")
    if path is None:
        _print(out, data, text)
        return 0
    if path.exists() and not options.force:
        raise BadInput(f"{near_path(path)} is there already; --force writes over it")
    put_bytes(path, data)
    if options.json:
        print_json({"written": str(path)}, out)
    else:
        print(f"written to {near_path(path)}", file=out)
    return 0


def _print(out: TextIO, data: bytes, text: str | None) -> None:
    """On standard output; bytes only where they go to a file or another program."""
    if text is not None:
        print_text(text, out)
        return
    raw = getattr(out, "buffer", None)
    if raw is None or out.isatty():
        raise BadInput("a MIDI file is no text; name a file with --out")
    out.flush()
    raw.write(data)


def as_played(cell: Cell) -> Cell:
    """A cell in a variant as a cell of its own; one as written stays whole."""
    if cell.variant is None:
        return cell
    written = tuple(cell.written_in(cell.variant))
    return replace(
        cell,
        name=f"{cell.name}, {cell.variant}"[:80],
        written=written,
        begin=cell.begins_with(cell.variant),
        picking=cell.picking if None in written else "repeat",
        variants={},
        begins={},
        variant=None,
    )
