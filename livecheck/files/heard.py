"""What was heard of each repetition of a session, as the ways of playing are found from it.

Kept beside what judging found (``kept.py``), behind the tables of the index, so that only new
sessions are heard again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..core.cell import Cell
from ..core.events import Outcome, Record, RepDone, Repetition
from ..measures.ways.features import Features, heard
from ..measures.ways.packed import pack, unpack
from ..session import Session
from . import kept
from .index import figure_of
from .journal_reader import read

_CODE = "files/heard.py"
_KEY, _START = "heard", "heard_from"  # among what is kept


@dataclass(frozen=True, slots=True)
class Heard:
    """One way of playing in one session, as in the index: the numbers of all its repetitions, and
    the features of those that stand at a tempo."""

    figure: str
    variant: str | None
    rig: str
    reps: tuple[int, ...]
    features: Features | None


def heard_of(folder: Path) -> list[Heard]:
    """Everything heard in a session. Raises BadInput where it cannot be read."""
    key = kept.key_of(folder)
    found = kept.load(folder, key)
    if found is not None:
        there = _unpacked(*found)
        if there is not None:
            return there
    reading = read(folder)
    now = heard_in(reading)
    if found is not None and key == kept.key_of(folder) and not reading.account.unreadable:
        told, tables = found
        start = int(told.get(_START, len(tables)))
        entries, data = _packed(now)
        more = {_KEY: {"code": kept.judgment(_CODE), "ways": entries}, _START: start}
        kept.store(folder, key, {**told, **more}, tables[:start] + data)
    return now


def heard_in(records: Iterable[Record]) -> list[Heard]:
    """Everything heard in some records."""
    session = Session()
    ways: dict[tuple[str, str | None, str], list[Repetition]] = {}
    figures: dict[int, tuple[Cell, str]] = {}

    def sort(outcomes: Iterable[Outcome], rig: str) -> None:
        for outcome in outcomes:
            if isinstance(outcome, RepDone):
                rep = outcome.repetition
                if id(rep.cell) not in figures:
                    figures[id(rep.cell)] = rep.cell, figure_of(rep.cell)
                key = (figures[id(rep.cell)][1], rep.cell.variant, rig)
                ways.setdefault(key, []).append(rep)

    for record in records:
        rig = session.rig.name
        outcomes = session.feed(record)
        if outcomes:
            sort(outcomes, rig)
    sort(session.finish(), session.rig.name)
    return [
        Heard(figure, variant, rig, tuple(rep.rep for rep in reps), heard(reps))
        for (figure, variant, rig), reps in ways.items()
    ]


# -------------------------------------------------------------------------------------- on the disk


def _packed(ways: list[Heard]) -> tuple[list[dict[str, Any]], bytes]:
    entries, parts = [], []
    for one in ways:
        layout, data = (None, b"") if one.features is None else pack(one.features)
        entries.append(
            {
                "figure": one.figure,
                "variant": one.variant,
                "rig": one.rig,
                "reps": list(one.reps),
                "features": layout,
                "bytes": len(data),
            }
        )
        parts.append(data)
    return entries, b"".join(parts)


def _unpacked(told: dict[str, Any], tables: bytes) -> list[Heard] | None:
    """What was kept; None where it is of another way of hearing, or none."""
    try:
        if told[_KEY]["code"] != kept.judgment(_CODE) or not told[_KEY]["code"]:
            return None
        at, found = int(told[_START]), []
        for entry in told[_KEY]["ways"]:
            layout, size = entry["features"], int(entry["bytes"])
            features = None if layout is None else unpack(layout, tables[at : at + size])
            at += size
            found.append(
                Heard(
                    entry["figure"], entry["variant"], entry["rig"], tuple(entry["reps"]), features
                )
            )
        return found
    except (KeyError, ValueError, TypeError, AttributeError, OverflowError):
        return None
