"""Climb: blocks of one cell to a click whose tempo follows a rule; what was found is told at the
end."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from ..core.cell import Cell
from ..core.climb import Over
from ..core.events import RepDone
from ..daemon.ports import matcher
from ..daemon.process import start_recorder
from ..errors import LivecheckError
from ..files.index import figure_of, judged_sessions
from ..files.journal_reader import read
from ..files.library import PracticeFolder
from ..files.review_report import limit_to_dict
from ..measures.climb.answer import advice, limits
from ..measures.climb.belief import NOTHING, Known
from ..measures.review.answers import make_review
from ..measures.review.packed import joined
from ..report.climb_text import block_line, limit_text
from .choice import Choice, cell_of, practice_folder, rig_of
from .climb_judge import clean_in, in_block
from .climbing import Asked, Climbed, Climbing, played_of
from .common import lost, near_path, print_json
from .judging import judged
from .parts import PartAsked, part_asked
from .record import Input, recording

FORMAT = "livecheck-climb/1"


def run_climb(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, asked = Choice.of(options), Asked.of(options)
    rig = rig_of(choice, own=True)
    (cell,) = part_asked(PartAsked.of(options), (cell_of(choice, choice.cells[0], rig),))
    for port in (asked.click_port, asked.cue_port):
        if port is not None:
            matcher(port)
    practice = practice_folder(choice)
    known = known_of(practice, cell)
    if asked.start is None and known.secure is None and known.break_bpm is None:
        asked = replace(asked, start=cell.tempo_bpm)
    told = replace(
        recording(practice.root, [cell], rig, Input.of(options)),
        at_once=True,
        need_port=True,
        silence_s=None,
    )
    process = start_recorder(told)
    try:
        if process.session is None:
            raise LivecheckError("the recorder began no session")
        climbed = Climbing(asked, cell, rig, known, process, out, err).run(process.session)
    finally:
        process.stop()
    if process.unsaved:
        climbed.trouble = lost(process.unsaved, process.lost_why)
    return _told(asked, cell, known, climbed, process.session, out, err)


def known_of(practice: PracticeFolder, cell: Cell) -> Known:
    """What the sessions so far know of this cell as it is played now."""
    figure = figure_of(cell)
    tables, sittings, days = [], [], []
    for sitting, (_, found) in enumerate(judged_sessions(practice.own_paths())):
        for played in found.played:
            if played.figure == figure and played.variant == cell.variant:
                tables.append(played.table)
                sittings.append(sitting)
                days.append(found.day)
    if not tables:
        return NOTHING
    review = make_review(joined(tables, sittings, days), cell.name, cell.grid, cell.variant)
    secure, broken, awkward = review.secure, review.broken, review.awkward
    return Known(
        secure.bpm if secure.status == "found" else None,
        broken.bpm if broken.status == "found" else None,
        broken.low_bpm,
        broken.high_bpm,
        (awkward.low_bpm, awkward.high_bpm) if awkward is not None else None,
    )


def _told(
    asked: Asked,
    cell: Cell,
    known: Known,
    climbed: Climbed,
    session: Path | None,
    out: TextIO,
    err: TextIO,
) -> int:
    """Tell what came of it, from what is saved. Returns the exit status."""
    kept = session is not None and session.exists()
    blocks = _counted(session, cell, climbed) if session is not None and kept else climbed.blocks
    played = [played_of(one) for one in blocks if not one.void]
    secure, broken = limits(played, known, asked.start)
    status = 1 if climbed.trouble is not None else 0
    if climbed.trouble is not None:
        print(f"livecheck: {climbed.trouble}", file=err)
    if asked.json:
        told = {
            "format": FORMAT,
            "cell": cell.name,
            "variant": cell.variant,
            "rule": asked.rule,
            "blocks": [
                {
                    "bpm": one.plan.bpm,
                    "reps": one.plan.reps,
                    "clean": one.heard.clean,
                    "cue": one.cue,
                    "kind": one.plan.kind,
                    "heard": one.heard.reps,
                    "counted": not one.void,
                }
                for one in blocks
            ],
            "break": limit_to_dict(broken),
            "secure": limit_to_dict(secure),
            "session": session.name if session is not None and kept else None,
            "why": climbed.why,
            "next": advice(secure, broken),
        }
        print_json(told, out)
        return status
    print("", *(block_line(one, cell) for one in blocks), sep="\n", file=out)
    print(f"It is over: {climbed.why}.", file=out)
    print(limit_text("Secure", "up to", secure), file=out)
    print(limit_text("Breaks", "at", broken), file=out)
    print(f"Next time: {advice(secure, broken)}.", file=out)
    if kept and session is not None:
        print(f"Saved in {near_path(session)}", file=out)
    else:
        print("Nothing was played, so nothing is kept.", file=out)
    return status


def _counted(session: Path, cell: Cell, climbed: Climbed) -> list[Over]:
    """The blocks with what the whole session says of them: a cue is sounded before the last
    notes' verdicts are final."""
    reading = read(session)
    _, outcomes = judged(reading)
    if reading.head is None:
        return climbed.blocks
    zero_ns = reading.head.perf_ns
    found = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    blocks = []
    for one in climbed.blocks:
        plan = one.plan
        own = in_block(found, cell, plan.bpm, plan.reps, (plan.from_ns - zero_ns) / 1e9)
        heard = replace(one.heard, reps=min(len(own), plan.reps), clean=clean_in(own, plan.reps))
        blocks.append(replace(one, heard=heard))
    return blocks
