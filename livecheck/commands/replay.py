"""A recorded session shown again."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from typing import TextIO

from ..console.live import run_console
from ..console.source import Paced
from ..core.events import Record, RepDone
from ..errors import BadInput
from ..files.library import PracticeFolder
from ..files.settingsfile import SHOWN
from .choice import Choice
from .judging import judged, take_of
from .live import Showing, ways_known
from .record import settings_of

OPENING = "A saved session, judged anew. Nothing is recorded or changed."
LEAD_S = 1.0
"""So much is shown before the repetition that a replay begins from."""


def run_replay(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, showing = Choice.of(options), Showing.of(options, OPENING)
    take = take_of(choice, choice.sessions[0], err)
    take.say_trouble(err)
    records, from_s = take.records, None
    if options.from_rep is not None:
        records = list(records)
        from_s = _beginning(records, options.from_rep) - LEAD_S
    folder = PracticeFolder.find(choice.home, make=False)
    source = Paced(records, None if options.fast else options.speed, from_s=from_s)
    run_console(
        source,
        seconds=showing.seconds,
        plain=showing.plain,
        opening=showing.opening,
        out=out,
        practising=False,
        ways=ways_known(folder),
        in_place=settings_of(folder).lateness == SHOWN,
    )
    return 0


def _beginning(records: Sequence[Record], rep: int) -> float:
    """When a repetition began. Raises BadInput where the session has no such repetition."""
    reps = [one.repetition for one in judged(records)[1] if isinstance(one, RepDone)]
    for one in reps:
        if one.rep == rep:
            return one.start_s
    there = f"has repetitions 1 to {reps[-1].rep}" if reps else "has no repetition"
    raise BadInput(f"--from-rep {rep}: the session {there}")
