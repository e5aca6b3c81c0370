"""What was heard of each repetition of a session, as the ways of playing are found from it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from ..core.cell import Cell
from ..core.events import Outcome, Record, RepDone, Repetition
from ..measures.ways.features import Features, heard
from ..session import Session
from .index import figure_of
from .journal_reader import read


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
    return heard_in(read(folder))


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
