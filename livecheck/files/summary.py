"""What a list of sessions says about one."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from ..core.events import Link, Midi, Record, UseCells
from ..core.playing import BUILT_IN, PlayingTime, is_note
from ..errors import BadInput
from . import kept, ordinary
from .journal_reader import Reading, read
from .lines import journal_files, parse
from .ordinary import OrdinaryFile

_FIRST = 64  # records among which the first word of a port stands
_BEGINNING_BYTES = 1 << 16  # in which these are found
_HEAD_BYTES = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionInfo:
    """One session as a list shows it."""

    name: str
    path: str
    started: str  # ISO 8601 with offset, to the second; "" where no head is readable
    duration_s: float  # from the start to the last record
    # names in the order first chosen; of several to recognise only those played, once judged
    cells: tuple[str, ...]
    notes: int  # note-ons that sounded, on whatever channel
    takes: int | None  # None: not judged yet
    whole: bool  # nothing is damaged, missing or was dropped, to the orderly end
    played_s: float = 0.0  # of it with notes sounding (core/playing.py)
    demo: bool = False  # the built-in player's
    trouble: str | None = None  # why it cannot be read; nothing else is known of it then


def unread(folder: Path, error: BadInput) -> SessionInfo:
    """What is told of a session that cannot be read."""
    why = str(error).removeprefix(f"{folder}/").removeprefix(f"{folder}: ")
    return SessionInfo(
        name=folder.name,
        path=str(folder),
        started="",
        duration_s=0.0,
        cells=(),
        notes=0,
        takes=None,
        whole=False,
        trouble=why,
    )


class Tally:
    """Counts for a summary while records come."""

    def __init__(self) -> None:
        self.notes = 0
        self.cells: dict[str, bool] = {}  # by name, whether it was ever chosen alone
        self.last_s = 0.0
        self.records = 0
        self.playing = PlayingTime()
        self.port: str | None = None  # the first that it was recorded from

    def take(self, record: Record) -> None:
        """One record more."""
        self.records += 1
        self.last_s = record.t_s
        if isinstance(record, Midi):
            if is_note(record.data):
                self.notes += 1
                self.playing.note(record.t_s)
        elif isinstance(record, UseCells):
            for cell in record.cells:
                alone = len(record.cells) == 1
                self.cells[cell.name] = alone or self.cells.get(cell.name, False)
        elif isinstance(record, Link) and self.port is None and self.records <= _FIRST:
            self.port = record.port

    def info(
        self, folder: Path, reading: Reading, takes: int | None, played: Collection[str] = ()
    ) -> SessionInfo:
        """The summary, once all records of a reading were taken.

        takes, played: where it was judged, how many takes, and the names of cells with repetitions.
        """
        account = reading.account
        cells = [
            name for name, alone in self.cells.items() if alone or takes is None or name in played
        ]
        return SessionInfo(
            name=folder.name,
            path=str(folder),
            started=_to_the_second(account.head.wall if account.head else ""),
            duration_s=round(self.last_s, 3),
            cells=tuple(cells),
            notes=self.notes,
            takes=takes,
            whole=reading.whole and not account.dropped,
            played_s=round(self.playing.seconds, 3),
            demo=self.port == BUILT_IN,
        )


def is_demo(folder: Path) -> bool:
    """Whether a session was played by the built-in player: the first port that it was recorded from
    tells. False where it cannot be read."""
    try:
        with OrdinaryFile(journal_files(folder)[0]) as file:
            beginning = file.read(_BEGINNING_BYTES, 0)
    except (OSError, IndexError):
        return False
    if f'"port":"{BUILT_IN}"'.encode() not in beginning:
        return False  # found out at once, since a review asks this of every session
    for raw in beginning.splitlines(keepends=True)[: _FIRST + 1]:
        line = parse(raw)
        if line is not None and line.kind == "link":
            return line.fields.get("port") == BUILT_IN
    return False


def has_notes(folder: Path) -> bool:
    """Whether anything was played in a session, as far as it goes. Raises BadInput where it cannot
    be read."""
    return any(isinstance(record, Midi) and is_note(record.data) for record in read(folder))


def began(folder: Path) -> float:
    """When a session began, in seconds of universal time, whatever clock its name was written by.

    Its head tells; where none can be read its name, taken as this machine's own time; else its
    file's time.
    """
    files = journal_files(folder)
    try:
        with OrdinaryFile(files[0]) as file:
            start = file.read(_HEAD_BYTES, 0)
        line = parse(start[: start.find(b"\n") + 1])
        if line is not None and line.kind == "head":
            return datetime.fromisoformat(str(line.fields.get("wall"))).timestamp()
    except (OSError, IndexError, ValueError, OverflowError):
        pass
    day, _, clock = folder.name[:19].partition("T")
    try:
        return datetime.fromisoformat(f"{day}T{clock.replace('-', ':')}").timestamp()
    except (ValueError, OverflowError):
        return _file_time(files)


def _file_time(files: list[Path]) -> float:
    try:
        return float(ordinary.disk.look(files[0]).st_mtime)
    except (OSError, IndexError):
        return 0.0


def summary_of(folder: Path) -> SessionInfo:
    """A session's summary, from what is kept where that still holds, else from the journal.

    Raises BadInput where the journal cannot be read, or is a newer program's.
    """
    key = kept.key_of(folder)
    info = kept_summary(folder, key)
    if info is None:
        reading, tally = read(folder), Tally()
        for record in reading:
            tally.take(record)
        info = tally.info(folder, reading, None)
        if not reading.account.unreadable:  # it may be readable tomorrow
            kept.store(folder, key, {"summary": asdict(info)})
    return info


def kept_summary(folder: Path, key: kept.Key | None) -> SessionInfo | None:
    """The kept summary; None where there is none, or none that holds."""
    found = kept.load(folder, key)
    return None if found is None else summary_from(found[0], folder)


def summary_from(told: dict[str, Any], folder: Path) -> SessionInfo | None:
    """The summary among what was kept; None where it is none."""
    try:
        fields = told["summary"]
        if not all(isinstance(fields[name], kind) for name, kind in _KINDS.items()):
            return None
        info = SessionInfo(**{**fields, "cells": tuple(map(str, fields["cells"]))})
        return replace(info, name=folder.name, path=str(folder))
    except (LookupError, TypeError):
        return None


_KINDS: dict[str, Any] = {
    "started": str,
    "duration_s": (int, float),
    "cells": list,
    "notes": int,
    "takes": (int, type(None)),
    "whole": bool,
    "played_s": (int, float),
    "demo": bool,
    "trouble": type(None),
}


def _to_the_second(wall: str) -> str:
    try:
        return datetime.fromisoformat(wall).isoformat(timespec="seconds")
    except ValueError:
        return ""
