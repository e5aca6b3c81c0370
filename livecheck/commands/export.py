"""Data out: a session's repetitions as tables, its takes as MIDI files."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TextIO

from ..core.events import Outcome, Record
from ..errors import BadInput
from ..files.atomic import together
from ..files.csvfile import tables
from ..files.midifile import midi_bytes
from ..files.paths import path_of
from ..files.takefiles import cut, take_starts
from .choice import Choice, practice_folder
from .common import print_json
from .judging import MIDI_ENDINGS, judged, last_cell, take_of

File = tuple[Path, Callable[[], bytes]]
"""A file and what gives its bytes."""


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
            f"{choice.sessions[0]}: no cell was chosen or recognised while it was recorded; name "
            "one by --cell"
        )
    name = _name_of(choice)
    writers: list[File] = []
    if options.csv is not None:
        folder = _folder(options.csv)
        for table, text in tables(outcomes).items():
            writers.append((folder / f"{name}-{table}.csv", partial(text.encode, "utf-8")))
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


def _midi_writers(choice: Choice, folder: Path, name: str, outcomes: list[Outcome]) -> list[File]:
    starts = take_starts(outcomes)
    parts = cut(take_of(choice, choice.sessions[0]).records, [start for _, start in starts])
    return [
        (folder / f"{name}-take-{number:03d}.mid", partial(_midi, records))
        for (number, _), records in zip(starts, parts)
    ]


def _midi(records: list[Record]) -> bytes:
    return midi_bytes(records)[0]


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
    if path.exists() and not path.is_dir():
        raise BadInput(f"{name}: is a file; name a folder for what is written")
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"{name}: cannot be made: {error.strerror or error}") from error
    return path


def _write_all(files: list[File], force: bool) -> None:
    """Write every file, all or none of them."""
    there = [path for path, _ in files if os.path.lexists(path)]
    if there and not force:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        raise BadInput(f"{there[0]}{more}: there already; --force writes over it")
    path = Path()
    try:
        with together(mode=None) as put:
            for path, data in files:
                put(path, data())
    except OSError as error:
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
