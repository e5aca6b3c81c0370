"""Listening to a converter while a cell is practised."""

from __future__ import annotations

from argparse import Namespace
from typing import TextIO

from .choice import Choice, cells_of, practice_folder, rig_of
from .live import Showing, record_and_show
from .record import Input, recording
from .rig_hint import print_hint

OPENING = (
    "Every note is saved as it is played; q or Ctrl-C ends it. A long silence ends the session, and "
    "the next note begins another."
)


def run_listen(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    rig = rig_of(choice, own=True)
    cells = cells_of(choice, rig, err)
    told = recording(practice_folder(choice).root, cells, rig, Input.of(options))
    recorded = record_and_show(told, Showing.of(options, OPENING), out)
    if recorded.folder is not None:
        print_hint(choice, out)
    return recorded.status
