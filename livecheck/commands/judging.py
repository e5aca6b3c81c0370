"""Saved takes as records: MIDI files and sessions come out alike, so that one judgment serves
both."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TextIO

from ..core.cell import Cell
from ..core.events import Outcome, Record, RepDone, UseCells, UseRig
from ..core.plain_text import counted
from ..core.rig import Rig
from ..errors import BadInput
from ..files.config import rig_for
from ..files.journal_reader import Account, read
from ..files.lines import file_number
from ..files.midifile import read_midi
from ..files.paths import path_of
from ..session import Session
from .choice import Choice, cells_of, practice_folder, rig_of

MIDI_ENDINGS = (".mid", ".midi", ".smf")


class Take:
    """What was played, ready to be judged: ``records`` can be gone through once.

    ``account`` says how whole a session's journal is (after the last record); None for a MIDI file.
    """

    def __init__(
        self, records: Iterable[Record], account: Account | None = None, path: Path | None = None
    ) -> None:
        """path: of the journal."""
        self.records = records
        self.account = account
        self._path = path

    def say_trouble(self, err: TextIO) -> None:
        """Warn of what is not whole before anything is told of it: the journal is looked over by
        itself for that."""
        if self._path is None:
            return
        reading = read(self._path)
        for _ in reading:
            pass
        if trouble := Take((), reading.account).trouble():
            print(f"livecheck: {trouble}", file=err, flush=True)

    def trouble(self) -> str | None:
        """What is not whole, in one line; known after the last record."""
        account = self.account
        if account is None:
            return None
        found = []
        if account.damaged:
            found.append(counted(account.damaged, "damaged line"))
        if account.missing:
            lines = counted(sum(count for _, _, count in account.missing), "line")
            found.append(f"{lines} missing")
        if account.dropped:
            found.append(f"{counted(account.dropped, 'message')} never saved")
        return f"the session is not whole: {', '.join(found)}" if found else None


def take_of(choice: Choice, name: str, err: TextIO | None = None) -> Take:
    """The MIDI file or session meant by a name. The cells, the variant and the rig chosen go before
    what it says itself.

    Of several cells each repetition is of the one that is recognised; those the rig cannot play are
    told on ``err``.

    Raises BadInput.
    """
    rig = rig_of(choice)
    cells = cells_of(choice, rig, err or sys.stderr)
    path = path_of(name)
    if is_midi(path):
        if not os.path.exists(path):
            raise BadInput(f"{name}: no such file")
        if not cells:
            raise BadInput(
                f"{name}: a MIDI file does not say what was to be played; name the cell by --cell"
            )
        return Take(_with(read_midi(path), cells, _fitting(cells, rig)))
    if not cells and choice.variant is not None:
        raise BadInput("--variant needs --cell: it says which cell's")
    reading = read(path if os.path.isfile(path) else practice_folder(choice).session(name))
    return Take(_instead(reading, cells, rig), reading.account, reading.path)


def is_midi(path: Path) -> bool:
    """Whether a path means a Standard MIDI File, and not a session or one of its journal files."""
    return path.suffix.lower() in MIDI_ENDINGS or (
        os.path.isfile(path) and file_number(path) is None
    )


def judged(records: Iterable[Record]) -> tuple[Session, list[Outcome]]:
    """Go through all records; the session as it stands at the end, and every outcome."""
    session = Session()
    return session, session.feed_all(records)


def last_cell(session: Session, outcomes: Sequence[Outcome]) -> Cell | None:
    """The cell in force at the end; of several the last one that a repetition was played of."""
    played = (
        outcome.repetition.cell for outcome in reversed(outcomes) if isinstance(outcome, RepDone)
    )
    return session.cell or next(played, None)


def _fitting(cells: Sequence[Cell], rig: Rig | None) -> Rig:
    """The rig, or without one the usual rig that has strings enough. Raises BadInput where a cell
    has more."""
    rigs = [rig_for(cell, rig) for cell in cells]
    return max(rigs, key=lambda one: len(one.channels))


def _with(messages: Iterable[Record], cells: tuple[Cell, ...], rig: Rig) -> Iterator[Record]:
    yield UseRig(0.0, rig)
    yield UseCells(0.0, cells)
    yield from messages


def _instead(
    records: Iterable[Record], cells: tuple[Cell, ...], rig: Rig | None
) -> Iterator[Record]:
    """The records of a session, other cells or another rig in the place of those it was recorded
    with."""
    if rig is not None:
        yield UseRig(0.0, rig)
    if cells:
        yield UseCells(0.0, cells)
    for record in records:
        if isinstance(record, UseRig):
            if rig is not None:
                continue
            if cells:
                _fitting(cells, record.rig)
        elif isinstance(record, UseCells):
            if cells:
                continue
            if rig is not None and record.cells:
                _fitting(record.cells, rig)
        yield record
