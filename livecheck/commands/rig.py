"""The rig: find it out at the guitar, print it."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from dataclasses import replace
from typing import TextIO

from ..console.words import STOP_IF
from ..core.pitch import name_of
from ..core.rig import Delay, Rig
from ..core.setup import ASK, HEARD, Setup
from ..core.tunings import usual_tuning
from ..errors import BadInput, NoDevice
from ..files.config import dump_rig, rig_to_dict
from ..report.outlet import print_text
from .arguments.rig import MOST_STRINGS
from .choice import Choice, rig_of
from .common import print_json, program_name, rows
from .rig_file import Writing, agreed, write_rig
from .rig_input import Listening, Moment, moments


def run_setup(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, listening = Choice.of(options), Listening.of(options)
    base = rig_of(choice, own=True)
    strings = options.strings or (len(base.channels) if base is not None else 6)
    if not 1 <= strings <= MOST_STRINGS:
        raise BadInput(f"--strings {strings}: 1 to {MOST_STRINGS} can be set up")
    setup = Setup(base if base is not None else Rig("my converter"), strings)
    port = _talk(setup, moments(choice, listening, base or Rig()), out)
    if setup.dead:
        raise NoDevice("nothing came in; look with `livecheck ports` and `livecheck rig check`")
    found = setup.result()
    if not found.heard:
        raise BadInput("no string was heard by itself, so there is no rig to write; try again")
    rig = found.rig
    named = listening.heard.port
    if named or (port and rig.port is None):
        rig = replace(rig, port=named or port)
    print("", *[f"  {note}" for note in found.notes], "", sep="\n", file=out)
    print_text(dump_rig(rig), out)
    for trouble in found.troubles:
        print(f"Mind: {trouble}.", file=out)
    writing = Writing.of(options, choice)
    if agreed(writing, out):
        write_rig(writing.path, rig, out)
        if rig.delay == Delay():
            print(
                f"Its delay is not known yet: `{program_name()} rig latency` measures it.", file=out
            )
    return 0


def _talk(setup: Setup, incoming: Iterator[Moment], out: TextIO) -> str | None:
    """Ask and answer until everything is known; returns the port's name where one was opened."""
    signs = {ASK: "> ", HEARD: "  "}
    port: str | None = None
    begun = False
    now_s = 0.0
    for moment in incoming:
        now_s = moment.t_s
        port = moment.port or port
        if moment.lost is not None:
            print(f"! {moment.lost}. It goes on when it is back.", file=out, flush=True)
        if not begun:
            print(f"{STOP_IF}.", file=out, flush=True)
        said = [] if begun else setup.begin(now_s)
        begun = True
        said += setup.tick(now_s) if moment.data is None else setup.feed(now_s, moment.data)
        for one in said:
            print(signs.get(one.kind, "! ") + one.text, file=out, flush=True)
        if setup.done:
            return port
    for one in [*([] if begun else setup.begin(now_s)), *setup.finish(now_s)]:
        print(signs.get(one.kind, "! ") + one.text, file=out, flush=True)
    return port


def run_show(options: Namespace, out: TextIO, err: TextIO) -> int:
    rig = rig_of(Choice.of(options), own=True)
    if rig is None:
        raise BadInput(
            "there is no configs/rig.yaml yet: `livecheck rig setup` makes one, or name a rig"
        )
    if options.json:
        print_json(rig_to_dict(rig), out)
        return 0
    print_text(dump_rig(rig), out)
    print("", *rows(_delays(rig), right=(0, 1, 3, 4)), sep="\n", file=out)
    return 0


def _delays(rig: Rig) -> list[list[str]]:
    """The strings with the delay that is taken off them, open and at the twelfth fret."""
    table = [["string", "channel", "open", "delay ms", "at fret 12"]]
    tuning = rig.tuning or usual_tuning(len(rig.channels))
    for string, (channel, pitch) in enumerate(zip(rig.channels, tuning), 1):
        delays = [f"{1000.0 * rig.delay.seconds(string, pitch + fret):.1f}" for fret in (0, 12)]
        table.append([str(string), str(channel), name_of(pitch), *delays])
    return table
