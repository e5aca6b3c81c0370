"""What a list of sessions says about one, and the cache that makes a long list quick."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from .. import __version__
from ..core.events import Link, Midi, UseCells
from ..core.playing import BUILT_IN, PlayingTime, is_note
from ..errors import BadInput
from .journal_reader import read
from .lines import journal_files

NAME = "summary.json"
_FIRST = 64  # records among which the first word of a port stands
_BEGINNING_BYTES = 1 << 16  # in which these are found


@dataclass(frozen=True, slots=True)
class SessionInfo:
    """One session as a list shows it."""

    name: str
    path: str
    started: str  # ISO 8601 with offset, to the second; "" where no head is readable
    duration_s: float  # from the start to the last record
    cells: tuple[str, ...]  # names in the order first practised
    notes: int  # note-ons that sounded, on whatever channel
    takes: int | None  # None: not judged yet
    whole: bool  # nothing is damaged, missing or was dropped, to the orderly end
    played_s: float = 0.0  # of it with notes sounding (core/playing.py)
    demo: bool = False  # the built-in player's


def is_demo(folder: Path) -> bool:
    """Whether a session was played by the built-in player: the first port that it was recorded from
    tells."""
    try:
        with open(journal_files(folder)[0], "rb") as file:
            if f'"port":"{BUILT_IN}"'.encode() not in file.read(_BEGINNING_BYTES):
                return False  # found out at once, since a review asks this of every session
    except (OSError, IndexError):
        return False
    try:
        records = islice(read(folder), _FIRST)
        return next(
            (record.port == BUILT_IN for record in records if isinstance(record, Link)), False
        )
    except BadInput:
        return False


def has_notes(folder: Path) -> bool:
    """Whether anything was played in a session, as far as it goes."""
    try:
        return any(isinstance(record, Midi) and is_note(record.data) for record in read(folder))
    except BadInput:
        return False


def summary_of(folder: Path, count_takes: Callable[[Path], int] | None = None) -> SessionInfo:
    """A session's summary, from its cache where that is still right, else from the journal.

    Raises BadInput where the journal is a newer program's.
    """
    key = _key(folder)
    info = _cached(folder, key)
    if info is None:
        info, known = scan(folder), False
    else:
        known = True
    if info.takes is None and count_takes is not None:
        info, known = replace(info, takes=count_takes(folder)), False
    if not known:
        _keep(folder, key, info)
    return info


def scan(folder: Path) -> SessionInfo:
    """Read a whole journal for its summary; about 4 µs a record."""
    reading = read(folder)
    notes = 0
    cells: dict[str, None] = {}
    last_s = 0.0
    playing = PlayingTime()
    for record in reading:
        last_s = record.t_s
        if isinstance(record, Midi):
            if is_note(record.data):
                notes += 1
                playing.note(record.t_s)
        elif isinstance(record, UseCells):
            cells.update(dict.fromkeys(cell.name for cell in record.cells))
    started = _to_the_second(reading.head.wall if reading.head else "")
    return SessionInfo(
        folder.name,
        str(folder),
        started,
        round(last_s, 3),
        tuple(cells),
        notes,
        None,
        reading.whole and not reading.account.dropped,
        round(playing.seconds, 3),
        is_demo(folder),
    )


def _to_the_second(wall: str) -> str:
    try:
        return datetime.fromisoformat(wall).isoformat(timespec="seconds")
    except ValueError:
        return ""


def _key(folder: Path) -> list[Any]:
    """What the summary was made from: another key, another summary."""
    stats = [path.stat() for path in journal_files(folder)]
    newest = max((stat.st_mtime_ns for stat in stats), default=0)
    return [__version__, len(stats), sum(stat.st_size for stat in stats), newest]


def _cached(folder: Path, key: list[Any]) -> SessionInfo | None:
    """The kept summary; None where there is none, or it is damaged or out of date."""
    try:
        kept = json.loads((folder / NAME).read_text("utf-8"))
        if kept["key"] != key:
            return None
        fields = kept["summary"]
        info = SessionInfo(
            folder.name,
            str(folder),
            str(fields["started"]),
            float(fields["duration_s"]),
            tuple(str(name) for name in fields["cells"]),
            int(fields["notes"]),
            None if fields["takes"] is None else int(fields["takes"]),
            fields["whole"] is True,
            float(fields["played_s"]),
            fields["demo"] is True,
        )
    except (OSError, ValueError, LookupError, TypeError, OverflowError, RecursionError):
        return None
    return info


def _keep(folder: Path, key: list[Any], info: SessionInfo) -> None:
    """Write the cache, all or nothing; a folder that cannot be written to simply has none."""
    temporary = folder / f"{NAME}.{os.getpid()}"
    try:
        temporary.write_text(json.dumps({"key": key, "summary": asdict(info)}), "utf-8")
        os.replace(temporary, folder / NAME)
    except OSError:
        with contextlib.suppress(OSError):  # a disk that is read-only refuses this, too
            temporary.unlink(missing_ok=True)
