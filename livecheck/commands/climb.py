"""Climb: blocks of one cell to a click whose tempo follows a rule; what was found is told at the
end."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO

from ..console.climb_screen import Shown, shown_on
from ..console.words import cell_title
from ..core.cell import Cell
from ..core.climb import Over
from ..core.events import RepDone
from ..daemon.ports import matcher
from ..daemon.process import start_recorder
from ..errors import BadInput, LivecheckError
from ..files.index import figure_of, judged_sessions
from ..files.journal_reader import read
from ..files.library import PracticeFolder
from ..files.review_report import by_start_to_dict, limit_to_dict
from ..files.unrested import unrested
from ..measures.climb.answer import advice, limits
from ..measures.climb.belief import NOTHING, Known
from ..measures.review.answers import Review, make_review
from ..measures.review.by_start import ByStart
from ..measures.review.limits import Limit
from ..measures.review.packed import joined
from ..report.climb_text import block_line, limit_text, start_lines
from .choice import Choice, cell_of, practice_folder, rig_of
from .climb_judge import clean_in, in_block
from .climbing import Asked, Climbed, Climbing, played_of
from .common import lost, near_path, print_json
from .hands import HandsAsked, hands_of
from .judging import judged
from .parts import PartAsked, part_asked
from .record import Input, recording, settings_of
from .ring import Ring

FORMAT = "livecheck-climb/1"


def run_climb(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, asked = Choice.of(options), Asked.of(options)
    rig = rig_of(choice, own=True)
    (cell,) = part_asked(PartAsked.of(options), (cell_of(choice, choice.cells[0], rig),))
    for port in (asked.click_port, asked.cue_port):
        if port is not None:
            matcher(port)
    practice = practice_folder(choice)
    settings = settings_of(practice, rest=options.rest)
    asked = replace(asked, rest_s=settings.rest_s)
    hands = hands_of(HandsAsked.of(options), settings, gestures=True)
    ring = Ring(choice, (cell,), rig)
    told = replace(
        recording(practice.root, [cell], rig, Input.of(options)),
        at_once=True,
        need_port=True,
        silence_s=None,
    )
    known = known_of(practice, cell)  # before the session that is about to begin
    playing = unrested(practice, datetime.now().astimezone())
    process = start_recorder(told)
    climbed: list[Climbed] = []
    try:
        if process.session is None:
            raise LivecheckError("the recorder began no session")

        def shown(one: Cell) -> Shown:
            return shown_on(out, err, asked.plain, asked.json, one)

        climbing = Climbing(asked, rig, process, hands, playing, shown)
        climbed.append(climbing.run(cell, known))
        while (action := climbed[-1].leaves) is not None:
            try:
                other = ring.step(climbed[-1].cell, action)
            except BadInput as error:
                print(f"livecheck: {error}; it goes on with this one", file=err, flush=True)
                other = climbed[-1].cell
            climbing.use(other)
            climbed.append(climbing.run(other, known_of(practice, other, process.session)))
    finally:
        process.stop()
    if process.unsaved:
        climbed[-1].trouble = lost(process.unsaved, process.lost_why)
    return _told(asked, climbed, process.session, out, err)


def known_of(practice: PracticeFolder, cell: Cell, but: Path | None = None) -> Known:
    """What the sessions so far know of this cell as it is played now. but: the session under
    way."""
    review = _reviewed([path for path in practice.own_paths() if path != but], cell)
    if review is None:
        return NOTHING
    secure, broken, awkward = review.secure, review.broken, review.awkward
    return Known(
        secure.bpm if secure.status == "found" else None,
        broken.bpm if broken.status == "found" else None,
        broken.low_bpm,
        broken.high_bpm,
        (awkward.low_bpm, awkward.high_bpm) if awkward is not None else None,
    )


def _reviewed(paths: Sequence[Path], cell: Cell) -> Review | None:
    """Sessions looked back on for a cell as it is played now; None where they do not hold it."""
    figure = figure_of(cell)
    tables, sittings, days = [], [], []
    for sitting, (_, found) in enumerate(judged_sessions(paths)):
        for played in found.played:
            if played.figure == figure and played.variant == cell.variant:
                tables.append(played.table)
                sittings.append(sitting)
                days.append(found.day)
    if not tables:
        return None
    return make_review(joined(tables, sittings, days), cell.name, cell.grid, cell.variant)


def start_of(asked: Asked, climbed: Climbed) -> float | None:
    """The tempo of the first block, where nothing is known of the cell."""
    known = climbed.known
    if asked.start is None and known.secure is None and known.break_bpm is None:
        return climbed.cell.tempo_bpm
    return asked.start


def _told(
    asked: Asked, climbed: Sequence[Climbed], session: Path | None, out: TextIO, err: TextIO
) -> int:
    """Tell what came of it, from what is saved. Returns the exit status."""
    kept = session is not None and session.exists()
    last = climbed[-1]
    if last.trouble is not None:
        print(f"livecheck: {last.trouble}", file=err)
    found = [_Found.of(asked, one, session if kept else None) for one in climbed]
    if asked.json:
        told = found[-1].to_dict(asked)
        told["session"] = session.name if session is not None and kept else None
        told["earlier"] = [one.to_dict(asked) for one in found[:-1]]
        print_json(told, out)
        return 1 if last.trouble is not None else 0
    for one in found:
        print("", *one.lines(len(found) > 1), sep="\n", file=out)
    if kept and session is not None:
        print(f"Saved in {near_path(session)}", file=out)
    else:
        print("Nothing was played, so nothing is kept.", file=out)
    return 1 if last.trouble is not None else 0


@dataclass(frozen=True, slots=True)
class _Found:
    """What came of the climb of one cell."""

    climbed: Climbed
    blocks: list[Over]
    secure: Limit
    broken: Limit
    by_start: ByStart | None

    @classmethod
    def of(cls, asked: Asked, climbed: Climbed, session: Path | None) -> _Found:
        blocks = climbed.blocks if session is None else _counted(session, climbed)
        played = [played_of(one) for one in blocks if not one.void]
        secure, broken = limits(played, climbed.known, start_of(asked, climbed))
        review = None if session is None else _reviewed([session], climbed.cell)
        starts = review.by_start if review is not None else None
        return cls(climbed, blocks, secure, broken, starts)

    def to_dict(self, asked: Asked) -> dict[str, Any]:
        return {
            "format": FORMAT,
            "cell": self.climbed.cell.name,
            "variant": self.climbed.cell.variant,
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
                for one in self.blocks
            ],
            "break": limit_to_dict(self.broken),
            "secure": limit_to_dict(self.secure),
            "by_start": by_start_to_dict(self.by_start),
            "why": self.climbed.why,
            "next": advice(self.secure, self.broken),
        }

    def lines(self, named: bool) -> list[str]:
        cell = self.climbed.cell
        return [
            *([f"{cell_title(cell)}:"] if named else []),
            *(block_line(one) for one in self.blocks),
            f"It is over: {self.climbed.why}.",
            limit_text("Secure", "up to", self.secure),
            limit_text("Breaks", "at", self.broken),
            *start_lines(self.by_start),
            f"Next time: {advice(self.secure, self.broken)}.",
        ]


def _counted(session: Path, climbed: Climbed) -> list[Over]:
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
        own = in_block(found, climbed.cell, plan.bpm, plan.reps, (plan.from_ns - zero_ns) / 1e9)
        heard = replace(one.heard, reps=min(len(own), plan.reps), clean=clean_in(own, plan.reps))
        blocks.append(replace(one, heard=heard))
    return blocks
