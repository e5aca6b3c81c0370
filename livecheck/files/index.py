"""The index: what judging found in each session, kept beside its journal so that years are reviewed
in a moment.

Only a cache. It is made anew whenever the journal, the program or the way of judging is another, or
when a single bit of it is not as it was written; deleting it costs nothing but the time to judge
again. A session that is still being recorded is judged as far as it goes.

A file is the crc32 of the rest as eight hex digits, a line of JSON, and the tables' bytes one after
the other.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zlib import crc32

from .. import __version__
from ..core.cell import Cell
from ..core.events import Outcome, Record, RepDone, Repetition, UseCells
from ..errors import BadInput
from ..session import Session
from .journal_reader import read
from .lines import journal_files
from .workers import spread

if TYPE_CHECKING:
    from ..measures.review.packed import Packed

NAME = "judged.bin"
_TABLE = (
    "review/table",
    "review/packed",
    "noise/passed_over",
    "noise/touched",
    "noise/crossings",
    "noise/ring_over",
)
_MEASURES = ("timing", "strokes/attack", *_TABLE)
RULES = (
    "core/*.py",
    "session.py",
    "files/index.py",
    *(f"measures/{name}.py" for name in _MEASURES),
)
"""The modules that decide what is kept of a session: with other rules it is judged anew."""


@dataclass(frozen=True, slots=True)
class Played:
    """All repetitions of one way of playing in one session: a cell, a variant, a rig."""

    cell: str
    variant: str | None
    slots: int
    grid: int
    # alike where the slots are; a cell that was edited is another figure of the same name
    figure: str
    rig: str
    reps: int
    table: Packed


@dataclass(frozen=True, slots=True)
class Judged:
    """What judging found in a session."""

    day: int  # day number of its beginning, 0 where unknown
    celled: bool  # a cell was chosen at some time
    whole: bool  # no line damaged or missing, no message dropped
    played: tuple[Played, ...]


Told = Callable[[int, int], None]
"""Called with how many sessions have been judged, out of how many."""


def judged_sessions(
    folders: Sequence[Path], told: Told | None = None, helpers: int | None = None
) -> Iterator[tuple[Path, Judged]]:
    """What is in each session, in the order given; what is not kept is judged first, by all
    processors.

    A session that cannot be read at all (a newer program's) is left out.
    """
    found = {folder: kept(folder) for folder in folders}
    new = [folder for folder in found if found[folder] is None]
    if told is not None and new:
        told(0, len(new))
    for done, (number, judged) in enumerate(spread(judge, new, helpers), 1):
        found[new[number]] = judged
        if told is not None:
            told(done, len(new))
    for folder in folders:
        judged = found[folder]
        if judged is not None:
            yield folder, judged


def judge(folder: Path) -> Judged | None:
    """Judge a session and keep what was found; None where a newer program wrote it."""
    key = _key(folder)
    try:
        reading = read(folder)
        played, celled = played_in(reading)
    except BadInput:
        return None
    account = reading.account
    sound = not (account.damaged or account.missing or account.dropped)
    judged = Judged(day_of(account.head.wall if account.head else ""), celled, sound, tuple(played))
    if key == _key(folder):  # nothing was added meanwhile
        _keep(folder, key, judged)
    return judged


def played_in(records: Iterable[Record]) -> tuple[list[Played], bool]:
    """Each way of playing among the records, and whether a cell was chosen at all."""
    from ..measures.review.packed import pack
    from ..measures.review.table import gather

    session, celled = Session(), False
    ways: dict[tuple[str, str | None, str], list[Repetition]] = {}
    cell: Cell | None = None
    figure = ""

    def sort(outcomes: Iterable[Outcome], rig: str) -> None:
        nonlocal cell, figure
        for outcome in outcomes:
            if isinstance(outcome, RepDone):
                rep = outcome.repetition
                if rep.cell is not cell:
                    cell, figure = rep.cell, _figure(rep.cell)
                ways.setdefault((figure, rep.cell.variant, rig), []).append(rep)

    for record in records:
        rig = session.rig.name  # what a change of rig finishes was played through the old one
        outcomes = session.feed(record)
        if outcomes:
            sort(outcomes, rig)
        celled = celled or (isinstance(record, UseCells) and bool(record.cells))
    sort(session.finish(), session.rig.name)
    played = []
    for (alike, variant, rig), reps in ways.items():
        table = gather(reps)
        if table is not None:
            of = reps[0].cell
            played.append(
                Played(
                    of.name, variant, len(of.slots), of.grid, alike, rig, table.reps, pack(table)
                )
            )
    return played, celled


def _figure(cell: Cell) -> str:
    """The same text for cells of one name whose slots are alike, whatever their strokes."""
    slots = [(slot.string, slot.pitch, slot.start, slot.length) for slot in cell.slots]
    told = repr((cell.name, cell.grid, cell.steps, len(cell.tuning), slots))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def day_of(wall: str) -> int:
    """The day number of an ISO time; 0 where it is none."""
    try:
        return date.fromisoformat(wall[:10]).toordinal()
    except ValueError:
        return 0


# -------------------------------------------------------------------------------------- on the disk


def kept(folder: Path) -> Judged | None:
    """What the index holds of a session; None where it is not there, damaged or out of date."""
    from ..measures.review.packed import checked

    try:
        key = _key(folder)
        data = (folder / NAME).read_bytes()
        if data[:9] != b"%08x\n" % crc32(data[9:]):
            return None
        end = data.index(b"\n", 9)
        told = json.loads(data[9:end])
        if told["key"] != key:
            return None
        at, played = end + 1, []
        for entry in told["played"]:
            table = entry.pop("table")
            part = data[at : at + table["bytes"]]
            at += table["bytes"]
            packed = checked(table["layout"], part, table["slot_strings"], table["rows"])
            played.append(Played(**entry, table=packed))
        return Judged(told["day"], told["celled"], told["whole"], tuple(played))
    except (
        OSError,
        ValueError,
        LookupError,
        TypeError,
        AttributeError,
        OverflowError,
        RecursionError,
    ):
        return None


def _keep(folder: Path, key: list[Any], judged: Judged) -> None:
    """Write the index, all or nothing; a folder that cannot be written to simply has none."""
    entries, parts = [], []
    for one in judged.played:
        entry = {field.name: getattr(one, field.name) for field in fields(one)}
        table = one.table
        layout = {"slot_strings": table.slot_strings, "rows": table.rows, "layout": table.layout}
        entries.append({**entry, "table": {**layout, "bytes": len(table.data)}})
        parts.append(table.data)
    told = {
        "key": key,
        "day": judged.day,
        "celled": judged.celled,
        "whole": judged.whole,
        "played": entries,
    }
    data = json.dumps(told).encode("ascii") + b"\n" + b"".join(parts)
    temporary = folder / f"{NAME}.{os.getpid()}"
    try:
        temporary.write_bytes(b"%08x\n" % crc32(data) + data)
        os.replace(temporary, folder / NAME)
    except OSError:
        with contextlib.suppress(OSError):  # a disk that is read-only refuses this, too
            temporary.unlink(missing_ok=True)


@lru_cache(maxsize=1)
def judgment() -> int:
    """A number that is another one for other rules; 0 where the program's text cannot be read."""
    package = Path(__file__).resolve().parents[1]
    number = 0
    for pattern in RULES:
        for path in sorted(package.glob(pattern)):
            try:
                number = crc32(path.read_bytes(), number)
            except OSError:
                return 0
    return number


def _key(folder: Path) -> list[Any]:
    """What an index was made from: another key, another index."""
    stats = [path.stat() for path in journal_files(folder)]
    newest = max((stat.st_mtime_ns for stat in stats), default=0)
    return [__version__, judgment(), len(stats), sum(stat.st_size for stat in stats), newest]
