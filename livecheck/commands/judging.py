"""Saved takes as records: MIDI files and sessions come out alike, so that one judgment serves both."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..core.events import Outcome, Record, RepDone, UseCells, UseRig
from ..errors import BadInput
from .common import cell_of, practice_folder, rig_of

if TYPE_CHECKING:
    from ..core.cell import Cell
    from ..core.rig import Rig
    from ..files.journal_reader import Account
    from ..session import Session

MIDI_ENDINGS = (".mid", ".midi", ".smf")


class Take:
    """What was played, ready to be judged: ``records`` can be gone through once.

    ``account`` says how whole a session's journal is (after the last record); None for a MIDI file.
    """

    def __init__(self, records: Iterable[Record], account: Account | None = None) -> None:
        self.records = records
        self.account = account

    def trouble(self) -> str | None:
        """What is not whole, in one line; known after the last record."""
        account = self.account
        if account is None:
            return None
        found = []
        if account.damaged:
            found.append(f"{account.damaged} damaged lines")
        if account.missing:
            found.append(f"{sum(count for _, _, count in account.missing)} lines missing")
        if account.dropped:
            found.append(f"{account.dropped} messages were never saved")
        return f"the session is not whole: {', '.join(found)}" if found else None


def take_of(options: Namespace, name: str) -> Take:
    """The MIDI file or session meant by a name. ``--cell``, ``--variant`` and ``--rig`` go before what it says itself.

    Raises BadInput.
    """
    from ..files.journal_reader import read
    from ..files.lines import file_number
    from ..files.midifile import read_midi

    rig = rig_of(options)
    cell = cell_of(options, options.cell, rig) if options.cell is not None else None
    path = Path(name).expanduser()
    is_midi = path.suffix.lower() in MIDI_ENDINGS or (os.path.isfile(path) and file_number(path) is None)
    if is_midi:
        if cell is None:
            raise BadInput(f"{name}: a MIDI file does not say what was to be played; name the cell by --cell")
        return Take(_with(read_midi(path), cell, _fitting(cell, rig)))
    if cell is None and options.variant is not None:
        raise BadInput("--variant needs --cell: it says which cell's")
    reading = read(path if os.path.isfile(path) else practice_folder(options).session(name))
    return Take(_instead(reading, cell, rig), reading.account)


def judged(records: Iterable[Record]) -> tuple[Session, list[Outcome]]:
    """Go through all records; the session as it stands at the end, and every outcome."""
    from ..session import Session

    session = Session()
    outcomes: list[Outcome] = []
    for record in records:
        outcomes += session.feed(record)
    return session, outcomes + session.finish()


def last_cell(session: Session, outcomes: Sequence[Outcome]) -> Cell | None:
    """The cell in force at the end; of several the last one that a repetition was played of."""
    played = (outcome.repetition.cell for outcome in reversed(outcomes) if isinstance(outcome, RepDone))
    return session.cell or next(played, None)


def _fitting(cell: Cell, rig: Rig | None) -> Rig:
    from ..files.config import rig_for

    return rig_for(cell, rig)


def _with(messages: Iterable[Record], cell: Cell, rig: Rig) -> Iterator[Record]:
    yield UseRig(0.0, rig)
    yield UseCells(0.0, (cell,))
    yield from messages


def _instead(records: Iterable[Record], cell: Cell | None, rig: Rig | None) -> Iterator[Record]:
    """The records of a session, another cell or rig in the place of those it was recorded with."""
    if rig is not None:
        yield UseRig(0.0, rig)
    if cell is not None:
        yield UseCells(0.0, (cell,))
    for record in records:
        if isinstance(record, UseRig):
            if rig is not None:
                continue
            if cell is not None:
                _fitting(cell, record.rig)
        elif isinstance(record, UseCells):
            if cell is not None:
                continue
            if rig is not None:
                for one in record.cells:
                    _fitting(one, rig)
        yield record
