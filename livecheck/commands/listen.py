"""Listening to a converter while a cell is practised, to a click where one is asked for."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from typing import Any, TextIO

from ..control import Client
from ..core.said import LONE_PICK
from .acting import Acting
from .choice import Choice, cells_of, practice_folder, rig_of
from .click import ClickAsked, click_commands, click_of
from .hands import HandsAre, HandsAsked, hands_of
from .live import Showing, record_and_show
from .parts import PartAsked, part_asked
from .record import Input, recording, settings_of
from .rig_hint import print_hint
from .ring import Ring

OPENING = (
    "Every note is saved as it is played; q or Ctrl-C ends it. A long silence ends the session, "
    "and the next note begins another."
)


def run_listen(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, click, asked = Choice.of(options), ClickAsked.of(options), HandsAsked.of(options)
    rig = rig_of(choice, own=True)
    cells = part_asked(PartAsked.of(options), cells_of(choice, rig, err))
    commands = click_commands(click, cells)
    practice = practice_folder(choice)
    are = hands_of(asked, settings_of(practice), gestures=False)
    told = recording(practice.root, cells, rig, Input.of(options))
    own = next((one for one in commands if one["command"] == "click"), None)
    ring = Ring(choice, cells, rig)
    acting = Acting(are, cells, rig, ring, own, _cue_port(asked, are, own), asked.cues)

    def begin(client: Client) -> None:
        acting.begin(client)
        for command in commands:
            if command is not own:
                client.ask(command)

    showing = replace(Showing.of(options, OPENING), mark=LONE_PICK if options.lone_pick else None)
    recorded = record_and_show(told, showing, out, acting, begin)
    if recorded.folder is not None:
        if commands:
            print(*click_of(recorded.folder), sep="\n", file=out)
        print_hint(choice, out)
    return recorded.status


def _cue_port(asked: HandsAsked, are: HandsAre, click: dict[str, Any] | None) -> str | None:
    """Where cues and answers sound: the port that was named, the click's, or for gestures and cues
    the only one there is; None: nowhere."""
    if asked.cue_port is not None:
        return asked.cue_port
    if click is not None:
        return str(click["port"])
    return "" if asked.cues or are.wanted.gestures else None
