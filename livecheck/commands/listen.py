"""Listening to a converter while a cell is practised, to a click where one is asked for."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from typing import TextIO

from ..control import Client
from ..core.said import LONE_PICK
from .choice import Choice, cells_of, practice_folder, rig_of
from .click import ClickAsked, click_commands, click_of
from .live import Showing, record_and_show
from .parts import PartAsked, part_asked
from .record import Input, recording
from .rig_hint import print_hint

OPENING = (
    "Every note is saved as it is played; q or Ctrl-C ends it. A long silence ends the session, and "
    "the next note begins another."
)


def run_listen(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    rig = rig_of(choice, own=True)
    cells = part_asked(PartAsked.of(options), cells_of(choice, rig, err))
    commands = click_commands(ClickAsked.of(options), cells)
    told = recording(practice_folder(choice).root, cells, rig, Input.of(options))

    def begin(client: Client) -> None:
        for command in commands:
            client.ask(command)

    showing = replace(Showing.of(options, OPENING), mark=LONE_PICK if options.lone_pick else None)
    recorded = record_and_show(told, showing, out, begin)
    if recorded.folder is not None:
        if commands:
            print(*click_of(recorded.folder), sep="\n", file=out)
        print_hint(choice, out)
    return recorded.status
