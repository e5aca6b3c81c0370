"""A week of practice on one page: time, what moved, what was answered, what is open, marks."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import TextIO

from ..core.events import Mark
from ..core.said import is_word
from ..errors import BadInput
from ..files.agenda_report import week_to_dict
from ..files.journal_reader import read
from ..files.summary import SessionInfo
from ..files.textfile import put_text
from ..measures.agenda.day import plan_day
from ..measures.agenda.questions import Standing
from ..measures.agenda.week import DAYS, Week, answered, days_of, moved_by, still_open
from ..measures.review.moves import Moves
from ..report.agenda_text import week_lines
from ..report.outlet import clean_lines
from ..report.week_page import week_page
from .agenda import Practised, practised, today_number
from .choice import Choice, practice_folder
from .common import print_json, print_wrapped
from .review import checked_page

A_DAY = 1440.0  # minutes: enough for every block


def run_week(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    page_file = checked_page(options.html, "week.html") if options.html is not None else None
    last = today_number() if options.to is None else date.fromisoformat(options.to).toordinal()
    if last <= DAYS:
        raise BadInput(f"--to {options.to}: no seven days lie before it; write a later one")
    week = _week(choice, last - DAYS + 1, last, err)
    if page_file is not None:
        put_text(page_file, clean_lines(week_page(week)))
    if options.json:
        print_json(week_to_dict(week), out)
        return 0
    for line in week_lines(week):
        print_wrapped(line, out)
    if page_file is not None:
        print(f"The page: {page_file}", file=out)
    return 0


def _week(choice: Choice, first: int, last: int, err: TextIO) -> Week:
    cells = [now for one in practised(choice, err) if (now := one.until(last)) is not None]
    played = [one for one in cells if one.last >= first]
    before = [then for one in played if (then := one.until(first - 1)) is not None]
    after = plan_day((one.standing(last) for one in cells), A_DAY).items
    stands = {item.standing.name: item.standing for item in after}
    began = plan_day((one.standing(first - 1) for one in before), A_DAY).items
    infos = [info for info in _own(choice) if first <= _day(info) <= last]
    reps = _reps(cells)
    return Week(
        first=first,
        last=last,
        days=days_of(
            first,
            ((_day(info), info.duration_s / 60.0, reps.get(info.name, ())) for info in infos),
        ),
        moved=tuple(
            moved_by(
                one.name,
                stands[one.name].secure,
                stands[one.name].broken,
                _moves(stands[one.name]),
                first,
            )
            for one in cells
            if any(first <= way.day for way in one.ways)
        ),
        answered=tuple(answered(began, after)),
        open=tuple(still_open(after)),
        marks=tuple(_marks(infos)),
    )


def _moves(stands: Standing) -> Moves | None:
    return None if stands.review is None else stands.review.moves


def _own(choice: Choice) -> list[SessionInfo]:
    """The player's sessions that can be read, demos left out; what was salvaged stands for what it
    was salvaged from, which has the same name without the ending, once."""
    found = practice_folder(choice).sessions()
    names = {info.name for info in found}
    return [
        info
        for info in found
        if info.trouble is None and not info.demo and f"{info.name}-salvaged" not in names
    ]


def _day(info: SessionInfo) -> int:
    try:
        return datetime.fromisoformat(info.started).date().toordinal()
    except ValueError:
        return 0


def _reps(cells: list[Practised]) -> dict[str, list[tuple[str, int]]]:
    """Repetitions by cell in each session; those of a part count with its cell."""
    found: dict[str, dict[str, int]] = {}
    for way in cells[0].every if cells else ():
        name = way.played.parent or way.played.cell
        own = found.setdefault(way.source, {})
        own[name] = own.get(name, 0) + way.played.reps
    return {source: list(own.items()) for source, own in found.items()}


def _marks(infos: list[SessionInfo]) -> Iterator[tuple[str, float, str]]:
    for info in infos:
        try:
            for record in read(Path(info.path)):
                if isinstance(record, Mark) and not is_word(record):
                    yield info.name, record.t_s, record.text
        except BadInput:
            continue
