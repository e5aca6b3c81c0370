"""Data out: a session's repetitions as tables, its takes as MIDI files."""

from __future__ import annotations

import contextlib
import os
from argparse import Namespace
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TextIO

from ..core.events import Outcome, Record
from ..errors import BadInput
from ..files.csvfile import tables
from ..files.midifile import write_midi
from ..files.paths import path_of
from ..files.takefiles import cut, take_starts
from .choice import Choice, practice_folder
from .common import print_json
from .judging import MIDI_ENDINGS, judged, last_cell, take_of

Writer = tuple[Path, Callable[[Path], object]]
"""A file and what writes it, under whatever name."""


def run_export(options: Namespace, out: TextIO, err: TextIO) -> int:
    if options.csv is None and options.midi is None:
        raise BadInput(
            "what shall be written? --csv DIR writes tables, --midi DIR a MIDI file a take"
        )
    choice = Choice.of(options)
    take = take_of(choice, choice.sessions[0], err)
    session, outcomes = judged(take.records)
    if last_cell(session, outcomes) is None:
        raise BadInput(
            f"{choice.sessions[0]}: no cell was chosen or recognised while it was recorded; name one by "
            "--cell"
        )
    name = _name_of(choice)
    writers: list[Writer] = []
    if options.csv is not None:
        folder = _folder(options.csv)
        for table, text in tables(outcomes).items():
            writers.append((folder / f"{name}-{table}.csv", partial(_write_text, text)))
    if options.midi is not None:
        writers += _midi_writers(choice, _folder(options.midi), name, outcomes)
    _write_all(writers, options.force)
    written = [str(path) for path, _ in writers]
    if options.json:
        print_json({"written": written}, out)
    else:
        print(*written or ["no take in it: nothing was written"], sep="\n", file=out)
    if trouble := take.trouble():
        print(f"livecheck: {trouble}", file=err)
    return 0


def _midi_writers(choice: Choice, folder: Path, name: str, outcomes: list[Outcome]) -> list[Writer]:
    starts = take_starts(outcomes)
    parts = cut(take_of(choice, choice.sessions[0]).records, [start for _, start in starts])
    return [
        (folder / f"{name}-take-{number:03d}.mid", partial(_write_records, records))
        for (number, _), records in zip(starts, parts)
    ]


def _write_records(records: list[Record], path: Path) -> None:
    write_midi(path, records)


def _name_of(choice: Choice) -> str:
    """What the files are named after: the session's name, or the file's without its ending."""
    path = path_of(choice.sessions[0])
    if path.suffix.lower() in MIDI_ENDINGS:
        return path.stem
    return (
        path.resolve().parent.name
        if path.is_file()
        else practice_folder(choice).session(choice.sessions[0]).resolve().name
    )


def _folder(name: str) -> Path:
    path = path_of(name)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"{name}: cannot be made: {error.strerror or error}") from error
    return path


def _write_text(text: str, path: Path) -> None:
    path.write_bytes(text.encode("utf-8"))


def _write_all(writers: list[Writer], force: bool) -> None:
    """Write every file under another name first, then give them theirs. Nothing stays where one
    cannot be written."""
    there = [path for path, _ in writers if path.exists()]
    if there and not force:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        raise BadInput(f"{there[0]}{more}: there already; --force writes over it")
    made: list[tuple[Path, Path]] = []
    try:
        for path, write in writers:
            temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
            made.append((temporary, path))
            write(temporary)
        for temporary, path in made:
            os.replace(temporary, path)
    except OSError as error:
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
    except BadInput as error:  # it names the file by its other name
        raise BadInput(str(error).replace(str(temporary), str(path))) from error
    finally:
        for temporary, _ in made:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
