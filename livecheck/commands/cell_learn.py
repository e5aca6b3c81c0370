"""`livecheck cell learn`: a cell from what is played, written as a file that is ready to use."""

from __future__ import annotations

import os
import re
import shlex
import sys
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TextIO

from ..core.cell import Cell
from ..core.events import Midi, Record, UseCells
from ..core.playing import PAUSE_S, is_note
from ..errors import BadInput
from ..files.config import cell_from_dict, cell_to_dict, dump_cell
from ..files.paths import path_of
from ..files.takefiles import cut, take_starts
from ..files.textfile import put_text
from ..measures.learn.answer import Learned
from ..report.tablature import tab_lines
from .cell_learn_live import played
from .choice import Choice, plain, practice_folder, rig_of
from .common import (
    near_path,
    new_file,
    only_ascii,
    print_json,
    print_wrapped,
    program_name,
    width_of,
)
from .judging import is_midi, judged
from .learning import Learning
from .record import Input
from .rig_input import records_of

_UNSAFE = re.compile(r"[^\w.-]+")
_LEAD_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Writing:
    """Under which name and where a cell is written; ``for_programs``: with --json."""

    name: str | None
    out: str | None
    force: bool
    for_programs: bool


def run_learn(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    if options.old_name is not None:
        raise BadInput("--name NAME is --write NAME now, as for the other commands")
    if options.out is not None:
        new_file(options.out, "learned.yaml")
    begin = options.begin
    if options.source is not None:
        learning = Learning.of(options, rig_of(choice))
        told = learning.learn(_records(choice, options.source, options.take))
    else:
        if options.take is not None:
            raise BadInput("--take N goes with --from; alone it does nothing")
        learning = Learning.of(options, rig_of(choice, own=True))
        screen = err if options.json else out
        told, key = played(choice, Input.of(options), options.seconds, learning, screen)
        begin = begin or key
    name, asked = options.write, begin is None
    begin = begin or "down"
    stem = Path(options.out).stem if options.out is not None else "learned"
    if told.cell is not None and not options.json:
        lines = tab_lines(_begun(told.cell, begin), width_of(out), only_ascii(out))
        print(*lines, "", sep="\n", file=out)
        if out.isatty() and sys.stdin.isatty():
            kept = told.sure or options.out is not None
            name = name or _asked(f"Its name? (Enter: {stem if kept else 'not kept'}) ", out)
            question = "Does it begin with an up stroke? (y; Enter: with a down stroke) "
            if asked and (kept or name) and _asked(question, out).lower() in ("y", "yes"):
                begin = "up"
    cell = None
    if told.cell is not None:
        cell = replace(_begun(told.cell, begin), name=name or stem)
    writing = _Writing(
        name=name or None, out=options.out, force=options.force, for_programs=bool(options.json)
    )
    path = _write(choice, writing, told, cell)
    if options.json:
        print_json(
            {
                "sure": told.sure,
                "chance": told.chance,
                "why": told.why,
                "cell": cell_to_dict(cell) if cell is not None else None,
                "repetitions": told.repetitions,
                "path": str(path) if path is not None else None,
            },
            out,
        )
    else:
        _say(choice, told, begin, path, out)
    return 0


def _begun(cell: Cell, begin: str) -> Cell:
    """The cell with its strokes alternating from one of the two on."""
    return cell_from_dict({**cell_to_dict(cell), "begin": begin}, "what was played")


# -------------------------------------------------------------------------------------- from a file


def _records(choice: Choice, source: str, take: int | None) -> list[Record]:
    """What was played: a whole file or session, or one take of it. Raises BadInput."""
    path = path_of(source)
    if is_midi(path) and not os.path.exists(path):
        raise BadInput(f"{source}: no such file")
    records = list(records_of(choice, source))
    if take is None:
        return records
    starts = list(_starts(records))
    if take > len(starts):
        there = "has 1 take" if len(starts) == 1 else f"has {len(starts)} takes"
        raise BadInput(f"--take {take}: {source} {there}")
    return list(cut(records, starts))[take - 1]


def _starts(records: list[Record]) -> Iterator[float]:
    """Where takes begin: as they are judged where a cell was practised, else after each pause."""
    if any(isinstance(record, UseCells) and record.cells for record in records):
        yield from (start for _, start in take_starts(judged(records)[1]))
        return
    before_s: float | None = None
    for record in records:
        if isinstance(record, Midi) and is_note(record.data):
            if before_s is None or record.t_s - before_s > PAUSE_S:
                yield max(record.t_s - _LEAD_S, 0.0)
            before_s = record.t_s


# ------------------------------------------------------------------------------------- into a file


def _write(choice: Choice, writing: _Writing, told: Learned, cell: Cell | None) -> Path | None:
    """Write the cell, checked, and say where; None where it was not asked for: for other programs,
    and of a figure that is not sure, only a file or cell that was named is written."""
    if cell is None:
        if writing.out is not None and not writing.for_programs:
            raise BadInput(f"no cell was heard, so none is written: {told.why}")
        return None
    if writing.out is None and writing.name is None and (writing.for_programs or not told.sure):
        return None
    if writing.out is not None:
        path = path_of(writing.out)
    else:
        folder = practice_folder(choice).cells
        stem = _UNSAFE.sub("-", plain(cell.name)).strip("-.") or "learned"
        path = folder / f"{stem}.yaml"
        number = 2
        while writing.name is None and path.exists():
            path = folder / f"{stem}-{number}.yaml"
            number += 1
    if path.exists() and not writing.force:
        raise BadInput(f"{near_path(path)}: there already; --force writes over it")
    if writing.name is None and writing.out is None:
        cell = replace(cell, name=path.stem.replace("-", " "))
    cell_from_dict(cell_to_dict(cell), str(path))  # what is written can be read
    put_text(path, dump_cell(cell))
    return path


# ------------------------------------------------------------------------------------ on the screen


def _asked(question: str, out: TextIO) -> str:
    print(question, end="", file=out, flush=True)
    return sys.stdin.readline().strip()


def _say(choice: Choice, told: Learned, begin: str, path: Path | None, out: TextIO) -> None:
    """How sure it is, what it was not sure of, and where the cell is now."""
    if told.cell is None:
        print_wrapped(f"No cell: {told.why}.", out)
        return
    times = f"{told.repetitions} time{'' if told.repetitions == 1 else 's'}"
    heard = f"Heard {times} from beginning to end"
    if told.sure:
        print_wrapped(f"{heard}; {min(100 * told.chance, 99):.0f} % sure.", out)
    else:
        lines = f"Not sure ({100 * told.chance:.0f} %): {told.why}. {heard}."
        print_wrapped(lines, out)
    other = "" if begin == "up" else " (--begin up begins with an up stroke)"
    print_wrapped(f"Its strokes alternate from {begin} on{other}.", out)
    if path is not None:
        program = program_name()
        known = path.parent == practice_folder(choice).cells
        cell = path.stem if known else shlex.quote(near_path(path))
        print(f"Written to {near_path(path)}; practise it: {program} listen {cell}", file=out)
    else:
        print("Not written; --write NAME writes it as it is.", file=out)
