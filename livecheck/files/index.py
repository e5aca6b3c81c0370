"""The index: what judging found in each session, kept beside its journal (``kept.py``) so that
years are reviewed in a moment. A session that is still being recorded is judged as far as it goes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..core.cell import Cell
from ..core.events import Outcome, Record, RepDone, Repetition, UseCells
from ..core.picking import strokes_of
from ..core.rig import Delay
from ..errors import BadInput
from ..session import Session
from . import kept
from .journal_reader import read
from .summary import SessionInfo, Tally, summary_from
from .workers import spread

if TYPE_CHECKING:
    from ..measures.review.packed import Packed


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
    parent: str | None = None  # the cell that this is a part of
    notes: tuple[int, ...] = ()  # which of that cell's
    family: str | None = None  # that it was of when it was played
    frets: tuple[int, ...] = ()
    # as planned, of the first repetition and, where it differs, of the second
    strokes: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Judged:
    """What judging found in a session."""

    day: int  # day number of its beginning, 0 where unknown
    celled: bool  # a cell was chosen at some time
    whole: bool  # no line damaged or missing, no message dropped
    played: tuple[Played, ...]
    info: SessionInfo | None = None  # None for what is no session of a practice folder


Told = Callable[[int, int], None]
"""Called with how many sessions have been judged, out of how many."""


def judged_sessions(
    folders: Sequence[Path], told: Told | None = None, helpers: int | None = None
) -> Iterator[tuple[Path, Judged]]:
    """What is in each session, in the order given; what is not kept is judged first, by all
    processors.

    A session that cannot be read or judged is left out.
    """
    found = {folder: kept_judged(folder) for folder in folders}
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


def with_takes(infos: Sequence[SessionInfo]) -> list[SessionInfo]:
    """Summaries, the takes counted where they were not yet: those sessions are judged."""
    new = [Path(info.path) for info in infos if info.takes is None and info.trouble is None]
    counted = {folder: judged.info for folder, judged in judged_sessions(new)}
    return [counted.get(Path(info.path)) or info for info in infos]


def judge(folder: Path) -> Judged | None:
    """Judge a session and keep what was found; None where it cannot be read or judged: the others
    still can."""
    key = kept.key_of(folder)
    tally = Tally()
    try:
        reading = read(folder)
        played, celled, takes, names = _gone_through(_tallied(reading, tally))
    except BadInput:
        return None
    except (ArithmeticError, LookupError, TypeError, ValueError, RecursionError):
        return None
    account = reading.account
    sound = not (account.damaged or account.missing or account.dropped or account.unreadable)
    day = day_of(account.head.wall if account.head else "")
    judged = Judged(day, celled, sound, tuple(played), tally.info(folder, reading, takes, names))
    if key == kept.key_of(folder) and not account.unreadable:  # nothing was added meanwhile
        _keep(folder, key, judged)
    return judged


def _tallied(records: Iterable[Record], tally: Tally) -> Iterator[Record]:
    for record in records:
        tally.take(record)
        yield record


def played_in(records: Iterable[Record]) -> tuple[list[Played], bool]:
    """Each way of playing among the records, and whether a cell was chosen at all."""
    played, celled, *_ = _gone_through(records)
    return played, celled


def _gone_through(records: Iterable[Record]) -> tuple[list[Played], bool, int, set[str]]:
    """Each way of playing, whether a cell was chosen, how many takes there are, and the names of
    the cells that have repetitions."""
    from ..measures.review.gather import gather
    from ..measures.review.packed import pack

    session, celled, takes = Session(), False, 0
    known: dict[str, bool] = {}  # by rig: whether its conversion delay is
    ways: dict[tuple[str, str | None, str], list[Repetition]] = {}
    cell: Cell | None = None
    figure = ""

    def sort(outcomes: Iterable[Outcome], rig: str) -> None:
        nonlocal cell, figure, takes
        for outcome in outcomes:
            if isinstance(outcome, RepDone):
                rep = outcome.repetition
                takes = max(takes, rep.take)
                if rep.cell is not cell:
                    cell, figure = rep.cell, figure_of(rep.cell)
                ways.setdefault((figure, rep.cell.variant, rig), []).append(rep)

    for record in records:
        rig = session.rig.name  # what a change of rig finishes was played through the old one
        delay = session.rig.delay
        outcomes = session.feed(record)
        if outcomes:
            known[rig] = delay != Delay()
            sort(outcomes, rig)
        celled = celled or (isinstance(record, UseCells) and bool(record.cells))
    known[session.rig.name] = session.rig.delay != Delay()
    sort(session.finish(), session.rig.name)
    played = []
    for (alike, variant, rig), reps in ways.items():
        table = gather(reps, delay_known=known.get(rig, False))
        if table is not None:
            of = reps[0].cell
            played.append(
                Played(
                    of.name,
                    variant,
                    len(of.slots),
                    of.grid,
                    alike,
                    rig,
                    table.reps,
                    pack(table),
                    of.parent,
                    of.notes,
                    of.family,
                    tuple(slot.fret for slot in of.slots),
                    tuple(dict.fromkeys(strokes_of(of, number) for number in (1, 2))),
                )
            )
    return played, celled, takes, {reps[0].cell.name for reps in ways.values()}


def figure_of(cell: Cell) -> str:
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


def kept_judged(folder: Path) -> Judged | None:
    """What is kept of a session; None where it was not judged yet, or that holds no more."""
    from ..measures.review.packed import checked

    found = kept.load(folder, kept.key_of(folder))
    if found is None:
        return None
    told, data = found
    try:
        at, played = 0, []
        for entry in told["played"]:
            table = entry.pop("table")
            part = data[at : at + table["bytes"]]
            at += table["bytes"]
            packed = checked(table["layout"], part, table["slot_strings"], table["rows"])
            notes, frets = (tuple(map(int, entry.pop(name))) for name in ("notes", "frets"))
            strokes = tuple(tuple(map(str, one)) for one in entry.pop("strokes"))
            played.append(Played(**entry, notes=notes, frets=frets, strokes=strokes, table=packed))
        return Judged(
            told["day"], told["celled"], told["whole"], tuple(played), summary_from(told, folder)
        )
    except (ValueError, LookupError, TypeError, AttributeError, OverflowError, RecursionError):
        return None


def _keep(folder: Path, key: kept.Key | None, judged: Judged) -> None:
    assert judged.info is not None
    entries: list[dict[str, Any]] = []
    for one in judged.played:
        entry = {field.name: getattr(one, field.name) for field in fields(one)}
        table = one.table
        layout = {"slot_strings": table.slot_strings, "rows": table.rows, "layout": table.layout}
        entries.append({**entry, "table": {**layout, "bytes": len(table.data)}})
    told = {
        "summary": asdict(judged.info),
        "day": judged.day,
        "celled": judged.celled,
        "whole": judged.whole,
        "played": entries,
    }
    kept.store(folder, key, told, b"".join(one.table.data for one in judged.played))
