"""Score a take: a Standard MIDI File or a recorded session, through the same judgment as live
play."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator
from typing import Any, TextIO

from ..console.feed import Feed
from ..console.model import Model
from ..console.plain import plain_line, summary_lines
from ..core.cell import Cell
from ..core.events import Click, Outcome, Record, RepDone
from ..errors import BadInput
from ..files.click_report import click_to_dict
from ..files.report import score
from ..measures.against_click import against_click
from ..session import Session
from .choice import Choice
from .common import print_json
from .judging import judged, last_cell, take_of


def run_score(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    take = take_of(choice, choice.sessions[0], err)
    take.say_trouble(err)
    if options.json:
        clicks: list[Click] = []
        session, outcomes = judged(_noting(take.records, clicks))
        cell = last_cell(session, outcomes)
        if cell is None and not session.cells:
            raise BadInput(
                f"{choice.sessions[0]}: no cell was chosen while it was recorded; name one by "
                "--cell"
            )
        reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
        score = scored(cell, outcomes, session.counts)
        if clicks:
            score["click"] = click_to_dict(against_click(reps, clicks))
        print_json(score, out)
    else:
        _print_lines(take.records, out)
    return 0


def _noting(records: Iterable[Record], clicks: list[Click]) -> Iterator[Record]:
    """The records, clicks being put into a list on the way."""
    for record in records:
        if isinstance(record, Click):
            clicks.append(record)
        yield record


def scored(cell: Cell | None, outcomes: list[Outcome], counts: dict[str, int]) -> dict[str, Any]:
    """The score object. Where several cells or variants were played, ``cells`` lists them and each
    repetition says by its ``cell`` (from 1) which it is of; ``cell`` is the last one, null where
    none of several was recognised.
    """
    found = score(cell, outcomes, counts)
    played = [outcome.repetition.cell for outcome in outcomes if isinstance(outcome, RepDone)]
    different = list(dict.fromkeys((one.name, one.variant, len(one.slots)) for one in played))
    if len(different) > 1:
        found["cells"] = [
            {"name": name, "slots": slots, "variant": variant} for name, variant, slots in different
        ]
        for rep, one in zip(found["reps"], played, strict=True):
            rep["cell"] = 1 + different.index((one.name, one.variant, len(one.slots)))
    return found


def _print_lines(records: Iterable[Record], out: TextIO) -> None:
    """A line a repetition and the summary, as the console without a screen prints them."""
    feed = Feed(Session(), Model(practising=False))
    for record in records:
        for item in feed.take([record]):
            print(plain_line(item, feed.model.sounds), file=out)
    for item in feed.finish():
        print(plain_line(item, feed.model.sounds), file=out)
    print(*summary_lines(feed.model), sep="\n", file=out)
