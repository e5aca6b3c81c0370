"""`livecheck cell learn`: a cell from what is played, written as a file that is ready to use."""

from __future__ import annotations

import contextlib
import os
import re
import sys
from argparse import Namespace
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from ..core.cell import Cell
from ..core.events import Midi, Record, UseCells
from ..core.pitch import STANDARD_TUNING, pitch_of
from ..core.playing import PAUSE_S, is_note
from ..core.rig import Rig
from ..core.tunings import TUNINGS
from ..errors import BadInput
from ..files.cellfile import FINEST_GRID, HIGHEST_CAPO
from ..files.config import cell_from_dict, cell_to_dict, dump_cell, load_cell
from ..files.takefiles import cut, take_starts
from ..measures.learn.answer import Learned, learn
from ..report.tablature import tab_lines
from .choice import Choice, plain, practice_folder, rig_of
from .common import near_path, only_ascii, print_json, program_name, width_of, wrapped
from .judging import is_midi, judged
from .rig_input import records_of

_UNSAFE = re.compile(r"[^\w.-]+")
_LEAD_S = 0.5


def run_learn(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    learning = _Learning(options, rig_of(choice))
    if options.source is not None:
        told = learning.of(_records(choice, options))
    else:
        from .cell_learn_live import played

        if options.take is not None:
            raise BadInput("--take N goes with --from; alone it does nothing")
        told = played(choice, options, learning, err if options.json else out)
    name, begin = options.name, options.begin or "down"
    if told.cell is not None and not options.json:
        _show(_begun(told.cell, begin), out)
        if out.isatty() and sys.stdin.isatty():
            name = name or _asked("Its name? (Enter: not yet) ", out) or None
            if options.begin is None and _asked("Begin with an up stroke? [y/N] ", out) == "y":
                begin = "up"
    cell = None
    if told.cell is not None:
        cell = _begun(told.cell, begin)
        cell = replace(cell, name=name or (options.out and Path(options.out).stem) or "learned")
    path = _write(choice, options, told, cell, name)
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
        return 0
    _say(told, begin, path, out)
    return 0


def _begun(cell: Cell, begin: str) -> Cell:
    """The cell with its strokes alternating from one of the two on."""
    return cell_from_dict({**cell_to_dict(cell), "begin": begin}, "what was played")


class _Learning:
    """What the options say of every try to learn."""

    def __init__(self, options: Namespace, rig: Rig | None) -> None:
        if not 0 <= options.capo <= HIGHEST_CAPO:
            raise BadInput(f"--capo {options.capo}: a capo can lie at fret 0 to {HIGHEST_CAPO}")
        if options.grid > FINEST_GRID:
            raise BadInput(f"--grid {options.grid}: a beat can have 1 to {FINEST_GRID} steps")
        self.rig = rig
        self._capo, self._grid, self._start = options.capo, options.grid, options.start
        self._tuning = tuning_of(options.tuning, rig)

    def of(self, records: Iterable[Record], begin_at: bool = True) -> Learned:
        """begin_at: shift the start as asked; not while a figure is still being played."""
        try:
            return learn(
                records,
                self.rig,
                tuning=self._tuning,
                capo=self._capo,
                grid=self._grid,
                start=self._start if begin_at else 1,
            )
        except ValueError as error:
            raise BadInput(f"--start {self._start}: {error}") from error


def tuning_of(text: str | None, rig: Rig | None) -> tuple[int, ...]:
    """Open strings as typed, by their notes or a tuning's name; else the rig's, else standard.

    >>> tuning_of("drop D", None)
    (64, 59, 55, 50, 45, 38)
    >>> tuning_of("E4,B3,G3", None)
    (64, 59, 55)
    """
    if text is None:
        return rig.tuning if rig is not None and rig.tuning is not None else STANDARD_TUNING
    named = {name.lower(): tuning for name, tuning in TUNINGS.items()}
    if (known := named.get(" ".join(text.lower().split()))) is not None:
        return known
    try:
        tuning = tuple(pitch_of(name) for name in re.split(r"[,\s]+", text.strip(" ,[]")))
    except ValueError as error:
        names = ", ".join(f"'{name}'" for name in TUNINGS)
        raise BadInput(
            f"--tuning: {error}; write the open strings from string 1 on, as in "
            f"E4,B3,G3,D3,A2,D2, or one of {names}"
        ) from error
    if len(tuning) > 12:
        raise BadInput(f"--tuning: {len(tuning)} strings are too many; at most 12")
    return tuning


# -------------------------------------------------------------------------------------- from a file


def _records(choice: Choice, options: Namespace) -> list[Record]:
    """What was played: a whole file or session, or one take of it. Raises BadInput."""
    path = Path(options.source).expanduser()
    if is_midi(path) and not os.path.exists(path):
        raise BadInput(f"{options.source}: no such file")
    records = list(records_of(choice, options.source))
    if options.take is None:
        return records
    starts = list(_starts(records))
    if options.take > len(starts):
        there = "has 1 take" if len(starts) == 1 else f"has {len(starts)} takes"
        raise BadInput(f"--take {options.take}: {options.source} {there}")
    return list(cut(records, starts))[options.take - 1]


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


def _write(
    choice: Choice, options: Namespace, told: Learned, cell: Cell | None, name: str | None
) -> Path | None:
    """Write the cell, checked, and say where; None where it was not asked for: for other programs,
    and of a figure that is not sure, only a file or cell that was named is written."""
    if cell is None:
        if options.out is not None and not options.json:
            raise BadInput(f"no cell was heard, so none is written: {told.why}")
        return None
    if options.out is None and name is None and (options.json or not told.sure):
        return None
    if options.out is not None:
        path = Path(options.out).expanduser()
    else:
        folder = practice_folder(choice).cells
        stem = _UNSAFE.sub("-", plain(cell.name)).strip("-.") or "learned"
        path = folder / f"{stem}.yaml"
        number = 2
        while name is None and path.exists():
            path = folder / f"{stem}-{number}.yaml"
            number += 1
    if path.exists() and not options.force:
        raise BadInput(f"{near_path(path)}: there already; --force writes over it")
    if name is None and options.out is None:
        cell = replace(cell, name=path.stem.replace("-", " "))
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(temporary, "w", encoding="utf-8", newline="\n") as file:
            file.write(dump_cell(cell))
            file.flush()
            os.fsync(file.fileno())
        load_cell(temporary)
        os.replace(temporary, path)
    except OSError as error:
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
    return path


# -------------------------------------------------------------------------------------- on the screen


def _asked(question: str, out: TextIO) -> str:
    print(question, end="", file=out, flush=True)
    return sys.stdin.readline().strip()


def _show(cell: Cell, out: TextIO) -> None:
    print(*tab_lines(cell, width_of(out), only_ascii(out)), "", sep="\n", file=out)


def _say(told: Learned, begin: str, path: Path | None, out: TextIO) -> None:
    """How sure it is, what it was not sure of, and where the cell is now."""
    if told.cell is None:
        print(wrapped(f"No cell: {told.why}.", out), file=out)
        return
    times = f"{told.repetitions} time{'' if told.repetitions == 1 else 's'}"
    heard = f"Heard {times} from beginning to end"
    if told.sure:
        print(wrapped(f"{heard}; {100 * told.chance:.0f} % sure.", out), file=out)
    else:
        lines = f"Not sure ({100 * told.chance:.0f} %): {told.why}. {heard}."
        print(wrapped(lines, out), file=out)
    other = "" if begin == "up" else " (--begin up begins with an up stroke)"
    print(wrapped(f"Its strokes alternate from {begin} on{other}.", out), file=out)
    if path is not None:
        program = program_name()
        print(f"Written to {near_path(path)}; practise it: {program} listen {path.stem}", file=out)
    else:
        print("Not written; --name NAME writes it as it is.", file=out)
