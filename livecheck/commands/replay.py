"""A recorded session shown again."""

from __future__ import annotations

from argparse import Namespace
from typing import TextIO

from ..console.live import run_console
from ..console.source import Paced
from ..files.library import PracticeFolder
from ..files.settingsfile import SHOWN
from .choice import Choice
from .judging import take_of
from .live import Showing
from .record import settings_of

OPENING = "A saved session, judged anew. Nothing is recorded or changed."


def run_replay(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, showing = Choice.of(options), Showing.of(options, OPENING)
    take = take_of(choice, choice.sessions[0], err)
    take.say_trouble(err)
    source = Paced(take.records, None if options.fast else options.speed)
    run_console(
        source,
        seconds=showing.seconds,
        plain=showing.plain,
        opening=showing.opening,
        out=out,
        practising=False,
        in_place=settings_of(PracticeFolder.find(choice.home, make=False)).lateness == SHOWN,
    )
    return 0
